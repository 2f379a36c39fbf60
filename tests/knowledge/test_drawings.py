"""The drawings of the knowledge: are they whole, legible, self-contained, and do they speak without color?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reports.lettering import width_of
from diagnose.settings import knowledge_folder

SVG = "{http://www.w3.org/2000/svg}"
FOLDER = knowledge_folder() / "drawings"
FILES = sorted(FOLDER.glob("*.svg"))
MOST_BYTES, LEAST_LETTER = 20_000, 13.0
# Ink, metal and paper: one tint, so that a page printed in black and white loses nothing.
COLORS = {"#222", "#dde3e8", "#fff", "none"}
BADGE_RADIUS, BADGE_TO_WORD = "10", (15.0, 5.5)
# A face without the usual metrics may be so much wider (measured on DejaVu Sans); letters rise and hang so far.
WIDE_FACE, RISES, HANGS = 1.17, 0.75, 0.22
SEEN_FROM = {"dial": "front, facing the dial", "behind": "behind", "side": "side", "below": "below"}
Box = tuple[float, float, float, float]


def _knowledge() -> Knowledge:
    return read_knowledge()


def _root(path: Path) -> ElementTree.Element:
    return ElementTree.fromstring(path.read_bytes())


def _size(root: ElementTree.Element) -> tuple[float, float]:
    _, _, width, height = (float(number) for number in root.attrib["viewBox"].split())
    return width, height


def _words(root: ElementTree.Element) -> Iterator[tuple[str, float, Box]]:
    """Every text with the size of its letters and the box it fills."""
    for group in root.iter(f"{SVG}g"):
        for text in group.findall(f"{SVG}text"):
            size = float(text.get("font-size") or group.attrib["font-size"])
            words = text.text or ""
            width = width_of(words, size, text.get("font-weight") == "bold") * WIDE_FACE
            share = {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor", "start")]
            left, line = float(text.attrib["x"]) - share * width, float(text.attrib["y"])
            yield words, size, (left, line - RISES * size, left + width, line + HANGS * size)


def _badges(root: ElementTree.Element) -> list[tuple[float, float, str]]:
    """Every badge: its middle and whether its ground is paper (right) or ink (wrong)."""
    rings = (ring for ring in root.iter(f"{SVG}circle") if ring.get("r") == BADGE_RADIUS)
    return [(float(ring.attrib["cx"]), float(ring.attrib["cy"]), ring.attrib["fill"]) for ring in rings]


def _used(value: Any) -> Iterator[str]:
    """Every drawing that an entry names, at whatever depth."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "drawing" and inner is not None:
                yield inner
            else:
                yield from _used(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _used(inner)


def _named_in_knowledge(knowledge: Knowledge) -> set[str]:
    lists = (
        knowledge.findings, knowledge.causes, knowledge.remedies,
        knowledge.places, knowledge.doors, knowledge.subsystems,
    )  # fmt: skip
    return {name for entries in lists for entry in entries.values() for name in _used(entry.model_dump())}


def test_every_listed_file_exists_and_every_file_is_listed_once() -> None:
    listed = sorted(entry.file for entry in _knowledge().drawings.values())
    assert listed == [path.name for path in FILES]


def test_a_file_is_named_after_its_drawing() -> None:
    drawings = _knowledge().drawings
    assert {key: entry.file for key, entry in drawings.items()} == {
        key: f"{key.replace('-', '_')}.svg" for key in drawings
    }


def test_every_drawing_that_the_knowledge_names_exists() -> None:
    knowledge = _knowledge()
    named = _named_in_knowledge(knowledge)
    assert len(named) > 20
    assert named <= set(knowledge.drawings)


def test_every_drawing_but_the_picture_of_the_front_page_is_used() -> None:
    knowledge = _knowledge()
    assert set(knowledge.drawings) - _named_in_knowledge(knowledge) == {"hung-pendulum"}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_drawing_says_what_it_is(path: Path) -> None:
    root = _root(path)
    title, told = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("role") == "img"
    assert title is not None and len((title.text or "").split()) >= 3
    assert told is not None and len((told.text or "").split()) >= 12


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_drawing_is_small(path: Path) -> None:
    assert path.stat().st_size <= MOST_BYTES


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_drawing_stands_by_itself(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    root = _root(path)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    attributes = {name for element in root.iter() for name in element.attrib}
    assert tags <= {"svg", "title", "desc", "g", "rect", "path", "polygon", "polyline", "circle", "text"}
    assert not {
        name
        for name in attributes
        if name.startswith("on") or name.endswith("href") or name in {"style", "class", "id"}
    }
    assert re.findall(r"url\(|<!DOCTYPE|<\?xml-stylesheet|@import", text) == []
    assert re.findall(r"https?://[^\"]+", text) == ["http://www.w3.org/2000/svg"]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_drawing_keeps_to_ink_paper_and_one_tint(path: Path) -> None:
    used = {
        element.attrib[name] for element in _root(path).iter() for name in ("fill", "stroke") if name in element.attrib
    }
    assert used <= COLORS


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_letters_are_large_enough_to_read(path: Path) -> None:
    sizes = [size for _, size, _ in _words(_root(path))]
    assert sizes and min(sizes) >= LEAST_LETTER


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_words_stay_inside_the_drawing(path: Path) -> None:
    root = _root(path)
    width, height = _size(root)
    outside = [words for words, _, (x0, y0, x1, y1) in _words(root) if x0 < 0 or y0 < 0 or x1 > width or y1 > height]
    assert outside == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_two_words_lie_on_each_other(path: Path) -> None:
    clashes = [
        (one, other)
        for (one, _, a), (other, _, b) in combinations(_words(_root(path)), 2)
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] - 1 and b[1] < a[3] - 1
    ]
    assert clashes == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_badge_has_its_word_beside_it(path: Path) -> None:
    root = _root(path)
    places = {(float(text.attrib["x"]), float(text.attrib["y"])): text.text or "" for text in root.iter(f"{SVG}text")}
    across, down = BADGE_TO_WORD
    for x, y, ground in _badges(root):
        assert places[x + across, y + down] == {"#fff": "RIGHT", "#222": "WRONG"}[ground]
    words = [text for text in places.values() if text in {"RIGHT", "WRONG"}]
    assert len(words) == len(_badges(root))


def test_right_and_wrong_stand_side_by_side_in_most_drawings() -> None:
    both = [path for path in FILES if {ground for _, _, ground in _badges(_root(path))} == {"#fff", "#222"}]
    assert {path.stem for path in FILES} - {path.stem for path in both} == {
        "early_side",
        "hung_pendulum",
        "self_setting_slip",
        "whole_line",
    }


@pytest.mark.parametrize("key", sorted(_knowledge().drawings))
def test_what_is_read_aloud_names_right_and_wrong_where_the_drawing_does(key: str) -> None:
    entry = _knowledge().drawings[key]
    if not _badges(_root(FOLDER / entry.file)):
        return
    for told in (entry.shows.staff, entry.shows.customer):
        assert told is not None and "Right:" in told and "Wrong:" in told


@pytest.mark.parametrize("key", sorted(_knowledge().drawings))
def test_a_drawing_names_in_words_from_where_it_is_seen(key: str) -> None:
    entry = _knowledge().drawings[key]
    words = " ".join(words for words, _, _ in _words(_root(FOLDER / entry.file)))
    assert SEEN_FROM[entry.viewed_from] in words


@pytest.mark.parametrize(
    ("key", "marked"), [("shim-the-case", 2), ("hang-case-turn", 2), ("adjuster-on-leader", 2), ("crutch-bend", 2)]
)
def test_the_early_side_is_named_in_every_panel_that_has_a_direction(key: str, marked: int) -> None:
    root = _root(FOLDER / _knowledge().drawings[key].file)
    assert [words for words, _, _ in _words(root)].count("EARLY") == marked
