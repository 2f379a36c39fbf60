"""The averaged beat of each side, back to back on one rule of time from the drop."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from diagnose.model.wording import Wording
from diagnose.reports import pen
from diagnose.reports.lettering import width_of
from diagnose.reports.pen import LEFT, RIGHT, SMALL, TEXT
from diagnose.reports.sides_shown import side_of_kind

FLAGS_TOP, PROFILE, RULE = 40.0, 82.0, 26.0
HIGH = FLAGS_TOP + 12.0
LEAST_AFTER_MS, BESIDE_MS = 12.0, 3.0
QUIET_LEVEL, QUIET_NOISES = 0.03, 3.0
MARKS, PERCENT = 8, 100.0
GRADUATIONS_MS = (1.0, 5.0, 10.0)
GRADUATION = 3.0
FIGURES_DOWN, RULE_EDGE = 17.0, 3.0
CLOSEST_GRADUATIONS = 3.0
FLAG_GAP = 5.0
STROKE_APART = 3.0
TENTHS = 10.0


def tick_picture(beats: Mapping[str, Any], wording: Wording, name: str = "ticks") -> str | None:
    """Draw the averaged beat of each side with the drop, what competes with it and the noise, or return None.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff.
    name : str
        Keeps its ids apart from those of other pictures on a page.
    """
    ticks: Sequence[Mapping[str, Any]] = beats.get("mean_ticks") or ()
    if beats.get("refused") or not ticks:
        return None
    scale = span_of(ticks)
    parts: list[str] = []
    bottom = HIGH + PROFILE + RULE
    for tick, upward in zip(ticks, (True, False), strict=False):
        base = HIGH + PROFILE + (0.0 if upward else RULE)
        far = base - PROFILE if upward else base + PROFILE
        bottom = max(bottom, far)
        side = wording.say("picture-tick-side", side=wording.say(f"picture-side-{side_of_kind(beats, tick['kind'])}"))
        parts += _profile(tick, base, far, scale)
        parts += _flags(tick, base, far, scale, wording)
        # The name stands at the quiet end, where the sound has died away.
        parts.append(pen.text(RIGHT, far + (12.0 if upward else -4.0), TEXT, side, weight="bold", anchor="end"))
    parts += _rule(HIGH + PROFILE, scale, len(ticks) > 1, wording)
    small, height = pen.notes(bottom + 34.0, _notes(ticks, wording))
    return pen.framed(name, wording.say("picture-tick-title"), _spoken(ticks, wording), height, [*parts, *small])


def span_of(ticks: Sequence[Mapping[str, Any]]) -> tuple[float, float]:
    """Return from when to when the beats are drawn, so that nothing that sounds is left out [ms from the drop]."""
    first, last = 0.0, LEAST_AFTER_MS
    for tick in ticks:
        quiet = max(QUIET_LEVEL, QUIET_NOISES * tick["noise_level"])
        loud = [_after(tick, place) for place, level in enumerate(tick["level"]) if level > quiet]
        rivals = [rival - tick["instant_ms"] for rival in tick["rivals_ms"]]
        first, last = min([first, *loud, *rivals]), max([last, *loud, *rivals])
    return first - BESIDE_MS, last + BESIDE_MS


def _after(tick: Mapping[str, Any], place: int) -> float:
    """Return when a value of a beat sounds, from its drop on [ms]."""
    return float(tick["from_ms"] - tick["instant_ms"] + tick["step_ms"] * (place + 0.5))


def x_of(after_ms: float, scale: tuple[float, float]) -> float:
    """Return where a time stands on the rule [units]."""
    return LEFT + (RIGHT - LEFT) * (after_ms - scale[0]) / (scale[1] - scale[0])


def _profile(tick: Mapping[str, Any], base: float, far: float, scale: tuple[float, float]) -> list[str]:
    """Return one beat as a hill on the rule, filled with fine strokes, and the noise along its foot."""
    points = [
        (x_of(_after(tick, place), scale), base + (far - base) * min(level, 1.0))
        for place, level in enumerate(tick["level"])
        if scale[0] <= _after(tick, place) <= scale[1]
    ]
    noise = base + (far - base) * min(tick["noise_level"], 1.0)
    parts = [pen.line(LEFT, noise, RIGHT, noise, pen.THIN, pen.PALE_TEXT, pen.DASH)]
    if not points:
        return parts
    strokes, reached = [], -STROKE_APART
    for x, y in points:
        if x - reached >= STROKE_APART and abs(y - base) > 1.0:
            strokes.append(f"M{x:.2f} {base:.2f}V{y:.2f}")
            reached = x
    hill = [(points[0][0], base), *points, (points[-1][0], base)]
    parts.append(pen.path(hill, pen.THIN, pen.INK, pen.SHADE))
    parts.append(f'<path d="{"".join(strokes)}" fill="none" stroke="{pen.TINT}" stroke-width="{pen.THIN}"/>')
    return parts


def _flags(tick: Mapping[str, Any], base: float, far: float, scale: tuple[float, float], wording: Wording) -> list[str]:
    """Return lines across the drop and its rivals, with words at their ends; words that would meet are left out."""
    flags = [(0.0, wording.say("picture-tick-drop"))]
    for rival in tick["rivals_ms"]:
        after = rival - tick["instant_ms"]
        flags.append((after, wording.say("picture-tick-rival", after=f"{after:+.1f}".replace("-", "−"))))
    way = 1.0 if far > base else -1.0
    end, words_y = far + 3.0 * way, far + (14.0 if way > 0 else -6.0)
    parts, taken = [], list[tuple[float, float]]()
    for place, (after, words) in enumerate(flags):
        x, half = x_of(after, scale), width_of(words, SMALL, place == 0) / 2.0
        middle = min(max(x, LEFT + half), RIGHT - half)
        if place == 0:
            parts.append(pen.line(x, base, x, end, pen.THICK))
        else:
            parts.append(pen.line(x, base, x, end, pen.HALO, pen.PAPER))
            parts.append(pen.line(x, base, x, end, pen.BROKEN, pen.PALE_TEXT, pen.DASH))
        if all(middle + half + FLAG_GAP < start or middle - half - FLAG_GAP > stop for start, stop in taken):
            taken.append((middle - half, middle + half))
            weight = "bold" if place == 0 else "normal"
            parts.append(pen.text(middle, words_y, SMALL, words, weight=weight, anchor="middle"))
    return parts


def _rule(top: float, scale: tuple[float, float], both: bool, wording: Wording) -> list[str]:
    """Return the rule between the two sides: every millisecond cut, longer at five and ten, with its figures."""
    parts = [pen.box(LEFT, top, RIGHT - LEFT, RULE, pen.PAPER, pen.INK, "rule")]
    for rank, every in enumerate(GRADUATIONS_MS):
        if x_of(every, scale) - x_of(0.0, scale) < CLOSEST_GRADUATIONS:
            continue
        for cut in range(math.ceil(scale[0] / every), math.floor(scale[1] / every) + 1):
            x, deep = x_of(cut * every, scale), GRADUATION * (1.0 + 0.5 * rank)
            parts.append(pen.line(x, top, x, top + deep, pen.THIN))
            if both:
                parts.append(pen.line(x, top + RULE - deep, x, top + RULE, pen.THIN))
    unit = wording.say("picture-tick-axis")
    parts.append(pen.text(RIGHT - RULE_EDGE, top + FIGURES_DOWN, SMALL, unit, anchor="end"))
    taken = RIGHT - RULE_EDGE - width_of(unit, SMALL) - FLAG_GAP
    for mark in pen.even_steps(*scale, MARKS):
        words = f"{mark:g}".replace("-", "−")
        x, half = x_of(mark, scale), width_of(words, SMALL) / 2.0
        if LEFT + half < x < taken - half:
            weight = "bold" if mark == 0 else "normal"
            parts.append(pen.text(x, top + FIGURES_DOWN, SMALL, words, weight=weight, anchor="middle"))
    return parts


def _notes(ticks: Sequence[Mapping[str, Any]], wording: Wording) -> list[str]:
    """Return the small print."""
    # Rounded up: no average is without noise.
    noise = math.ceil(TENTHS * PERCENT * max(tick["noise_level"] for tick in ticks)) / TENTHS
    found = [wording.say("picture-tick-how"), wording.say("picture-tick-noise", percent=f"{noise:.1f}")]
    if any(tick["rivals_ms"] for tick in ticks):
        found.append(wording.say("picture-tick-rivals"))
    if len(ticks) == 1:
        found.append(wording.say("picture-tick-single"))
    return found


def _spoken(ticks: Sequence[Mapping[str, Any]], wording: Wording) -> str:
    """Return the picture in words."""
    rivals = sum(len(tick["rivals_ms"]) for tick in ticks)
    loudest = [max(tick["level"], default=0.0) for tick in ticks]
    share = PERCENT * min(loudest) / max(max(loudest), 1e-9)
    return wording.say("picture-tick-spoken", count=len(ticks), rivals=rivals, share=f"{share:.0f}")
