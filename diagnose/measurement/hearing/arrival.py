"""The time of each beat of one kind, by a template made from the recording itself.

The method is that of pulsar timing (template matching in the Fourier domain, Taylor 1992, Phil. Trans. R. Soc. A 341,
117).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.matching import match, noise_height, noise_shift
from diagnose.measurement.hearing.mean_beat import (
    CLOSEST_S,
    NARROW_S,
    cleaned,
    closeness,
    mean_outline,
    mean_waveform,
    outline_weight,
    scatter_of,
    shape_factor,
    shape_of,
)
from diagnose.measurement.hearing.windows import TINY, Windows

SEARCH_S = 0.010
"""How far from its expected place a beat is looked for."""
TEMPLATE_EVENTS = 160
"""The mean beat is made from at most this many."""
_AT_ONCE = 256
_LEAST_LOUDNESS = 0.05
_FEW = 6
_FEW_LIKENESS = 0.6
_WAVEFORM_FAVOR = 1.3
"""Both are at the clock's own scatter on a good recording; then the waveform is finer."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """What the beats of one kind are laid on, and how far they are looked for.

    Parameters
    ----------
    sharp : complex array (F,)
        Spectrum of the mean waveform with the noise that is left in it taken out.
    change : array (F,)
        Power by which single beats differ from it.
    outline : complex array (E,), optional
        Spectrum of the mean loudness over time, None where the beats were looked for in a narrow place.
    search_s, closest_s : float
        How far from its place a beat is looked for, and its waveform from where the loudness puts it [s].
    """

    sharp: NDArray[np.complex128]
    change: NDArray[np.float64]
    outline: NDArray[np.complex128] | None = None
    search_s: float = SEARCH_S
    closest_s: float = CLOSEST_S


@dataclass(frozen=True, slots=True)
class Laid:
    """Beats laid on the waveform of their pattern; each array of shape (K,).

    Parameters
    ----------
    shifts_s : array
        How much later than expected each lies [s].
    sigmas_s, likeness, signal, loudness : arrays
        As those of `Arrivals`.
    """

    shifts_s: NDArray[np.float64]
    sigmas_s: NDArray[np.float64]
    likeness: NDArray[np.float64]
    signal: NDArray[np.float64]
    loudness: NDArray[np.float64]


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
    pattern : Pattern
        What they were laid on.
    reach_s : float
        How far from where it is expected a beat was looked for in the end [s].
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
    pattern: Pattern
    reach_s: float = SEARCH_S


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
        outline = mean_outline(windows, loudness, search_s)
        weight = outline_weight(windows, outline)
        rough_s = match(loudness, outline, weight, windows.seconds, search_s).shifts_s
        closest_s = closeness(expected_s[chosen], rough_s, search_s)
    mean, change = mean_waveform(windows, spectra, noise, rough_s, closest_s)
    sharp = mean * cleaned(mean, noise / len(spectra))
    pattern = Pattern(sharp, change, outline, search_s, closest_s)
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(windows, expected_s, pattern, noise)
    waveform = outline is None or _waveform_is_better(by_outline, by_waveform, likeness, plain)
    times_s = by_waveform if waveform else by_outline
    shape, level = shape_of(windows, times_s[chosen], mean, noise, waveform)
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
        pattern,
        search_s,
    )


def time_more(
    known: Arrivals,
    windows: Windows,
    expected_s: NDArray[np.float64],
    noise: NDArray[np.float64],
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
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(windows, expected_s, known.pattern, noise)
    times_s = by_waveform if known.by_waveform else by_outline
    return replace(
        known,
        reach_s=known.pattern.search_s,
        times_s=times_s,
        sigmas_s=sigmas,
        likeness=likeness,
        signal=signal,
        loudness=amplitude,
    )


def in_batches(times_s: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return times in pieces, so many at once as the memory should hold."""
    return np.array_split(times_s, max(1, int(np.ceil(len(times_s) / _AT_ONCE))))


def lay(
    windows: Windows,
    spectra: NDArray[np.complex128],
    pattern: Pattern,
    noise: NDArray[np.float64],
    within_s: float,
    around_s: NDArray[np.float64] | None = None,
    spread_s: float | None = None,
) -> Laid:
    """Lay beats on the waveform of their pattern.

    Parameters
    ----------
    windows : Windows
        Access to their sound.
    spectra : complex array (K, F)
        Spectra of the windows around where they are expected.
    pattern : Pattern
        What they are laid on.
    noise : array (F,)
        Power of a window without a beat.
    within_s : float
        How far from there they are looked for [s].
    around_s : array (K,), optional
        Shift around which they are looked for; 0 without it [s].
    spread_s : float, optional
        How clock beats scatter about where they are expected: of several tops the likeliest is taken, not the highest
        [s].
    """
    weight = windows.keep / (noise + pattern.change)
    least = max(noise_height(pattern.sharp, weight, noise), TINY)
    common = float(np.sum(np.square(np.abs(pattern.sharp)) * weight))
    likelier = None if spread_s is None else (spread_s, common / least**2)
    found = match(spectra, pattern.sharp, weight, windows.seconds, within_s, around_s, likelier)
    loudness = found.heights / max(common, TINY)
    sigmas_s = noise_shift(pattern.sharp, weight, noise, windows.hz) / np.maximum(loudness, _LEAST_LOUDNESS)
    return Laid(found.shifts_s, sigmas_s, found.likeness, found.heights / least, loudness)


def _time_all(
    windows: Windows, expected_s: NDArray[np.float64], pattern: Pattern, noise: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    """Return times by outline and by waveform, uncertainties, likeness, signal and loudness of all beats."""
    parts = []
    for some_s in in_batches(expected_s):
        spectra = windows.spectra(some_s)
        rough_s = np.zeros(len(spectra))
        if pattern.outline is not None:
            loud = windows.envelope_spectra(spectra, noise)
            weight = outline_weight(windows, pattern.outline)
            rough_s = match(loud, pattern.outline, weight, windows.seconds, pattern.search_s).shifts_s
        laid = lay(windows, spectra, pattern, noise, pattern.closest_s, rough_s)
        parts.append(
            (some_s + rough_s, some_s + laid.shifts_s, laid.sigmas_s, laid.likeness, laid.signal, laid.loudness)
        )
    return tuple(np.concatenate(part) for part in zip(*parts, strict=True))


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
