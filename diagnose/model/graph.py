"""What separates what: the knowledge as a graph of causes and findings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

from diagnose.model.entries import Applies, CauseEntry
from diagnose.model.reading import Knowledge

if TYPE_CHECKING:
    import networkx

# Two causes are told apart by a finding where this share of their answers differs (a word of likelihood or so),
# and well told apart from this share on.
TELLS_APART, TELLS_WELL = 0.2, 0.8
# Rings of entries that name each other one way only are looked for up to this length.
LONGEST_RING = 5
ON_THE_PHONE = frozenset({"owner", "owner-on-the-phone"})


@dataclass(frozen=True, slots=True)
class Pair:
    """Two causes and the findings that tell them apart.

    Parameters
    ----------
    one, other : str
        Ids of the causes.
    findings : tuple of (str, float)
        Findings that tell them apart, the strongest first, each with the share of answers that differ [1].
    """

    one: str
    other: str
    findings: tuple[tuple[str, float], ...]

    @property
    def strongest(self) -> float:
        """The largest share of answers that differ; 0 where nothing tells them apart."""
        return self.findings[0][1] if self.findings else 0.0


@dataclass(frozen=True, slots=True)
class Unreachable:
    """An entry that nothing leads to; `kind` is its collection, such as "findings"."""

    kind: str
    id: str


@dataclass(frozen=True, slots=True)
class Separation:
    """What the graph tells.

    Parameters
    ----------
    alike : tuple of tuple of str
        Groups of causes that no finding tells apart.
    alike_on_the_phone : tuple of Pair
        Pairs that no finding an owner can tell tells apart, with what does on a visit or at the bench.
    close : tuple of Pair
        Pairs that one finding only tells apart, or that are told apart weakly; the weakest first.
    mistaken : tuple of Pair
        The pairs that entries name as mistaken for one another.
    unreachable : tuple of Unreachable
        Entries that nothing leads to.
    rings : tuple of tuple of str
        Causes each of which names the next as mistaken, the last the first, and none is named back.
    one_way : tuple of (str, str)
        The first names the second as mistaken, and the second does not name the first.
    """

    alike: tuple[tuple[str, ...], ...]
    alike_on_the_phone: tuple[Pair, ...]
    close: tuple[Pair, ...]
    mistaken: tuple[Pair, ...]
    unreachable: tuple[Unreachable, ...]
    rings: tuple[tuple[str, ...], ...]
    one_way: tuple[tuple[str, str], ...]


def knowledge_graph(knowledge: Knowledge) -> networkx.DiGraph:
    """Return the knowledge as a graph.

    Nodes are (collection, id), for a cause and a finding may bear one name. Edges from a cause to a finding have
    `kind` "shows" and `values`, the probability of each abnormal value; to a cause "mistaken", to a remedy
    "cured", to a part "needs".
    """
    import networkx

    graph = networkx.DiGraph()
    for kind in ("causes", "findings", "remedies", "parts"):
        graph.add_nodes_from((kind, name) for name in getattr(knowledge, kind))
    for name, cause in knowledge.causes.items():
        here = ("causes", name)
        for finding, values in _shown(cause, knowledge).items():
            graph.add_edge(here, ("findings", finding), kind="shows", values=values)
        graph.add_edges_from(((here, ("causes", item.cause)) for item in cause.mistaken_for), kind="mistaken")
        graph.add_edges_from(((here, ("remedies", remedy)) for remedy in cause.remedies), kind="cured")
        graph.add_edges_from(((here, ("parts", part)) for part in cause.parts), kind="needs")
    return graph


def _shown(cause: CauseEntry, knowledge: Knowledge) -> dict[str, dict[str, float]]:
    """Return, for each finding a cause shows, the probability of each of its abnormal values."""
    shown: dict[str, dict[str, float]] = {}
    for link in cause.shows:
        word = knowledge.probabilities.get(link.often)
        if word is not None:
            shown.setdefault(link.finding, {})[link.value] = word.probability
    return shown


def separation(knowledge: Knowledge, subsystem: str | None = None) -> Separation:
    """Return what tells which causes apart, and where the knowledge has holes.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    subsystem : str, optional
        Only pairs with a cause of this part of the clock.
    """
    import networkx

    graph = knowledge_graph(knowledge)
    pairs = [
        _pair(one, other, graph, knowledge)
        for one, other in combinations(sorted(knowledge.causes), 2)
        if subsystem is None or subsystem in {knowledge.causes[one].subsystem, knowledge.causes[other].subsystem}
        if same_clock(knowledge.causes[one].applies, knowledge.causes[other].applies)
    ]
    alike = networkx.Graph((pair.one, pair.other) for pair in pairs if not pair.findings)
    close = [pair for pair in pairs if pair.findings and (len(pair.findings) == 1 or pair.strongest < TELLS_WELL)]
    edges = graph.edges(data="kind")
    named = networkx.DiGraph((one[1], other[1]) for one, other, kind in edges if kind == "mistaken")
    one_way = networkx.DiGraph((one, other) for one, other in named.edges if not named.has_edge(other, one))
    rings = networkx.simple_cycles(one_way, length_bound=LONGEST_RING)
    return Separation(
        alike=tuple(sorted(tuple(sorted(group)) for group in networkx.connected_components(alike))),
        alike_on_the_phone=tuple(pair for pair in pairs if pair.findings and not _told_apart_by_phone(pair, knowledge)),
        close=tuple(sorted(close, key=lambda pair: (pair.strongest, pair.one, pair.other))),
        mistaken=tuple(pair for pair in pairs if {(pair.one, pair.other), (pair.other, pair.one)} & set(named.edges)),
        unreachable=tuple(unreachable(knowledge)),
        rings=tuple(sorted(_from_the_first(ring) for ring in rings)),
        one_way=tuple(sorted(one_way.edges)),
    )


def _told_apart_by_phone(pair: Pair, knowledge: Knowledge) -> bool:
    """Return whether an owner can tell a finding that tells two causes apart."""
    entries = (knowledge.findings[finding] for finding, _ in pair.findings)
    return any(not entry.told and entry.who in ON_THE_PHONE for entry in entries)


def _from_the_first(ring: list[str]) -> tuple[str, ...]:
    """Return a ring turned so that it begins with the first name."""
    start = ring.index(min(ring))
    return tuple(ring[start:] + ring[:start])


def _pair(one: str, other: str, graph: networkx.DiGraph, knowledge: Knowledge) -> Pair:
    """Return two causes with the findings that tell them apart."""
    apart = []
    for finding in sorted({*_findings_of(one, graph), *_findings_of(other, graph)}):
        entry = knowledge.findings.get(finding)
        # What is a danger to look at is never asked, so it tells nobody anything.
        if entry is None or entry.risk == "danger":
            continue
        share = _differs(_values(one, finding, graph), _values(other, finding, graph))
        if share >= TELLS_APART:
            apart.append((finding, share))
    return Pair(one, other, tuple(sorted(apart, key=lambda item: (-item[1], item[0]))))


def _findings_of(cause: str, graph: networkx.DiGraph) -> Iterator[str]:
    edges = graph.out_edges(("causes", cause), data="kind")
    return (finding for _, (_, finding), kind in edges if kind == "shows")


def _values(cause: str, finding: str, graph: networkx.DiGraph) -> dict[str, float]:
    edge: dict[str, Any] = graph.get_edge_data(("causes", cause), ("findings", finding), default={})
    values: dict[str, float] = edge.get("values", {})
    return values


def _differs(one: dict[str, float], other: dict[str, float]) -> float:
    """Return the share of answers that differ: half the sum of differences, normal included [1]."""
    abnormal = sum(abs(one.get(value, 0.0) - other.get(value, 0.0)) for value in {*one, *other})
    normal = abs(sum(one.values()) - sum(other.values()))
    return (abnormal + normal) / 2


def same_clock(one: Applies, other: Applies) -> bool:
    """Return whether one clock can be of both kinds."""
    kinds = ((one.families, other.families), (one.drives, other.drives), (one.escapements, other.escapements))
    more = ((one.strikes, other.strikes), (one.chimes, other.chimes))
    return all(not mine or not theirs or set(mine) & set(theirs) for mine, theirs in (*kinds, *more))


def unreachable(knowledge: Knowledge) -> Iterator[Unreachable]:
    """Yield the entries that nothing leads to."""
    for kind, known, named in (
        ("findings", knowledge.findings, _named_findings(knowledge)),
        ("remedies", knowledge.remedies, {name for cause in knowledge.causes.values() for name in cause.remedies}),
        ("cautions", knowledge.cautions, _named_cautions(knowledge)),
        ("parts", knowledge.parts, _named_parts(knowledge)),
        ("drawings", knowledge.drawings, _named_drawings(knowledge)),
    ):
        yield from (Unreachable(kind, name) for name in sorted(set(known) - named))


def _named_findings(knowledge: Knowledge) -> set[str]:
    named = {link.finding for cause in knowledge.causes.values() for link in cause.shows}
    named |= {finding for cause in knowledge.causes.values() for finding in cause.raised_by}
    named |= {ground.finding for rule in knowledge.rules.values() for ground in rule.when}
    for remedy in knowledge.remedies.values():
        named |= {way.finding for step in remedy.steps for way in step.not_so if way.finding}
        named |= {proof.finding for proof in remedy.proof}
    return named


def _named_cautions(knowledge: Knowledge) -> set[str]:
    holders = (knowledge.causes, knowledge.remedies, knowledge.findings, knowledge.alarms)
    named = {name for entries in holders for entry in entries.values() for name in entry.cautions}
    return named | {rule.caution for rule in knowledge.rules.values() if rule.caution}


def _named_parts(knowledge: Knowledge) -> set[str]:
    return {
        name for entries in (knowledge.causes, knowledge.remedies) for entry in entries.values() for name in entry.parts
    }


def _named_drawings(knowledge: Knowledge) -> set[str]:
    holders = (knowledge.causes, knowledge.findings, knowledge.subsystems, knowledge.places, knowledge.doors)
    named = {entry.drawing for entries in holders for entry in entries.values() if entry.drawing}
    for remedy in knowledge.remedies.values():
        for step in remedy.steps:
            named |= {name for name in (step.drawing, step.right_when.drawing) if name}
    return named
