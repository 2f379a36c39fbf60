"""Questions of the beat: how thick a shim, what the hand tells, how many degrees, the reserve, play in the fork."""

from __future__ import annotations

import math
from dataclasses import replace

from diagnose.mechanics import escapement, in_hand, pendulum
from diagnose.mechanics.escapement import Side
from diagnose.mechanics.spread import spread
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, degrees_text, give_or_take, length_text
from diagnose.reckoning.given import Field, Given

FAMILIES = ("floor", "wall", "mantel")
ANGLE_UNSURE_DEG = 0.25
"""A swing or a drop read on a ruler is surer than this by no more than luck (estimate) [deg]."""
USUAL_UNSURE_SHARE = 0.2
"""The usual angles of a family lie so near the true ones of a clock (estimate) [1]."""
PERCENT_UNSURE = 0.5
"""A beat error that comes without its uncertainty (estimate) [percent]."""
LEAST_MM = 0.05
"""Smallest step that is made by hand at a crutch or a leader [mm]."""
PERCENT = 100.0

SIDE = Field("early", "choice", "right", choices=("left", "right"))
FAMILY = Field("family", "choice", "floor", choices=FAMILIES)
ANGLES = (Field("swing", "number", "3", least=0.2, most=30), Field("drop", "number", "1.5", least=0.1, most=29))
BASE = Field("base", "length", "'300 mm'")
FORK = Field("fork", "length", "'120 mm'")
HOOK = Field("hook", "length", "'700 mm'", rare=True)


class Angles:
    """Swing and drop as measured, or the usual ones of a family, with their standard uncertainty [deg]."""

    def __init__(self, given: Given, knowledge: Knowledge) -> None:
        family = knowledge.clocks.get(given.text("family")) if given.has("family") else None
        if family is None:
            given.need("swing", "family")
            given.need("drop", "family")
        self.measured = given.has("swing", "drop")
        self.swing = given.number("swing", family.swing_deg if family else None)
        self.drop = given.number("drop", family.drop_deg if family else None)
        share = USUAL_UNSURE_SHARE
        self.swing_unsure = ANGLE_UNSURE_DEG if given.has("swing") else share * self.swing
        self.drop_unsure = ANGLE_UNSURE_DEG if given.has("drop") else share * self.drop
        self.reserve = escapement.stop_offset_deg(self.swing, self.drop)

    def note(self) -> Line:
        """Say where the angles come from."""
        values = {"swing": f"{self.swing:g}", "drop": f"{self.drop:g}"}
        return Line("reckon-angles-measured" if self.measured else "reckon-angles-usual", values)


def arms(given: Given, knowledge: Knowledge) -> dict[str, float]:
    """Return what turns about what: base, fork and hook as given, or the usual ones of a family [mm]."""
    family = knowledge.clocks.get(given.text("family")) if given.has("family") else None
    usual = {
        "base": family.base_mm if family else None,
        "fork": family.fork_mm if family else None,
        "hook": family.hook_to_foot_mm if family else None,
    }
    found = {name: given.number(name) if given.has(name) else size for name, size in usual.items()}
    return {name: size for name, size in found.items() if size is not None}


def how_thick_a_shim(given: Given, knowledge: Knowledge) -> Answer:
    """Say what angle a beat error stands for, and how far feet, crutch, leader or case must go."""
    angles, percent = Angles(given, knowledge), given.number("error")
    unsure_percent = given.number("unsure", PERCENT_UNSURE)
    offset = escapement.offset_deg(percent, angles.swing, angles.drop)
    # The rule for small errors has the same slopes, and no edge beyond which it breaks off.
    unsure = spread(
        lambda error, swing, drop: escapement.offset_deg_linear(error, max(swing, drop * 1.01), drop),
        [percent, angles.swing, angles.drop],
        [unsure_percent, *(min(each, angles.reserve) for each in (angles.swing_unsure, angles.drop_unsure))],
    )
    longer, shorter = escapement.split_percent(percent)
    values = {
        "split": f"{longer:.1f} : {shorter:.1f}",
        "percent": f"{percent:.1f}",
        "offset": degrees_text(offset),
        "unsure": give_or_take(unsure),
    }
    side: Side | None = None if not given.has("early") else "left" if given.text("early") == "left" else "right"
    figures: dict[str, Figure] = {
        "beat_error_percent": percent,
        "offset_deg": offset,
        "offset_unsure_deg": unsure,
        "offset_linear_deg": escapement.offset_deg_linear(percent, angles.swing, angles.drop),
        "early": side,
    }
    found = arms(given, knowledge)
    screw_mm = given.number("pitch") if given.has("pitch") else None
    acts = act_lines(offset, unsure, side, found, figures, screw_mm)
    lines = [Line("reckon-shim-angle", values), angles.note(), *acts]
    return Answer(tuple(lines), figures, cautions=cautions_for(found))


