"""One turn of the escape wheel as a ring: how far each of its beats comes from where it should."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.model.wording import Wording
from diagnose.reports import pen
from diagnose.reports.pen import SMALL, TEXT, WIDTH

CENTER_X, CENTER_Y = WIDTH / 2.0, 186.0
ZERO, REACH, NUMBERS = 108.0, 30.0, 151.0
# The wheel drawn within: radius of its tips and roots, and how far a tip leans from the middle of its tooth.
TIP, ROOT, LEAN = 70.0, 58.0, 0.55
COUNT_EVERY, ARROW_TEETH = 5, 4
SCALES_MS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
SIGMAS = 2.0
BAR_SHARE = 0.7
TINY = 1e-6
HALF_TURN, TURN, QUARTER = math.pi, 2.0 * math.pi, math.pi / 2.0
ARC_POINTS = 120


@dataclass(frozen=True, slots=True)
class Turn:
    """What is drawn of one turn of the escape wheel.

    Parameters
    ----------
    teeth : int
        Teeth of the wheel.
    deviations_ms : tuple of float
        How late each tooth ticks, or each of its two beats in turn, counted from the first beat heard [ms].
    sigma_ms : float
        Standard uncertainty of one of them [ms].
    tooth : int, optional
        The tooth that stands out of the rest, counted from 1.
    late_ms : float, optional
        How late it ticks, early where less than 0 [ms].
    """

    teeth: int
    deviations_ms: tuple[float, ...]
    sigma_ms: float
    tooth: int | None = None
    late_ms: float | None = None

    @property
    def each(self) -> int:
        """How many beats stand for each tooth: one or two."""
        return len(self.deviations_ms) // self.teeth


def turn_of(wheel: Mapping[str, Any] | None) -> Turn | None:
    """Return what is drawn of an escape wheel that was heard, or None where no error of it was found.

    Parameters
    ----------
    wheel : mapping, optional
        As `diagnose listen --json` gives it under "wheel".
    """
    if not wheel or not wheel.get("teeth") or not wheel.get("deviations_ms"):
        return None
    late_ms, teeth = tuple(wheel["deviations_ms"]), int(wheel["teeth"])
    if len(late_ms) % teeth:
        return None
    return Turn(teeth, late_ms, wheel.get("sigma_ms") or 0.0, wheel.get("tooth"), wheel.get("late_ms"))


def wheel_picture(turn: Turn, wording: Wording, name: str = "wheel") -> str:
    """Draw one turn: a ring of beats, late ones outward, early ones inward, around the wheel that made them.

    Parameters
    ----------
    turn : Turn
        What to draw.
    wording : Wording
        Speaks to staff.
    name : str
        Keeps its ids apart from those of other pictures on a page.
    """
    scale_ms = scale_of(turn)
    parts = [
        *_rings(turn, scale_ms),
        *_bars(turn, scale_ms),
        *_wheel(turn),
        *_counted(turn),
        *_middle(turn, wording),
    ]
    bottom = CENTER_Y + NUMBERS + 30.0
    key = "picture-wheel-pairs" if turn.each > 1 else "picture-wheel-each"
    scale = wording.say("picture-wheel-scale", ms=f"{scale_ms:g}")
    found = [wording.say("picture-wheel-counted"), wording.say(key), scale, wording.say("picture-wheel-band")]
    small, height = pen.notes(bottom, found)
    title = wording.say("picture-wheel-title", teeth=turn.teeth)
    return pen.framed(name, title, _spoken(turn, wording), height, [*parts, *small])


def scale_of(turn: Turn) -> float:
    """Return the deviation at the outer and at the inner edge of the ring [ms]."""
    largest = max([SIGMAS * turn.sigma_ms, *(abs(value) for value in turn.deviations_ms)])
    return next((scale for scale in SCALES_MS if scale >= largest * (1.0 - TINY)), SCALES_MS[-1])


def radius_of(late_ms: float, scale_ms: float) -> float:
    """Return how far from the center a deviation stands; one beyond the scale stands at its edge [units]."""
    return ZERO + REACH * min(max(late_ms / scale_ms, -1.0), 1.0)


def angle_of(place: float, count: int) -> float:
    """Return the angle of a place of so many, the first at the top, going round as a clock's hands do [rad]."""
    return TURN * place / count - QUARTER


def _at(radius: float, angle: float) -> tuple[float, float]:
    return CENTER_X + radius * math.cos(angle), CENTER_Y + radius * math.sin(angle)


