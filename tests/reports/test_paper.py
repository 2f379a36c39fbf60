"""Drawings stand inside pages without disturbing each other."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from diagnose.errors import InputError
from diagnose.model.lists import DrawingEntry
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reports.paper import drawing
from diagnose.reports.work import steps_on_paper
from tests.reports.built import knowledge

SVG = """<?xml version="1.0"?><!DOCTYPE svg><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">
<style>.a { fill: url(#tone) }</style><defs><pattern id="tone"/></defs><path id="p" fill="url(#tone)"/>
<use href="#p"/></svg>"""


def with_drawing(folder: Path, content: str | None = SVG) -> Knowledge:
    """Return the knowledge with one drawing of that content."""
    (folder / "drawings").mkdir(exist_ok=True)
    if content is not None:
        (folder / "drawings" / "early.svg").write_text(content, encoding="utf-8")
    entry = DrawingEntry(
        file="early.svg", title={"staff": "Early side"}, viewed_from="dial",
        shows={"staff": "The shorter way is the early side.", "customer": "The shorter way."},
    )  # fmt: skip
    positions = {("drawings", "early-side"): (f"{folder.name}/drawings/list.yaml", 1, 1)}
    return dataclasses.replace(
        knowledge(), folder=folder, drawings={"early-side": entry}, positions={**knowledge().positions, **positions}
    )


def test_a_drawing_is_inlined_with_what_it_shows(tmp_path: Path) -> None:
    shown = str(drawing("early-side", Wording(with_drawing(tmp_path), "customer"), "s1"))
    assert shown.startswith("<svg")
    assert 'role="img"' in shown
    assert 'aria-label="The shorter way."' in shown


def test_ids_of_two_drawings_on_a_page_are_kept_apart(tmp_path: Path) -> None:
    shown = str(drawing("early-side", Wording(with_drawing(tmp_path)), "s1"))
    assert 'id="s1-tone"' in shown
    assert shown.count("url(#s1-tone)") == 2
    assert 'href="#s1-p"' in shown
    assert "#tone" not in shown


def test_a_drawing_that_is_not_there_yet_is_left_out(tmp_path: Path) -> None:
    wording = Wording(with_drawing(tmp_path))
    assert drawing("no-such", wording, "s1") is None
    assert drawing(None, wording, "s1") is None


@pytest.mark.parametrize("content", [None, "<svg><path></svg>"], ids=["missing", "broken"])
def test_a_drawing_that_cannot_be_read_is_named(tmp_path: Path, content: str | None) -> None:
    with pytest.raises(InputError, match=r"early\.svg: drawing 'early-side' cannot be read"):
        drawing("early-side", Wording(with_drawing(tmp_path, content)), "s1")


def test_a_drawing_is_shown_once_and_then_pointed_to(tmp_path: Path) -> None:
    wording = Wording(with_drawing(tmp_path), "customer")
    steps = [step for step in steps_on_paper("set-the-beat-at-the-leader-adjuster", wording) if step is not None]
    drawn = [step.number for step in steps if step.drawing is not None]
    assert drawn == [2]
    assert all(step.drawing_of in {None, 2} for step in steps)
