"""Faint beats, timed by their sound and by where their neighbors put them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.arrival import Arrivals, in_batches, lay
from diagnose.measurement.hearing.mean_beat import scatter_of
from diagnose.measurement.hearing.windows import Windows

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
    there = arrivals.signal >= _PERHAPS_SIGNAL
    few = int(there.sum()) < _ENOUGH_NEIGHBORS
    if not arrivals.by_waveform or few or np.median(arrivals.signal[there]) >= _PLAIN_SIGNAL:
        return arrivals
    scatter_s = float(np.clip(scatter_of(arrivals.times_s[there]), _LEAST_SCATTER_S, _MOST_SCATTER_S))
    reach_s = min(_REACH_SIGMAS * scatter_s, arrivals.pattern.search_s)
    expected_s = by_neighbors(arrivals.times_s, segments)
    parts = [
        lay(windows, windows.spectra(some_s), arrivals.pattern, noise, reach_s, spread_s=scatter_s)
        for some_s in in_batches(expected_s)
    ]
    return replace(
        arrivals,
        times_s=expected_s + np.concatenate([part.shifts_s for part in parts]),
        likeness=np.concatenate([part.likeness for part in parts]),
        signal=np.concatenate([part.signal for part in parts]),
        loudness=np.concatenate([part.loudness for part in parts]),
        reach_s=reach_s,
    )


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
