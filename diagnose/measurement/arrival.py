"""The time of each beat of one kind, by a template made from the recording itself.

Fold, average, match, refit. Beats are first laid on one another by their loudness over time, then by their waveform
within a fraction of a millisecond; noise is weighed by the spectrum heard between beats. The method is that of pulsar
timing (template matching in the Fourier domain, Taylor 1992, Phil. Trans. R. Soc. A 341, 117).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.matching import match, noise_height, noise_shift
from diagnose.measurement.windows import TINY, Windows, smooth_bins

SEARCH_S = 0.010
"""How far from its expected place a beat is looked for."""
NARROW_S = 0.0015
"""The same where the other kind has shown where it must be."""
_CLOSEST_S = 4e-4
_SHAPE_SCATTER = 0.03
"""Share of a beat's energy that is taken to change from beat to beat, so that one loud band does not rule."""
_ENVELOPE_SCATTER = 0.1
_ROUNDS = 3
TEMPLATE_EVENTS = 160
"""The mean beat is made from at most this many."""
_SEEDS = 4
_AT_ONCE = 256
_MASK_LEVEL = 3.0
_MASK_S = 1e-3
_FEW = 6
_FEW_LIKENESS = 0.6
_OUTSIDE = 0.5
_WAVEFORM_FAVOR = 1.3
"""Both are at the clock's own scatter on a good recording; then the waveform is finer."""
_MAD_TO_SIGMA = 1.4826
_SHAPE_SMOOTH_S = 1.5e-4
_SHAPE_HZ = 40_000.0


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Times of the beats of one kind, relative to a common point of their template.

    Parameters
    ----------
    times_s : array (N,)
        Time of the template's zero in each beat [s].
    sigmas_s : array (N,)
        Standard uncertainty from noise alone [s].
    likeness : array (N,)
        Normalized correlation with the template, 1 for the same shape.
    signal : array (N,)
        Output of the matched filter over its noise.
    loudness : array (N,)
        Amplitude, 1 for the template's.
    shape : array (L,)
        Amplitude of the mean beat over time, `zero` being the sample of the template's zero.
    zero : int
        Sample of the template's zero in `shape`.
    shape_hz : float
        Samples per second of `shape` [Hz].
    noise_level : float
        Noise left in `shape`.
    template : complex array (F,)
        Spectrum of the mean waveform.
    by_waveform : bool
        Whether the waveform could be matched; else the loudness over time was.
    outline : complex array (E,), optional
        Spectrum of the mean loudness over time, None where the beats were looked for in a narrow place.
    search_s, closest_s : float
        How far from its place a beat was looked for, and its waveform from where the loudness put it [s].
    """

    times_s: NDArray[np.float64]
    sigmas_s: NDArray[np.float64]
    likeness: NDArray[np.float64]
    signal: NDArray[np.float64]
    loudness: NDArray[np.float64]
    shape: NDArray[np.float64]
    zero: int
    shape_hz: float
    noise_level: float
    template: NDArray[np.complex128]
    by_waveform: bool
    outline: NDArray[np.complex128] | None = None
    search_s: float = SEARCH_S
    closest_s: float = _CLOSEST_S


def time_arrivals(
    windows: Windows,
    expected_s: NDArray[np.float64],
    plain: NDArray[np.bool_],
    noise: NDArray[np.float64],
    search_s: float = SEARCH_S,
) -> Arrivals:
    """Return the time of each beat of one kind.

    Parameters
    ----------
    windows : Windows
        Access to the sound.
    expected_s : array (N,)
        Where each beat is expected [s].
    plain : bool array (N,)
        Which of them are plain enough to make the template from.
    noise : array (F,)
        Power of a window without a beat.
    search_s : float
        How far from there a beat may lie [s].
    """
    if not plain.any():
        plain = np.ones(len(expected_s), bool)
    chosen = np.flatnonzero(plain)
    chosen = chosen[np.unique(np.linspace(0, len(chosen) - 1, TEMPLATE_EVENTS).astype(int))]
    spectra = windows.spectra(expected_s[chosen])
    outline: NDArray[np.complex128] | None = None
    rough_s, closest_s = np.zeros(len(chosen)), search_s
    if search_s > NARROW_S:
        loudness = windows.envelope_spectra(spectra, noise)
        outline = _mean_outline(windows, loudness, search_s)
        weight = _outline_weight(windows, outline)
        rough_s = match(loudness, outline, weight, windows.seconds, search_s).shifts_s
        closest_s = _closeness(expected_s[chosen], rough_s, search_s)
    mean = _mean_waveform(windows, spectra, noise, rough_s, closest_s)
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(
        windows, expected_s, outline, mean, noise, search_s, closest_s
    )
    waveform = outline is None or _waveform_is_better(by_outline, by_waveform, likeness, plain)
    times_s = by_waveform if waveform else by_outline
    shape, level = _shape(windows, times_s[chosen], mean, noise, waveform)
    finer = shape_factor(windows.rate_hz)
    return Arrivals(
        times_s,
        sigmas,
        likeness,
        signal,
        amplitude,
        shape,
        finer * windows.before,
        finer * windows.rate_hz,
        level,
        mean,
        waveform,
        outline,
        search_s,
        closest_s,
    )


def time_more(
    known: Arrivals, windows: Windows, expected_s: NDArray[np.float64], noise: NDArray[np.float64]
) -> Arrivals:
    """Return the time of further beats of a kind whose mean beat is known: its zero stays the same.

    Parameters
    ----------
    known : Arrivals
        Beats of the kind heard before.
    windows : Windows
        Access to the sound that holds the further beats.
    expected_s : array (N,)
        Where each is expected in that sound [s].
    noise : array (F,)
        Power of a window of that sound without a beat.
    """
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(
        windows, expected_s, known.outline, known.template, noise, known.search_s, known.closest_s
    )
    return replace(
        known,
        times_s=by_waveform if known.by_waveform else by_outline,
        sigmas_s=sigmas,
        likeness=likeness,
        signal=signal,
        loudness=amplitude,
    )


def shape_factor(rate_hz: float) -> int:
    """Return how many times finer than the samples the shape of a beat is drawn."""
    return max(1, int(np.ceil(_SHAPE_HZ / rate_hz)))


def _outline_weight(windows: Windows, outline: NDArray[np.complex128]) -> NDArray[np.float64]:
    """Return the weight of each frequency of the loudness over time; its slow part says little about when."""
    power = np.square(np.abs(outline))
    return np.asarray(1.0 / (_ENVELOPE_SCATTER * smooth_bins(power) + 1e-3 * power.max() + TINY))


def _mean_outline(windows: Windows, loudness: NDArray[np.complex128], search_s: float) -> NDArray[np.complex128]:
    """Return the mean loudness over time of the beats laid on one another."""
    energy = np.sum(np.square(np.abs(loudness)), axis=1)
    order = np.argsort(energy)
    places = np.unique(np.round(np.linspace(0.3, 0.9, _SEEDS) * (len(order) - 1)).astype(int))
    candidates: list[NDArray[np.complex128]] = [loudness.mean(axis=0), *loudness[order[places]]]
    best, best_score = candidates[0], -np.inf
    for candidate in candidates:
        found = match(loudness, candidate, _outline_weight(windows, candidate), windows.seconds, search_s)
        mean = _average(windows, loudness, found.shifts_s - np.median(found.shifts_s), found.likeness)
        again = match(loudness, mean, _outline_weight(windows, mean), windows.seconds, search_s)
        score = float(np.mean(again.likeness))
        if score > best_score:
            best, best_score = mean, score
    for _ in range(_ROUNDS):
        found = match(loudness, best, _outline_weight(windows, best), windows.seconds, search_s)
        best = _average(windows, loudness, found.shifts_s - np.median(found.shifts_s), found.likeness)
    return best


def _closeness(expected_s: NDArray[np.float64], shifts_s: NDArray[np.float64], search_s: float) -> float:
    """Return how far the waveform may lie from where the loudness over time puts it [s]."""
    if len(shifts_s) < 3:
        return _CLOSEST_S
    scatter = scatter_of(expected_s + shifts_s)
    return float(np.clip(3.0 * scatter, _CLOSEST_S, min(search_s, NARROW_S)))


def scatter_of(times_s: NDArray[np.float64]) -> float:
    """Return the scatter of the times of one kind about an even course, robustly [s]."""
    if len(times_s) < 3:
        return 0.0
    numbers = np.round((times_s - times_s[0]) / np.median(np.diff(times_s)))
    left, right = np.diff(times_s)[:-1], np.diff(times_s)[1:]
    steps = np.diff(numbers)
    even = left - right * np.where(steps[1:] > 0, steps[:-1] / np.where(steps[1:] > 0, steps[1:], 1), 1)
    return float(_MAD_TO_SIGMA * np.median(np.abs(even)) / np.sqrt(6.0))


def _mean_waveform(
    windows: Windows,
    spectra: NDArray[np.complex128],
    noise: NDArray[np.float64],
    rough_s: NDArray[np.float64],
    closest_s: float,
) -> NDArray[np.complex128]:
    """Return the mean spectrum of the beats laid on one another by their waveform."""
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
    for _ in range(_ROUNDS):
        best = _masked(windows, best, left)
        weight = windows.keep / (noise + _SHAPE_SCATTER * _smooth_power(best, left))
        found = match(spectra, best, weight, windows.seconds, closest_s, rough_s)
        best = _average(windows, spectra, _centered(found.shifts_s, rough_s), found.likeness)
    return _masked(windows, best, left)


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


def _time_all(
    windows: Windows,
    expected_s: NDArray[np.float64],
    outline: NDArray[np.complex128] | None,
    mean: NDArray[np.complex128],
    noise: NDArray[np.float64],
    search_s: float,
    closest_s: float,
) -> tuple[NDArray[np.float64], ...]:
    """Return what `_time_some` does of all beats, so many at once as the memory should hold."""
    parts = [
        _time_some(windows, some, outline, mean, noise, search_s, closest_s)
        for some in np.array_split(expected_s, max(1, int(np.ceil(len(expected_s) / _AT_ONCE))))
    ]
    return tuple(np.concatenate(part) for part in zip(*parts, strict=True))


def _time_some(
    windows: Windows,
    expected_s: NDArray[np.float64],
    outline: NDArray[np.complex128] | None,
    mean: NDArray[np.complex128],
    noise: NDArray[np.float64],
    search_s: float,
    closest_s: float,
) -> tuple[NDArray[np.float64], ...]:
    """Return times by outline and by waveform, uncertainties, likeness, signal and loudness of some beats."""
    spectra = windows.spectra(expected_s)
    rough_s = np.zeros(len(spectra))
    if outline is not None:
        loud = windows.envelope_spectra(spectra, noise)
        rough_s = match(loud, outline, _outline_weight(windows, outline), windows.seconds, search_s).shifts_s
    weight = windows.keep / (noise + _SHAPE_SCATTER * _smooth_power(mean, TINY * np.ones_like(noise)))
    found = match(spectra, mean, weight, windows.seconds, closest_s, rough_s)
    signal = found.heights / max(noise_height(mean, weight, noise), TINY)
    common = float(np.sum(np.square(np.abs(mean)) * weight))
    loudness = found.heights / max(common, TINY)
    sigmas = noise_shift(mean, weight, noise, windows.hz) / np.maximum(loudness, 0.05)
    return expected_s + rough_s, expected_s + found.shifts_s, sigmas, found.likeness, signal, loudness


def _waveform_is_better(
    by_outline: NDArray[np.float64],
    by_waveform: NDArray[np.float64],
    likeness: NDArray[np.float64],
    plain: NDArray[np.bool_],
) -> bool:
    """Return whether the waveform gives the steadier times; with few beats it must also be much alike."""
    if plain.sum() < _FEW:
        return bool(np.median(likeness[plain]) >= _FEW_LIKENESS)
    return bool(scatter_of(by_waveform[plain]) <= _WAVEFORM_FAVOR * scatter_of(by_outline[plain]))


def _shape(
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
