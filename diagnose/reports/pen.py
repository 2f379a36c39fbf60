"""Ink on paper: the few strokes that our own drawings are made of, in black and white and one tint."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

from diagnose.reports.lettering import width_of, wrapped

INK, PALE, TINT, SHADE, PAPER = "#1a1a1a", "#8a8a8a", "#7a5a16", "#f4ecd9", "#ffffff"
PALE_TEXT = "#5c5c5c"
FACE = "Arial, 'Liberation Sans', Helvetica, sans-serif"
# A picture is made for the width of a phone, where its smallest letters are still 11 pixels high.
WIDTH, EDGE = 340.0, 8.0
LEFT, RIGHT = EDGE, WIDTH - EDGE
HEAD, TEXT, SMALL = 14.0, 12.5, 11.5
HEAD_LINE, LINE = 18.0, 15.0
THICK, BROKEN, USUAL, THIN = 2.2, 1.6, 1.2, 0.7
# White on both sides of a broken line, so that it is seen on what is hatched.
HALO = 4.0
DASH, DOTS = "4 3", "1 2"
HATCH_STEP = 6.0
_NICE = (1.0, 2.0, 5.0, 10.0)


def text(
    x: float, y: float, size: float, words: str, fill: str = INK, weight: str = "normal", anchor: str = "start"
) -> str:
    """Return a line of text; `anchor` is "start", "middle" or "end"."""
    bold = ' font-weight="bold"' if weight == "bold" else ""
    held = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{fill}"{bold}{held}>{escape(words)}</text>'


def label(x: float, y: float, size: float, words: str, weight: str = "normal", fill: str = INK) -> str:
    """Return a line of text about a place, moved as little as keeps it inside the picture."""
    half = width_of(words, size, weight == "bold") / 2.0
    middle = min(max(x, LEFT + half), RIGHT - half)
    return text(middle, y, size, words, fill, weight, "middle")


def line(x1: float, y1: float, x2: float, y2: float, width: float = USUAL, stroke: str = INK, dash: str = "") -> str:
    """Return a straight stroke."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"'
    return f'<line {ends} stroke="{stroke}" stroke-width="{width}"{dashed}/>'


def box(
    x: float, y: float, width: float, height: float, fill: str = "none", stroke: str = "none", name: str = ""
) -> str:
    """Return a rectangle; `name` is kept as its data-name."""
    place = f'x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}"'
    called = f' data-name="{name}"' if name else ""
    drawn = f' stroke="{stroke}" stroke-width="{THIN}"' if stroke != "none" else ""
    return f'<rect {place} fill="{fill}"{drawn}{called}/>'


def path(points: Sequence[tuple[float, float]], width: float = USUAL, stroke: str = INK, fill: str = "none") -> str:
    """Return a stroke through points; a filled one is closed."""
    through = "L".join(f"{x:.2f} {y:.2f}" for x, y in points)
    close = "" if fill == "none" else "Z"
    drawn = f'fill="{fill}" stroke="{stroke}" stroke-width="{width}" stroke-linejoin="round"'
    return f'<path d="M{through}{close}" {drawn}/>'


def hatched(x: float, y: float, width: float, height: float, name: str = "") -> str:
    """Return slanting lines that fill a rectangle and do not leave it."""
    strokes = []
    # Each stroke climbs to the right by as much as it goes; `start` is where it would cross the lower edge.
    for count in range(math.floor((x - height) / HATCH_STEP) + 1, math.ceil((x + width) / HATCH_STEP)):
        start = count * HATCH_STEP
        first, last = max(start, x), min(start + height, x + width)
        if last > first:
            low, high = y + height - (first - start), y + height - (last - start)
            strokes.append(f"M{first:.2f} {low:.2f}L{last:.2f} {high:.2f}")
    called = f' data-name="{name}"' if name else ""
    return f'<path d="{"".join(strokes)}" fill="none" stroke="{PALE}" stroke-width="{THIN}"{called}/>'


def notes(y: float, texts: Iterable[str]) -> tuple[list[str], float]:
    """Return lines of small print from a height on, wrapped, and the height below them."""
    parts = []
    for words in texts:
        for row in wrapped(words, RIGHT - LEFT, SMALL):
            parts.append(text(LEFT, y, SMALL, row, PALE_TEXT))
            y += LINE
    return parts, y - LINE + EDGE


def framed(name: str, title: str, spoken: str, height: float, parts: Iterable[str]) -> str:
    """Return a picture with its heading, and with what is read aloud in its stead.

    Parameters
    ----------
    name : str
        Keeps its ids apart from those of other pictures on a page.
    title : str
        Its heading.
    spoken : str
        What it shows, in words.
    height : float
        Of the whole. [units; a picture is `WIDTH` wide]
    parts : iterable of str
        Its strokes and letters.
    """
    size = f'width="{WIDTH:.0f}" height="{height:.0f}" viewBox="0 0 {WIDTH:.0f} {height:.0f}"'
    said = f'role="img" aria-labelledby="{name}-title {name}-desc"'
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" {said} {size} font-family={quoteattr(FACE)}>',
            f'<title id="{name}-title">{escape(title)}</title>',
            f'<desc id="{name}-desc">{escape(spoken)}</desc>',
            box(0, 0, WIDTH, height, PAPER),
            text(LEFT, HEAD_LINE, HEAD, title, weight="bold"),
            *parts,
            "</svg>\n",
        ]
    )


def nice_above(value: float) -> float:
    """Return the least of 1, 2, 5 times a power of ten that is not below a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in _NICE if step * power >= value * (1.0 - 1e-9))


def even_steps(least: float, most: float, count: int) -> list[float]:
    """Return round values between two, evenly apart and at most about so many."""
    step = nice_above((most - least) / count)
    return [step * number for number in range(math.ceil(least / step - 1e-9), math.floor(most / step + 1e-9) + 1)]
