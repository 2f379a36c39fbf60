"""The graph of the knowledge: what tells causes apart, and where the holes are."""

from __future__ import annotations

import dataclasses
from functools import lru_cache
from pathlib import Path
from xml.etree import ElementTree

import pytest

from diagnose.errors import UsageError
from diagnose.model.entries import CauseEntry, Link, Mistaken
from diagnose.model.graph import Separation, knowledge_graph, separation
from diagnose.model.reading import Knowledge
from diagnose.reports.graph import pairs_drawn, summary, svg_graph, write_graph
from tests.reports.built import knowledge, texts_of


def cause(shows: dict[str, tuple[str, str]], mistaken: tuple[str, ...] = ()) -> CauseEntry:
    """Return a cause of the case that shows findings with a value and a word."""
    links = tuple(Link(finding=name, value=value, often=word, why="so") for name, (value, word) in shows.items())  # type: ignore[arg-type]
    alike = tuple(Mistaken(cause=name, tell="look") for name in mistaken)
    return CauseEntry(
        title={"staff": "a thing"}, subsystem="case", how_common={"default": "rare"}, shows=links,
        mistaken_for=alike, remedies=("wind-it",), sources=("practice",),
    )  # fmt: skip


def small(**causes: CauseEntry) -> Knowledge:
    return dataclasses.replace(knowledge(), causes={name.replace("_", "-"): entry for name, entry in causes.items()})


@lru_cache(maxsize=1)
def found() -> Separation:
    return separation(knowledge())


def test_causes_with_the_same_links_are_alike() -> None:
    same = {"tick-evenness": ("limping", "probable")}
    other = {"tick-evenness": ("limping", "probable"), "packing": ("found", "certain")}
    result = separation(small(one=cause(same), two=cause(same), three=cause(other)))
    assert result.alike == (("one", "two"),)


def test_half_the_sum_of_differences_tells_them_apart() -> None:
    # probable 0.85 against uncertain 0.25 of the same value: the answers differ in 0.60 of the cases
    one, two = cause({"packing": ("found", "probable")}), cause({"packing": ("found", "uncertain")})
    (pair,) = separation(small(one=one, two=two)).close
    assert pair.findings == (("packing", pytest.approx(0.6)),)


def test_one_way_mistakes_and_rings_are_found() -> None:
    names = ("one", "two", "three")
    looks = ("packing", "found"), ("household-oil", "yes"), ("squeak", "squeak")
    entries = {
        name: cause({finding: (value, "certain")}, (names[(place + 1) % 3],))
        for place, (name, (finding, value)) in enumerate(zip(names, looks, strict=True))
    }
    result = separation(small(**entries))
    assert result.rings == (("one", "two", "three"),)
    assert ("one", "two") in result.one_way


def test_two_that_name_each_other_are_no_ring() -> None:
    one = cause({"packing": ("found", "certain")}, ("two",))
    two = cause({"squeak": ("squeak", "certain")}, ("one",))
    result = separation(small(one=one, two=two))
    assert (result.rings, result.one_way) == ((), ())
    assert [(pair.one, pair.other) for pair in result.mistaken] == [("one", "two")]


def test_an_entry_that_nothing_leads_to_is_named() -> None:
    remedies = dict(knowledge().remedies) | {"do-nothing": knowledge().remedies["wind-it"]}
    result = separation(dataclasses.replace(knowledge(), remedies=remedies))
    assert ("remedies", "do-nothing") in [(item.kind, item.id) for item in result.unreachable]


def test_the_graph_has_every_link() -> None:
    graph = knowledge_graph(knowledge())
    links = {
        (("causes", name), ("findings", link.finding))
        for name, entry in knowledge().causes.items()
        for link in entry.shows
    }
    assert {(one, other) for one, other, kind in graph.edges(data="kind") if kind == "shows"} == links


def test_nothing_in_the_knowledge_is_out_of_reach() -> None:
    assert [item for item in found().unreachable if item.kind in {"findings", "remedies", "cautions"}] == []


def test_the_drawing_shows_every_close_pair() -> None:
    svg = svg_graph(knowledge(), found())
    ElementTree.fromstring(svg)
    words = texts_of(svg)
    assert pairs_drawn(found(), all_named=False)
    for pair in pairs_drawn(found(), all_named=False):
        assert knowledge().causes[pair.one].title.staff in words
        assert knowledge().causes[pair.other].title.staff in words
    assert svg.count("http") == 1


def test_the_summary_names_look_alikes() -> None:
    text = summary(knowledge(), found())
    for group in found().alike:
        assert ", ".join(group) in text


def test_drawing_and_summary_are_written_for_one_part(tmp_path: Path) -> None:
    drawing, text = write_graph(knowledge(), tmp_path, "suspension")
    assert (drawing.name, text.name) == ("separation-suspension.svg", "separation-suspension.txt")
    ElementTree.fromstring(drawing.read_text(encoding="utf-8"))


def test_an_unknown_part_is_refused_with_its_neighbor(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="suspension"):
        write_graph(knowledge(), tmp_path, "suspensio")
    assert list(tmp_path.iterdir()) == []
