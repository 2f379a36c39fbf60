"""Whether a second clock ticks in the same recording: what is left when the beats of the first are taken out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.onsets import STEP_S
from diagnose.measurement.hearing.period import plainest_period
from diagnose.measurement.hearing.swing import Swing, fold

_TAKEN_BEFORE_S, _TAKEN_AFTER_S = 0.03, 0.07
_LEAST_SCORE = 30.0
_LEAST_CONTRAST = 10.0
_RELATED = 4e-3
_LARGEST_PART = 4
_PARTS, _PART_SHARE, _NEAR_BINS = 3, 0.3, 6
_LONG_ENOUGH_S = 6.0
_EQUAL_SHARE = 0.35
_FITS = 0.02
_MAD_TO_SIGMA = 1.4826
_BEATS_AN_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class SecondClock:
    """Another train of ticks.

    Parameters
    ----------
    beats_per_hour : float
        Its ticks in an hour [1/h].
    share : float
        How strongly it stands out, beside the first.
    """

    beats_per_hour: float
    share: float

    @property
    def equal(self) -> bool:
        """Whether it is loud enough to be taken for the clock that is meant."""
        return self.share >= _EQUAL_SHARE

    def fits(self, nominal: float | None) -> bool:
        """Whether it is the clock whose beats per hour were given; it may be heard once a swing."""
        if nominal is None:
            return False
        return any(abs(self.beats_per_hour * beats / nominal - 1.0) < _FITS for beats in (1, 2))


def find_second(first_s: float, beats_s: NDArray[np.float64], swing: Swing) -> SecondClock | None:
    """Return the second clock in a recording, or None.

    Parameters
    ----------
    first_s : float
        Time of the first value of the detection function [s].
    beats_s : array (N,)
        Beats of the first clock [s].
    swing : Swing
        Its swing.
    """
    strength = swing.strength
    if len(strength) * STEP_S < _LONG_ENOUGH_S:
        return None
    left = without_beats(strength, first_s, beats_s)
    found = plainest_period(left, swing.weights)
    if found is None or found.score < _LEAST_SCORE:
        return None
    period_s = found.period_s
    if _related(period_s, swing.period_s / 2.0):
        return None
    profile = fold(left, period_s)
    height = float(profile.max() - np.median(profile))
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(profile - np.median(profile))))
    if height < _LEAST_CONTRAST * max(spread, 1e-9):
        return None
    if not _throughout(left, period_s, profile):
        return None
    own = fold(strength, swing.period_s)
    share = height / max(float(own.max() - np.median(own)), 1e-9)
    return SecondClock(_BEATS_AN_HOUR / period_s, share)


def without_beats(strength: NDArray[np.float64], first_s: float, beats_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a detection function in which some beats are silent; shape (F,)."""
    left = strength.copy()
    for beat_s in beats_s - first_s:
        start = max(int((beat_s - _TAKEN_BEFORE_S) / STEP_S), 0)
        left[start : max(int((beat_s + _TAKEN_AFTER_S) / STEP_S), 0)] = 0.0
    return left


def _throughout(left: NDArray[np.float64], period_s: float, profile: NDArray[np.float64]) -> bool:
    """Return whether something is there from the beginning to the end: a strike or a voice ends, a clock does not."""
    top = int(np.argmax(profile))
    heights = []
    for part in range(_PARTS):
        first = part * len(left) // _PARTS
        piece = left[first : (part + 1) * len(left) // _PARTS]
        own = np.roll(fold(piece, period_s), round(first * STEP_S / period_s % 1.0 * len(profile)))
        near = np.take(own, np.arange(top - _NEAR_BINS, top + _NEAR_BINS + 1), mode="wrap")
        heights.append(float(near.max() - np.median(own)))
    return min(heights) >= _PART_SHARE * max(heights)


def _related(period_s: float, beat_s: float) -> bool:
    """Return whether one period is a whole multiple of the other: then it may be an echo of the same clock."""
    ratio = period_s / beat_s
    larger = max(ratio, 1.0 / ratio)
    return round(larger) <= _LARGEST_PART and abs(larger / round(larger) - 1.0) < _RELATED
