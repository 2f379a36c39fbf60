"""Where each node of the tree goes: DOT source, and the places that graphviz gives it."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass, replace
from threading import Lock

from diagnose.reports.lettering import wrapped
from diagnose.reports.tree import Column, Node

# Width of each column, so that all of them go on a page of A4 or Letter held upright. [px]
WIDTHS: dict[Column, int] = {"said": 112, "part": 92, "cause": 170, "answers": 214, "remedy": 132}
ROW_COLUMNS: tuple[Column, ...] = ("cause", "answers", "remedy")
COLUMN_GAP, ROW_GAP = 15, 9
TEXT, SMALL = 11.5, 10.5
TEXT_LINE, SMALL_LINE, BAR_LINE = 14, 13, 13
MARK_WIDTH, BELOW = 12, 4
PIXELS_AN_INCH = 72
# The layout engine keeps its state in the process: one drawing at a time.
_ONE_AT_A_TIME = Lock()


@dataclass(frozen=True, slots=True)
class Line:
    """One line of text in a node: its style is "title", "note", "for", "against" or "more" (of an answer)."""

    text: str
    style: str


@dataclass(frozen=True, slots=True)
class Box:
    """A node with its lines, its size and its place.

    Parameters
    ----------
    node : Node
        What it shows.
    lines : tuple of Line
        Wrapped text, from the top.
    width, height : float
        [px]
    left, top : float
        Its upper left corner. [px]
    """

    node: Node
    lines: tuple[Line, ...]
    width: float
    height: float
    left: float = 0.0
    top: float = 0.0


def sized(nodes: Sequence[Node]) -> tuple[Box, ...]:
    """Return the nodes with their text wrapped; a cause, its answers and its remedy are one row of one height."""
    boxes = [_sized(node) for node in nodes]
    rows: dict[str, float] = {}
    for box in boxes:
        row = _row(box.node)
        rows[row] = max(rows.get(row, 0.0), box.height)
    return tuple(replace(box, height=rows[_row(box.node)]) for box in boxes)


def _row(node: Node) -> str:
    return node.id.partition("-")[2] if node.column in ROW_COLUMNS else node.id


def _sized(node: Node) -> Box:
    width = WIDTHS[node.column]
    lines = [Line(text, "title") for text in wrapped(node.title, width, TEXT, bold=True)]
    lines += [Line(text, "note") for note in node.notes for text in wrapped(note, width, SMALL)]
    for speaks_for, answer in node.rows:
        style = "for" if speaks_for else "against"
        parts = wrapped(answer, width - MARK_WIDTH, SMALL)
        lines += [Line(text, style if number == 0 else "more") for number, text in enumerate(parts)]
    height = sum(line_height(line.style) for line in lines) + BELOW
    return Box(node, tuple(lines), width, height + (BAR_LINE if node.share is not None else 0))


def line_height(style: str) -> int:
    """Return the height of a line. [px]"""
    return TEXT_LINE if style == "title" else SMALL_LINE


def dot_of(boxes: Sequence[Box], name: str, marks: tuple[str, str] | None) -> str:
    """Return the tree as DOT source, which any graphviz program reads.

    Parameters
    ----------
    boxes : sequence of Box
        In order, each after its parent.
    name : str
        Title of the graph.
    marks : tuple of str, optional
        What stands before an answer for and against; without them the nodes have no text, only a size.
    """
    import graphviz

    graph = graphviz.Digraph(name)
    gap, rows = COLUMN_GAP / PIXELS_AN_INCH, ROW_GAP / PIXELS_AN_INCH
    graph.attr(rankdir="LR", ordering="out", ranksep=f"{gap:.4f}", nodesep=f"{rows:.4f}", fontname="Arial")
    graph.attr("node", shape="box", style="", penwidth="0.7", fixedsize="true", fontname="Arial", fontsize="9")
    graph.attr("edge", arrowhead="none", penwidth="0.7", splines="ortho")
    for box in boxes:
        size = {
            "width": f"{box.width / PIXELS_AN_INCH:.4f}",
            "height": f"{box.height / PIXELS_AN_INCH:.4f}",
        }
        graph.node(box.node.id, label=_label(box, marks), **size)
        if box.node.parent is not None:
            graph.edge(box.node.parent, box.node.id)
    return str(graph.source)


def _label(box: Box, marks: tuple[str, str] | None) -> str:
    import graphviz

    if marks is None:
        return ""
    return "".join(f"{graphviz.escape(_labeled(line, marks))}\\l" for line in box.lines)


def _labeled(line: Line, marks: tuple[str, str]) -> str:
    before = {"for": f"{marks[0]} ", "against": f"{marks[1]} "}.get(line.style, "")
    return before + line.text


def placed(boxes: Sequence[Box]) -> tuple[tuple[Box, ...], float, float]:
    """Return the boxes where graphviz puts them, with width and height of the whole. [px]

    Parameters
    ----------
    boxes : sequence of Box
        In order, each after its parent.
    """
    middles, width, height = middles_of(dot_of(boxes, "tree", None))
    return tuple(_at(box, *middles[box.node.id]) for box in boxes), width, height


def _at(box: Box, x: float, y: float) -> Box:
    return replace(box, left=round(x - box.width / 2, 1), top=round(y - box.height / 2, 1))


def middles_of(source: str) -> tuple[dict[str, tuple[float, float]], float, float]:
    """Return where graphviz puts the middle of each node, from the upper left, and the size of the whole. [px]

    Parameters
    ----------
    source : str
        DOT source whose nodes have a size and no text, so that no font is asked for and no machine differs.
    """
    middles: dict[str, tuple[float, float]] = {}
    width = height = 0.0
    for line in _plain_layout(source).splitlines():
        words = shlex.split(line)
        if words and words[0] == "graph":
            width, height = float(words[2]) * PIXELS_AN_INCH, float(words[3]) * PIXELS_AN_INCH
        elif words and words[0] == "node":
            middles[words[1]] = (float(words[2]) * PIXELS_AN_INCH, height - float(words[3]) * PIXELS_AN_INCH)
    return middles, width, height


def _plain_layout(source: str) -> str:
    import pygraphviz

    with _ONE_AT_A_TIME:
        return str(pygraphviz.AGraph(string=source).draw(format="plain", prog="dot").decode("utf-8"))