def _circle(radius: float, width: float, stroke: str, dash: str = "", name: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    called = f' data-name="{name}"' if name else ""
    place = f'cx="{CENTER_X:.1f}" cy="{CENTER_Y:.1f}" r="{radius:.2f}"'
    return f'<circle {place} fill="none" stroke="{stroke}" stroke-width="{width:.2f}"{dashed}{called}/>'


def _rings(turn: Turn, scale_ms: float) -> list[str]:
    """Return the band of what is within the uncertainty, the ring of no deviation, and the edges of the scale."""
    wide = radius_of(SIGMAS * turn.sigma_ms, scale_ms) - ZERO
    return [
        _circle(ZERO, max(2.0 * wide, pen.THIN), pen.SHADE, name="unsure"),
        *(_circle(ZERO + way * wide, pen.THIN, pen.PALE, pen.DOTS) for way in (-1.0, 1.0)),
        _circle(ZERO, pen.THIN, pen.INK, name="zero"),
        *(_circle(ZERO + way * REACH, pen.THIN, pen.PALE, pen.DASH) for way in (-1.0, 1.0)),
    ]


def _bars(turn: Turn, scale_ms: float) -> list[str]:
    """Return a bar for each beat, from the ring outward or inward; the second of a tooth is left white."""
    parts, count = [], len(turn.deviations_ms)
    wide = TURN / count * BAR_SHARE / 2.0
    for place, late_ms in enumerate(turn.deviations_ms):
        middle, radius = angle_of(place - (turn.each - 1) / 2.0, count), radius_of(late_ms, scale_ms)
        corners = [
            _at(ZERO, middle - wide),
            _at(radius, middle - wide),
            _at(radius, middle + wide),
            _at(ZERO, middle + wide),
        ]
        named = turn.tooth is not None and place // turn.each == turn.tooth - 1
        first = place % turn.each == 0
        fill = pen.INK if named and first else pen.PAPER if not first else pen.TINT
        parts.append(pen.path(corners, pen.USUAL if named else pen.THIN, pen.INK, fill))
    return parts


def _wheel(turn: Turn) -> list[str]:
    """Return the wheel itself, its leaning teeth each beneath its beats, the named one in ink."""
    outline: list[tuple[float, float]] = []
    parts = []
    for number in range(turn.teeth):
        root = angle_of(number - 0.5, turn.teeth)
        tip, after = angle_of(number - 0.5 + LEAN, turn.teeth), angle_of(number + 0.5, turn.teeth)
        outline += [_at(ROOT, root), _at(TIP, tip)]
        if turn.tooth == number + 1:
            named = [_at(ROOT, root), _at(TIP, tip), _at(ROOT, after)]
            parts.append(pen.path(named, pen.USUAL, pen.INK, pen.INK))
    return [pen.path(outline, pen.THIN, pen.INK, pen.PAPER), *parts]


def _counted(turn: Turn) -> list[str]:
    """Return the numbers of teeth, and the arrow that says which way they are counted."""
    parts = []
    shown = {1, *range(COUNT_EVERY, turn.teeth + 1, COUNT_EVERY)}
    if turn.tooth is not None:
        # The number of the tooth that stands out needs its place; a neighbor makes way for it.
        shown = {number for number in shown if abs(number - turn.tooth) > 1} | {turn.tooth}
    for number in sorted(shown):
        x, y = _at(NUMBERS, angle_of(number - 1, turn.teeth))
        weight = "bold" if number == turn.tooth else "normal"
        parts.append(pen.text(x, y + 4, SMALL, f"{number}", weight=weight, anchor="middle"))
    start, end = angle_of(1.0, turn.teeth), angle_of(1.0 + ARROW_TEETH, turn.teeth)
    radius = ROOT - 8.0
    steps = [start + (end - start) * step / 10.0 for step in range(11)]
    parts.append(pen.path([_at(radius, angle) for angle in steps], pen.USUAL))
    tip, behind = _at(radius, end + 0.06), end - 0.12
    parts.append(pen.path([tip, _at(radius + 4, behind), _at(radius - 4, behind)], pen.THIN, pen.INK, pen.INK))
    return parts


def _middle(turn: Turn, wording: Wording) -> list[str]:
    """Return the words in the wheel: the tooth that stands out, or that none does."""
    if turn.tooth is None or turn.late_ms is None:
        rows = [wording.say("picture-wheel-none-1"), wording.say("picture-wheel-none-2")]
    else:
        way = wording.say("picture-wheel-is-late" if turn.late_ms > 0 else "picture-wheel-is-early")
        rows = [
            wording.say("picture-wheel-tooth", tooth=turn.tooth),
            wording.say("picture-wheel-size", ms=f"{abs(turn.late_ms):.2f}"),
            way,
        ]
    top = CENTER_Y - 7.5 * (len(rows) - 1) + 8.0
    return [
        pen.text(CENTER_X, top + 15.0 * place, TEXT, row, weight="bold" if place == 0 else "normal", anchor="middle")
        for place, row in enumerate(rows)
    ]


def _spoken(turn: Turn, wording: Wording) -> str:
    """Return the picture in words."""
    span = max(turn.deviations_ms) - min(turn.deviations_ms)
    told = wording.say("picture-wheel-spoken", teeth=turn.teeth, span=f"{span:.2f}")
    if turn.tooth is None or turn.late_ms is None:
        return told
    way = wording.say("picture-wheel-is-late" if turn.late_ms > 0 else "picture-wheel-is-early")
    named = wording.say("picture-wheel-spoken-tooth", tooth=turn.tooth, ms=f"{abs(turn.late_ms):.2f}", way=way)
    return f"{told} {named}"