def cautions_for(found: dict[str, float]) -> tuple[str, ...]:
    """Return what is to be said before feet, crutch or case are moved."""
    by_arm = {"base": "tall-case-tips", "fork": "pallet-pivot-snaps", "hook": "height-and-ladders"}
    return tuple(caution for name, caution in by_arm.items() if name in found)


def act_lines(
    offset: float,
    unsure: float,
    side: Side | None,
    found: dict[str, float],
    figures: dict[str, Figure],
    screw_mm: float | None = None,
) -> list[Line]:
    """Return how far each thing goes and to which side, as far as its arm is known; the sizes go into the figures."""
    lines: list[Line] = []
    for name, arm in found.items():
        mm, unsure_mm = (escapement.size_mm(angle, arm) for angle in (abs(offset), unsure))
        figures[f"{name}_mm"], figures[f"{name}_unsure_mm"] = mm, unsure_mm
        values = {
            "arm": length_text(arm),
            "size": length_text(mm),
            "unsure": give_or_take(unsure_mm, "mm"),
            "early": _side(side, "early"),
            "late": _side(escapement.other(side) if side else None, "late"),
            "hand": in_hand.packing(mm).text if name == "base" else in_hand.hand_size(mm, LEAST_MM).text,
        }
        lines.append(Line(f"reckon-shim-{name}", values))
        if name == "fork" and screw_mm is not None:
            figures["screw_turns"] = mm / screw_mm
            lines.append(Line("reckon-shim-screw", {"turns": f"{mm / screw_mm:.2f}", "pitch": length_text(screw_mm)}))
    if not found:
        lines.append(Line("reckon-shim-no-arm"))
    elif side is None:
        lines.append(Line("reckon-shim-which-side"))
    lines.append(Line("reckon-shim-limits"))
    return lines


def _side(side: Side | None, otherwise: str) -> Line:
    return Line(f"side-{side}") if side else Line(f"reckon-side-{otherwise}")


def what_the_hand_tells(given: Given, knowledge: Knowledge) -> Answer:
    """Say from the way to either tick, led by hand, how far out it is and which side comes early."""
    right, left, radius = (given.number(name) for name in ("right", "left", "radius"))
    within = given.number("within", 1.0)
    offset = escapement.offset_from_hand_travel(right, left, radius)
    unsure = spread(
        lambda to_right, to_left: escapement.offset_from_hand_travel(to_right, to_left, radius),
        [right, left],
        [within, within],
    )
    early = escapement.early_side(offset)
    side: Side | None = None if early == "unknown" else early
    clear = side is not None and abs(offset) > unsure
    figures: dict[str, Figure] = {"offset_deg": offset, "offset_unsure_deg": unsure, "early": side if clear else None}
    values = {
        "offset": degrees_text(abs(offset)),
        "unsure": give_or_take(unsure),
        "early": _side(side, "early"),
    }
    lines = [Line("reckon-hand-is" if clear else "reckon-hand-even", values)]
    if clear and given.has("drop"):
        needed, drop = escapement.swing_needed_deg(offset, given.number("drop")), given.number("drop")
        figures["swing_needed_deg"] = needed
        lines.append(Line("reckon-hand-swing", {"swing": degrees_text(needed), "drop": f"{drop:g}"}))
    found = arms(given, knowledge)
    if clear:
        lines.extend(act_lines(offset, unsure, side, found, figures))
    lines.append(Line("reckon-hand-limits"))
    return Answer(tuple(lines), figures, cautions=cautions_for(found) if clear else ())


def how_many_degrees(given: Given, knowledge: Knowledge) -> Answer:
    """Say how many degrees a swing is that was read on a ruler."""
    travel, radius, within = given.number("travel"), given.number("radius"), given.number("within", 2.0)
    semi_arc = pendulum.semi_arc_deg(travel, radius)
    unsure = spread(pendulum.semi_arc_deg, [travel, radius], [min(within, travel / 2), min(within, radius / 2)])
    values = {
        "travel": length_text(travel),
        "radius": length_text(radius),
        "half": degrees_text(semi_arc),
        "unsure": give_or_take(unsure),
        "whole": degrees_text(2 * semi_arc),
    }
    figures: dict[str, Figure] = {"semi_arc_deg": semi_arc, "unsure_deg": unsure}
    return Answer((Line("reckon-arc-is", values), Line("reckon-arc-limits")), figures)


