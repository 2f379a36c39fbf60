"""From logged stop times to the wheel, or the meeting of hands, that has their period.

Stops at any time are the rival of every pattern. How often chance alone looks as good as the best pattern is
found by drawing stop times without any pattern and trying the same patterns on them: it has the number of
periods tried, and their likeness to one another, in it.

References
----------
.. [1] J. H. Zar, *Biostatistical Analysis* (from memory): mean direction, mean length R, Rayleigh's test.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from diagnose.mechanics.stop_patterns import (
    DAY,
    DAY_MIN,
    DIAL,
    HALF_DAY_MIN,
    RUN,
    USUAL_COUNTS,
    WEEK,
    WEEK_DAYS,
    Counts,
    Floats,
    Kind,
    Pattern,
    can_be_told,
    log_factors,
    wheel_patterns,
)
from diagnose.model.stop_notes import StopTime

FEWEST = 3
"""Twice the same is a hint, three times a pattern; common practice, no source."""
ENOUGH_TO_SAY_NONE = 6
FALSE_ALARM, HINT = 0.05, 0.25
DRAWS, SEED = 2000, 20311
HAND_SD_MIN = 0.5
"""Standard deviation of a reading to the minute, besides its rounding; common practice, no source [min]."""
ROUNDINGS_MIN = (15, 5)
GROSS_ERROR = 0.03
PATTERN_PRIOR = 0.5
"""Chance, before any time is seen, that the stops of a clock that is asked about have one of the patterns."""

Verdict = Literal["pattern", "cannot-tell", "none"]
Kinds = tuple[tuple[Kind, int], ...]


@dataclass(frozen=True, slots=True)
class PatternFit:
    """How well a pattern fits.

    Parameters
    ----------
    pattern : Pattern
        What was tried.
    factor : float
        How much likelier it makes the times than stops at any time do [1].
    chance : float
        Probability among all patterns tried and none of them [1].
    place : float
        Mean place in the period [min]; the weekday for a week; the mean run where runs are alike [min].
    together : float
        Mean length R of the places as directions: 0 all round, 1 all at one place [1].
    by_chance : float
        Rayleigh's chance that stops without a pattern lie so close together, for this period alone [1].
    stops : int
        How many of the times it could be tried on.
    """

    pattern: Pattern
    factor: float
    chance: float
    place: float
    together: float
    by_chance: float
    stops: int


@dataclass(frozen=True, slots=True)
class StopAnswer:
    """What logged stop times say.

    Parameters
    ----------
    stops : tuple of StopTime
        The times.
    verdict : str
        "pattern", "cannot-tell" (yet), or "none".
    fits : tuple of PatternFit
        All patterns tried, the best first.
    false_alarm : float
        Chance that stops without a pattern fit one of those tried as well as the best one fits [1].
    read_to_min : float
        To how many minutes the times were read [min].
    too_short : tuple of Pattern
        Patterns whose period is too short for such a reading.
    missing : tuple of str
        What would let more be tried: "half-of-day", "weekday", "run".
    more : int
        How many more stops to note; 0 where enough is known.
    likelihoods : mapping
        By finding: how likely each of its values makes the times, adding up to 1.
    """

    stops: tuple[StopTime, ...]
    verdict: Verdict
    fits: tuple[PatternFit, ...]
    false_alarm: float
    read_to_min: float
    too_short: tuple[Pattern, ...]
    missing: tuple[str, ...]
    more: int
    likelihoods: Mapping[str, Mapping[str, float]]

    @property
    def best(self) -> PatternFit | None:
        """The pattern that fits best, or None where nothing could be tried."""
        return self.fits[0] if self.fits else None


def explain_stops(
    stops: Sequence[StopTime],
    counts: Sequence[Counts] = USUAL_COUNTS,
    read_to_min: float | None = None,
    hands_set: bool = False,
) -> StopAnswer:
    """Return which period fits the times at which a clock stopped.

    Parameters
    ----------
    stops : sequence of StopTime
        Three to twelve of them; fewer tell nothing yet.
    counts : sequence of Counts
        The train, or the usual ones where it is not known.
    read_to_min : float, optional
        To how many minutes the dial was read; seen from the times where not given [min].
    hands_set : bool
        The hands were set between the stops, so that the dial does not tell the place of a wheel of the train.
    """
    read_to = read_to_min if read_to_min is not None else rounding_min(stops)
    sd = math.hypot(read_to / math.sqrt(12), HAND_SD_MIN)
    wheels = [item for item in wheel_patterns(counts) if not (hands_set and item.kind == "dial")]
    every = (*DIAL, *wheels, *DAY, *WEEK, *RUN)
    times = {kind: _times(stops, kind) for kind in ("dial", "day", "week", "run")}
    asked = tuple(item for item in every if times[item.kind].size >= FEWEST and _long_enough(item, times[item.kind]))
    tried = tuple(item for item in asked if can_be_told(item, sd))
    logs = [float(log_factors(item, times[item.kind][None, :], sd)[0]) for item in tried]
    false_alarm = _false_alarm(max(logs), tried, times, read_to, sd) if tried else 1.0
    fits = _fits(tried, logs, times)
    verdict, more = _verdict(len(stops), false_alarm, fits)
    return StopAnswer(
        stops=tuple(stops),
        verdict=verdict,
        fits=fits,
        false_alarm=false_alarm,
        read_to_min=read_to,
        too_short=tuple(item for item in asked if item not in tried),
        missing=tuple(name for name, kind in MISSING if times[kind].size < FEWEST),
        more=more,
        likelihoods=_likelihoods(fits, verdict),
    )


MISSING: tuple[tuple[str, Kind], ...] = (("half-of-day", "day"), ("weekday", "week"), ("run", "run"))


def rounding_min(stops: Sequence[StopTime]) -> float:
    """Return to how many minutes the times seem to be read: 15, 5 or 1 [min]."""
    minutes = [value for stop in stops for value in (stop.dial_min, stop.ran_min) if value is not None]
    if len(minutes) < FEWEST:
        return 1.0
    return float(next((step for step in ROUNDINGS_MIN if all(value % step == 0 for value in minutes)), 1))


def _times(stops: Sequence[StopTime], kind: str) -> Floats:
    field = {"dial": "dial_min", "day": "day_min", "week": "weekday", "run": "ran_min"}[kind]
    found = [getattr(stop, field) for stop in stops]
    return np.array([value for value in found if value is not None], dtype=np.float64)


def _long_enough(pattern: Pattern, times: Floats) -> bool:
    """Return whether runs are as long as the period: a wheel that has not turned once has no period."""
    return pattern.kind != "run" or float(times.mean()) >= pattern.period_min


def _verdict(count: int, false_alarm: float, fits: Sequence[PatternFit]) -> tuple[Verdict, int]:
    if count < FEWEST or not fits:
        return "cannot-tell", max(2, FEWEST - count)
    if false_alarm <= FALSE_ALARM:
        return "pattern", 0
    if count >= ENOUGH_TO_SAY_NONE and false_alarm > HINT:
        return "none", 0
    return "cannot-tell", 2


def _false_alarm(
    best: float, tried: tuple[Pattern, ...], times: Mapping[str, Floats], read_to: float, sd: float
) -> float:
    """Return the chance that stops at any time fit one of the patterns tried so well."""
    sizes: Kinds = tuple((kind, int(times[kind].size)) for kind in ("dial", "day", "week", "run"))
    mean_run = float(f"{times['run'].mean():.2g}") if times["run"].size else 0.0
    drawn = _scores_of_chance(tried, sizes, mean_run, read_to, sd)
    return float((np.count_nonzero(drawn >= best - 1e-9) + 1) / (DRAWS + 1))


@lru_cache(maxsize=64)
def _scores_of_chance(tried: tuple[Pattern, ...], sizes: Kinds, mean_run: float, read_to: float, sd: float) -> Floats:
    """Return the best log factor for each of many rows of stops without a pattern, read as the given ones were."""
    random = np.random.default_rng(SEED)
    count = dict(sizes)
    day = random.uniform(0, DAY_MIN, (DRAWS, count["day"]))
    dial = np.concatenate([day % HALF_DAY_MIN, random.uniform(0, HALF_DAY_MIN, (DRAWS, count["dial"]))], axis=1)
    drawn = {
        "day": _read(day, read_to),
        "dial": _read(dial[:, : count["dial"]], read_to),
        "week": random.integers(0, WEEK_DAYS, (DRAWS, count["week"])).astype(np.float64),
        "run": _read(random.exponential(mean_run or 1.0, (DRAWS, count["run"])), read_to),
    }
    return np.asarray(np.max([log_factors(item, drawn[item.kind], sd) for item in tried], axis=0), dtype=np.float64)


def _read(times: Floats, read_to: float) -> Floats:
    return np.asarray(np.round(times / read_to) * read_to, dtype=np.float64)


def _fits(tried: Sequence[Pattern], logs: Sequence[float], times: Mapping[str, Floats]) -> tuple[PatternFit, ...]:
    if not tried:
        return ()
    factors = np.exp(np.clip(logs, -700, 600))
    share = PATTERN_PRIOR / len(tried)
    whole = 1 - PATTERN_PRIOR + share * float(factors.sum())
    fits = []
    for pattern, factor in zip(tried, factors, strict=True):
        place, together, by_chance = _circular(times[pattern.kind], pattern.period_min)
        chance = share * float(factor) / whole
        stops = int(times[pattern.kind].size)
        fits.append(PatternFit(pattern, float(factor), chance, place, together, by_chance, stops))
    return tuple(sorted(fits, key=lambda fit: -fit.factor))


def _circular(times: Floats, period: float) -> tuple[float, float, float]:
    """Return mean place, mean length and Rayleigh's chance [1]_; for runs alike their mean, and how alike."""
    if not period:
        return float(times.mean()), max(0.0, 1 - float(times.std() / times.mean())), math.nan
    n = times.size
    mean = complex(np.exp(2j * np.pi * times / period).mean())
    total = min(n * abs(mean), float(n))
    by_chance = math.exp(math.sqrt(1 + 4 * n + 4 * (n**2 - total**2)) - (1 + 2 * n))
    place = math.atan2(mean.imag, mean.real) / (2 * math.pi) * period % period
    return place, abs(mean), min(1.0, by_chance)


