"""Which side comes early: from the side the bob was drawn to before it was let go.

Draw the bob to the left until it ticks and let go: the next tick is the right-hand one. The bob turns on the right
after a right-hand tick, so the interval that begins there has the bob on the right; and the bob turns on the early
side during the longer interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Side = Literal["left", "right"]
EarlySide = Literal["left", "right", "unknown"]

_MATCH_SHARE = 0.14
"""Going back beat by beat, each must lie this near, as a share of a beat, to where the two after it put it."""
_DRAWN_GAP_BEATS = 1.25
_LONGEST_HOLD_S = 20.0
_EARLY_BEATS = 0.6
_STARTS_LATE = (
    "the recording begins just before its first tick, so it may have begun in the middle of a swing; the side is right "
    "only if it was running when the bob was let go"
)


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
    strays_s: NDArray[np.float64],
    period_s: float,
) -> FirstTick:
    """Return the number of the first beat after the bob was let go.

    Parameters
    ----------
    times_s, numbers, segments : arrays (N,)
        The numbered beats.
    strays_s : array (M,)
        Other sudden sounds [s].
    period_s : float
        Period of one beat [s].
    """
    if len(numbers) < 4:
        return FirstTick(None, "too few beats to count from the first")
    start = _unbroken_from(numbers, segments)
    if start > 0:
        gap = f"{times_s[start - 1]:.1f} and {times_s[start]:.1f} s"
        return FirstTick(None, f"beats are missing between {gap}, so the count from the first tick is lost")
    earlier, left = _go_back(times_s, numbers, strays_s, period_s)
    number = int(numbers[0]) - len(earlier)
    first_s = earlier[-1] if earlier else float(times_s[0])
    second_s = earlier[-2] if len(earlier) > 1 else float(times_s[0 if earlier else 1])
    before = left[left < first_s - 1e-3]
    if len(before) and first_s - before[-1] < _LONGEST_HOLD_S:
        return FirstTick(number)
    if second_s - first_s > _DRAWN_GAP_BEATS * period_s:
        # The first sound was the tick made by hand: a pause lies between it and the next.
        return FirstTick(number + 1 if earlier else int(numbers[1]))
    if first_s < _EARLY_BEATS * period_s:
        return FirstTick(number, _STARTS_LATE)
    return FirstTick(number)


def _unbroken_from(numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> int:
    """Return the last place, among the first beats, after which the count may be wrong."""
    broken = np.flatnonzero((np.diff(segments) != 0) | (np.diff(numbers) > 3))
    return int(broken[0]) + 1 if len(broken) else 0


def _go_back(
    times_s: NDArray[np.float64], numbers: NDArray[np.intp], strays_s: NDArray[np.float64], period_s: float
) -> tuple[list[float], NDArray[np.float64]]:
    """Return the times of beats before the first measured one, and the sudden sounds that are none."""
    known = {int(number): float(time) for number, time in zip(numbers, times_s, strict=True)}
    left = np.sort(strays_s[strays_s < times_s[0]])
    earlier: list[float] = []
    number = int(numbers[0]) - 1
    while len(left):
        two_later = known.get(number + 2)
        expected_s = two_later - 2.0 * period_s if two_later is not None else known[number + 1] - period_s
        nearest = int(np.argmin(np.abs(left - expected_s)))
        if abs(left[nearest] - expected_s) > _MATCH_SHARE * period_s:
            break
        known[number] = float(left[nearest])
        earlier.append(float(left[nearest]))
        left = left[:nearest]
        number -= 1
    return earlier, left


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
