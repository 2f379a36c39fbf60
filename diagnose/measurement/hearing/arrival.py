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
AT_ONCE = 256
_FEW = 6
_FEW_LIKENESS = 0.6
_WAVEFORM_FAVOR = 1.3
"""Both are at the clock's own scatter on a good recording; then the waveform is finer."""


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
    sharp : complex array (F,)
        The template with the noise that is left in it taken out: what beats are laid on.
    change : array (F,)
        Power by which single beats differ from the template.
    outline : complex array (E,), optional
        Spectrum of the mean loudness over time, None where the beats were looked for in a narrow place.
    search_s, closest_s : float
        How far from its place a beat was looked for, and its waveform from where the loudness put it [s].
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
    sharp: NDArray[np.complex128]
    change: NDArray[np.float64]
    outline: NDArray[np.complex128] | None = None
    search_s: float = SEARCH_S
    closest_s: float = CLOSEST_S
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
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(
        windows, expected_s, outline, sharp, change, noise, search_s, closest_s
    )
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
        sharp,
        change,
        outline,
        search_s,
        closest_s,
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
    by_outline, by_waveform, sigmas, likeness, signal, amplitude = _time_all(
        windows, expected_s, known.outline, known.sharp, known.change, noise, known.search_s, known.closest_s
    )
    times_s = by_waveform if known.by_waveform else by_outline
    return replace(
        known,
        reach_s=known.search_s,
        times_s=times_s,
        sigmas_s=sigmas,
        likeness=likeness,
        signal=signal,
        loudness=amplitude,
    )


def _time_all(
    windows: Windows,
    expected_s: NDArray[np.float64],
    outline: NDArray[np.complex128] | None,
    mean: NDArray[np.complex128],
    change: NDArray[np.float64],
    noise: NDArray[np.float64],
    search_s: float,
    closest_s: float,
) -> tuple[NDArray[np.float64], ...]:
    """Return what `_time_some` does of all beats, so many at once as the memory should hold."""
    parts = [
        _time_some(windows, some, outline, mean, change, noise, search_s, closest_s)
        for some in np.array_split(expected_s, max(1, int(np.ceil(len(expected_s) / AT_ONCE))))
    ]
    return tuple(np.concatenate(part) for part in zip(*parts, strict=True))


def _time_some(
    windows: Windows,
    expected_s: NDArray[np.float64],
    outline: NDArray[np.complex128] | None,
    mean: NDArray[np.complex128],
    change: NDArray[np.float64],
    noise: NDArray[np.float64],
    search_s: float,
    closest_s: float,
) -> tuple[NDArray[np.float64], ...]:
    """Return times by outline and by waveform, uncertainties, likeness, signal and loudness of some beats."""
    spectra = windows.spectra(expected_s)
    rough_s = np.zeros(len(spectra))
    if outline is not None:
        loud = windows.envelope_spectra(spectra, noise)
        rough_s = match(loud, outline, outline_weight(windows, outline), windows.seconds, search_s).shifts_s
    weight = windows.keep / (noise + change)
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
