"""What a clock did: its drops with sides and times, all known exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.mechanics.escapement import Side
from diagnose.mechanics.pendulum import SECONDS_PER_DAY, SECONDS_PER_HOUR
from diagnose.training.wheelwork import Wheelwork

RIGHT, LEFT = 1, -1


@dataclass(frozen=True, slots=True)
class Ticking:
    """What a clock did, exactly.

    Parameters
    ----------
    times_s : ndarray, shape (n,)
        When a tooth dropped, from the start of the run [s].
    sides : ndarray of int, shape (n,)
        +1 for a tick on the right, -1 on the left.
    swing_deg : ndarray, shape (n,)
        The turn after each tick, from rest [deg].
    seconds : float
        Length of the run [s].
    beats_per_hour : float
        Nominal beats per hour of the train [1/h].
    stopped_at_s : float or None
        When the last tick came, if the swing then no longer reached the next.
    released_from : str or None
        The side from which the bob was let go, if it was.
    silent : ndarray of bool, shape (n,), or None
        Which drops are not heard; none where None.
    doubled_s : ndarray, shape (n,), or None
        When a second impact follows, not a number where none does; none at all where None [s].
    numbers : ndarray of int, shape (n,), or None
        Number of each drop by the wheels; tooth 0 of `wheels` drops at 0.
    wheels : Wheelwork or None
        Errors of the wheels that are in the times.
    """

    times_s: NDArray[np.float64]
    sides: NDArray[np.int8]
    swing_deg: NDArray[np.float64]
    seconds: float
    beats_per_hour: float
    stopped_at_s: float | None
    released_from: Side | None
    silent: NDArray[np.bool_] | None = None
    doubled_s: NDArray[np.float64] | None = None
    numbers: NDArray[np.int_] | None = None
    wheels: Wheelwork | None = None

    @property
    def heard(self) -> NDArray[np.bool_]:
        """Which drops are heard, shape (n,)."""
        return np.ones(self.times_s.size, bool) if self.silent is None else ~self.silent

    @property
    def beat_error_percent(self) -> float:
        """Beat error of the whole run, + right early; not a number below three ticks [percent]."""
        gaps, starts = np.diff(self.times_s), self.sides[:-1]
        right, left = gaps[starts == RIGHT], gaps[starts == LEFT]
        if not right.size or not left.size:
            return math.nan
        return float(100 * (right.mean() - left.mean()) / (right.mean() + left.mean()))

    @property
    def rate_s_per_day(self) -> float:
        """Rate over whole swings, + gains [s/day]."""
        swings = (self.times_s.size - 1) // 2
        if swings < 1:
            return math.nan
        beat_s = (self.times_s[2 * swings] - self.times_s[0]) / (2 * swings)
        return SECONDS_PER_DAY * (SECONDS_PER_HOUR / self.beats_per_hour / float(beat_s) - 1)
