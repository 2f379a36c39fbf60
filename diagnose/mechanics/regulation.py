"""Regulation: the rating nut, small weights, and the length they stand for.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 49-51.
"""

from __future__ import annotations

from typing import Literal

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import SECONDS_PER_DAY

SECONDS_PER_MINUTE = 60.0

HALF_DAY = SECONDS_PER_DAY / 2
"""The rate changes by this times dL/L, for a small change of length [1]_, p. 50 [s/day]."""


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
