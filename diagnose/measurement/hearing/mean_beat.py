"""The mean beat of a kind: beats laid on one another by their loudness over time, then by their waveform.

Fold, average, match, refit. Noise is weighed by the spectrum heard between beats, and what differs from beat to beat by
how much it differs, so that neither a noisy band nor a changing one rules.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.matching import match
from diagnose.measurement.hearing.windows import TINY, Windows, smooth_bins

NARROW_S = 0.0015
"""The same where the other kind has shown where it must be."""
CLOSEST_S = 4e-4
_SHAPE_SCATTER = 0.03
"""Share of a beat's energy that is taken to change from beat to beat, so that one loud band does not rule."""
_LEAST_CHANGE = 1e-4
_LEAST_KEPT = 0.3
_TELL_CHANGE = 16
"""From so many beats it is told from themselves how much they change."""
_ENVELOPE_SCATTER = 0.1
_ROUNDS = 3
_SEEDS = 4
_MASK_LEVEL = 3.0
_MASK_S = 1e-3
_OUTSIDE = 0.5
_MAD_TO_SIGMA = 1.4826
_SHAPE_SMOOTH_S = 1.5e-4
_SHAPE_HZ = 40_000.0


def shape_factor(rate_hz: float) -> int:
    """Return how many times finer than the samples the shape of a beat is drawn."""
    return max(1, int(np.ceil(_SHAPE_HZ / rate_hz)))


