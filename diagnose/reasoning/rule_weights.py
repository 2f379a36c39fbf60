"""How much the rules that fired weigh: inferred findings and factors on the odds of causes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from diagnose.reasoning.firings import Conclusions, Firing
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge
    from diagnose.reasoning.tables import Base

_FACTORS = {"little": 2.0, "clearly": 4.0}
_WEIGHING = ("exclude", "establish", "support", "weaken")


def best_value(finding: Finding, values: Sequence[str]) -> str:
    """Return what was said or, of a measurement, the value it speaks for most."""
    if finding.said is not None:
        return finding.said
    return values[max(range(len(values)), key=finding.likelihood.__getitem__)]


def inferred_findings(
    firings: Iterable[Firing], findings: Iterable[Finding], knowledge: Knowledge
) -> tuple[Finding, ...]:
    """Return a finding for each that follows from others and that nobody has answered.

    Two values inferred for one finding each count against the other; none is then said.
    """
    doubts = _doubts(firings, findings, knowledge)
    answered = {finding.finding for finding in findings}
    sentences = {
        (firing.finding, firing.value): (firing.because, firing.rule)
        for firing in sorted(firings, reverse=True)
        if firing.kind == "infer" and firing.finding not in answered
    }
    made = []
    for name in sorted({str(finding) for finding, _ in sentences}):
        values = tuple(knowledge.findings[name].values)
        said = [value for value in values if (name, value) in doubts]
        if not said:
            continue
        likelihood = [1.0] * len(values)
        for value in said:
            doubt = doubts[name, value]
            for place, other in enumerate(values):
                likelihood[place] *= 1 - doubt if other == value else doubt / (len(values) - 1)
        total = math.fsum(likelihood)
        shares = tuple(part / total for part in likelihood)
        because, rule = sentences[name, said[0]]
        made.append(Finding(name, shares, said[0] if len(said) == 1 else None, max(shares), because, rule))
    return tuple(made)


def _doubts(
    firings: Iterable[Firing], findings: Iterable[Finding], knowledge: Knowledge
) -> dict[tuple[str, str], float]:
    """Return the probability that a value is wrong, for each finding and value that is taken to hold.

    An inferred value is as doubtful as the weakest ground of the strongest rule that infers it.
    """
    doubts = {}
    for finding in findings:
        values = tuple(knowledge.findings[finding.finding].values)
        value = best_value(finding, values)
        doubts[finding.finding, value] = _doubt(finding, values.index(value))
    answered = {name for name, _ in doubts}
    rules = [firing for firing in firings if firing.kind == "infer" and firing.finding not in answered]
    changed = True
    while changed:
        changed = False
        for firing in rules:
            if any(ground not in doubts for ground in firing.grounds):
                continue
            target = (str(firing.finding), str(firing.value))
            doubt = max(doubts[ground] for ground in firing.grounds)
            if target not in doubts or doubt < doubts[target]:
                doubts[target] = doubt
                changed = True
    return doubts


def _doubt(finding: Finding, place: int) -> float:
    return 1 - finding.likelihood[place] / math.fsum(finding.likelihood)


def rule_factors(
    firings: Iterable[Firing],
    evidence: Iterable[Finding],
    knowledge: Knowledge,
    base: Base,
    parameters: Parameters = DEFAULT,
) -> tuple[tuple[Firing, float], ...]:
    """Return the rules that weigh on a cause, each with its factor on the odds of the cause.

    An answer counts once for a cause: of rules that share a ground only the strongest counts, and where
    the cause also links to a ground of an exclusion or of something seen directly, the two together
    weigh as much as the stronger. Support and weakening share no ground with a link (the reader checks).

    Parameters
    ----------
    firings : iterable of Firing
        Every rule that fired.
    evidence : iterable of Finding
        What was answered, measured and inferred.
    knowledge : Knowledge
        The rules.
    base : Base
        Causes and tables.
    parameters : Parameters
        Floor of an exclusion, link and leak of something seen directly.
    """
    by_name = {finding.finding: finding for finding in evidence}
    roots = _roots(firings)
    weighed: dict[str, list[tuple[float, Firing, frozenset[str]]]] = {}
    for firing in firings:
        if firing.kind in _WEIGHING and firing.cause is not None and firing.cause in base.index:
            doubt = max(_ground_doubt(ground, by_name, knowledge) for ground in firing.grounds)
            used = frozenset[str]().union(*(roots.get(name, {name}) | {name} for name, _ in firing.grounds))
            factor = _factor(firing, doubt, knowledge, parameters)
            weighed.setdefault(firing.cause, []).append((factor, firing, used))
    counted = []
    for cause, rules in weighed.items():
        taken: set[str] = set()
        for factor, firing, used in sorted(rules, key=lambda rule: (-abs(math.log(rule[0])), rule[1])):
            if not taken & used:
                taken |= used
                link = math.prod(
                    odds_factor(base, by_name[name], base.index[cause]) for name in sorted(used) if name in by_name
                )
                beyond = factor / link
                counted.append((firing, max(beyond, 1.0) if factor > 1 else min(beyond, 1.0)))
    return tuple(counted)


def odds_factor(base: Base, finding: Finding, cause: int) -> float:
    """Return the factor that a finding has on the odds of one cause against nothing wrong.

    Parameters
    ----------
    base : Base
        The tables.
    finding : Finding
        What was said or measured.
    cause : int
        Position of the cause in the base.
    """
    table = base.tables.get(finding.finding)
    if table is None:
        return 1.0
    there = sum(part * chance for part, chance in zip(finding.likelihood, table.given((cause,)), strict=True))
    absent = sum(part * chance for part, chance in zip(finding.likelihood, table.given(()), strict=True))
    return float(there / absent)


def factors_from_firings(
    conclusions: Conclusions,
    findings: Iterable[Finding],
    knowledge: Knowledge,
    base: Base,
    parameters: Parameters = DEFAULT,
) -> dict[str, float]:
    """Return the factor on the odds of each single cause, from nothing but the rules that fired.

    The ranking finds the same from its tables: what ranks a cause is the record of rules that fired.

    Parameters
    ----------
    conclusions : Conclusions
        With the record.
    findings : iterable of Finding
        What was answered and measured.
    knowledge : Knowledge
        The rules.
    base : Base
        Causes and tables.
    parameters : Parameters
        The numbers of the reasoning.
    """
    evidence = {finding.finding: finding for finding in (*findings, *conclusions.inferred)}
    factors = dict.fromkeys(base.causes, 1.0)
    links = {(firing.cause, firing.finding) for firing in conclusions.firings if firing.kind == "link"}
    for cause, name in links:
        if cause is not None and cause in base.index and name in evidence:
            factors[cause] *= odds_factor(base, evidence[name], base.index[cause])
    for firing, factor in rule_factors(conclusions.firings, evidence.values(), knowledge, base, parameters):
        factors[str(firing.cause)] *= factor
    return factors


def _roots(firings: Iterable[Firing]) -> dict[str, set[str]]:
    """Return, for each inferred finding, the findings it rests on in the end."""
    roots: dict[str, set[str]] = {}
    rules = [firing for firing in firings if firing.kind == "infer"]
    changed = True
    while changed:
        changed = False
        for firing in rules:
            rests = roots.setdefault(str(firing.finding), set())
            before = len(rests)
            for name, _ in firing.grounds:
                rests |= {name} | roots.get(name, set())
            changed = changed or len(rests) > before
    return roots


def _ground_doubt(ground: tuple[str, str], evidence: Mapping[str, Finding], knowledge: Knowledge) -> float:
    name, value = ground
    return _doubt(evidence[name], tuple(knowledge.findings[name].values).index(value))


def _factor(firing: Firing, doubt: float, knowledge: Knowledge, parameters: Parameters) -> float:
    """Return the factor of one rule on the odds of its cause; `doubt` is that of its weakest ground."""
    if firing.kind == "exclude":
        return max(doubt, parameters.exclude_floor)
    if firing.kind == "establish":
        link, leak = parameters.establish_link, parameters.establish_leak
        return ((1 - doubt) * link + doubt * (1 - link)) / ((1 - doubt) * leak + doubt * (1 - leak))
    strength = _FACTORS[knowledge.rules[firing.rule].factor or "little"]
    return strength if firing.kind == "support" else 1 / strength
