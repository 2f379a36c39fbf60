"""Faint beats, timed by their sound and by where their neighbors put them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.arrival import AT_ONCE, Arrivals
from diagnose.measurement.hearing.matching import match, noise_height
from diagnose.measurement.hearing.mean_beat import scatter_of
from diagnose.measurement.hearing.windows import TINY, Windows

_PLAIN_SIGNAL = 30.0
"""From so far above the noise the highest top of the matched filter is always the right one."""
_PERHAPS_SIGNAL = 4.0
"""What is fainter may be noise alone, after a clock has stopped or where a kind of beat cannot be heard."""
_LEAST_SCATTER_S = 1.5e-4
_MOST_SCATTER_S = 5e-4
_REACH_SIGMAS = 6.0
_HALF_NEIGHBORS = 5
_ENOUGH_NEIGHBORS = 12


def time_faint(
    arrivals: Arrivals, windows: Windows, noise: NDArray[np.float64], segments: NDArray[np.intp]
) -> Arrivals:
    """Return the same beats, faint ones timed again where their neighbors put them.

    The matched filter has several tops for each beat, a cycle of its sound apart. In noise the highest may be a wrong
    one: so of the tops the one counts that is likeliest by its height and by how a clock's beats scatter.

    Parameters
    ----------
    arrivals : Arrivals
        Beats of one kind.
    windows : Windows
        Access to their sound.
    noise : array (F,)
        Power of a window of it without a beat.
    segments : int array (N,)
        Number of the unbroken piece each belongs to.
    """
    count = len(arrivals.times_s)
    there = arrivals.signal[arrivals.signal >= _PERHAPS_SIGNAL]
    if not arrivals.by_waveform or len(there) < _ENOUGH_NEIGHBORS or np.median(there) >= _PLAIN_SIGNAL:
        return arrivals
    there_s = arrivals.times_s[arrivals.signal >= _PERHAPS_SIGNAL]
    scatter_s = float(np.clip(scatter_of(there_s), _LEAST_SCATTER_S, _MOST_SCATTER_S))
    expected_s = by_neighbors(arrivals.times_s, segments)
    reach_s = min(_REACH_SIGMAS * scatter_s, arrivals.search_s)
    parts = [
        _time_likeliest(arrivals, windows, some, noise, scatter_s, reach_s)
        for some in np.array_split(expected_s, max(1, int(np.ceil(count / AT_ONCE))))
    ]
    times_s, likeness, signal, loudness = (np.concatenate(part) for part in zip(*parts, strict=True))
    return replace(arrivals, times_s=times_s, likeness=likeness, signal=signal, loudness=loudness, reach_s=reach_s)


def by_neighbors(times_s: NDArray[np.float64], segments: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return where each beat of a kind lies by the beats around it, robustly; in short pieces where it was found [s].

    Parameters
    ----------
    times_s : array (N,)
        Times of the beats, in order [s].
    segments : int array (N,)
        Number of the unbroken piece each belongs to.
    """
    expected_s = times_s.copy()
    usual_s = float(np.median(np.diff(times_s)))
    for segment in np.unique(segments):
        rows = np.flatnonzero(segments == segment)
        if len(rows) < _ENOUGH_NEIGHBORS:
            continue
        own_s = times_s[rows]
        numbers = np.concatenate([[0.0], np.cumsum(np.round(np.diff(own_s) / usual_s))])
        run = np.maximum(numbers[_HALF_NEIGHBORS:] - numbers[:-_HALF_NEIGHBORS], 1.0)
        slope_s = float(np.median((own_s[_HALF_NEIGHBORS:] - own_s[:-_HALF_NEIGHBORS]) / run))
        padded = np.pad(own_s - slope_s * numbers, _HALF_NEIGHBORS, mode="reflect")
        views = np.lib.stride_tricks.sliding_window_view(padded, 2 * _HALF_NEIGHBORS + 1)
        expected_s[rows] = np.median(views, axis=1) + slope_s * numbers
    return expected_s


def _time_likeliest(
    arrivals: Arrivals,
    windows: Windows,
    expected_s: NDArray[np.float64],
    noise: NDArray[np.float64],
    scatter_s: float,
    reach_s: float,
) -> tuple[NDArray[np.float64], ...]:
    """Return times, likeness, signal and loudness of some beats by height and place."""
    sharp, weight = arrivals.sharp, windows.keep / (noise + arrivals.change)
    common = float(np.sum(np.square(np.abs(sharp)) * weight))
    least = max(noise_height(sharp, weight, noise), TINY)
    found = match(
        windows.spectra(expected_s),
        sharp,
        weight,
        windows.seconds,
        reach_s,
        likelier=(scatter_s, common / least**2),
    )
    return expected_s + found.shifts_s, found.likeness, found.heights / least, found.heights / max(common, TINY)
