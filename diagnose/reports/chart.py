"""The ranked cause tree as a drawing of its own (SVG), and as DOT source."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from diagnose.consultation import Consultation
from diagnose.model.wording import Reader, Wording
from diagnose.reports import showing
from diagnose.reports.contract import ranked
from diagnose.reports.layout import (
    BAR_LINE,
    COLUMN_GAP,
    MARK_WIDTH,
    SMALL,
    TEXT,
    Box,
    dot_of,
    line_height,
    placed,
    sized,
)
from diagnose.reports.pen import FACE, INK, PALE, PALE_TEXT, SHADE, TINT, text
from diagnose.reports.tree import COLUMNS, Node, tree_of

MARGIN, HEAD, FOOT = 6, 24, 22
BAR_CELLS, CELL, CELL_GAP = 10, 7, 2
THICK, THIN = 1.6, 0.8
BASELINE = 0.78
HEADS = {
    "said": "complaint",
    "part": "chart-part",
    "cause": "likely-causes",
    "answers": "report-why",
    "remedy": "what-to-do",
}


def svg_tree(consultation: Consultation, reader: Reader = "staff", result: dict[str, Any] | None = None) -> str:
    """Draw the ranked cause tree: complaint, part of the clock, causes, answers for and against, what to do.

    Readable in black and white, at the width of a page; nothing is loaded from elsewhere.

    Parameters
    ----------
    consultation : Consultation
        The case.
    reader : str
        "staff" or "customer".
    result : dict, optional
        What `ranked` gives, where it is at hand.

    Returns
    -------
    str
        SVG, without an XML declaration, so that it can stand inside a page.
    """
    wording = Wording(consultation.knowledge, reader)
    result = ranked(consultation) if result is None else result
    boxes = sized(tree_of(consultation, wording, result))
    boxes, width, height = placed(boxes)
    full_width, full_height = width + 2 * MARGIN, height + HEAD + FOOT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="tree-title tree-desc" '
        f'width="{full_width:.0f}" height="{full_height:.0f}" viewBox="0 0 {full_width:.0f} {full_height:.0f}" '
        f"font-family={quoteattr(FACE)}>",
        f'<title id="tree-title">{escape(wording.say("chart-title", case=consultation.case.id))}</title>',
        f'<desc id="tree-desc">{escape(_description(result, wording))}</desc>',
        f'<rect width="{full_width:.0f}" height="{full_height:.0f}" fill="#ffffff"/>',
        f'<g transform="translate({MARGIN} {HEAD})">',
        *_heads(boxes, wording),
        *_branches(boxes),
        *(part for box in boxes for part in _drawn(box, wording)),
        "</g>",
        text(MARGIN, full_height - MARGIN, SMALL, wording.say("chart-legend"), fill=PALE_TEXT),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def dot_source(consultation: Consultation, reader: Reader = "staff") -> str:
    """Return the tree as DOT source, for other programs that draw graphs."""
    wording = Wording(consultation.knowledge, reader)
    boxes = sized(tree_of(consultation, wording))
    marks = (wording.say("chart-for"), wording.say("chart-against"))
    return dot_of(boxes, consultation.case.id, marks)


def _description(result: dict[str, Any], wording: Wording) -> str:
    """Return the tree in a sentence, for those who hear it read aloud."""
    causes = showing.causes_for(result, wording)
    if not causes:
        return wording.say("nothing-fits")
    titles = [
        wording.say(
            "chart-cause", cause=wording.cause(item["id"]), chance=showing.chance_text(item["probability"], wording)
        )
        for item in causes
    ]
    first = wording.say("most-likely-cause", cause=wording.cause(causes[0]["id"]))
    return wording.say("chart-desc", first=first, others="; ".join(titles))


def _heads(boxes: Sequence[Box], wording: Wording) -> Iterable[str]:
    """Yield the heading of each column."""
    for column in COLUMNS:
        box = next((item for item in boxes if item.node.column == column), None)
        if box is not None:
            yield text(box.left, 10 - HEAD + 4, SMALL, wording.say(HEADS[column]), fill=TINT, weight="bold")


def _branches(boxes: Sequence[Box]) -> Iterable[str]:
    """Yield the thin lines from each node to those that hang on it, drawn square like a bracket."""
    by_id = {box.node.id: box for box in boxes}
    ordered = sorted(boxes, key=lambda box: box.node.first)
    for box in ordered:
        if box.node.parent is None:
            continue
        parent = by_id[box.node.parent]
        start, end = _line_of(parent), _line_of(box)
        right = parent.left + parent.width
        middle = right + COLUMN_GAP / 2
        on_the_way = box.node.first and parent.node.first
        color, thick = (INK, THICK) if on_the_way else (PALE, THIN)
        path = f"M{right:.1f} {start:.1f}H{middle:.1f}V{end:.1f}H{box.left:.1f}"
        yield f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{thick}"/>'


def _line_of(box: Box) -> float:
    """Return the height of the line a node stands on."""
    return box.top + box.height


def _drawn(box: Box, wording: Wording) -> Iterable[str]:
    """Yield one node: its text on a thin line."""
    node = box.node
    yield f'<g data-node="{escape(node.id)}">'
    if node.first and (node.share is not None or node.column == "cause"):
        place = f'x="{box.left:.1f}" y="{box.top:.1f}" width="{box.width:.1f}" height="{box.height:.1f}"'
        yield f'<rect {place} fill="{SHADE}"/>'
    y = box.top
    for line in box.lines:
        height = line_height(line.style)
        yield from _line(box, node, line.style, line.text, y + height * BASELINE, wording)
        y += height
    if node.share is not None:
        yield from _bar(box.left, y + (BAR_LINE - CELL) / 2, node.share)
    bottom = box.top + box.height
    color, thick = (INK, THICK) if node.first else (PALE, THIN)
    yield (
        f'<path d="M{box.left:.1f} {bottom:.1f}H{box.left + box.width:.1f}" stroke="{color}" stroke-width="{thick}"/>'
    )
    yield "</g>"


def _line(box: Box, node: Node, style: str, words: str, y: float, wording: Wording) -> Iterable[str]:
    x = box.left
    if style == "title":
        bold = "bold" if node.first or node.column == "part" else "normal"
        yield text(x, y, TEXT, words, weight=bold)
    elif style == "note":
        yield text(x, y, SMALL, words, fill=PALE_TEXT)
    else:
        if style != "more":
            mark = wording.say("chart-for" if style == "for" else "chart-against")
            yield text(x, y, TEXT, mark, fill=TINT if style == "for" else INK, weight="bold")
        yield text(x + MARK_WIDTH, y, SMALL, words)


def _bar(x: float, y: float, share: float) -> Iterable[str]:
    """Yield ten cells, as many of them filled as the chance has tenths."""
    filled = round(share * BAR_CELLS)
    for number in range(BAR_CELLS):
        fill = TINT if number < filled else "none"
        left = x + number * (CELL + CELL_GAP) + 0.5
        yield (
            f'<rect x="{left:.1f}" y="{y:.1f}" width="{CELL - 1}" height="{CELL - 1}" '
            f'fill="{fill}" stroke="{TINT}" stroke-width="0.8"/>'
        )
