"""Checks on causes two by two: what is the same, what nothing tells apart, what nothing uses."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.model.graph import Separation, separation
from diagnose.model.made_once import made_once
from diagnose.model.reading import Knowledge

Found = Iterator[tuple[str, str, str]]


@made_once
def _apart(knowledge: Knowledge) -> Separation:
    """Return what tells which causes apart, made once."""
    return separation(knowledge)


def same_signature(knowledge: Knowledge) -> Found:
    """Two causes with the very same links: a base cannot hold both."""
    seen: dict[frozenset[tuple[str, str, str]], str] = {}
    for key, cause in knowledge.causes.items():
        signature = frozenset((link.finding, link.value, link.often) for link in cause.shows)
        if signature in seen:
            yield "causes", key, f"shows exactly what '{seen[signature]}' shows"
        seen.setdefault(signature, key)


def not_told_apart(knowledge: Knowledge) -> Found:
    """Look-alikes (named as such, or found) that no finding separates."""
    found = _apart(knowledge)
    for pair in found.mistaken:
        if not pair.findings and not _by_history(knowledge, pair.one, pair.other):
            yield "causes", pair.one, f"is mistaken for '{pair.other}' and no finding tells them apart"
    for group in found.alike:
        yield "causes", group[0], f"no finding tells it from {', '.join(group[1:])}"


def _by_history(knowledge: Knowledge, one: str, other: str) -> bool:
    """Return whether what happened before tells two causes apart."""
    return knowledge.causes[one].raised_by != knowledge.causes[other].raised_by


def one_way(knowledge: Knowledge) -> Found:
    """A cause that names a look-alike which does not name it."""
    for one, other in _apart(knowledge).one_way:
        yield "causes", other, f"'{one}' is mistaken for it, yet it does not name '{one}'"


def rings(knowledge: Knowledge) -> Found:
    """Causes each of which names the next as its look-alike, and none is named back."""
    for ring in _apart(knowledge).rings:
        yield "causes", ring[0], f"look-alikes run in a ring: {', '.join(ring)}"


def unused(knowledge: Knowledge) -> Found:
    """A finding, remedy, caution, part or drawing that nothing leads to."""
    for entry in _apart(knowledge).unreachable:
        yield entry.kind, entry.id, "nothing uses it"
