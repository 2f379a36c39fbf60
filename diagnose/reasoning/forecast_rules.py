"""What the rules will make of an answer: their factors on the odds of causes, put into the forecast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from diagnose.model.entries import RuleEntry, Where
from diagnose.model.reading import Knowledge
from diagnose.reasoning.firings import Firing
from diagnose.reasoning.forecast import wrong_rate
from diagnose.reasoning.rule_weights import rule_factors
from diagnose.reasoning.tables import Base, Floats, Indices
from diagnose.reasoning.values import Finding
from diagnose.settings import Parameters

_WEIGHING = frozenset({"exclude", "establish", "support", "weaken"})
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Heard:
    """What rules make of the answers to one finding.

    Parameters
    ----------
    finding : str
        Its id.
    cause : int
        The cause they speak of, by position.
    factors : ndarray, shape (V,)
        Factor on the odds of the cause for each value said.
    """

    finding: str
    cause: int
    factors: Floats


_kept: dict[tuple[object, ...], tuple[Base, Knowledge, tuple[Heard, ...]]] = {}
_MOST_KEPT = 16


def heard_by_rules(
    base: Base, knowledge: Knowledge, values: Mapping[str, str], where: Where, parameters: Parameters
) -> tuple[Heard, ...]:
    """Return what rules will make of the next answer, for each finding and cause they speak of.

    Parameters
    ----------
    base : Base
        The causes and findings of the clock.
    knowledge : Knowledge
        The rules.
    values : mapping of str to str
        What was said already: of a rule with several grounds the last open one decides.
    where : str
        Who answers, and so how often the answer is wrong.
    parameters : Parameters
        The numbers of the reasoning.
    """
    weighing = [(key, rule) for key, rule in knowledge.rules.items() if rule.kind in _WEIGHING]
    grounds = sorted({ground.finding for _, rule in weighing if len(rule.when) > 1 for ground in rule.when})
    # Only what decides a rule of several grounds counts, so that what is kept depends on its key alone.
    values = {name: values[name] for name in grounds if name in values}
    key = (id(base), id(knowledge), where, parameters, tuple(values.items()))
    if key not in _kept:
        if len(_kept) >= _MOST_KEPT:
            _kept.clear()
        # Base and knowledge are kept beside it, so that their ids cannot be given to others meanwhile.
        _kept[key] = (base, knowledge, _heard(base, knowledge, dict(weighing), values, where, parameters))
    return _kept[key][2]


def _heard(
    base: Base,
    knowledge: Knowledge,
    rules: Mapping[str, RuleEntry],
    values: Mapping[str, str],
    where: Where,
    parameters: Parameters,
) -> tuple[Heard, ...]:
    factors: dict[tuple[str, int], Floats] = {}
    firings: dict[tuple[str, str], list[Firing]] = {}
    for key, rule in rules.items():
        still_open = [ground for ground in rule.when if ground.finding not in values]
        met = [(ground.finding, values[ground.finding]) for ground in rule.when if ground.finding in values]
        allowed = {ground.finding: ground.is_ for ground in rule.when}
        if len(still_open) != 1 or rule.cause not in base.index or any(said not in allowed[f] for f, said in met):
            continue
        name = still_open[0].finding
        for value in still_open[0].is_ if name in base.tables else ():
            firing = Firing(key, rule.kind, (*met, (name, value)), rule.cause, rule.finding, rule.value, "")
            firings.setdefault((name, value), []).append(firing)
    for (name, value), fired in firings.items():
        grounds = sorted({ground for firing in fired for ground in firing.grounds})
        evidence = [_said(ground, said, knowledge, where, parameters) for ground, said in grounds]
        for firing, factor in rule_factors(fired, evidence, knowledge, base, parameters):
            table = base.tables[name]
            row = factors.setdefault((name, base.index[str(firing.cause)]), np.ones(len(table.values)))
            row[table.values.index(value)] *= factor
    return tuple(Heard(name, cause, row) for (name, cause), row in sorted(factors.items(), key=lambda item: item[0]))


def _said(name: str, value: str, knowledge: Knowledge, where: Where, parameters: Parameters) -> Finding:
    """Return an answer as it will be taken in, with the mean chance of being wrong."""
    entry = knowledge.findings[name]
    wrong = wrong_rate(entry, where, parameters)
    others = max(len(entry.values) - 1, 1)
    likelihood = tuple(1.0 - wrong if other == value else wrong / others for other in entry.values)
    return Finding(name, likelihood, value)


def with_rules(said: Floats, names: tuple[str, ...], members: Indices, heard: tuple[Heard, ...]) -> Floats:
    """Return the forecast with what the rules add: an answer that a rule holds against a cause is rarer with it.

    Parameters
    ----------
    said : ndarray, shape (S + 1, Q, V)
        Chance of each answer for each set; the last row is a fault that is not on the list.
    names : tuple of str, Q
        The findings.
    members : ndarray of int, shape (S, m)
        The causes of each set.
    heard : tuple of Heard
        From `heard_by_rules`.

    Returns
    -------
    ndarray, shape (S + 1, Q, V)
        Each row adds up to what it did, so that forecast and belief agree: sum_s P(s) P(c | s) = P(c).
    """
    place = {name: number for number, name in enumerate(names)}
    told = [one for one in heard if one.finding in place]
    if not told:
        return said
    result = said.copy()
    for one in told:
        rows = np.flatnonzero((members == one.cause).any(axis=1))
        column, width = place[one.finding], len(one.factors)
        before = result[rows, column, :width]
        after = before * one.factors
        scale = before.sum(axis=1, keepdims=True) / np.maximum(after.sum(axis=1, keepdims=True), _TINY)
        result[rows, column, :width] = after * scale
    return result
