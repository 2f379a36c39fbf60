"""The driving weight on its way down: when it hangs level with the bob, where it can swing in sympathy.

References
----------
.. [1] A. W. Crook, "A tale of a clock", *European Journal of Physics* 22 (2001) 549-560: on a yielding base a
   floor clock tends to stop when the weight has fallen to about the level of the bob; abstract read.
"""

from __future__ import annotations

import math

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import beats_per_hour
from diagnose.mechanics.train import HOURS_PER_DAY

MM_PER_M = 1000.0
PARTS_OF_LINE = 2
"""A weight on a pulley hangs on two parts of the line, and falls half of what the barrel gives."""

NEAR_SHARE = 0.05
"""Within this share of the length the two swing nearly alike; an estimate, no source [1]."""


def fall_a_day_mm(barrel_mm: float, great_wheel_h: float, parts_of_line: int = PARTS_OF_LINE) -> float:
    """Return how far a weight falls in a day [mm/day].

    Parameters
    ----------
    barrel_mm : float
        Diameter of the barrel to the middle of the line that lies on it, or pitch diameter of a chain wheel [mm].
    great_wheel_h : float
        Time of one turn of the great wheel: 12 where 96 teeth drive a pinion of 8 [h].
    parts_of_line : int
        2 with a pulley, 1 without.
    """
    return math.pi * barrel_mm * HOURS_PER_DAY / great_wheel_h / parts_of_line


def days_until_level(hangs_mm: float, pendulum_mm: float, fall_mm_per_day: float) -> tuple[float, float, float]:
    """Return when the weight comes near the level of the bob, is level with it, and has left it [1]_ [days].

    Parameters
    ----------
    hangs_mm : float
        From where its line leaves the movement down to the middle of the weight, when wound [mm].
    pendulum_mm : float
        From the bend of the suspension spring to the middle of the bob [mm].
    fall_mm_per_day : float
        Fall in a day [mm/day].

    Returns
    -------
    tuple of float
        Days after winding; a time before winding is negative.

    Raises
    ------
    UsageError
        If it does not fall.
    """
    if fall_mm_per_day <= 0:
        raise UsageError(f"a fall of {fall_mm_per_day:g} mm a day", do="Give how far the weight falls, above 0")
    early, level, late = (
        (pendulum_mm * share - hangs_mm) / fall_mm_per_day for share in (1 - NEAR_SHARE, 1, 1 + NEAR_SHARE)
    )
    return early, level, late


def beats_of_hanging_weight(hangs_mm: float) -> float:
    """Return the beats per hour of a weight that swings on its line like a pendulum [1/h].

    Parameters
    ----------
    hangs_mm : float
        From where its line leaves the movement down to the middle of the weight [mm].
    """
    return beats_per_hour(hangs_mm / MM_PER_M)
