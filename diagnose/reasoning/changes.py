"""What has changed on a clock since it was handed over, and what each change speaks for.

A change is no proof: most of what alters a beat is that the clock was moved or knocked, but an adjuster slips
and a crutch works loose too. So each change becomes a likelihood over the values of a finding, never a value.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from diagnose.model.entries import Words
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Reader, Wording
from diagnose.reasoning.values import Finding

# Names of hand-over values, as they stand in case files.
SPLIT, BEAT, SPEED, RATE, SWING = "split", "beat error %", "beats per hour", "rate s/day", "swing"
NUMBERS = frozenset({BEAT, SPEED, RATE, SWING})
# How a finding is known that only a change speaks of: it may still be asked.
CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class Spread:
    """How far a value wanders where nobody touched the clock, and where somebody or something did.

    Parameters
    ----------
    left_alone, disturbed : float
        Standard deviations of the change, in the unit of the value.
    reading : float
        Standard uncertainty of a value whose own is not known.
    by_itself : float
        Chance that it changed like a disturbed one although nobody touched the clock [1].
    """

    left_alone: float
    disturbed: float
    reading: float
    by_itself: float


# Beat, in percent of the swing: a clock left alone keeps it within about 1 %; one that was moved comes to stand
# some millimeters otherwise, which is several percent; in one of ten it goes off by itself, because an adjuster
# slips or a crutch is loose (estimate-2026-11).
BEAT_SPREAD = Spread(left_alone=1.0, disturbed=8.0, reading=0.5, by_itself=0.1)
# Rate: a steel rod gives 11e-6 per kelvin, 0.48 s/day a kelvin, so 20 K between the seasons are 10 s/day and oil
# and swing as much again; a nut or bob that was touched gives minutes a day. Rates change by themselves
# oftener than beats (estimate-2026-11).
RATE_SPREAD = Spread(left_alone=20.0, disturbed=150.0, reading=5.0, by_itself=0.2)
# Chance that a clock of which this is true changed like a disturbed one: three of ten that are moved are set up
# in beat again at once; a knock alters a beat every second time (estimate-2026-11).
BEAT_SHOWS = {
    ("moved-lately", "yes"): 0.7,
    ("knocked-lately", "yes"): 0.5,
    ("evenness-holds", "drifts-in-days"): 0.7,
    ("evenness-holds", "changes-at-once"): 0.5,
}
RATE_SHOWS = {("moved-lately", "yes"): 0.4, ("rate-steady", "wanders"): 0.4}
# The swing against that at hand-over, as a share: as wide as usual, small, barely reaching the tick; read by eye
# on a card behind the bob to about a tenth (estimate-2026-11). (mean, standard deviation)
SWING_SIZES = {"wide": (1.0, 0.14), "small": (0.7, 0.15), "barely": (0.5, 0.15)}
# Chance that something else was read than the swing [1], and the stretch of shares it may then be anywhere in.
MISREAD, ANYWHERE = 0.03, 2.0
# Below these a change is none to speak of: beat [%], rate [s/day], swing and speed [share].
BEAT_SAME, RATE_SAME, SWING_SAME, SPEED_SAME = 2.0, 30.0, 0.15, 0.01
DAYS_A_WEEK, SECONDS_A_MINUTE = 7, 60


@dataclass(frozen=True, slots=True)
class Now:
    """How the clock is now, as far as it was measured before anything was done to it.

    Parameters
    ----------
    when : date
        Today, or the day of the contact.
    beat_percent, beat_unsure : float, optional
        Beat error in percent of the swing, without sign, and its standard uncertainty.
    split : str
        The same as a split.
    rate, rate_unsure : float, optional
        Rate, gained is +. [s/day]
    beats_per_hour : float, optional
        Speed.
    swing : float, optional
        In the unit of the hand-over.
    """

    when: date
    beat_percent: float | None = None
    beat_unsure: float | None = None
    split: str = ""
    rate: float | None = None
    rate_unsure: float | None = None
    beats_per_hour: float | None = None
    swing: float | None = None


@dataclass(frozen=True, slots=True)
class Changes:
    """What has changed: a line each, and what it speaks for."""

    lines: tuple[Words, ...] = ()
    findings: tuple[Finding, ...] = ()


def changes_since(
    values: Mapping[str, Any], when: str, now: Now, knowledge: Knowledge, cause: str | None = None
) -> Changes:
    """Compare a clock with what it was at hand-over.

    Parameters
    ----------
    values : mapping
        The hand-over values by their names in case files.
    when : str
        Date of the hand-over, ISO 8601; "" where it is not known.
    now : Now
        What was measured since.
    knowledge : Knowledge
        The findings that a change speaks for, and the phrases.
    cause : str, optional
        What the cause was then, where a person entered it.

    Returns
    -------
    Changes
        Lines first of the time, then of beat, rate, swing and speed; no finding that the knowledge has not.
    """
    lines = [*_time(when, now, knowledge, cause)]
    weights: dict[tuple[str, str], float] = {}
    because: dict[str, str] = {}
    for name, compare in (("beat", _beat), ("rate", _rate), ("swing", _swing), ("speed", _speed)):
        found = compare(values, now)
        if found is None:
            continue
        key, shown, ratios = found
        lines.append(_words(knowledge, f"changed-{name}-{key}", shown))
        for target, ratio in ratios.items():
            # Beat and rate change by one and the same act: the stronger word counts, not both.
            if target not in weights or abs(math.log(ratio)) > abs(math.log(weights[target])):
                weights[target] = ratio
                because[target[0]] = lines[-1].staff
    return Changes(tuple(lines), _findings(weights, because, knowledge))


Found = tuple[str, dict[str, str], dict[tuple[str, str], float]]


def odds_of_change(difference: float, unsure: float, spread: Spread, shows: float) -> float:
    """Return how much likelier a change is where the clock was disturbed than where it was not [1].

    Parameters
    ----------
    difference : float
        Value now less value then.
    unsure : float
        Standard uncertainty of the difference.
    spread : Spread
        How far the value wanders.
    shows : float
        Chance that a disturbance of this kind alters the value at all [1].

    Notes
    -----
    Two normal densities, one for a clock left alone and one for a disturbed one, mixed on both sides: so it
    never exceeds shows / by_itself, and never falls below (1 - shows) / (1 - by_itself).
    """
    alone = _density(difference, math.hypot(unsure, spread.left_alone))
    disturbed = _density(difference, math.hypot(unsure, spread.disturbed))
    there = shows * disturbed + (1 - shows) * alone
    not_there = spread.by_itself * disturbed + (1 - spread.by_itself) * alone
    return there / not_there


def _density(value: float, deviation: float, mean: float = 0.0) -> float:
    return math.exp(-0.5 * ((value - mean) / deviation) ** 2) / (deviation * math.sqrt(2 * math.pi))


def number_in(values: Mapping[str, Any], name: str) -> float | None:
    """Return a hand-over value as a number; None where it is none."""
    value = values.get(name)
    try:
        return None if value is None else float(str(value).split()[0].replace(",", "."))
    except (ValueError, IndexError):
        return None


def _beat(values: Mapping[str, Any], now: Now) -> Found | None:
    before = number_in(values, BEAT)
    if before is None or now.beat_percent is None:
        return None
    difference = abs(now.beat_percent) - abs(before)
    unsure = math.hypot(now.beat_unsure or BEAT_SPREAD.reading, BEAT_SPREAD.reading)
    ratios = {target: odds_of_change(difference, unsure, BEAT_SPREAD, shows) for target, shows in BEAT_SHOWS.items()}
    shown = {"before": f"{abs(before):.1f}", "now": f"{abs(now.beat_percent):.1f}"}
    key = "same" if abs(difference) < BEAT_SAME else "more" if difference > 0 else "less"
    return key, shown, ratios


def _rate(values: Mapping[str, Any], now: Now) -> Found | None:
    before = number_in(values, RATE)
    if before is None or now.rate is None:
        return None
    difference = now.rate - before
    unsure = math.hypot(now.rate_unsure or RATE_SPREAD.reading, RATE_SPREAD.reading)
    ratios = {target: odds_of_change(difference, unsure, RATE_SPREAD, shows) for target, shows in RATE_SHOWS.items()}
    week = f"{abs(difference) * DAYS_A_WEEK / SECONDS_A_MINUTE:.1f}"
    shown = {"before": f"{before:+.0f}", "now": f"{now.rate:+.0f}", "week": week}
    key = "same" if abs(difference) < RATE_SAME else "gains" if difference > 0 else "loses"
    return key, shown, ratios


def _swing(values: Mapping[str, Any], now: Now) -> Found | None:
    before = number_in(values, SWING)
    if before is None or now.swing is None or before <= 0 or now.swing <= 0:
        return None
    share = now.swing / before
    sizes = {
        size: (1 - MISREAD) * _density(share, deviation, mean) + MISREAD / ANYWHERE
        for size, (mean, deviation) in SWING_SIZES.items()
    }
    ratios = {("swing-size", size): sizes[size] / sizes["wide"] for size in sizes}
    key = "same" if abs(share - 1) < SWING_SAME else "more" if share > 1 else "less"
    return key, {"before": f"{before:g}", "now": f"{now.swing:g}"}, ratios


def _speed(values: Mapping[str, Any], now: Now) -> Found | None:
    before = number_in(values, SPEED)
    if not before or now.beats_per_hour is None or abs(now.beats_per_hour / before - 1) < SPEED_SAME:
        return None
    return "other", {"before": f"{before:.0f}", "now": f"{now.beats_per_hour:.0f}"}, {}


def _time(when: str, now: Now, knowledge: Knowledge, cause: str | None) -> list[Words]:
    lines = []
    try:
        days = (now.when - date.fromisoformat(when[:10])).days
    except ValueError:
        days = -1
    if days >= 0:
        lines.append(_words(knowledge, "changed-days", {"days": str(days), "date": when[:10]}))
    if cause is not None and cause in knowledge.causes:
        title = knowledge.causes[cause].title
        lines.append(Words(staff=Wording(knowledge).say("changed-cause", cause=title.staff)))
    return lines


def _words(knowledge: Knowledge, key: str, shown: Mapping[str, str]) -> Words:
    readers: tuple[Reader, Reader] = ("staff", "customer")
    staff, customer = (Wording(knowledge, reader).say(key, **shown) for reader in readers)
    return Words(staff=staff, customer=customer)


def _findings(
    weights: Mapping[tuple[str, str], float], because: Mapping[str, str], knowledge: Knowledge
) -> tuple[Finding, ...]:
    """Return one finding for each that a change speaks of; values it says nothing of weigh 1."""
    found = []
    for name, why in because.items():
        entry = knowledge.findings.get(name)
        if entry is None or not all(value in entry.values for finding, value in weights if finding == name):
            continue
        likelihood = tuple(weights.get((name, value), 1.0) for value in entry.values)
        most = max(likelihood)
        found.append(Finding(name, tuple(part / most for part in likelihood), None, 1.0, why, CHANGED))
    return tuple(found)
