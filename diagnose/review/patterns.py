"""Checks on rules: those that never fire, never stay silent, say the same twice, or run in a ring."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.model.entries import RuleEntry
from diagnose.model.graph import same_clock
from diagnose.model.reading import Knowledge

Found = Iterator[tuple[str, str, str]]


def never_fires(knowledge: Knowledge) -> Found:
    """Grounds that cannot hold together: two values of one finding, a shut gate, clocks that never meet."""
    for key, rule in knowledge.rules.items():
        grounds = _grounds(rule)
        for finding, values in grounds.items():
            if not values:
                yield "rules", key, f"never fires: '{finding}' cannot have two values at once"
            for gate, open_ in knowledge.findings[finding].needs.items():
                if gate in grounds and not grounds[gate] & set(open_):
                    yield "rules", key, f"never fires: with '{gate}' so, '{finding}' is not asked"
        names = sorted(grounds)
        for number, one in enumerate(names):
            for other in names[number + 1 :]:
                if not same_clock(knowledge.findings[one].applies, knowledge.findings[other].applies):
                    yield "rules", key, f"never fires: no clock has both '{one}' and '{other}'"


def _grounds(rule: RuleEntry) -> dict[str, set[str]]:
    """Return the values each ground allows; grounds on one finding must all hold."""
    grounds: dict[str, set[str]] = {}
    for ground in rule.when:
        allowed = set(ground.is_)
        grounds[ground.finding] = grounds.get(ground.finding, allowed) & allowed
    return grounds


def never_silent(knowledge: Knowledge) -> Found:
    """A rule whose grounds allow every value of their findings."""
    for key, rule in knowledge.rules.items():
        if all(values >= set(knowledge.findings[name].values) for name, values in _grounds(rule).items()):
            yield "rules", key, "never stays silent: its grounds allow every value"


def said_twice(knowledge: Knowledge) -> Found:
    """A rule that another one with the same target makes needless, for it fires on less."""
    rules = list(knowledge.rules.items())
    for key, rule in rules:
        for other, wider in rules:
            if other != key and _target(rule) == _target(wider) and _covers(_grounds(wider), _grounds(rule)):
                yield "rules", key, f"says nothing new: '{other}' fires whenever it does"


def _target(rule: RuleEntry) -> tuple[object, ...]:
    return (rule.kind, rule.finding, rule.value, rule.cause, rule.factor, rule.caution, rule.reason)


def _covers(wide: Mapping[str, set[str]], narrow: Mapping[str, set[str]]) -> bool:
    return wide != narrow and all(name in narrow and narrow[name] <= values for name, values in wide.items())


def needs_in_a_ring(knowledge: Knowledge) -> Found:
    """Findings that wait for one another."""
    needs = {name: set(entry.needs) for name, entry in knowledge.findings.items()}
    yield from _rings(needs, "findings", "is asked only after itself")


def infers_in_a_ring(knowledge: Knowledge) -> Found:
    """Findings inferred, over some steps, from themselves."""
    grounds: dict[str, set[str]] = {}
    for rule in knowledge.rules.values():
        if rule.kind == "infer" and rule.finding is not None:
            grounds.setdefault(rule.finding, set()).update(ground.finding for ground in rule.when)
    yield from _rings(grounds, "findings", "is inferred from itself")


def _rings(leads: Mapping[str, set[str]], collection: str, what: str) -> Found:
    import networkx

    graph = networkx.DiGraph((name, other) for name, others in leads.items() for other in others)
    for ring in networkx.simple_cycles(graph):
        first = min(ring)
        yield collection, first, f"{what}: {', '.join(sorted(ring))}"