def how_far_out_before_it_stops(given: Given, knowledge: Knowledge) -> Answer:
    """Say the reserve of swing, and how far out of beat the clock can be before it stops."""
    angles = Angles(given, knowledge)
    percent = given.number("error", 0.0)
    limit = escapement.stop_percent(angles.swing, angles.drop)
    unsure = math.hypot(angles.swing_unsure, angles.drop_unsure)
    figures: dict[str, Figure] = {
        "reserve_in_beat_deg": angles.reserve,
        "reserve_unsure_deg": unsure,
        "stops_at_percent": limit,
    }
    values = {"reserve": degrees_text(angles.reserve), "unsure": give_or_take(unsure), "percent": f"{limit:.1f}"}
    lines = [Line("reckon-reserve-is", values), angles.note()]
    base = arms(given, knowledge).get("base")
    if base is not None:
        figures["base_mm"] = escapement.size_mm(angles.reserve, base)
        card = escapement.angle_deg(in_hand.BANK_CARD_MM, base)
        fill = {
            "size": length_text(escapement.size_mm(angles.reserve, base)),
            "base": length_text(base),
            "card": degrees_text(card),
        }
        lines.append(Line("reckon-reserve-base", fill))
    if percent:
        lines.append(_reserve_now(percent, angles, figures))
    left = figures.get("reserve_now_deg", angles.reserve)
    stops = not isinstance(left, float) or left <= 0
    return Answer((*lines, Line("reckon-reserve-limits")), figures, no=stops)


def _reserve_now(percent: float, angles: Angles, figures: dict[str, Figure]) -> Line:
    """Say what is left of the reserve at a beat error."""
    if percent >= escapement.stop_percent(angles.swing, angles.drop):
        figures["reserve_now_deg"] = 0.0
        return Line("reckon-reserve-none", {"percent": f"{percent:.1f}"})
    offset = escapement.offset_deg(percent, angles.swing, angles.drop)
    left = escapement.reserve_deg(offset, angles.swing, angles.drop)
    figures |= {"offset_deg": offset, "reserve_now_deg": left}
    values = {
        "percent": f"{percent:.1f}",
        "offset": degrees_text(offset),
        "left": degrees_text(left),
        "share": f"{PERCENT * left / angles.reserve:.0f}",
    }
    return Line("reckon-reserve-now", values)


def what_play_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say by what angle play between leader and fork lets the pallets lag, and what that takes of the reserve."""
    play, fork = given.number("play"), given.number("fork")
    lag = escapement.lost_motion_deg(play, fork)
    figures: dict[str, Figure] = {"lag_deg": lag}
    values = {"play": length_text(play), "fork": length_text(fork), "lag": degrees_text(lag)}
    lines = [Line("reckon-play-is", values)]
    if given.has("family") or given.has("swing", "drop"):
        angles = Angles(given, knowledge)
        figures["share_of_reserve"] = lag / angles.reserve
        lines += [Line("reckon-play-share", {"share": f"{PERCENT * lag / angles.reserve:.0f}"}), angles.note()]
    return Answer((*lines, Line("reckon-play-limits")), figures)


QUESTIONS = (
    Question(
        "shim",
        "beat",
        (
            Field("error", "split", "12.8", needed=True, least=0.0, most=99),
            Field("unsure", "number", "0.5", least=0.0, most=20, rare=True),
            SIDE,
            FAMILY,
            *ANGLES,
            BASE,
            FORK,
            HOOK,
            Field("pitch", "length", "'0.5 mm'", rare=True),
        ),
        how_thick_a_shim,
    ),
    Question(
        "by-hand",
        "beat",
        (
            Field("right", "length", "'20 mm'", needed=True),
            Field("left", "length", "'30 mm'", needed=True),
            Field("radius", "length", "'1050 mm'", needed=True),
            Field("within", "length", "'1 mm'", rare=True),
            replace(ANGLES[1], rare=True),
            FAMILY,
            BASE,
            FORK,
            HOOK,
        ),
        what_the_hand_tells,
    ),
    Question(
        "reserve",
        "beat",
        (FAMILY, *ANGLES, Field("error", "split", "8", least=0.0, most=99), BASE),
        how_far_out_before_it_stops,
    ),
    Question(
        "arc",
        "beat",
        (
            Field("travel", "length", "'104 mm'", needed=True),
            Field("radius", "length", "'1000 mm'", needed=True),
            Field("within", "length", "'2 mm'", rare=True),
        ),
        how_many_degrees,
    ),
    Question(
        "play",
        "beat",
        (
            Field("play", "length", "'0.1 mm'", needed=True),
            Field("fork", "length", "'120 mm'", needed=True),
            FAMILY,
            *ANGLES,
        ),
        what_play_does,
    ),
)
