"""Regulation: the rating nut, small weights, and the length they stand for.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 49-51.
"""

from __future__ import annotations

import math
from typing import Literal

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import MM_PER_INCH, SECONDS_PER_DAY

SECONDS_PER_MINUTE = 60.0

HALF_DAY = SECONDS_PER_DAY / 2
"""The rate changes by this times dL/L, for a small change of length [1]_, p. 50 [s/day]."""

WRONG_PART_S_PER_DAY = 300.0
"""From about 5 minutes a day a wrong pendulum, hook or train is likelier than the nut; common practice, no
source [s/day]."""

BEST_PLACE = 0.5
"""Half way down the rod a small weight has the greatest effect, and its place the least [1]_, p. 51."""


def rate_per_mm(length_mm: float) -> float:
    """Return how much a pendulum loses for each millimeter it is made longer [s/day].

    Parameters
    ----------
    length_mm : float
        Theoretical length of the pendulum [mm].
    """
    return HALF_DAY / length_mm


def rate_per_turn(length_mm: float, pitch_mm: float) -> float:
    """Return what one full turn of the rating nut changes [s/day].

    Parameters
    ----------
    length_mm : float
        Theoretical length of the pendulum [mm].
    pitch_mm : float
        Pitch of the thread [mm].

    Notes
    -----
    True for a light rod with a small heavy bob. A clock's own value is learned from two readings.
    """
    return rate_per_mm(length_mm) * pitch_mm


def turns_to_correct(rate_s_per_day: float, length_mm: float, pitch_mm: float) -> float:
    """Return the turns of the nut that put a rate right: + raises the bob, - lowers it.

    Parameters
    ----------
    rate_s_per_day : float
        Measured rate, + gains [s/day].
    length_mm, pitch_mm : float
        Length of the pendulum and pitch of the thread [mm].
    """
    return -rate_s_per_day / rate_per_turn(length_mm, pitch_mm)


def turns_to_correct_exactly(rate_s_per_day: float, length_mm: float, pitch_mm: float) -> float:
    """Return the same turns without the approximation for small changes: + raises the bob, - lowers it.

    Parameters
    ----------
    rate_s_per_day : float
        Measured rate, + gains [s/day].
    length_mm, pitch_mm : float
        Length of the pendulum now and pitch of the thread [mm].
    """
    return -length_change_mm(rate_s_per_day, length_mm) / pitch_mm


def rate_after_turns(turns: float, length_mm: float, pitch_mm: float) -> float:
    """Return the rate of a clock that was right before its nut was turned, exactly [s/day, + gains].

    Parameters
    ----------
    turns : float
        + raises the bob, - lowers it.
    length_mm, pitch_mm : float
        Length of the pendulum before and pitch of the thread [mm].

    Raises
    ------
    UsageError
        If nothing would be left of the pendulum.
    """
    left = 1 - turns * pitch_mm / length_mm
    if left <= 0:
        raise UsageError(
            f"{turns:g} turns of {pitch_mm:g} mm on a pendulum of {length_mm:g} mm",
            do="The bob would be raised past its suspension: check pitch and turns",
        )
    return SECONDS_PER_DAY * (1 / math.sqrt(left) - 1)


def pitch_of_threads(threads_per_inch: float) -> float:
    """Return the pitch of a thread told by its threads to the inch [mm]."""
    return MM_PER_INCH / threads_per_inch


def length_change_mm(rate_s_per_day: float, length_mm: float) -> float:
    """Return how much longer the pendulum must become to put a rate right, exactly [mm].

    Parameters
    ----------
    rate_s_per_day : float
        Measured rate, + gains [s/day].
    length_mm : float
        Theoretical length now [mm].
    """
    return length_mm * ((1 + rate_s_per_day / SECONDS_PER_DAY) ** 2 - 1)


def pitch_for(rate_s_per_day: float, length_mm: float) -> float:
    """Return the pitch of a thread whose turn changes the rate by so much ([1]_, p. 50) [mm].

    Parameters
    ----------
    rate_s_per_day : float
        Wanted change for one turn [s/day].
    length_mm : float
        Theoretical length of the pendulum [mm].
    """
    return rate_s_per_day / rate_per_mm(length_mm)


def rate_by_small_weight(share_of_bob: float, place: float) -> float:
    """Return what a small weight laid on the rod gains ([1]_, p. 51) [s/day].

    Parameters
    ----------
    share_of_bob : float
        Mass of the weight over the mass of the pendulum [1].
    place : float
        Where it lies, as a share of the length from the bend: 0 to 1 [1].
    """
    return HALF_DAY * share_of_bob * (place - place**2)


def small_weight_for(rate_s_per_day: float, place: float = BEST_PLACE) -> float:
    """Return which share of the pendulum's mass, laid on the rod, gains so much ([1]_, p. 51).

    Parameters
    ----------
    rate_s_per_day : float
        Wanted gain, above 0 [s/day].
    place : float
        Where it will lie, as a share of the length from the bend: between 0 and 1 [1].

    Raises
    ------
    UsageError
        If it would lie at the bend or at the bob, where it has no effect, or is to make the clock lose.
    """
    if not 0 < place < 1 or rate_s_per_day <= 0:
        raise UsageError(
            f"a gain of {rate_s_per_day:g} s a day by a weight at {place:g} of the length",
            do="A weight on the rod only gains, and only between the bend (0) and the bob (1)",
        )
    return rate_s_per_day / rate_by_small_weight(1.0, place)


def front_edge_of_nut(raises: bool) -> Literal["left", "right"]:
    """Return to which side the front edge of the nut is turned, as you face the dial.

    Parameters
    ----------
    raises : bool
        Whether the bob shall rise, so that the clock goes faster.

    Notes
    -----
    For a nut *below* the bob with a right-hand thread: clockwise seen from below climbs. With a nut above
    the bob or a left-hand thread, watch the bob and not the nut.
    """
    return "right" if raises else "left"


def rate_from_reading(fast_minutes: float, days: float) -> float:
    """Return the rate from a reading against a clock that is right [s/day, + gains].

    Parameters
    ----------
    fast_minutes : float
        How far it is fast; slow is negative [min].
    days : float
        How long since it was set right [days].

    Raises
    ------
    UsageError
        If no time has passed since it was set.
    """
    if days <= 0:
        raise UsageError(f"{days:g} days since it was set", do="Give the days that have passed, more than 0")
    return fast_minutes * SECONDS_PER_MINUTE / days
