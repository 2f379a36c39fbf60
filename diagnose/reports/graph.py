"""What separates what, as a drawing and a summary: for whoever writes the knowledge."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from diagnose.errors import UsageError
from diagnose.model.graph import Pair, Separation, separation
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reports import showing
from diagnose.reports.chart import MARGIN
from diagnose.reports.layout import BELOW, PIXELS_AN_INCH, SMALL, SMALL_LINE, TEXT, TEXT_LINE, middles_of
from diagnose.reports.lettering import wrapped
from diagnose.reports.pen import FACE, INK, PALE, PALE_TEXT, TINT
from diagnose.reports.writing import write_files

CAUSE_WIDTH, FINDING_WIDTH = 172, 150
HEAD, GAP, ROWS = 40, 30, 10
# So many pairs go on one drawing; the summary holds them all.
MOST_PAIRS, MOST_FINDINGS = 40, 2
BASELINE, HUNDRED = 0.78, 100


@dataclass(frozen=True, slots=True)
class _Plate:
    """A node of the drawing: a cause with its part of the clock, or what tells two causes apart."""

    id: str
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    width: int

    @property
    def height(self) -> int:
        return len(self.lines) * TEXT_LINE + len(self.notes) * SMALL_LINE + BELOW


def write_graph(knowledge: Knowledge, folder: Path, subsystem: str | None = None) -> tuple[Path, ...]:
    """Write which causes look alike and what tells them apart, as a drawing and as text; return the paths.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    folder : Path
        Where to; made where it is missing.
    subsystem : str, optional
        Only pairs with a cause of this part of the clock; then also those that are told apart well.

    Raises
    ------
    UsageError
        No such part of the clock.
    InputError
        The folder cannot be written to.
    """
    if subsystem is not None and subsystem not in knowledge.subsystems:
        do = f"There are {', '.join(knowledge.subsystems)}"
        raise UsageError(f"no part of the clock '{subsystem}'{near(subsystem, knowledge.subsystems)}", do=do)
    found = separation(knowledge, subsystem)
    name = "separation" if subsystem is None else f"separation-{subsystem}"
    contents = {
        f"{name}.svg": svg_graph(knowledge, found, all_named=subsystem is not None),
        f"{name}.txt": summary(knowledge, found),
    }
    return write_files(folder, contents)


def pairs_drawn(found: Separation, all_named: bool) -> tuple[Pair, ...]:
    """Return the pairs that go on the drawing, the hardest to tell apart first."""
    alike = [Pair(one, other, ()) for group in found.alike for one, other in combinations(group, 2)]
    pairs = {(pair.one, pair.other): pair for pair in (*alike, *found.close, *(found.mistaken if all_named else ()))}
    return tuple(sorted(pairs.values(), key=lambda pair: (pair.strongest, pair.one, pair.other))[:MOST_PAIRS])


def svg_graph(knowledge: Knowledge, found: Separation, all_named: bool = False) -> str:
    """Draw pairs of causes with what tells them apart between them.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    found : Separation
        What the graph of the knowledge tells.
    all_named : bool
        Also the pairs that the entries name as mistaken for one another.
    """
    wording = Wording(knowledge)
    pairs = pairs_drawn(found, all_named)
    # The engine stacks what hangs on nothing from below: the hardest pairs come last, to stand at the top.
    plates = {plate.id: plate for plate in _plates(pairs[::-1], wording)}
    lines = [line for pair in pairs for line in ((pair.one, _between(pair)), (_between(pair), _far_end(pair)))]
    middles, width, height = middles_of(_source(plates.values(), lines)) if plates else ({}, 0.0, 0.0)
    wide, high = max(width, CAUSE_WIDTH * 2) + 2 * MARGIN, height + HEAD + MARGIN
    heavy = {_between(pair) for pair in pairs if not pair.findings}
    title = wording.say("graph-title")
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="graph-title graph-desc" '
        f'width="{wide:.0f}" height="{high:.0f}" viewBox="0 0 {wide:.0f} {high:.0f}" font-family={quoteattr(FACE)}>',
        f'<title id="graph-title">{escape(title)}</title>',
        f'<desc id="graph-desc">{escape(wording.say("graph-desc"))}</desc>',
        f'<rect width="{wide:.0f}" height="{high:.0f}" fill="#ffffff"/>',
        _text(MARGIN, 14, TEXT, title, "bold"),
        _text(MARGIN, 29, SMALL, wording.say("graph-legend"), fill=PALE_TEXT),
        f'<g transform="translate({MARGIN} {HEAD})">',
        *(part for tail, head in lines for part in _edge(plates[tail], plates[head], middles, heavy)),
        *(part for plate in plates.values() for part in _drawn(plate, middles[plate.id], heavy)),
        "</g>",
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _between(pair: Pair) -> str:
    return f"{pair.one}--{pair.other}"


def _far_end(pair: Pair) -> str:
    """Return the place of the second cause; it stands there once for each pair, so that no lines cross."""
    return f"{_between(pair)}--{pair.other}"


def _plates(pairs: Iterable[Pair], wording: Wording) -> Iterator[_Plate]:
    for pair in pairs:
        for place, cause in ((pair.one, pair.one), (_far_end(pair), pair.other)):
            part = showing.part_title(wording.knowledge, wording.knowledge.causes[cause].subsystem, wording)
            lines = wrapped(wording.cause(cause), CAUSE_WIDTH, TEXT)
            yield _Plate(place, lines, wrapped(part, CAUSE_WIDTH, SMALL), CAUSE_WIDTH)
        names = "; ".join(wording.short(name) for name, _ in pair.findings[:MOST_FINDINGS])
        notes = [names, _how_far(pair, wording)] if pair.findings else [wording.say("graph-by-nothing")]
        shown = tuple(line for note in notes for line in wrapped(note, FINDING_WIDTH, SMALL))
        yield _Plate(_between(pair), (), shown, FINDING_WIDTH)


def _how_far(pair: Pair, wording: Wording) -> str:
    return wording.say("graph-strongest", percent=f"{pair.strongest * HUNDRED:.0f}")


def _source(plates: Iterable[_Plate], lines: Iterable[tuple[str, str]]) -> str:
    import graphviz

    graph = graphviz.Digraph()
    gap, rows = f"{GAP / PIXELS_AN_INCH:.4f}", f"{ROWS / PIXELS_AN_INCH:.4f}"
    graph.attr(rankdir="LR", ordering="out", ranksep=gap, nodesep=rows)
    graph.attr("node", shape="box", fixedsize="true", label="")
    for plate in plates:
        size = {
            "width": f"{plate.width / PIXELS_AN_INCH:.4f}",
            "height": f"{plate.height / PIXELS_AN_INCH:.4f}",
        }
        graph.node(plate.id, **size)
    graph.edges(lines)
    return str(graph.source)


def _edge(tail: _Plate, head: _Plate, middles: dict[str, tuple[float, float]], heavy: set[str]) -> Iterator[str]:
    """Yield the line between two plates, from the right end of one to the left end of the other."""
    (x1, y1), (x2, y2) = middles[tail.id], middles[head.id]
    start, end = x1 + tail.width / 2, x2 - head.width / 2
    y1, y2 = y1 + tail.height / 2, y2 + head.height / 2
    reach = (end - start) / 2
    path = f"M{start:.1f} {y1:.1f}C{start + reach:.1f} {y1:.1f} {end - reach:.1f} {y2:.1f} {end:.1f} {y2:.1f}"
    color, thick = (INK, 2) if {tail.id, head.id} & heavy else (PALE, 0.9)
    yield f'<path d="{path}" fill="none" stroke="{color}" stroke-width="{thick}"/>'


def _drawn(plate: _Plate, middle: tuple[float, float], heavy: set[str]) -> Iterator[str]:
    left, top = middle[0] - plate.width / 2, middle[1] - plate.height / 2
    y = top
    for line in plate.lines:
        yield _text(left, y + TEXT_LINE * BASELINE, TEXT, line)
        y += TEXT_LINE
    for note in plate.notes:
        between = not plate.lines
        yield _text(left, y + SMALL_LINE * BASELINE, SMALL, note, fill=TINT if between else PALE_TEXT)
        y += SMALL_LINE
    color, thick = (INK, 2) if plate.id in heavy else (PALE, 0.9)
    bottom = top + plate.height
    yield f'<path d="M{left:.1f} {bottom:.1f}h{plate.width}" stroke="{color}" stroke-width="{thick}"/>'


def _text(x: float, y: float, size: float, text: str, weight: str = "normal", fill: str = INK) -> str:
    bold = ' font-weight="bold"' if weight == "bold" else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{fill}"{bold}>{escape(text)}</text>'


def summary(knowledge: Knowledge, found: Separation) -> str:
    """Return what the graph tells, as text: look-alikes, holes, and one-way mistakes."""
    wording = Wording(knowledge)
    links = sum(len(cause.shows) for cause in knowledge.causes.values())
    head = wording.say(
        "graph-summary",
        causes=len(knowledge.causes),
        findings=len(knowledge.findings),
        links=links,
        edition=knowledge.edition,
    )
    sections = [
        ("graph-alike", [", ".join(group) for group in found.alike]),
        ("graph-alike-phone", [_pair_line(pair, wording) for pair in found.alike_on_the_phone]),
        ("graph-close", [_pair_line(pair, wording) for pair in found.close]),
        (
            "graph-unreachable",
            [wording.say("graph-unreachable-line", kind=item.kind, id=item.id) for item in found.unreachable],
        ),
        ("graph-cycles", [", ".join(ring) for ring in found.rings]),
        ("graph-one-way", [wording.say("graph-names", one=one, other=other) for one, other in found.one_way]),
        ("graph-mistaken", [_pair_line(pair, wording) for pair in found.mistaken]),
    ]
    lines = [wording.say("graph-title"), head]
    for key, items in sections:
        lines += ["", wording.say(key)]
        lines += [wording.say("graph-line", text=text) for text in items or [wording.say("graph-none")]]
    return "\n".join(lines) + "\n"


def _pair_line(pair: Pair, wording: Wording) -> str:
    by = wording.say("graph-by-nothing")
    if pair.findings:
        names = ", ".join(name for name, _ in pair.findings[:MOST_FINDINGS])
        by = wording.say("graph-by", findings=names, how=_how_far(pair, wording))
    return wording.say("graph-pair", one=pair.one, other=pair.other, by=by)
