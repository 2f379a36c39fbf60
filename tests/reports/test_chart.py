"""The cause tree as a drawing: whole, readable without color, the same every time."""

from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import pygraphviz
import pytest

from diagnose.model.wording import Wording
from diagnose.reports import showing
from diagnose.reports.chart import dot_source, svg_tree
from diagnose.reports.layout import WIDTHS, placed, sized
from diagnose.reports.lettering import width_of, wrapped
from diagnose.reports.tree import COLUMNS, tree_of
from tests.reports.built import SVG, alarmed, cured, knowledge, limping, nothing_told, shown, texts_of

# A4 upright between margins of 10 mm is 718 pixels wide; letters of 7 points or more stay readable.
A4_PIXELS, LEAST_POINTS, PIXELS_A_POINT = 718, 7.0, 96 / 72


def test_every_shown_cause_stands_in_the_tree_with_its_chance() -> None:
    words = texts_of(svg_tree(limping()))
    wording = Wording(knowledge())
    for cause in shown()["causes"]:
        assert wording.cause(cause["id"]) in words
        assert showing.chance_text(cause["probability"], wording) in words


def test_complaint_part_answers_and_remedy_stand_in_the_tree() -> None:
    words = texts_of(svg_tree(limping()))
    wording = Wording(knowledge())
    first = shown()["causes"][0]
    assert "we moved it to the hall" in words
    assert wording.text(knowledge().subsystems[first["subsystem"]].title) in words
    assert wording.text(knowledge().remedies[first["remedies"][0]["id"]].title) in words
    assert showing.answer_text("runs-for", "minutes", wording) in words


def test_a_customer_sees_no_figures_and_no_bars() -> None:
    svg = svg_tree(limping(), "customer")
    words = texts_of(svg)
    assert "in 10" not in words
    bars = [item for item in ElementTree.fromstring(svg).iter(f"{SVG}rect") if item.get("stroke")]
    assert bars == []


@pytest.mark.parametrize("built", [limping, nothing_told, alarmed, cured], ids=lambda built: built.__name__)
@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_the_same_case_gives_the_same_drawing(built: object, reader: str) -> None:
    once, again = (svg_tree(built(), reader) for _ in range(2))  # type: ignore[operator,arg-type]
    assert once == again


def test_the_drawing_has_role_title_and_description_and_loads_nothing() -> None:
    svg = svg_tree(limping())
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
    assert all(child.text for child in root[:2])
    assert svg.count("http") == svg.count('xmlns="http') == 1


def test_letters_stay_readable_at_the_width_of_a_page() -> None:
    root = ElementTree.fromstring(svg_tree(limping()))
    scale = min(1.0, A4_PIXELS / float(root.get("width", "0")))
    sizes = [float(item.get("font-size", "0")) for item in root.iter(f"{SVG}text")]
    assert min(sizes) * scale / PIXELS_A_POINT >= LEAST_POINTS


def test_for_and_against_differ_by_sign_not_by_color_alone() -> None:
    marks = {item.text for item in ElementTree.fromstring(svg_tree(limping())).iter(f"{SVG}text")}
    assert {"+", "−"} <= marks


def test_no_line_of_text_is_wider_than_its_column() -> None:
    for box in sized(tree_of(limping(), Wording(knowledge()))):
        for line in box.lines:
            size = 11.5 if line.style == "title" else 10.5
            assert width_of(line.text, size, bold=line.style == "title") <= WIDTHS[box.node.column] + 1e-6


def test_boxes_of_a_column_stand_below_each_other_and_columns_go_to_the_right() -> None:
    boxes, width, height = placed(sized(tree_of(limping(), Wording(knowledge()))))
    lefts = []
    for column in COLUMNS:
        here = sorted((box for box in boxes if box.node.column == column), key=lambda box: box.top)
        assert len({box.left for box in here}) == 1
        assert all(upper.top + upper.height <= lower.top + 0.2 for upper, lower in pairwise(here))
        lefts.append(here[0].left)
    assert lefts == sorted(lefts)
    assert all(box.left + box.width <= width + 1 and box.top + box.height <= height + 1 for box in boxes)


def test_likelier_causes_stand_above_others_of_their_part() -> None:
    boxes, _, _ = placed(sized(tree_of(limping(), Wording(knowledge()))))
    tops = {box.node.id: box.top for box in boxes}
    by_part: dict[str, list[float]] = {}
    for cause in shown()["causes"]:
        by_part.setdefault(cause["subsystem"], []).append(tops[f"cause-{cause['id']}"])
    assert all(part == sorted(part) for part in by_part.values())


def test_dot_source_is_read_by_graphviz_and_has_every_cause() -> None:
    graph = pygraphviz.AGraph(string=dot_source(limping()))
    assert {f"cause-{cause['id']}" for cause in shown()["causes"]} <= set(graph.nodes())
    assert len(graph.edges()) == len(graph.nodes()) - 1


def test_drawing_says_nothing_on_stderr(capfd: pytest.CaptureFixture[str]) -> None:
    svg_tree(limping())
    assert capfd.readouterr() == ("", "")


def test_text_wraps_without_losing_a_letter() -> None:
    text = "a suspension spring kinked in carriage, unquestionablylongandwithoutanyspaceinside it"
    lines = wrapped(text, 60, 11)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(width_of(line, 11) <= 60 for line in lines)
