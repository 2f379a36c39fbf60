"""Which side comes early: from the side the bob was drawn to before it was let go.

Draw the bob to the left until it ticks and let go: the next tick is the right-hand one. The bob turns on the right
after a right-hand tick, so the interval that begins there has the bob on the right; and the bob turns on the early
side during the longer interval.

The first swings after letting go are still growing and come irregularly. So the count starts from the first stretch of
beats that is plain, and goes back from there sound by sound.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Side = Literal["left", "right"]
EarlySide = Literal["left", "right", "unknown"]

_PLAIN_BEATS = 6
"""The count starts from this many beats in a row."""
_MATCH_BEATS = 0.14
"""Going back, each beat must lie this near, as a share of a beat, to where those after it put it."""
_CLOSE_BEATS = 0.05
"""A first sound farther off than this may be the tick made by hand, with the bob let go at once."""
_MERGE_S = 0.07
_LONGEST_HOLD_S = 20.0
_BEGINS_BEATS = 0.6
_LEAD_BEATS = 1.5
_BEGINS_LATE = (
    "the recording begins just before its first tick, so it may have begun in the middle of a swing; the side is right "
    "only if it was running when the bob was let go"
)
_NO_HAND_TICK = "the tick made by hand, before the bob was let go, was not heard"
_EARLY_GAP = "a beat is missing among the first ones"
_HAND_OR_FIRST = "its first sound may be the tick made by hand or the first tick after letting go"


@dataclass(frozen=True, slots=True)
class FirstTick:
    """Which beat number was the first after the bob was let go.

    Parameters
    ----------
    number : int, optional
        Number of that beat (it may be below 0, before the first beat that was measured), or None.
    reason : str
        Why it is not known, or what speaks against trusting it.
    """

    number: int | None
    reason: str = ""


def find_first_tick(
    times_s: NDArray[np.float64],
    numbers: NDArray[np.intp],
    segments: NDArray[np.intp],
    sounds_s: NDArray[np.float64],
    period_s: float,
) -> FirstTick:
    """Return the number of the first beat after the bob was let go.

    Parameters
    ----------
    times_s, numbers, segments : arrays (N,)
        The numbered beats.
    sounds_s : array (M,)
        All sudden sounds, beats and others [s].
    period_s : float
        Period of one beat [s].
    """
    start = _plain_from(numbers, segments)
    if start is None:
        return FirstTick(None, "no stretch of beats is plain enough to count from")
    rows = range(start, start + _PLAIN_BEATS)
    known = {int(numbers[row]): _as_sound(float(times_s[row]), sounds_s) for row in rows}
    sounds = _sounds_before(min(known.values()), np.concatenate([sounds_s, times_s[:start]]))
    count = _Count(known, period_s, sounds)
    count.go_back()
    first = min(known)
    first_s = known[first]
    heard_before = count.left[count.left < first_s]
    if count.after_gap > 0:
        return FirstTick(None, _EARLY_GAP)
    if count.off_beats > _CLOSE_BEATS:
        return FirstTick(None, _HAND_OR_FIRST)
    if len(heard_before) and first_s - heard_before[-1] < _LONGEST_HOLD_S:
        return FirstTick(first)
    if first_s > _LEAD_BEATS * period_s and not count.stepped_over:
        return FirstTick(first, _NO_HAND_TICK)
    return FirstTick(first, _BEGINS_LATE if first_s < _BEGINS_BEATS * period_s else "")


def _plain_from(numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> int | None:
    """Return the first row from which enough beats follow one another, or None."""
    follows = (np.diff(numbers) == 1) & (np.diff(segments) == 0)
    for row in range(len(follows) - _PLAIN_BEATS + 2):
        if follows[row : row + _PLAIN_BEATS - 1].all():
            return row
    return None


def _as_sound(time_s: float, sounds_s: NDArray[np.float64]) -> float:
    """Return the time of the sudden sound that is a beat: in the first swings a beat is not timed, only heard [s]."""
    if not len(sounds_s):
        return time_s
    nearest_s = float(sounds_s[int(np.argmin(np.abs(sounds_s - time_s)))])
    return nearest_s if abs(nearest_s - time_s) < _MERGE_S else time_s


def _sounds_before(end_s: float, sounds_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the sudden sounds before a time, those close together as one, in order [s]."""
    merged: list[float] = []
    for sound in np.sort(sounds_s[sounds_s < end_s - _MERGE_S]):
        if not merged or sound - merged[-1] > _MERGE_S:
            merged.append(float(sound))
    return np.array(merged)


@dataclass(slots=True)
class _Count:
    """The count of beats going back from a plain stretch; `known` grows toward the first tick."""

    known: dict[int, float]
    period_s: float
    left: NDArray[np.float64]
    off_beats: float = field(default=0.0)
    stepped_over: bool = False
    after_gap: int = 0

    def go_back(self) -> None:
        """Number the sounds before the plain stretch, as long as each is a beat; one silent beat is stepped over.

        A sound two beats before another may be a beat or the tick made by hand: the count is the same, for in both
        cases the bob was last on the same side. Only when yet more sounds come before it is the count in doubt.
        """
        while len(self.left):
            first = min(self.known)
            if self._take(first - 1):
                self.after_gap += self.stepped_over
            elif not self.stepped_over and self._take(first - 2):
                self.stepped_over = True
                self.off_beats = 0.0
            else:
                return

    def _take(self, number: int) -> bool:
        """Take the sound nearest to where a beat must be, if it is near enough."""
        expected_s = self._expected(number)
        nearest = int(np.argmin(np.abs(self.left - expected_s)))
        off_beats = abs(float(self.left[nearest]) - expected_s) / self.period_s
        if off_beats > _MATCH_BEATS:
            return False
        self.known[number] = float(self.left[nearest])
        self.left = self.left[:nearest]
        self.off_beats = off_beats
        return True

    def _expected(self, number: int) -> float:
        """Return where a beat must be, by the two swings after it on its own side [s]."""
        one, two, three = (self.known.get(number + step) for step in (2, 4, 6))
        if one is None:
            # A silent beat lies between: from the other side, by one beat.
            return self.known[min(self.known)] - (min(self.known) - number) * self.period_s
        if two is None:
            return one - 2.0 * self.period_s
        swing_s = two - one
        # The first swings shorten or lengthen as they grow; what they changed by last, they change by again.
        change_s = 0.0 if three is None else swing_s - (three - two)
        return one - swing_s - change_s


def early_side(first: Side, first_number: int, longer_begins_even: bool) -> Side:
    """Return the side whose tick comes too soon.

    Parameters
    ----------
    first : str
        The side the bob was drawn to and let go from.
    first_number : int
        Number of the first beat after that.
    longer_begins_even : bool
        Whether the longer intervals begin on even numbers.
    """
    opposite: Side = "right" if first == "left" else "left"
    begins_like_first = longer_begins_even == (first_number % 2 == 0)
    return opposite if begins_like_first else first
