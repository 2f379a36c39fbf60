"""Beats that are missing, beats that click twice, and a second knock in each swing."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing.turning import Floats

CLEAR_STRENGTH = 10.0
"""Beats this far above the noise are heard with next to no misses of hearing (measured on synthetic clocks)."""
_DOUBLE_FROM_S, _DOUBLE_TO_S = 0.012, 0.2
"""A second click so long after a beat is one of its own; sooner it is the same fall of the tooth."""
_DOUBLE_BEAT_SHARE = 0.4
_QUIET_FROM, _QUIET_TO = 0.5, 0.85
"""Between these shares of a beat neither a tick nor what belongs to it is heard."""
_SAME_LAG_S = 0.004
_USUAL_SHARE = 0.4
"""A click at one lag after so many of the beats of a kind belongs to the tick itself: it has two impacts."""
_KNOCK_FROM_S, _KNOCK_SHARE = 0.06, 0.6
_LEAST_BEATS = 8


def missed_beats(
    times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp], covered_s: Floats
) -> NDArray[np.intp]:
    """Return the numbers of the beats that did not come, though those around them did.

    A beat that falls into something louder is not missed, only covered; where but one kind of beat is heard the other
    is no missed beat either; and over a break nothing is counted.

    Parameters
    ----------
    times_s, numbers, segments : array (N,)
        The beats heard: times [s], numbers, unbroken pieces.
    covered_s : array (K, 2)
        Starts and ends of what is louder than the clock [s].
    """
    steps = np.diff(numbers)
    usual = 2 if len(np.unique(numbers % 2)) == 1 else 1
    found = []
    for row in np.flatnonzero((steps > usual) & (np.diff(segments) == 0)):
        gap = np.arange(numbers[row] + usual, numbers[row + 1], usual)
        expected = np.interp(gap, numbers[row : row + 2], times_s[row : row + 2])
        inside = np.zeros(len(gap), bool)
        for start, end in covered_s:
            inside |= (expected >= start) & (expected <= end)
        found.append(gap[~inside])
    return np.concatenate(found).astype(np.intp) if found else np.empty(0, np.intp)


def lags_after(times_s: Floats, clicks_s: Floats, period_s: float) -> tuple[NDArray[np.intp], Floats]:
    """Return, for each click that follows a beat closely, the row of the beat and the lag [s]; each of shape (C,)."""
    if not len(times_s) or not len(clicks_s):
        return np.empty(0, np.intp), np.empty(0)
    rows = np.searchsorted(times_s, clicks_s, side="right") - 1
    lags = clicks_s - times_s[np.maximum(rows, 0)]
    near = (rows >= 0) & (lags > _DOUBLE_FROM_S) & (lags < min(_DOUBLE_TO_S, _DOUBLE_BEAT_SHARE * period_s))
    return rows[near].astype(np.intp), lags[near]


def doubled_beats(times_s: Floats, numbers: NDArray[np.intp], clicks_s: Floats, period_s: float) -> NDArray[np.bool_]:
    """Return which beats click twice where the others of their kind click once; shape (N,).

    Parameters
    ----------
    times_s, numbers : array (N,)
        The beats: times [s], numbers.
    clicks_s : array (M,)
        All clicks, those of the beats among them [s].
    period_s : float
        Period of a beat [s].
    """
    rows, lags = lags_after(times_s, clicks_s, period_s)
    doubled = np.zeros(len(times_s), bool)
    for kind in (0, 1):
        own = numbers[rows] % 2 == kind
        beats = int(np.count_nonzero(numbers % 2 == kind))
        if not own.any():
            continue
        here, late = rows[own], lags[own]
        alike = np.array([len(np.unique(here[np.abs(late - lag) < _SAME_LAG_S])) for lag in late])
        usual = alike >= max(_USUAL_SHARE * beats, 2.0)
        doubled[here[~usual]] = True
        doubled[_twice(here[usual], late[usual])] = True
    return doubled


def _twice(rows: NDArray[np.intp], lags: Floats) -> NDArray[np.intp]:
    """Return the beats that have two clicks where the others of their kind have the one of a second impact."""
    order = np.argsort(lags)
    cluster = np.empty(len(lags), np.intp)
    cluster[order] = np.concatenate([[0], np.cumsum(np.diff(lags[order]) > _SAME_LAG_S)]) if len(lags) else []
    pairs, counts = np.unique(np.stack([rows, cluster], axis=1), axis=0, return_counts=True)
    return np.asarray(pairs[counts > 1, 0], np.intp)


def share_at_one_lag(
    times_s: Floats, numbers: NDArray[np.intp], clicks_s: Floats, period_s: float, doubled: NDArray[np.bool_]
) -> float:
    """Return which share of the doubled beats clicks again at one lag only: that of an impact heard now and then.

    Parameters
    ----------
    times_s, numbers : array (N,)
        The beats: times [s], numbers.
    clicks_s : array (M,)
        All clicks [s].
    period_s : float
        Period of a beat [s].
    doubled : bool array (N,)
        Which beats click twice.
    """
    rows, lags = lags_after(times_s, clicks_s, period_s)
    most = 0
    for kind in (0, 1):
        own = doubled[rows] & (numbers[rows] % 2 == kind)
        here, late = rows[own], lags[own]
        near = np.abs(late[:, None] - late[None, :]) < _SAME_LAG_S
        # A beat counts for a lag only where all its further clicks come at it.
        only = [len(np.setdiff1d(here[row], here[~row])) for row in near]
        most += max(only, default=0)
    return most / max(int(np.count_nonzero(doubled)), 1)


def chance_clicks(times_s: Floats, clicks_s: Floats, period_s: float) -> float:
    """Return how many beats would seem to click twice from what clicks at any time, by what is heard between beats.

    Parameters
    ----------
    times_s : array (N,)
        The beats [s].
    clicks_s : array (M,)
        All clicks [s].
    period_s : float
        Period of a beat [s].
    """
    rows = np.searchsorted(times_s, clicks_s, side="right") - 1
    lags = clicks_s - times_s[np.maximum(rows, 0)]
    first, last = _QUIET_FROM * period_s, _QUIET_TO * period_s
    quiet = int(np.count_nonzero((rows >= 0) & (lags > first) & (lags < last)))
    window_s = min(_DOUBLE_TO_S, _DOUBLE_BEAT_SHARE * period_s) - _DOUBLE_FROM_S
    return quiet * window_s / (last - first)


def second_knock(
    times_s: Floats, numbers: NDArray[np.intp], clicks_s: Floats, period_s: float
) -> tuple[float, float] | None:
    """Return lag [s] and share of a second knock that follows most beats of a kind where the rod turns, or None.

    The impacts of one tick lie within some 25 ms; what knocks again later in each swing is play: in the fork, at the
    post, at the hook.

    Parameters
    ----------
    times_s, numbers : array (N,)
        The beats: times [s], numbers.
    clicks_s : array (M,)
        All clicks [s].
    period_s : float
        Period of a beat [s].
    """
    rows, lags = lags_after(times_s, clicks_s, period_s)
    best: tuple[float, float] | None = None
    for kind in (0, 1):
        beats = int(np.count_nonzero(numbers % 2 == kind))
        own = (numbers[rows] % 2 == kind) & (lags > _KNOCK_FROM_S)
        if beats < _LEAST_BEATS or not own.any():
            continue
        here, late = rows[own], lags[own]
        counts = [len(np.unique(here[np.abs(late - lag) < 2.0 * _SAME_LAG_S])) for lag in late]
        share = max(counts) / beats
        if share >= _KNOCK_SHARE and (best is None or share > best[1]):
            best = float(late[int(np.argmax(counts))]), float(share)
    return best
