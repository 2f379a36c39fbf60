"""A clock compared with the right time at two moments or more: its rate, with the error of reading in it.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 49-54 (regulation and heat).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import EXPANSION_PER_C, SECONDS_PER_DAY, rate_by_temperature
from diagnose.mechanics.regulation import SECONDS_PER_MINUTE

DAYS_PER_WEEK = 7.0
ORDINARY_MINUTES_A_WEEK = 2.0
"""One to two minutes a week is ordinary for a domestic pendulum clock; common practice, no source [min/week]."""
ORDINARY_S_PER_DAY = ORDINARY_MINUTES_A_WEEK * SECONDS_PER_MINUTE / DAYS_PER_WEEK
SEASON_C = 5.0
"""A change of the room from which on the heat may explain a rate; common practice, no source [deg C]."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """A clock compared with the right time once.

    Parameters
    ----------
    at : datetime
        The right time.
    fast_s : float
        How far the clock is fast; slow is negative [s].
    unsure_s : float
        Standard uncertainty of the reading [s].
    set_right : bool
        The hands were set right just then: from there on it begins at nought.
    room_c : float, optional
        Temperature of the room since the comparison before [deg C].
    """

    at: datetime
    fast_s: float
    unsure_s: float
    set_right: bool = False
    room_c: float | None = None


@dataclass(frozen=True, slots=True)
class Rate:
    """What a clock gains.

    Parameters
    ----------
    s_per_day : float
        + gains [s/day].
    uncertainty : float
        Standard uncertainty [s/day].
    days : float
        Over which it was compared [days].
    """

    s_per_day: float
    uncertainty: float
    days: float

    @property
    def minutes_a_week(self) -> float:
        """The same in minutes a week [min/week]."""
        return minutes_a_week(self.s_per_day)


def minutes_a_week(s_per_day: float) -> float:
    """Return a rate in minutes a week [min/week].

    Parameters
    ----------
    s_per_day : float
        + gains [s/day].
    """
    return s_per_day * DAYS_PER_WEEK / SECONDS_PER_MINUTE


def rate_of(comparisons: Sequence[Comparison]) -> Rate | None:
    """Return the rate from comparisons in order of time; None where there are fewer than two.

    Parameters
    ----------
    comparisons : sequence of Comparison
        Without a turn of the nut between them.

    Returns
    -------
    Rate or None
        Stretches between settings of the hands are put together by their weights; within a stretch it is the
        straight line of least squares.

    Raises
    ------
    UsageError
        If a later comparison is not later.
    """
    for before, after in itertools.pairwise(comparisons):
        if after.at <= before.at:
            raise UsageError(
                f"a comparison at {after.at:%Y-%m-%d %H:%M} stands after one at {before.at:%Y-%m-%d %H:%M}",
                do="Give them in order of time",
            )
    lines = [line for stretch in _stretches(comparisons) if (line := _line(stretch)) is not None]
    if not lines:
        return None
    weights = [1 / line.uncertainty**2 for line in lines]
    mean = sum(weight * line.s_per_day for weight, line in zip(weights, lines, strict=True)) / sum(weights)
    return Rate(mean, 1 / math.sqrt(sum(weights)), sum(line.days for line in lines))


def _stretches(comparisons: Sequence[Comparison]) -> list[list[Comparison]]:
    """Return the comparisons cut where the hands were set right."""
    stretches: list[list[Comparison]] = [[]]
    for item in comparisons:
        stretches[-1].append(item)
        if item.set_right:
            stretches.append([Comparison(item.at, 0.0, item.unsure_s)])
    return stretches


def _line(stretch: Sequence[Comparison]) -> Rate | None:
    """Return the slope of the straight line of least squares, weighted by how well each was read."""
    if len(stretch) < 2:
        return None
    begin = stretch[0].at
    days = [(item.at - begin).total_seconds() / SECONDS_PER_DAY for item in stretch]
    weights = [1 / item.unsure_s**2 for item in stretch]
    whole = sum(weights)
    mean_day = sum(weight * day for weight, day in zip(weights, days, strict=True)) / whole
    mean_fast = sum(weight * item.fast_s for weight, item in zip(weights, stretch, strict=True)) / whole
    spread = sum(weight * (day - mean_day) ** 2 for weight, day in zip(weights, days, strict=True))
    slope = (
        sum(
            weight * (day - mean_day) * (item.fast_s - mean_fast)
            for weight, day, item in zip(weights, days, stretch, strict=True)
        )
        / spread
    )
    return Rate(slope, 1 / math.sqrt(spread), days[-1])


def days_to_see(s_per_day: float, unsure_s: float) -> float:
    """Return after how many days two readings show a rate as well as this [days].

    Parameters
    ----------
    s_per_day : float
        Wanted standard uncertainty of the rate [s/day].
    unsure_s : float
        Standard uncertainty of one reading [s].
    """
    return math.sqrt(2) * unsure_s / s_per_day


def read_again_at(last: datetime, days: float) -> datetime:
    """Return when to compare again: at the same hour, so many days later."""
    return last + timedelta(days=days)


def rate_by_heat(material: str, warmer_by_c: float) -> float:
    """Return what a rod gains by a change of the room [s/day]; warmer is slower.

    Parameters
    ----------
    material : str
        A key of `EXPANSION_PER_C`, such as "steel", "brass" or "wood".
    warmer_by_c : float
        Degrees of warming [deg C].

    References
    ----------
    [1]_, pp. 52-54: about half a second a day for each degree with steel.
    """
    if material not in EXPANSION_PER_C:
        raise UsageError(f"no rod of '{material}'", do=f"One of {', '.join(EXPANSION_PER_C)}")
    return rate_by_temperature(EXPANSION_PER_C[material], warmer_by_c)
