"""What can make a clock stop at times of one kind, and how well times fit: hands, wheels, strike, day, week.

Each pattern says how often the places of stops in its period lie where, with the error of reading in it; an even
share of the stops (something else, or misread) always lies anywhere. The *factor* of a pattern is how much
likelier it makes the times than stops at any time do; where the place is not known beforehand the factor is the
mean over all places, so that a pattern with more freedom pays for it.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 22-23, 133, 135 (trains), 167 (the step of the snail).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.mechanics.train import MINUTES_PER_HOUR, great_wheel_min, turning_times_min

HALF_DAY_MIN, DAY_MIN, WEEK_DAYS = 720.0, 1440.0, 7
HANDS_MEET = 11
"""The minute hand passes the hour hand eleven times in twelve hours."""
HANDS_MEET_MIN = HALF_DAY_MIN / HANDS_MEET
"""Time from one meeting of the hands to the next: 65 min 27.3 s [min]."""

STRAY_SHARE = 0.1
"""Share of the stops that have another cause, or were misread."""
KEPT_OF_PERIOD = 0.3
"""A period whose wave is blurred by the reading to less than this cannot be told."""
RUN_SPREAD = 0.08
"""Spread of the logarithm of runs that end by the same thing, such as a weight at one height."""
RESTARTED_THERE = 0.5
"""Chance that a clock was started again where it had stopped, so that a run is a whole number of turns."""
NEIGHBOR_DAY = 0.1
"""Chance that a stop that belongs to a weekday is found on the day before or after."""

# Where in its period a pattern lies, as first and last place [min]; common practice, no source.
QUARTER_FROM, QUARTER_TO = -4.0, 0.5
BEFORE_HOUR_FROM, BEFORE_HOUR_TO = -5.0, -0.5
MEET_FROM, MEET_TO = -2.5, 1.0
NEAR_ONE_FROM, NEAR_ONE_TO = 45.0, 75.0
NIGHT_FROM, NIGHT_TO = 21 * 60.0, 31 * 60.0

Kind = Literal["dial", "day", "week", "run"]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pattern:
    """One kind of stop times.

    Parameters
    ----------
    name : str
        Such as "minute-hand" or "hands-meet"; the phrase `stops-part-...` says it.
    kind : str
        What it is about: the "dial", the time of "day", the day of the "week", or how long it "run"s.
    period_min : float
        After which it comes round [min]; for the week in days; 0 where the length of the run itself is alike.
    spread_min : float
        Standard deviation of the place, without the error of reading [min].
    window : tuple of float, optional
        First and last place of its middle; any place without it [min].
    flat : bool
        Everywhere in the window alike, rather than about one place in it.
    value : str, optional
        The value of the finding `stop-pattern` that it stands for.
    """

    name: str
    kind: Kind
    period_min: float
    spread_min: float
    window: tuple[float, float] | None = None
    flat: bool = False
    value: str | None = None

    @property
    def part(self) -> str:
        """The wheel, hand or habit it is about, whichever way it was told from the times."""
        return self.name.removesuffix("-dial").removesuffix("-by-run")


DIAL = (
    Pattern("minute-hand", "dial", MINUTES_PER_HOUR, 1.0, value="same-minute-each-hour"),
    Pattern("quarters", "dial", MINUTES_PER_HOUR / 4, 0.7, (QUARTER_FROM, QUARTER_TO), value="quarters"),
    Pattern("before-hour", "dial", MINUTES_PER_HOUR, 0.7, (BEFORE_HOUR_FROM, BEFORE_HOUR_TO), value="just-before-hour"),
    Pattern("near-one", "dial", HALF_DAY_MIN, 1.0, (NEAR_ONE_FROM, NEAR_ONE_TO), True, "near-one"),
    Pattern("hands-meet", "dial", HANDS_MEET_MIN, 1.0, (MEET_FROM, MEET_TO), value="every-65-min"),
    Pattern("dial-time", "dial", HALF_DAY_MIN, 8.0, value="same-time-each-day"),
)
DAY = (
    Pattern("time-of-day", "day", DAY_MIN, 20.0, value="same-time-each-day"),
    Pattern("night", "day", DAY_MIN, 5.0, (NIGHT_FROM, NIGHT_TO), True, "night-only"),
)
WEEK = (Pattern("weekday", "week", WEEK_DAYS, 0.0, value="same-weekday"),)
RUN = (
    Pattern("center-wheel", "run", MINUTES_PER_HOUR, 1.0),
    Pattern("hands-meet-by-run", "run", HANDS_MEET_MIN, 1.0, value="every-65-min"),
    Pattern("same-run", "run", 0.0, 0.0),
)


@dataclass(frozen=True, slots=True)
class Counts:
    """The counts of a going train: wheels from the center wheel on, the pinions they drive, great wheel and pinion."""

    wheels: tuple[int, ...] = (64, 60)
    pinions: tuple[int, ...] = (8, 8)
    great: tuple[int, int] = (96, 8)


USUAL_COUNTS = (
    Counts((64, 60), (8, 8), (96, 8)),  # [1]_, pp. 22-23 and 133
    Counts((96, 80), (8, 8), (96, 8)),  # [1]_, p. 135, half seconds
    Counts((84, 80), (8, 7), (96, 8)),  # [1]_, p. 135
)


def wheel_patterns(counts: Sequence[Counts]) -> tuple[Pattern, ...]:
    """Return the patterns of the wheels of trains: by the dial, and by how long it ran; equal periods once.

    Parameters
    ----------
    counts : sequence of Counts
        The given train, or the usual ones.
    """
    found: dict[tuple[str, str, float], Pattern] = {}
    for train in counts:
        _, *between, escape = (float(time) for time in turning_times_min(train.wheels, train.pinions))
        for name, period_min in (*(("between-wheel", time) for time in between), ("escape-wheel", escape)):
            for kind, ending in (("dial", "-dial"), ("run", "")):
                pattern = Pattern(name + ending, kind, period_min, period_min / 30)  # type: ignore[arg-type]
                found[name, kind, round(period_min, 6)] = pattern
        great = float(great_wheel_min(*train.great))
        found["great-wheel", "run", great] = Pattern("great-wheel", "run", great, 5.0)
    return tuple(found.values())


def can_be_told(pattern: Pattern, reading_sd_min: float) -> bool:
    """Return whether the period is long against the error of reading."""
    if pattern.kind == "week" or not pattern.period_min:
        return True
    return math.exp(-2 * (math.pi * reading_sd_min / pattern.period_min) ** 2) >= KEPT_OF_PERIOD


def log_factors(pattern: Pattern, times: Floats, reading_sd_min: float) -> Floats:
    """Return the logarithm of the factor of a pattern for each row of times.

    Parameters
    ----------
    pattern : Pattern
        What is tried.
    times : ndarray, shape (rows, n)
        Stop times of its kind [min]; weekdays for the week.
    reading_sd_min : float
        Standard deviation of the reading [min].

    Returns
    -------
    ndarray, shape (rows,)
        Over stops at any time.
    """
    if not pattern.period_min:
        return _same_run(times)
    table, weights = _table(pattern, reading_sd_min)
    cells = table.shape[1]
    place = np.mod(np.round(times * cells / pattern.period_min).astype(np.int64), cells)
    summed = np.zeros((table.shape[0], times.shape[0]))
    for column in place.T:
        summed += table[:, column]
    top = summed.max(axis=0)
    return np.asarray(top + np.log(weights @ np.exp(summed - top)), dtype=np.float64)


def _same_run(runs: Floats) -> Floats:
    """Return the log factor for runs of one length against runs that end at any time, both of unknown length."""
    n, logs = runs.shape[1], np.log(np.maximum(runs, 1.0))
    scatter = np.square(logs - logs.mean(axis=1, keepdims=True)).sum(axis=1)
    alike = -logs.sum(axis=1) - scatter / (2 * RUN_SPREAD**2) - (n - 1) * math.log(RUN_SPREAD * math.sqrt(2 * math.pi))
    any_length = math.lgamma(n) - n * np.log(np.maximum(runs, 1.0).sum(axis=1))
    return np.asarray(alike - 0.5 * math.log(n) - any_length, dtype=np.float64)


@lru_cache(maxsize=256)
def _table(pattern: Pattern, reading_sd_min: float) -> tuple[Floats, Floats]:
    """Return log densities over an even one, for each middle (rows) and place (columns), and the weight of each row."""
    if pattern.kind == "week":
        return _week_table()
    period, sd = pattern.period_min, math.hypot(pattern.spread_min, reading_sd_min)
    cells = int(max(60, math.ceil(2 * period)))
    at = np.arange(cells) * period / cells
    if pattern.window is None:
        count = math.ceil(2 * period / sd)
        middles = np.arange(count) * period / count
        weights = np.full(count, 1 / count)
        if pattern.kind == "run":
            weights *= 1 - RESTARTED_THERE
            weights[0] += RESTARTED_THERE
    else:
        first, last = pattern.window
        count = math.ceil(2 * (last - first) / sd) + 1
        middles, weights = np.linspace(first, last, count), np.full(count, 1 / count)
    away = np.abs(np.mod(at[None, :] - middles[:, None] + period / 2, period) - period / 2)
    density = np.exp(-0.5 * np.square(away / sd))
    if pattern.flat:
        density, weights = density.sum(axis=0, keepdims=True), np.ones(1)
    density /= density.mean(axis=1, keepdims=True)
    return np.log((1 - STRAY_SHARE) * density + STRAY_SHARE), weights


def _week_table() -> tuple[Floats, Floats]:
    near = np.full((WEEK_DAYS, WEEK_DAYS), 0.0)
    for day in range(WEEK_DAYS):
        near[day, day] = 1 - 2 * NEIGHBOR_DAY
        near[day, (day + 1) % WEEK_DAYS] = near[day, day - 1] = NEIGHBOR_DAY
    density = WEEK_DAYS * near
    return np.log((1 - STRAY_SHARE) * density + STRAY_SHARE), np.full(WEEK_DAYS, 1 / WEEK_DAYS)
