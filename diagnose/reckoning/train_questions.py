"""Questions of wheels: which beat, which trains, how long it runs, hands and moon."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.errors import UsageError
from diagnose.mechanics import pendulum, train, train_search
from diagnose.mechanics.regulation import WRONG_PART_S_PER_DAY
from diagnose.mechanics.train_search import Counted, Train
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, length_text, rate
from diagnose.reckoning.given import MM_PER_M, Beats, Field, Given
from diagnose.reckoning.length_questions import is_far

BEATS_A_MINUTE = 60.0
TOLD_TRAINS = 6
TRAIN_FIGURES = 100
SMALLEST_DRIFT_D = 0.005
"""A moon nearer than this after a year is told as right, as far as a dial shows it [days]."""


def which_beat_of_a_train(given: Given, knowledge: Knowledge) -> Answer:
    """Say how often a train beats, its pendulum, and how long each arbor takes for a turn."""
    wheels, pinions = counts(given.train("wheels"), "wheels")
    escape = whole(given, "escape")
    beats = train.beats_per_hour(wheels, pinions, escape)
    times = train.turning_times_min(wheels, pinions)
    mm = pendulum.length_m(float(beats)) * MM_PER_M
    values = {
        "train": row(wheels, pinions),
        "escape": escape,
        "beats": f"{float(beats):.8g}",
        "minute": f"{float(beats) / BEATS_A_MINUTE:.4g}",
    }
    lines = (
        Line("reckon-train-beats", values),
        Line("reckon-train-pendulum", {"length": length_text(mm)}),
        Line("reckon-train-turns", {"times": ", ".join(f"{float(time):.4g}" for time in times)}),
        Line("reckon-train-limits"),
    )
    figures: dict[str, Figure] = {
        "beats_per_hour": float(beats),
        "length_mm": mm,
        "turning_times_min": [{"arbor": place, "min": float(time)} for place, time in enumerate(times)],
    }
    return Answer(lines, figures)


def counts(counted: Counted, where: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Return wheels and pinions that are all known."""
    known = [tuple(count for count in each if count is not None) for each in (counted.wheels, counted.pinions)]
    if (len(known[0]), len(known[1])) != (len(counted.wheels), len(counted.pinions)):
        raise UsageError("has a count that is not known", where, "Give every count; `trains` looks for a missing one")
    return known[0], known[1]


def whole(given: Given, name: str) -> int:
    """Return a number of teeth."""
    number = given.number(name)
    if number != int(number):
        raise UsageError(f"{number:g} teeth cannot be", name, "Give a whole number")
    return int(number)


def row(wheels: Iterable[int | None], pinions: Iterable[int | None]) -> str:
    """Return wheels over pinions as they are written."""
    return ", ".join(f"{wheel or '?'}/{pinion or '?'}" for wheel, pinion in zip(wheels, pinions, strict=True))


def which_trains(given: Given, knowledge: Knowledge) -> Answer:
    """Say for which beat a clock was made, and which trains of usual counts give it; also the count that is missing."""
    beats = given.beats()
    counted = given.train("wheels") if given.has("wheels") else Counted()
    escape = whole(given, "escape") if given.has("escape") else None
    counted = Counted(counted.wheels, counted.pinions, escape)
    common = train_search.common_trains(beats.per_hour, beats.unsure)
    lines = _common_lines(beats, common)
    made_for, found, near = _found(beats, common, counted, given.has("wheels"))
    values = {"count": len(found), "beats": f"{made_for:.6g}"}
    key = "none" if not found else "near" if near else "found-1" if len(found) == 1 else "found"
    lines.append(Line(f"reckon-trains-{key}", values))
    lines.extend(_row(each, near) for each in found[:TOLD_TRAINS])
    lines.append(Line("reckon-trains-limits"))
    figures: dict[str, Figure] = {
        "beats_per_hour": beats.per_hour,
        "beats_unsure": beats.unsure,
        "made_for_beats_per_hour": made_for,
        "count": len(found),
        "exact": not near,
        "trains": [_figures(each) for each in found[:TRAIN_FIGURES]],
    }
    return Answer(tuple(lines), figures, no=not found)


def _common_lines(beats: Beats, common: tuple[train_search.CommonTrain, ...]) -> list[Line]:
    if not common:
        return [Line("reckon-trains-no-common", {"beats": f"{beats.per_hour:.6g}"})]
    if common[0].rate_s_per_day == 0:
        return []
    return [_fits(common), *([Line("reckon-nut-far")] if is_far(common[0]) else [])]


def _found(
    beats: Beats, common: tuple[train_search.CommonTrain, ...], counted: Counted, was_counted: bool
) -> tuple[float, tuple[Train, ...], bool]:
    """Return the beat that trains were found for, the trains, and whether they only come near it.

    What was heard is the clock as it runs: its wheels are those of the beat it was made for. A number that was given
    with wheels is meant as it stands. Where nothing gives a beat exactly, what a nut could put right comes near.
    """
    nominal = common[0].beats_per_hour if common else beats.per_hour
    reach = beats.unsure + beats.per_hour * WRONG_PART_S_PER_DAY / pendulum.SECONDS_PER_DAY / train_search.COVER
    ways = [(nominal, 0.0)]
    if was_counted:
        ways.append((beats.per_hour, reach))
        if not beats.unsure:
            ways.insert(0, (beats.per_hour, 0.0))
        elif not common or is_far(common[0]):
            ways.reverse()
    for made_for, unsure in ways:
        if found := train_search.trains_for(made_for, unsure, counted):
            return made_for, found, unsure > 0
    return beats.per_hour, (), False


