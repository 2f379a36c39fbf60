"""Spoils the knowledge link by link and rule by rule, and counts what the recorded cases notice.

A check on the checks: a base whose tests stay green while a link is deleted says nothing about its links.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from diagnose.model.entries import Link, RuleEntry
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.tables import compile_base
from tests.knowledge.odds_cases import TOLERANCE_DB, OddsCase, concluded, weigh

WORDS = ("improbable", "uncertain", "fifty-fifty", "expected", "probable", "certain")
# Kinds of rules that say something of a cause, with the kind that says the opposite.
OPPOSITE = {"support": "weaken", "weaken": "support"}


def spoiled_links(link: Link, knowledge: Knowledge) -> Iterator[tuple[str, Link | None]]:
    """Yield the ways to spoil a link: gone, flipped to another value, one and two words off."""
    yield "deleted", None
    entry = knowledge.findings[link.finding]
    others = [value for value in entry.values if value not in {link.value, entry.normal}]
    if others:
        yield "flipped", link.model_copy(update={"value": others[0]})
    place = WORDS.index(link.often)
    for off, name in ((1, "one word off"), (2, "two words off")):
        for to in (place - off, place + off):
            if 0 <= to < len(WORDS):
                yield name, link.model_copy(update={"often": WORDS[to]})


def noticed(cases: list[OddsCase], cause: str, knowledge: Knowledge) -> bool:
    """Return whether any recorded case of a cause no longer holds."""
    return any(abs(weigh(cause, case.said, knowledge) - case.decibans) > TOLERANCE_DB for case in cases)


def count_links(
    cases: tuple[OddsCase, ...], knowledge: Knowledge, causes: list[str]
) -> tuple[Counter[str], Counter[str]]:
    """Return how many spoiled links there were of each kind, and how many were noticed."""
    tried: Counter[str] = Counter()
    seen: Counter[str] = Counter()
    for cause in causes:
        own = [case for case in cases if case.cause == cause]
        entry = knowledge.causes[cause]
        for number, link in enumerate(entry.shows):
            for kind, spoiled in spoiled_links(link, knowledge):
                rest = (*entry.shows[:number], *((spoiled,) if spoiled else ()), *entry.shows[number + 1 :])
                # Two links to one value are refused by the reader before any case is asked.
                values = [(item.finding, item.value) for item in rest]
                if len(set(values)) < len(values) or _too_much(rest, knowledge):
                    continue
                changed = replace(
                    knowledge, causes={**knowledge.causes, cause: entry.model_copy(update={"shows": rest})}
                )
                tried[kind] += 1
                seen[kind] += noticed(own, cause, changed)
    return tried, seen


def _too_much(links: tuple[Link, ...], knowledge: Knowledge) -> bool:
    """Return whether links to one finding add up to more than 1, which the reader refuses."""
    total: Counter[str] = Counter()
    for link in links:
        total[link.finding] += knowledge.probabilities[link.often].probability
    return max(total.values(), default=0.0) > 1


def spoiled_rules(rule: RuleEntry) -> Iterator[tuple[str, RuleEntry | None]]:
    """Yield the ways to spoil a rule: gone, flipped, one ground gone, one allowed value gone."""
    yield "deleted", None
    if rule.kind in OPPOSITE:
        yield "flipped", rule.model_copy(update={"kind": OPPOSITE[rule.kind]})
    if len(rule.when) > 1:
        for number in range(len(rule.when)):
            yield "ground gone", rule.model_copy(update={"when": (*rule.when[:number], *rule.when[number + 1 :])})


def count_rules(
    records: dict[str, list[dict[str, object]]], knowledge: Knowledge, names: list[str]
) -> tuple[Counter[str], Counter[str]]:
    """Return how many spoiled rules there were of each kind, and how many were noticed."""
    tried: Counter[str] = Counter()
    seen: Counter[str] = Counter()
    base = compile_base(knowledge, ClockFacts())
    for name in names:
        for kind, spoiled in spoiled_rules(knowledge.rules[name]):
            rules = {key: rule for key, rule in knowledge.rules.items() if key != name}
            if spoiled is not None:
                rules[name] = spoiled
            changed = replace(knowledge, rules=rules)
            tried[kind] += 1
            seen[kind] += any(concluded(item["said"], changed, base) != item["concluded"] for item in records[name])  # type: ignore[arg-type]
    return tried, seen