def _likelihoods(fits: Sequence[PatternFit], verdict: Verdict) -> dict[str, dict[str, float]]:
    """Return how likely each value of a finding makes the times; nothing where they cannot tell.

    One finding only, as the times count once: a wheel that comes round is what repeats, all else is when it stops.
    """
    best = fits[0] if fits else None
    if verdict == "cannot-tell" or best is None:
        return {}
    only_runs = all(fit.pattern.kind == "run" for fit in fits)
    turning = best.pattern.part in TURNS if verdict == "pattern" else only_runs
    if verdict == "pattern" and not turning and best.pattern.value is None:
        return {}
    if turning:
        return {"repeats-with": _by_value(fits, {value: (part,) for part, value in TURNS.items()}, "no-period")}
    parts = {value: [fit.pattern.part for fit in fits if fit.pattern.value == value] for value in VALUES[1:]}
    return {"stop-pattern": _by_value(fits, parts, VALUES[0])}


TURNS = {
    "escape-wheel": "escape-turn",
    "between-wheel": "third-wheel",
    "center-wheel": "center-hour",
    "great-wheel": "great-wheel",
}
"""The values of the finding `repeats-with`, by wheel."""

VALUES = (
    "no-pattern", "same-minute-each-hour", "quarters", "just-before-hour", "near-one", "every-65-min", "night-only",
    "same-weekday", "same-time-each-day",
)  # fmt: skip
"""The values of the finding `stop-pattern`; the first is the normal one."""


def _by_value(fits: Sequence[PatternFit], parts: Mapping[str, Sequence[str]], normal: str) -> dict[str, float]:
    """Return the share of each value, from the mean factor of its patterns; what was not tried is as good as none."""
    factors = {normal: 1.0}
    for value, names in parts.items():
        own = [fit.factor for fit in fits if fit.pattern.part in names]
        factors[value] = sum(own) / len(own) if own else 1.0
    return _shares(factors)


def _shares(factors: Mapping[str, float]) -> dict[str, float]:
    total, count = sum(factors.values()), len(factors)
    return {name: (1 - GROSS_ERROR) * factor / total + GROSS_ERROR / count for name, factor in factors.items()}