def _row(each: Train, near: bool) -> Line:
    values = {
        "train": row(each.wheels, each.pinions),
        "escape": each.escape_teeth,
        "beats": f"{float(each.beats_per_hour):.6g}",
    }
    return Line("reckon-trains-row-near" if near else "reckon-trains-row", values)


def _fits(common: tuple[train_search.CommonTrain, ...]) -> Line:
    best = common[0]
    values = {
        "train": f"{best.beats_per_hour:g}",
        "rate": rate(best.rate_s_per_day, best.rate_unsure),
        "others": ", ".join(f"{each.beats_per_hour:g}" for each in common[1:]),
    }
    return Line("reckon-trains-fit-several" if len(common) > 1 else "reckon-trains-fit", values)


def _figures(each: Train) -> dict[str, object]:
    return {
        "wheels": list(each.wheels),
        "pinions": list(each.pinions),
        "escape_teeth": each.escape_teeth,
        "beats_per_hour": float(each.beats_per_hour),
    }


def how_long_it_runs(given: Given, knowledge: Knowledge) -> Answer:
    """Say how long so many turns of the barrel last, or how many turns so many days take."""
    wheels, pinions = counts(given.train("wheels"), "wheels")
    given.need("turns", "days")
    day = float(train.barrel_turns_for(1, wheels, pinions))
    days = given.number("turns") / day if given.has("turns") else given.number("days")
    turns = days * day
    values = {
        "train": row(wheels, pinions),
        "hours": f"{train.HOURS_PER_DAY / day:.4g}",
        "turns": f"{turns:.4g}",
        "days": f"{days:.4g}",
    }
    figures: dict[str, Figure] = {"days": days, "turns": turns, "hours_a_turn": train.HOURS_PER_DAY / day}
    return Answer((Line("reckon-run-is", values), Line("reckon-run-limits")), figures)


def do_the_hands_agree(given: Given, knowledge: Knowledge) -> Answer:
    """Say whether motion work gives the hour hand one turn for twelve of the minute hand."""
    drivers, driven = counts(given.train("wheels"), "wheels")
    if len(drivers) != 2:
        raise UsageError(f"{len(drivers)} pairs of wheels", "wheels", "Motion work has two: 30/90, 10/40")
    ratio = train.hour_hand_ratio(drivers[0], driven[0], drivers[1], driven[1])
    right = ratio == train.TURNS_PER_MOTION
    values = {"train": row(drivers, driven), "ratio": f"{float(ratio):.6g}"}
    figures: dict[str, Figure] = {"turns_of_the_minute_hand": float(ratio), "right": right}
    return Answer((Line("reckon-hands-right" if right else "reckon-hands-wrong", values),), figures, no=not right)


def how_true_is_the_moon(given: Given, knowledge: Knowledge) -> Answer:
    """Say how long a moon train takes for a moon, and by how much it is out after a year."""
    drivers, driven = counts(given.train("wheels"), "wheels")
    month_h = train.moon_month_h(drivers, driven, given.number("first")) / given.number("moons")
    late = train.moon_days_a_year(month_h)
    values = {
        "month": _days_and_hours(month_h),
        "true": _days_and_hours(train.SYNODIC_MONTH_D * train.HOURS_PER_DAY),
        "days": f"{abs(late):.2f}",
    }
    way = "right" if abs(late) < SMALLEST_DRIFT_D else "late" if late > 0 else "early"
    lines = (Line("reckon-moon-is", values), Line(f"reckon-moon-{way}", values))
    figures: dict[str, Figure] = {
        "month_h": month_h,
        "true_month_h": train.SYNODIC_MONTH_D * train.HOURS_PER_DAY,
        "late_days_a_year": late,
    }
    return Answer(lines, figures)


def _days_and_hours(hours: float) -> str:
    days, rest = divmod(hours, train.HOURS_PER_DAY)
    whole_hours, rest = divmod(rest, 1)
    minutes, rest = divmod(rest * train.MINUTES_PER_HOUR, 1)
    return f"{days:.0f} d {whole_hours:.0f} h {minutes:.0f} min {rest * train.MINUTES_PER_HOUR:.1f} s"


def _wheels(example: str, needed: bool = True) -> Field:
    return Field("wheels", "train", f"'{example}'", needed=needed)


QUESTIONS = (
    Question(
        "train",
        "wheels",
        (_wheels("64/8, 60/8"), Field("escape", "number", "30", needed=True, least=6, most=200)),
        which_beat_of_a_train,
    ),
    Question(
        "trains",
        "wheels",
        (
            Field("beats", "beats", "3600", needed=True),
            _wheels("64/8, ?/8", needed=False),
            Field("escape", "number", "30", least=6, most=200),
        ),
        which_trains,
    ),
    Question(
        "run",
        "wheels",
        (
            _wheels("96/8"),
            Field("turns", "number", "16", least=0.01, most=10_000),
            Field("days", "number", "8", least=0.01, most=10_000),
        ),
        how_long_it_runs,
    ),
    Question("hands", "wheels", (_wheels("30/90, 10/40"),), do_the_hands_agree),
    Question(
        "moon",
        "wheels",
        (
            _wheels("6/91, 9/91, 37/171"),
            Field("first", "number", "1", least=0.01, most=24, usual="1", rare=True),
            Field("moons", "number", "1", least=1, most=12, usual="1", rare=True),
        ),
        how_true_is_the_moon,
    ),
)