def outline_weight(windows: Windows, outline: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Return the weight of each frequency of the loudness over time; its slow part says little about when."""
    power = np.square(np.abs(outline))
    return np.asarray(1.0 / (_ENVELOPE_SCATTER * smooth_bins(power) + 1e-3 * power.max() + TINY))


def mean_outline(windows: Windows, loudness: NDArray[np.complex128], search_s: float) -> NDArray[np.complex128]:
    """Return the mean loudness over time of the beats laid on one another."""
    energy = np.sum(np.square(np.abs(loudness)), axis=1)
    order = np.argsort(energy)
    places = np.unique(np.round(np.linspace(0.3, 0.9, _SEEDS) * (len(order) - 1)).astype(int))
    candidates: list[NDArray[np.complex128]] = [loudness.mean(axis=0), *loudness[order[places]]]
    best, best_score = candidates[0], -np.inf
    for candidate in candidates:
        found = match(loudness, candidate, outline_weight(windows, candidate), windows.seconds, search_s)
        mean = _average(windows, loudness, found.shifts_s - np.median(found.shifts_s), found.likeness)
        again = match(loudness, mean, outline_weight(windows, mean), windows.seconds, search_s)
        score = float(np.mean(again.likeness))
        if score > best_score:
            best, best_score = mean, score
    for _ in range(_ROUNDS):
        found = match(loudness, best, outline_weight(windows, best), windows.seconds, search_s)
        best = _average(windows, loudness, found.shifts_s - np.median(found.shifts_s), found.likeness)
    return best


def closeness(expected_s: NDArray[np.float64], shifts_s: NDArray[np.float64], search_s: float) -> float:
    """Return how far the waveform may lie from where the loudness over time puts it [s]."""
    if len(shifts_s) < 3:
        return CLOSEST_S
    scatter = scatter_of(expected_s + shifts_s)
    return float(np.clip(3.0 * scatter, CLOSEST_S, min(search_s, NARROW_S)))


def scatter_of(times_s: NDArray[np.float64]) -> float:
    """Return the scatter of the times of one kind about an even course, robustly [s]."""
    if len(times_s) < 3:
        return 0.0
    numbers = np.round((times_s - times_s[0]) / np.median(np.diff(times_s)))
    left, right = np.diff(times_s)[:-1], np.diff(times_s)[1:]
    steps = np.diff(numbers)
    even = left - right * np.where(steps[1:] > 0, steps[:-1] / np.where(steps[1:] > 0, steps[1:], 1), 1)
    return float(_MAD_TO_SIGMA * np.median(np.abs(even)) / np.sqrt(6.0))


def mean_waveform(
    windows: Windows,
    spectra: NDArray[np.complex128],
    noise: NDArray[np.float64],
    rough_s: NDArray[np.float64],
    closest_s: float,
) -> tuple[NDArray[np.complex128], NDArray[np.float64]]:
    """Return the mean spectrum of the beats laid on one another by their waveform, and how they differ from it."""
    left = noise / max(len(spectra), 1)
    energy = np.sum(np.square(np.abs(spectra)) / noise, axis=1)
    order = np.argsort(energy)
    places = np.unique(np.round(np.linspace(0.3, 0.9, _SEEDS) * (len(order) - 1)).astype(int))
    best, best_score = spectra[0], -np.inf
    laid = spectra * np.exp(2j * np.pi * rough_s[:, None] * windows.hz)
    for turned in (laid.mean(axis=0), *laid[order[places]]):
        weight = windows.keep / (noise + _SHAPE_SCATTER * _smooth_power(turned, noise))
        found = match(spectra, turned, weight, windows.seconds, closest_s, rough_s)
        score = float(np.mean(found.likeness))
        if score > best_score:
            best_score = score
            best = _average(windows, spectra, _centered(found.shifts_s, rough_s), found.likeness)
    change = _SHAPE_SCATTER * _smooth_power(best, left)
    for _ in range(_ROUNDS):
        best = _masked(windows, best, left)
        sharp = best * cleaned(best, left)
        found = match(spectra, sharp, windows.keep / (noise + change), windows.seconds, closest_s, rough_s)
        shifts_s = _centered(found.shifts_s, rough_s)
        best = _average(windows, spectra, shifts_s, found.likeness)
        change = _change(windows, spectra, best, noise, shifts_s)
    return _masked(windows, best, left), change


def cleaned(mean: NDArray[np.complex128], noise: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the share of a mean beat at each frequency that is not noise."""
    power = _smooth_power(mean, noise)
    # Not to nothing: a faint beat must not be smoothed away before it is found.
    return np.asarray(np.maximum(power / (power + noise), _LEAST_KEPT))


def _change(
    windows: Windows,
    spectra: NDArray[np.complex128],
    mean: NDArray[np.complex128],
    noise: NDArray[np.float64],
    shifts_s: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the power by which beats differ from their mean at each frequency, that of noise taken out.

    Of few beats it cannot be told and is taken as a usual share of their own power.
    """
    usual = _SHAPE_SCATTER * _smooth_power(mean, noise / len(spectra))
    if len(spectra) < _TELL_CHANGE:
        return usual
    laid = spectra * np.exp(2j * np.pi * shifts_s[:, None] * windows.hz)
    against = windows.keep / noise
    own = max(float(np.sum(np.square(np.abs(mean)) * against)), TINY)
    loudness = (laid @ (np.conj(mean) * against)).real / own
    rest = np.median(np.square(np.abs(laid - loudness[:, None] * mean)), axis=0) / np.log(2.0)
    rest *= len(spectra) / (len(spectra) - 1.0)
    return np.asarray(np.maximum(smooth_bins(rest) - noise, _LEAST_CHANGE * usual / _SHAPE_SCATTER))


def _centered(shifts_s: NDArray[np.float64], rough_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return shifts without what they have moved on the whole, so that a template does not creep."""
    return shifts_s - np.median(shifts_s - rough_s)


def _smooth_power(mean: NDArray[np.complex128], noise: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the power of a template without its noise, smoothed over frequency."""
    return np.asarray(np.maximum(smooth_bins(np.square(np.abs(mean)) - noise), 0.0) + TINY)


def _masked(windows: Windows, mean: NDArray[np.complex128], noise: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Return the template without the parts of its window in which there is only noise."""
    power = windows.power((mean / np.sqrt(noise))[None, :], _MASK_S)[0]
    quiet = 4.0 * len(windows.hz) / windows.length**2
    width = max(round(_MASK_S * windows.rate_hz), 3)
    shape = np.hanning(2 * width + 3)[1:-1]
    open_parts = np.clip(power / quiet / _MASK_LEVEL - 0.5, 0.0, 1.0)
    mask = np.convolve(open_parts, shape / shape.sum(), mode="same")
    if not mask.any():
        return mean
    return windows.spectrum_of(windows.waveforms(mean) * mask)


def _average(
    windows: Windows,
    spectra: NDArray[np.complex128],
    shifts_s: NDArray[np.float64],
    likeness: NDArray[np.float64],
) -> NDArray[np.complex128]:
    """Return the weighted mean of the beats laid on one another, those unlike the rest left out."""
    weight = np.where(likeness >= _OUTSIDE * np.median(likeness), np.maximum(likeness, 0.0) + 1e-6, 0.0)
    hz = np.arange(spectra.shape[1]) / windows.seconds
    turn = np.exp(2j * np.pi * shifts_s[:, None] * hz[None, :])
    return np.asarray(weight @ (spectra * turn) / max(float(weight.sum()), TINY))


def shape_of(
    windows: Windows,
    times_s: NDArray[np.float64],
    mean: NDArray[np.complex128],
    noise: NDArray[np.float64],
    waveform: bool,
) -> tuple[NDArray[np.float64], float]:
    """Return the amplitude of the mean beat over time, and the noise left in it."""
    count = max(len(times_s), 1)
    finer = shape_factor(windows.rate_hz)
    if waveform:
        power = np.square(np.abs(mean))
        clean = power / (power + noise / count + TINY)
        level = np.sqrt(4.0 * float(np.sum(noise / count * clean**2))) / windows.length
        return np.sqrt(windows.power((mean * clean)[None, :], _SHAPE_SMOOTH_S, finer)[0]), float(level)
    spectra = windows.spectra(times_s)
    usual = np.square(np.abs(spectra)).mean(axis=0)
    clean = np.maximum(usual - noise, 0.0) / (usual + TINY)
    quiet = 4.0 * float(np.sum(noise * clean**2)) / windows.length**2
    power = windows.power(spectra * clean, _SHAPE_SMOOTH_S, finer).mean(axis=0)
    return np.sqrt(np.maximum(power - quiet, 0.0)), float(np.sqrt(quiet / count))
