"""Questions of regulating: how many turns of the nut, how heavy a small weight on the rod."""

from __future__ import annotations

from diagnose.mechanics import pendulum, regulation
from diagnose.mechanics.real_pendulum import RodAndBob, bob_place_mm, nut_share
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, give_or_take, length_text, rate, seconds_text
from diagnose.reckoning.body import BODY, body_of
from diagnose.reckoning.given import MM_PER_M, Field, Given

BEATS = Field("beats", "beats", "3600")
PENDULUM = Field("pendulum", "length", "'994 mm'")
GRAMS_PER_KG = 1000.0
FINE_SHARE = 0.01
"""From this share on the rule for small changes is told beside the exact turns."""


def pendulum_length(given: Given) -> float:
    """Return the length of the pendulum from its beats or as given [mm]."""
    given.need("beats", "pendulum")
    if given.has("pendulum"):
        return given.number("pendulum")
    return pendulum.length_m(given.beats().per_hour) * MM_PER_M


def how_many_turns(given: Given, knowledge: Knowledge) -> Answer:
    """Say how many turns of the rating nut put a rate right."""
    fast, days = given.fast("out"), given.number("days")
    now = fast.seconds / days
    # The hands were set right with the same care with which they were read.
    unsure = fast.unsure_s * 2**0.5 / days
    mm = pendulum_length(given)
    longer = regulation.length_change_mm(now, mm)
    travel, share = _travel(body_of(given), mm, longer)
    far = abs(now) >= regulation.WRONG_PART_S_PER_DAY
    lines = [Line("reckon-nut-rate", {"rate": rate(now, unsure)})]
    lines.append(Line("reckon-nut-length", {"length": length_text(abs(travel)), "way": _way(longer)}))
    figures: dict[str, Figure] = {
        "rate_s_per_day": now,
        "rate_unsure": unsure,
        "pendulum_mm": mm,
        "longer_mm": longer,
        "bob_travel_mm": travel,
        "nut_share": share,
        "longer_first_order_mm": now / regulation.rate_per_mm(mm),
        "wrong_part_likely": far,
    }
    pitch = _pitch(given)
    if pitch is None:
        lines.append(Line("reckon-nut-no-pitch", {"turn": seconds_text(regulation.rate_per_turn(mm, share))}))
    else:
        a_turn, turns = regulation.rate_per_turn(mm, pitch * share), -travel / pitch
        figures |= {
            "pitch_mm": pitch,
            "turns_up": turns,
            "turns_up_first_order": -now / a_turn,
            "turns_unsure": unsure / a_turn,
            "s_per_day_per_turn": a_turn,
        }
        lines.extend(_turn_lines(turns, a_turn, now, unsure))
    if abs(now) <= unsure:
        # Nobody turns a nut on the strength of a reading that cannot tell the rate from none.
        return Answer((Line("reckon-nut-rate", {"rate": rate(now, unsure)}), Line("reckon-nut-leave")), figures)
    usual = "reckon-nut-limits" if share == 1.0 else "reckon-nut-limits-real"
    lines.append(Line("reckon-nut-far" if far else usual))
    return Answer(tuple(lines), figures)


def _pitch(given: Given) -> float | None:
    if given.has("pitch"):
        return given.number("pitch")
    return regulation.pitch_of_threads(given.number("threads")) if given.has("threads") else None


def _way(longer_mm: float) -> Line:
    return Line("reckon-way-down" if longer_mm > 0 else "reckon-way-up")


def _travel(body: RodAndBob | None, mm: float, longer_mm: float) -> tuple[float, float]:
    """Return how far down the bob goes [mm], and which share of that the theoretical length follows."""
    if body is None:
        return longer_mm, 1.0
    place = bob_place_mm(body, mm)
    return bob_place_mm(body, mm + longer_mm) - place, nut_share(body, place)


def _turn_lines(turns: float, a_turn: float, now: float, unsure: float) -> list[Line]:
    """Say how many turns up (+) or down, and what the rule for small changes would say where it differs."""
    values = {
        "turns": f"{abs(turns):.2f}",
        "unsure": give_or_take(unsure / a_turn),
        "turn": seconds_text(a_turn),
        "side": Line(f"side-{regulation.front_edge_of_nut(turns > 0)}"),
        "way": _way(-turns),
    }
    lines, simple = [Line("reckon-nut-turns", values)], -now / a_turn
    if turns and abs(simple / turns - 1) >= FINE_SHARE:
        lines.append(Line("reckon-nut-simple", {"turns": f"{abs(simple):.2f}"}))
    return lines


def how_heavy_a_weight(given: Given, knowledge: Knowledge) -> Answer:
    """Say how heavy a small weight on the rod must be for a gain."""
    gain, place, mass_kg = (given.number(name) for name in ("gain", "place", "mass"))
    grams = regulation.small_weight_for(gain, place) * mass_kg * GRAMS_PER_KG
    values = {"grams": f"{grams:.3g}", "gain": seconds_text(gain), "percent": f"{place * 100:.0f}"}
    best = regulation.small_weight_for(gain) * mass_kg * GRAMS_PER_KG
    lines = [Line("reckon-weight-is", values)]
    if place != regulation.BEST_PLACE:
        lines.append(Line("reckon-weight-best", {"grams": f"{best:.3g}"}))
    figures: dict[str, Figure] = {"grams": grams, "grams_half_way": best, "gain_s_per_day": gain, "place": place}
    return Answer((*lines, Line("reckon-weight-limits")), figures)


QUESTIONS = (
    Question(
        "nut",
        "pendulum",
        (
            Field("out", "fast", "'3 min fast'", needed=True),
            Field("days", "number", "7", least=0.04, most=400, usual="1"),
            BEATS,
            PENDULUM,
            Field("pitch", "length", "'0.7 mm'"),
            Field("threads", "number", "36", least=5, most=150),
            *BODY,
        ),
        how_many_turns,
    ),
    Question(
        "small-weight",
        "pendulum",
        (
            Field("gain", "number", "2", needed=True, least=0.01, most=300),
            Field("mass", "number", "6 kg", needed=True, least=0.01, most=500),
            Field("place", "number", "0.5", least=0.02, most=0.98, usual="0.5"),
        ),
        how_heavy_a_weight,
    ),
)
