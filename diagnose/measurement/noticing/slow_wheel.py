"""Errors of the slower wheels: what comes back after more beats than one turn of the escape wheel.

A wheel of the train that runs out of true drives a little more and a little less in each of its turns; the swing
follows, and with it the time. Such a cycle drowns in wandering unless several turns are heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.measurement.noticing import turning
from diagnose.measurement.noticing.turning import Floats, Intervals, Pattern
from diagnose.measurement.noticing.wheel import longest_piece, odd_ones_out
from diagnose.measurement.noticing.wheel_evidence import BEATS_PER_TOOTH, turn_columns

LEAST_TURNS = 2.5
SHORTEST_BEATS = 100.0
"""Shorter cycles are those of an escape wheel."""
_TRIED_PER_WIDTH = 4.0
_MOST_PERIODS = 200
_HARMONICS, _SIZES = (1,), np.ones(2)
SURE_ODDS = 100.0
"""As for the escape wheel, but wandering looks like slow cycles more easily."""
_LEAST_REST = 1e-18


@dataclass(frozen=True, slots=True)
class SlowCycle:
    """A cycle longer than a turn of the escape wheel.

    Parameters
    ----------
    period_beats : float
        Beats from one turn to the next.
    turns : float
        Turns in the recording.
    amplitude_s, amplitude_sigma_s : float
        Amplitude in the times of the beats, and its standard uncertainty [s].
    log_odds : float
        Natural logarithm of how many times better it explains the beats than none.
    """

    period_beats: float
    turns: float
    amplitude_s: float
    amplitude_sigma_s: float
    log_odds: float


def turns_of_train(escape_teeth: int, wheels: Sequence[int], pinions: Sequence[int]) -> tuple[float, ...]:
    """Return the beats in one turn of each wheel before the escape wheel, the nearest to it first.

    Parameters
    ----------
    escape_teeth : int
        Teeth of the escape wheel.
    wheels, pinions : sequence of int, shape (n,)
        Teeth of the wheels and leaves of the pinions they drive, from the center wheel on; the last pinion is that of
        the escape wheel.

    Raises
    ------
    UsageError
        Not one pinion for each wheel, or a count below one.
    """
    if len(wheels) != len(pinions) or min(escape_teeth, *wheels, *pinions) < 1:
        raise UsageError(
            f"{escape_teeth} teeth, wheels {list(wheels)}, pinions {list(pinions)}",
            do="Give one pinion for each wheel, each count at least 1",
        )
    beats = float(BEATS_PER_TOOTH * escape_teeth)
    found = []
    for wheel, pinion in zip(reversed(wheels), reversed(pinions), strict=True):
        beats *= wheel / pinion
        found.append(beats)
    return tuple(found)


def find_slow_cycle(
    times_s: Floats,
    numbers: NDArray[np.intp],
    sigmas_s: Floats | None = None,
    segments: NDArray[np.intp] | None = None,
    periods_beats: Sequence[float] | None = None,
    also: Floats | None = None,
) -> SlowCycle | None:
    """Return the cycle of a slower wheel, or None where none is heard or the recording is too short for one.

    Parameters
    ----------
    times_s, numbers : array (N,)
        The beats: times [s], numbers.
    sigmas_s : array (N,), optional
        Standard uncertainty of each from noise in the sound [s].
    segments : int array (N,), optional
        Unbroken pieces; the longest is taken.
    periods_beats : sequence of float, optional
        Turns of the wheels of a known train; without it every period is tried that comes often enough.
    also : array (N, C), optional
        Columns of what else is in the times, such as an escape wheel's error that was found.
    """
    rows = longest_piece(numbers, segments)
    rows = rows[~odd_ones_out(times_s[rows], numbers[rows])] if len(rows) else rows
    if len(rows) < LEAST_TURNS * SHORTEST_BEATS and periods_beats is None:
        return None
    span = float(numbers[rows[-1]] - numbers[rows[0]]) if len(rows) else 0.0
    tried = _periods(span / LEAST_TURNS, periods_beats)
    if not len(tried):
        return None
    intervals = turning.intervals_of(times_s[rows], numbers[rows], None if sigmas_s is None else sigmas_s[rows])
    weighed = _weighed(intervals, tried, np.empty((len(rows), 0)) if also is None else also[rows])
    whole = turning.log_mean(weighed.logs) - turning.log_mean(weighed.nulls)
    if whole < np.log(SURE_ODDS):
        return None
    best = int(np.argmax([turning.log_sum(weighed.logs[:, number]) for number in range(len(tried))]))
    share = np.exp(weighed.logs[:, best] - turning.log_sum(weighed.logs[:, best]))
    amplitude_s = float(share @ weighed.amplitudes_s[:, best])
    spread = float(share @ np.square(weighed.amplitudes_s[:, best] - amplitude_s))
    sigma_s = float(np.sqrt(share @ np.square(weighed.sigmas_s[:, best]) + spread))
    return SlowCycle(float(tried[best]), span / float(tried[best]), amplitude_s, sigma_s, whole)


def _periods(longest_beats: float, given: Sequence[float] | None) -> Floats:
    """Return the periods that are tried, in beats; none where the recording is too short."""
    if given is not None:
        return np.array([period for period in given if period <= longest_beats])
    if longest_beats < SHORTEST_BEATS:
        return np.empty(0)
    # Evenly in frequency: a cycle is as wide in frequency as the recording is short.
    wanted = int(_TRIED_PER_WIDTH * LEAST_TURNS * (longest_beats / SHORTEST_BEATS - 1.0)) + 1
    return 1.0 / np.linspace(1.0 / longest_beats, 1.0 / SHORTEST_BEATS, min(wanted, _MOST_PERIODS))


@dataclass(frozen=True, slots=True)
class _Weighed:
    """Evidence, amplitude and uncertainty for each ratio of the noises and each period (R, T); of no cycle (R,)."""

    logs: Floats
    amplitudes_s: Floats
    sigmas_s: Floats
    nulls: Floats


def _weighed(intervals: Intervals, tried: Floats, also: Floats) -> _Weighed:
    """Return how well each period explains the intervals, beside further columns of the times (N, C)."""
    shape = len(turning.RATIOS), len(tried)
    made = _Weighed(np.empty(shape), np.empty(shape), np.empty(shape), np.empty(shape[0]))
    for place, ratio in enumerate(turning.RATIOS):
        white = turning.whitened(intervals, float(ratio))
        if also.shape[1]:
            white = white.beside(white.whiten(intervals.change(also)))
        for number, period in enumerate(tried):
            columns = white.whiten(intervals.change(turn_columns(intervals.numbers, float(period), _HARMONICS)))
            cycle = turning.products(white, columns)
            made.logs[place, number] = turning.log_mean(Pattern.of(cycle, _SIZES).evidence())
            inverse = np.linalg.inv(cycle.gram)
            mean = inverse @ cycle.along
            rest = max(cycle.rest - float(mean @ cycle.along), _LEAST_REST) / cycle.freedom
            noise = float(np.trace(inverse)) / 2.0 * rest
            made.amplitudes_s[place, number] = np.sqrt(max(float(mean @ mean) - noise, 0.0))
            made.sigmas_s[place, number] = np.sqrt(noise)
            made.nulls[place] = cycle.log_null
    return made
