"""Reads a drawing back: where its strokes, boxes and words are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from diagnose.reports.lettering import width_of
from tests.reports.built import SVG

NUMBER = r"-?\d+(?:\.\d+)?"
LETTER = re.compile(rf"([MLHVZ])\s*({NUMBER})?\s*({NUMBER})?")
# Above a line of letters and below it, as shares of their size.
ABOVE, BELOW = 0.75, 0.22


def root_of(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def value(element: ElementTree.Element, name: str) -> float:
    return float(element.get(name, "0"))


def named(svg: str, name: str) -> list[ElementTree.Element]:
    """The elements with a data-name."""
    return [element for element in root_of(svg).iter() if element.get("data-name") == name]


def words_at(svg: str) -> list[tuple[str, float, float]]:
    """Each line of words with its place."""
    return [(item.text or "", value(item, "x"), value(item, "y")) for item in root_of(svg).iter(f"{SVG}text")]


def lines_of(svg: str, dashed: bool = False) -> list[tuple[float, float, float, float, float]]:
    """Straight strokes: x1, y1, x2, y2 and width."""
    return [
        (*(value(item, name) for name in ("x1", "y1", "x2", "y2")), value(item, "stroke-width"))  # type: ignore[misc]
        for item in root_of(svg).iter(f"{SVG}line")
        if bool(item.get("stroke-dasharray")) == dashed
    ]


def path_points(drawn: str) -> Iterator[tuple[float, float]]:
    x = y = 0.0
    for letter, first, second in LETTER.findall(drawn):
        if letter in "ML":
            x, y = float(first), float(second)
        elif letter == "H":
            x = float(first)
        elif letter == "V":
            y = float(first)
        yield x, y


def extents(svg: str) -> Iterator[tuple[str, float, float, float, float]]:
    """What each element covers: a name for it, left, top, right, bottom."""
    for item in root_of(svg).iter():
        tag = item.tag.removeprefix(SVG)
        if tag == "rect":
            x, y = value(item, "x"), value(item, "y")
            assert value(item, "width") >= 0 and value(item, "height") >= 0
            yield tag, x, y, x + value(item, "width"), y + value(item, "height")
        elif tag == "line":
            xs, ys = (value(item, "x1"), value(item, "x2")), (value(item, "y1"), value(item, "y2"))
            yield tag, min(xs), min(ys), max(xs), max(ys)
        elif tag == "circle":
            x, y, reach = value(item, "cx"), value(item, "cy"), value(item, "r") + value(item, "stroke-width") / 2
            yield tag, x - reach, y - reach, x + reach, y + reach
        elif tag == "path" and item.get("d"):
            points = list(path_points(item.get("d", "")))
            xs, ys = [x for x, _ in points], [y for _, y in points]  # type: ignore[assignment]
            yield tag, min(xs), min(ys), max(xs), max(ys)
        elif tag == "text":
            yield from _words(item)


def _words(item: ElementTree.Element) -> Iterator[tuple[str, float, float, float, float]]:
    size, x, y = value(item, "font-size"), value(item, "x"), value(item, "y")
    wide = width_of(item.text or "", size, item.get("font-weight") == "bold")
    left = x - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.get("text-anchor", "start")]
    yield item.text or "", left, y - ABOVE * size, left + wide, y + BELOW * size


def words_over_words(svg: str) -> list[tuple[str, str]]:
    """Pairs of lines of words that cover each other."""
    root = root_of(svg)
    places = [place for item in root.iter(f"{SVG}text") for place in _words(item)]
    return [
        (one[0], other[0])
        for number, one in enumerate(places)
        for other in places[number + 1 :]
        if one[1] < other[3] and other[1] < one[3] and one[2] < other[4] and other[2] < one[4]
    ]
