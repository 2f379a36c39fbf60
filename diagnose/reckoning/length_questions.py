"""Questions of length and beat: how long is the pendulum, and how often does one of this length beat."""

from __future__ import annotations

from diagnose.mechanics import pendulum, regulation
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.real_pendulum import RodAndBob, bob_place_mm, nut_share
from diagnose.mechanics.spread import half_width_to_standard, spread
from diagnose.mechanics.train_search import COVER, CommonTrain, common_trains
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, give_or_take, length_text, rate, seconds_text
from diagnose.reckoning.body import BODY, body_of
from diagnose.reckoning.given import MM_PER_M, Beats, Field, Given

BEATS_A_MINUTE = 60.0
MOST_TRAINS = 2
LENGTH_UNSURE_MM = TOOLS["ruler"].half_width_mm * 4
"""From the bend to the middle of a bob nobody measures better than this with a ruler (estimate) [mm]."""


def how_long(given: Given, knowledge: Knowledge) -> Answer:
    """Say how long the pendulum is for a beat, at a place where one is given."""
    beats, gravity = given.beats(), _gravity(given)

    def length(per_hour: float) -> float:
        return pendulum.length_m(per_hour, gravity) * MM_PER_M

    mm, unsure = length(beats.per_hour), spread(length, [beats.per_hour], [beats.unsure])
    trains = _near(beats)
    lines = [
        Line(
            "reckon-length-is",
            {
                "beats": f"{beats.per_hour:.6g}",
                "length": length_text(mm),
                "unsure": give_or_take(unsure, "mm"),
            },
        ),
        Line("reckon-length-mm", {"rate": seconds_text(regulation.rate_per_mm(mm))}),
        *(_train_line(train, length(train.beats_per_hour) - mm) for train in trains),
        Line("reckon-length-limits"),
    ]
    figures: dict[str, Figure] = {
        "beats_per_hour": beats.per_hour,
        "length_mm": mm,
        "length_unsure_mm": unsure,
        "gravity_m_per_s2": gravity,
        "s_per_day_per_mm": regulation.rate_per_mm(mm),
        "common_trains": _train_figures(trains),
    }
    body = body_of(given)
    if body is not None:
        lines.insert(1, _real(body, mm, figures))
    if given.has("latitude"):
        lines.insert(1, Line("reckon-length-place", {"gravity": f"{gravity:.4f}"}))
    return Answer(tuple(lines), figures)


def _real(body: RodAndBob, mm: float, figures: dict[str, Figure]) -> Line:
    """Say where the bob of a real pendulum hangs, and how much of its travel counts."""
    place = bob_place_mm(body, mm)
    share = nut_share(body, place)
    figures |= {"bob_mm": place, "nut_share": share}
    values = {
        "place": length_text(place),
        "off": length_text(abs(place - mm)),
        "lower": Line("reckon-lower" if place > mm else "reckon-higher"),
        "share": f"{100 * share:.0f}",
    }
    return Line("reckon-length-real", values)


def _gravity(given: Given) -> float:
    if not given.has("latitude"):
        return pendulum.STANDARD_GRAVITY
    return pendulum.gravity_at(given.number("latitude"), given.number("height", 0.0))


def _near(beats: Beats) -> tuple[CommonTrain, ...]:
    """Return the common trains to tell of: none where the beat is one of them."""
    trains = common_trains(beats.per_hour, beats.unsure)[:MOST_TRAINS]
    return () if trains and trains[0].rate_s_per_day == 0 else trains


def _train_line(train: CommonTrain, longer_mm: float) -> Line:
    """Say how a clock made for a common train would keep time, and how the pendulum would have to change."""
    values = {
        "train": f"{train.beats_per_hour:g}",
        "rate": rate(train.rate_s_per_day, train.rate_unsure),
        "length": length_text(abs(longer_mm)),
        "longer": Line("time-longer" if longer_mm > 0 else "time-shorter"),
    }
    return Line("reckon-train-near-far" if is_far(train) else "reckon-train-near", values)


def is_far(train: CommonTrain) -> bool:
    """Return whether the rate is surely more than a nut should put right."""
    return abs(train.rate_s_per_day) - COVER * train.rate_unsure >= regulation.WRONG_PART_S_PER_DAY


def _train_figures(trains: tuple[CommonTrain, ...]) -> list[dict[str, object]]:
    return [
        {"beats_per_hour": train.beats_per_hour, "rate_s_per_day": train.rate_s_per_day, "unsure": train.rate_unsure}
        for train in trains
    ]


def which_beat(given: Given, knowledge: Knowledge) -> Answer:
    """Say how often a pendulum of a measured length beats, and which common trains that may be."""
    mm = given.number("length")
    unsure_mm = half_width_to_standard(given.number("within", LENGTH_UNSURE_MM))

    def beats(length_mm: float) -> float:
        return pendulum.beats_per_hour(length_mm / MM_PER_M)

    per_hour, unsure = beats(mm), spread(beats, [mm], [min(unsure_mm, mm / 2)])
    trains = common_trains(per_hour, unsure)[:MOST_TRAINS]
    names = ", ".join(f"{train.beats_per_hour:g}" for train in trains)
    values = {
        "length": length_text(mm),
        "beats": f"{per_hour:.0f}",
        "minute": f"{per_hour / BEATS_A_MINUTE:.1f}",
        "unsure": give_or_take(unsure),
    }
    named = Line("reckon-beats-trains", {"trains": names}) if names else Line("reckon-beats-no-train")
    figures: dict[str, Figure] = {
        "length_mm": mm,
        "beats_per_hour": per_hour,
        "beats_unsure": unsure,
        "common_trains": _train_figures(trains),
    }
    return Answer((Line("reckon-beats-are", values), named, Line("reckon-beats-limits")), figures)


QUESTIONS = (
    Question(
        "length",
        "pendulum",
        (
            Field("beats", "beats", "3600", needed=True),
            Field("latitude", "number", "52.5", least=-90, most=90, rare=True),
            Field("height", "height", "'300 m'", least=-500, most=6000, rare=True),
            *BODY,
        ),
        how_long,
    ),
    Question(
        "beats",
        "pendulum",
        (Field("length", "length", "'250 mm'", needed=True), Field("within", "length", "'2 mm'", rare=True)),
        which_beat,
    ),
)
