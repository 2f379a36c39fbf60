"""One swing to scale: the two intervals, the middle, what counts as even, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnose.model.wording import Wording
from diagnose.reports import pen
from diagnose.reports.lettering import width_of
from diagnose.reports.pen import EDGE, LEFT, RIGHT, SMALL, TEXT, WIDTH
from diagnose.reports.summary import ACCEPTABLE_PERCENT, GOOD_PERCENT

SECONDS_AN_HOUR, WHOLE, HALF = 3600.0, 100.0, 50.0
LENGTH, MIDDLE = RIGHT - LEFT, WIDTH / 2.0
BAR_TOP, BAR_HEIGHT = 48.0, 38.0
STRIP_TOP, STRIP_HEIGHT = 142.0, 36.0
UNDER_STRIP = 82.0
REACHES = (6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 100.0)
MARKS = (0.0, ACCEPTABLE_PERCENT, GOOD_PERCENT, 10.0, 20.0, 40.0, 60.0, 80.0)
BESIDE_SIGMAS, BESIDE_SHARE = 3.0, 1.02
MARK_GAP = 3.0
CENTER_LINE = "9 3 2 3"
ARROW = 7.0


@dataclass(frozen=True, slots=True)
class Split:
    """What is drawn of a beat.

    Parameters
    ----------
    swing_s : float
        Length of the whole swing [s].
    later : float
        How far the middle tick comes after the middle of the swing, as a beat error: percent of the swing,
        less than 0 where it comes before [%].
    unsure : float, optional
        Standard uncertainty of it [%].
    rivals : tuple of float
        What it would be if another impact of the beat were the drop [%].
    sides : tuple of str
        Names of the sides that tick at the beginning, in the middle and at the end of the swing.
    early : str
        Side whose tick comes too soon: "left", "right" or "unknown".
    """

    swing_s: float
    later: float
    unsure: float | None
    rivals: tuple[float, ...]
    sides: tuple[str, str, str]
    early: str

    @property
    def first_percent(self) -> float:
        """Share of the first interval in the swing [%]."""
        return HALF + self.later / 2.0


def split_of(beats: Mapping[str, Any]) -> Split | None:
    """Return what is drawn of a result, or None where there is no beat error.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    """
    percent, per_hour = beats.get("beat_error_percent"), beats.get("beats_per_hour")
    if beats.get("refused") or percent is None or not per_hour:
        return None
    early = beats.get("early_side", "unknown")
    # Where the side is known the swing begins and ends on the left; else the longer interval stands first.
    way = -1.0 if early == "right" else 1.0
    later = way * abs(percent)
    sizes = beats.get("rivals_percent") or ()
    turned = beats.get("rivals_turned") or (False,) * len(sizes)
    rivals = tuple((-way if other else way) * size for size, other in zip(sizes, turned, strict=False))
    if early in {"left", "right"}:
        sides = ("left", "right", "left")
    else:
        sides = ("one", "other", "one") if beats.get("longer") != "odd" else ("other", "one", "other")
    unsure = (beats.get("uncertainty") or {}).get("beat_error_percent")
    return Split(2.0 * SECONDS_AN_HOUR / per_hour, later, unsure, rivals, sides, early)


def swing_picture(split: Split, wording: Wording, name: str = "swing") -> str:
    """Draw one swing as a bar with its true lengths, and its middle enlarged beneath.

    Parameters
    ----------
    split : Split
        What to draw.
    wording : Wording
        A customer reads no figures.
    name : str
        Keeps its ids apart from those of other pictures on a page.
    """
    reach = _reach(split)
    parts = [*_bar(split, wording), *_enlarging(reach), *_strip(split, reach, wording), *_bands(split, reach, wording)]
    small, bottom = pen.notes(STRIP_TOP + STRIP_HEIGHT + UNDER_STRIP, _notes(split, reach, wording))
    title = wording.say("picture-swing-title")
    return pen.framed(name, title, _spoken(split, wording), bottom, [*parts, *small])


def in_bar(percent: float) -> float:
    """Return where a share of the swing ends in the bar [units]."""
    return LEFT + LENGTH * percent / WHOLE


def in_strip(later: float, reach: float) -> float:
    """Return where a beat error stands in the strip, that of an even beat in the middle [units]."""
    return MIDDLE + LENGTH / 2.0 * later / reach


def _reach(split: Split) -> float:
    """Return the beat error at the ends of the strip [%]."""
    farthest = max(abs(later) for later in (split.later, *split.rivals)) + BESIDE_SIGMAS * (split.unsure or 0.0)
    return next((reach for reach in REACHES if reach >= BESIDE_SHARE * farthest), REACHES[-1])


def _bar(split: Split, wording: Wording) -> list[str]:
    """Return the whole swing: two intervals in their true lengths, with who ticks where."""
    cut = in_bar(split.first_percent)
    bottom = BAR_TOP + BAR_HEIGHT
    parts = [
        pen.box(LEFT, BAR_TOP, cut - LEFT, BAR_HEIGHT, pen.SHADE, pen.INK, "first"),
        pen.box(cut, BAR_TOP, RIGHT - cut, BAR_HEIGHT, pen.PAPER, pen.INK, "second"),
        *(pen.line(x, BAR_TOP - 5, x, bottom, pen.THICK) for x in (LEFT + 1, cut, RIGHT - 1)),
        *(
            pen.line(x, BAR_TOP, x, bottom, pen.USUAL, pen.PALE_TEXT, pen.DASH)
            for x in (in_bar(HALF + rival / 2.0) for rival in split.rivals)
        ),
        pen.line(MIDDLE, BAR_TOP - 3, MIDDLE, bottom + 10, pen.THIN, pen.INK, CENTER_LINE),
    ]
    first, second, third = (wording.say(f"picture-ticks-{side}") for side in split.sides)
    half = width_of(second, SMALL) / 2.0
    least = LEFT + width_of(first, SMALL) + half + EDGE
    most = RIGHT - width_of(third, SMALL) - half - EDGE
    parts += [
        pen.text(LEFT, BAR_TOP - 9, SMALL, first),
        pen.text(min(max(cut, least), most), BAR_TOP - 9, SMALL, second, anchor="middle"),
        pen.text(RIGHT, BAR_TOP - 9, SMALL, third, anchor="end"),
    ]
    for start, end, share in ((LEFT, cut, split.first_percent), (cut, RIGHT, WHOLE - split.first_percent)):
        parts += _inside(start, end, _interval(share, split, wording))
    return parts


def _interval(share: float, split: Split, wording: Wording) -> list[str]:
    """Return the words in one interval."""
    if wording.reader == "staff":
        seconds = wording.say("picture-seconds", seconds=f"{split.swing_s * share / WHOLE:.3f}")
        return [seconds, wording.say("picture-percent", percent=f"{share:.1f}")]
    if abs(split.later) < GOOD_PERCENT:
        return [wording.say("picture-same")]
    return [wording.say("picture-longer" if share > HALF else "picture-shorter")]


def _inside(start: float, end: float, rows: list[str]) -> list[str]:
    """Return words in the middle of an interval, each where it fits."""
    middle, top = (start + end) / 2.0, BAR_TOP + BAR_HEIGHT / 2.0 + 4.0 - 7.5 * (len(rows) - 1)
    # The words keep clear of the line of the middle, which may run through the longer interval.
    off = 0.0
    widest = max(width_of(row, TEXT) for row in rows)
    if abs(middle - MIDDLE) < widest / 2.0 + MARK_GAP:
        off = math.copysign(widest / 2.0 + 2.0 * MARK_GAP - abs(middle - MIDDLE), middle - MIDDLE)
    return [
        pen.text(middle + off, top + 15.0 * number, TEXT if number == 0 else SMALL, row, anchor="middle")
        for number, row in enumerate(rows)
        if widest <= end - start - 2.0 * MARK_GAP
    ]


def _enlarging(reach: float) -> list[str]:
    """Return the mark under the bar for what the strip shows of it, and the lines from one to the other."""
    top, bottom = BAR_TOP + BAR_HEIGHT + 4.0, STRIP_TOP - 20.0
    ends = [in_bar(HALF + way * reach / 2.0) for way in (-1.0, 1.0)]
    parts = [pen.path([(ends[0], top), (ends[0], top + 4), (ends[1], top + 4), (ends[1], top)], pen.THIN)]
    for end, corner in zip(ends, (LEFT, RIGHT), strict=True):
        parts.append(pen.line(end, top + 4, corner, bottom, pen.THIN, pen.PALE))
    return parts


def _strip(split: Split, reach: float, wording: Wording) -> list[str]:
    """Return the middle of the swing enlarged: the zones, the tick with its uncertainty, rivals, figures."""
    bottom = STRIP_TOP + STRIP_HEIGHT
    good = [in_strip(way * GOOD_PERCENT, reach) for way in (-1.0, 1.0)]
    fair = [in_strip(way * ACCEPTABLE_PERCENT, reach) for way in (-1.0, 1.0)]
    here = in_strip(split.later, reach)
    parts = [
        *_outside(fair[0], fair[1], here),
        pen.box(fair[0], STRIP_TOP, fair[1] - fair[0], STRIP_HEIGHT, pen.SHADE, pen.INK, "acceptable"),
        pen.box(good[0], STRIP_TOP, good[1] - good[0], STRIP_HEIGHT, pen.PAPER, pen.INK, "good"),
        pen.box(LEFT, STRIP_TOP, LENGTH, STRIP_HEIGHT, "none", pen.INK),
        pen.line(MIDDLE, STRIP_TOP - 4, MIDDLE, bottom + 4, pen.THIN, pen.INK, CENTER_LINE),
    ]
    if split.unsure:
        left, right = (in_strip(split.later + way * split.unsure, reach) for way in (-1.0, 1.0))
        left, right = max(left, LEFT), min(right, RIGHT)
        parts.append(pen.box(left, STRIP_TOP + 6, right - left, STRIP_HEIGHT - 12, pen.PALE, pen.INK, "unsure"))
    for rival in split.rivals:
        x = in_strip(rival, reach)
        parts.append(pen.line(x, STRIP_TOP, x, bottom, pen.HALO, pen.PAPER))
        parts.append(pen.line(x, STRIP_TOP, x, bottom, pen.BROKEN, pen.PALE_TEXT, pen.DASH))
    parts.append(pen.line(here, STRIP_TOP - 4, here, bottom + 3, pen.THICK))
    parts.append(pen.label(here, STRIP_TOP - 8, TEXT, _here(split, wording), "bold"))
    return parts if wording.reader == "customer" else [*parts, *_figures(reach)]


def _outside(left: float, right: float, here: float) -> list[str]:
    """Return what lies outside the bands, hatched, with white beside the mark of the clock so that it is seen."""
    parts = []
    for start, end in ((LEFT, left), (right, RIGHT)):
        parts.append(pen.hatched(start, STRIP_TOP, end - start, STRIP_HEIGHT, "outside"))
        first, last = max(here - pen.HALO, start), min(here + pen.HALO, end)
        if last > first:
            parts.append(pen.box(first, STRIP_TOP, last - first, STRIP_HEIGHT, pen.PAPER))
    return parts


def _here(split: Split, wording: Wording) -> str:
    """Return the words at the mark of this clock."""
    if split.unsure is None:
        return wording.say("picture-here-alone", percent=f"{abs(split.later):.1f}")
    # Rounded up, so that no beat is shown as known without an error.
    unsure = math.ceil(10.0 * split.unsure) / 10.0
    return wording.say("picture-here", percent=f"{abs(split.later):.1f}", unsure=f"{unsure:.1f}")


def _figures(reach: float) -> list[str]:
    """Return the figures under the strip, the most needed first, none over another."""
    y, parts, taken = STRIP_TOP + STRIP_HEIGHT + 15.0, [], list[tuple[float, float]]()
    for mark in MARKS:
        words = f"{mark:g}"
        half = width_of(words, SMALL) / 2.0
        for x in sorted({in_strip(mark, reach), in_strip(-mark, reach)}):
            free = all(x + half + MARK_GAP < start or x - half - MARK_GAP > end for start, end in taken)
            if free and x - half >= LEFT and x + half <= RIGHT:
                taken.append((x - half, x + half))
                parts.append(pen.text(x, y, SMALL, words, anchor="middle"))
    return parts


def _bands(split: Split, reach: float, wording: Wording) -> list[str]:
    """Return the names of what counts as good and as acceptable, each under its measure, and the ways."""
    y, parts = STRIP_TOP + STRIP_HEIGHT + (22.0 if wording.reader == "staff" else 8.0), []
    for percent, key in ((GOOD_PERCENT, "picture-good"), (ACCEPTABLE_PERCENT, "picture-acceptable")):
        left, right = in_strip(-percent, reach), in_strip(percent, reach)
        parts.append(pen.path([(left, y), (left, y + 5), (right, y + 5), (right, y)]))
        parts.append(pen.text(MIDDLE, y + 17, SMALL, wording.say(key, percent=f"{percent:g}"), anchor="middle"))
        y += 24.0
    if split.early != "unknown" and wording.reader == "staff":
        y -= 7.0
        parts.append(pen.text(LEFT + ARROW + 3, y, SMALL, wording.say("picture-early-right")))
        parts.append(pen.text(RIGHT - ARROW - 3, y, SMALL, wording.say("picture-early-left"), anchor="end"))
        for tip, way in ((LEFT, 1.0), (RIGHT, -1.0)):
            points = [(tip, y - 4), (tip + way * ARROW, y - 8), (tip + way * ARROW, y)]
            parts.append(pen.path(points, pen.THIN, pen.INK, pen.INK))
    return parts


def _notes(split: Split, reach: float, wording: Wording) -> list[str]:
    """Return the small print."""
    found = [wording.say("picture-swing-enlarged", times=f"{WHOLE / reach:.0f}")]
    if wording.reader == "staff" and split.unsure is not None:
        hidden = LENGTH / reach * split.unsure <= pen.THICK
        found.append(wording.say("picture-swing-sure" if hidden else "picture-swing-unsure"))
    if split.rivals:
        told = wording.say("picture-or").join(f"{abs(rival):.1f}" for rival in split.rivals)
        found.append(wording.say("picture-swing-rivals", percents=told))
    return found


def _spoken(split: Split, wording: Wording) -> str:
    """Return the picture in words."""
    size = abs(split.later)
    word = "good" if size < GOOD_PERCENT else "acceptable" if size < ACCEPTABLE_PERCENT else "outside"
    return wording.say(
        f"picture-swing-spoken-{word}",
        first=f"{split.swing_s * split.first_percent / WHOLE:.3f}",
        second=f"{split.swing_s * (1.0 - split.first_percent / WHOLE):.3f}",
        percent=f"{size:.1f}",
        early=wording.say(f"picture-spoken-early-{split.early}"),
    )
