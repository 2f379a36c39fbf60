"""The going train: beats per hour and turns, from wheel and pinion counts, exactly.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 22-23, 133-139.
.. [2] W. L. Goodrich, *The Modern Clock* (1905), ch. XV.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from diagnose.errors import UsageError

MINUTES_PER_HOUR = 60

HOURS_PER_DAY = 24
DAYS_PER_YEAR = 365.2425
TURNS_PER_MOTION = 12
"""Turns of the minute hand for one of the hour hand."""

SYNODIC_MONTH_D = 29.530589
"""Mean time from new moon to new moon; astronomical tables, from memory [days]."""

BEATS_PER_TOOTH = 2
"""Each tooth of the escape wheel gives a beat on either pallet."""

COMMON_TRAINS = (
    3600.0, 4320.0, 4800.0, 5040.0, 5400.0, 5760.0, 6000.0, 6480.0, 7200.0, 7560.0, 8000.0, 8400.0, 9000.0,
    9600.0, 10080.0, 10800.0, 12000.0, 14400.0,
)  # fmt: skip
"""Beats per hour a pendulum clock is likely to have been made for: whole numbers of beats a minute, and what
common wheel counts give; common practice, no source [1/h]."""

NEAR_SHARE = 0.02
"""Farther than this from every common train (half an hour a day) none is proposed."""


def turns(wheels: Sequence[int], pinions: Sequence[int]) -> Fraction:
    """Return the turns of the last pinion for one turn of the first wheel.

    Parameters
    ----------
    wheels : sequence of int, shape (n,)
        Teeth of each driving wheel, in order.
    pinions : sequence of int, shape (n,)
        Leaves of the pinion that each of them drives.

    Raises
    ------
    UsageError
        If the counts do not pair up, or one of them is not at least 1.
    """
    if len(wheels) != len(pinions) or not wheels:
        raise UsageError(
            f"{len(wheels)} wheels and {len(pinions)} pinions were given", do="Give one pinion for each wheel"
        )
    if min(*wheels, *pinions) < 1:
        raise UsageError(f"counts {list(wheels)} over {list(pinions)}", do="Every count is at least 1")
    return Fraction(math.prod(wheels), math.prod(pinions))


def beats_per_hour(
    wheels: Sequence[int], pinions: Sequence[int], escape_teeth: int, first_turns_per_hour: Fraction | int = 1
) -> Fraction:
    """Return the beats per hour of a train [1/h].

    Parameters
    ----------
    wheels : sequence of int, shape (n,)
        Teeth from the center wheel to the wheel before the escape wheel.
    pinions : sequence of int, shape (n,)
        Leaves from the pinion the center wheel drives to the escape pinion.
    escape_teeth : int
        Teeth of the escape wheel.
    first_turns_per_hour : Fraction or int
        Turns of the first wheel in an hour: 1 for a center wheel [1/h].

    References
    ----------
    [1]_, pp. 22-23.
    """
    if escape_teeth < 1:
        raise UsageError(f"an escape wheel of {escape_teeth} teeth", do="Every count is at least 1")
    return BEATS_PER_TOOTH * escape_teeth * turns(wheels, pinions) * first_turns_per_hour


def turning_times_min(wheels: Sequence[int], pinions: Sequence[int]) -> tuple[Fraction, ...]:
    """Return how long each arbor takes for one turn, from the center wheel to the escape wheel [min].

    Parameters
    ----------
    wheels : sequence of int, shape (n,)
        Teeth from the center wheel, which turns once an hour, to the wheel before the escape wheel.
    pinions : sequence of int, shape (n,)
        Leaves from the pinion the center wheel drives to the escape pinion.

    Returns
    -------
    tuple of Fraction, shape (n + 1,)
        An hour times the product of the pinions over the product of the wheels, counted from the center wheel.

    References
    ----------
    [1]_, pp. 22-23; the 8 minutes printed there for 64 into 8 are a slip for 7 1/2.
    """
    hour = Fraction(MINUTES_PER_HOUR)
    return (hour, *(hour / turns(wheels[:count], pinions[:count]) for count in range(1, len(wheels) + 1)))


def great_wheel_min(teeth: int, center_pinion: int) -> Fraction:
    """Return how long the great wheel takes for one turn, from its teeth and the center pinion [min]."""
    return MINUTES_PER_HOUR * turns((teeth,), (center_pinion,))


def run_days(barrel_turns: float, great_teeth: int, center_pinion: int) -> float:
    """Return how long a clock runs on so many turns of its barrel or great wheel [days].

    Parameters
    ----------
    barrel_turns : float
        Turns from wound to run down [1].
    great_teeth, center_pinion : int
        Great wheel, and the pinion of the center arbor that it drives; lantern pins count as leaves.

    References
    ----------
    [1]_, pp. 22, 138 (there with wheels between).
    """
    return barrel_turns * float(great_wheel_min(great_teeth, center_pinion)) / MINUTES_PER_HOUR / HOURS_PER_DAY


def barrel_turns_for(days: float, wheels: Sequence[int], pinions: Sequence[int]) -> Fraction:
    """Return the turns of a barrel for so many days, through all wheels down to the center arbor.

    Parameters
    ----------
    days : float
        Wanted run [days].
    wheels, pinions : sequence of int, shape (n,)
        From the great wheel to the one that drives the center pinion, and the pinions they drive.

    References
    ----------
    [1]_, p. 138: 380 days of 100, 90 and 76 over 12, 10 and 10 take 16 turns.
    """
    return Fraction(days) * HOURS_PER_DAY / turns(wheels, pinions)


def blows_a_turn(great_teeth: int, pinion: int, hammer_pins: int) -> Fraction:
    """Return the blows that one turn of a strike great wheel gives ([1]_, p. 165).

    Parameters
    ----------
    great_teeth, pinion : int
        Great wheel, and the pinion of the pin wheel that it drives.
    hammer_pins : int
        Pins that lift the hammer.
    """
    return turns((great_teeth,), (pinion,)) * hammer_pins


def hour_hand_ratio(cannon_pinion: int, minute_wheel: int, minute_pinion: int, hour_wheel: int) -> Fraction:
    """Return the turns of the minute hand for one of the hour hand; right is 12 ([1]_, p. 136).

    Parameters
    ----------
    cannon_pinion, minute_wheel, minute_pinion, hour_wheel : int
        Counts in order from the minute hand to the hour hand.
    """
    return 1 / turns((cannon_pinion, minute_pinion), (minute_wheel, hour_wheel))


def moon_month_h(drivers: Sequence[int], driven: Sequence[int], first_turn_h: float = 1.0) -> float:
    """Return how long a moon train takes for one moon ([1]_, p. 139) [h].

    Parameters
    ----------
    drivers, driven : sequence of int, shape (n,)
        Each pinion that drives, and the wheel that it drives, in order.
    first_turn_h : float
        Time the first driver takes for a turn: 1 on the arbor of the minute hand, 12 on the hour wheel [h].
    """
    return first_turn_h / float(turns(drivers, driven))


def moon_days_a_year(month_h: float) -> float:
    """Return by how many days of its age a moon is late after a year; early is negative [days/year].

    Parameters
    ----------
    month_h : float
        From `moon_month_h` [h].
    """
    month_d = month_h / HOURS_PER_DAY
    return DAYS_PER_YEAR * (1 - SYNODIC_MONTH_D / month_d)


def nearest_train(beats_per_hour: float) -> float | None:
    """Return the nearest common train by ratio, or None where none is within 2 percent [1/h].

    Parameters
    ----------
    beats_per_hour : float
        Measured beats per hour [1/h].
    """
    nearest = min(COMMON_TRAINS, key=lambda train: abs(math.log(beats_per_hour / train)))
    return nearest if abs(nearest / beats_per_hour - 1.0) <= NEAR_SHARE else None
