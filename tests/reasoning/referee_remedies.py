"""Remedies solved in two other ways: value by value through every history, and by a library.

`through_remedies` carries, for each history, the distribution of every finding's true value forward in
time: it stays, or it is drawn anew, and each answer weighs it. The engine does it by ratios instead.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product

from tests.reasoning.referee_nets import (
    LIMIT,
    Net,
    add_causes,
    add_node,
    explicit_table,
    gum,
    sets_of,
    share_of_each_value,
)


@dataclass(frozen=True)
class Tried:
    """A remedy: the causes it is for, how often it works, and the findings it changes itself."""

    causes: tuple[str, ...]
    works: float
    changed: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Told:
    """The answers between two remedies, by finding, and the remedy after them."""

    answers: Mapping[str, tuple[float, ...]]
    tried: Tried | None = None
    said: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Now:
    """By set of causes as the clock is now; with `other` the weights add up to 1.

    `beyond` is the share of what began with more than three causes.
    """

    weights: Mapping[tuple[str, ...], float]
    other: float
    wrong: Mapping[str, float]
    beyond: float = 0.0

    def of(self, cause: str) -> float:
        return sum(weight for causes, weight in self.weights.items() if cause in causes)


def through_remedies(net: Net, told: Sequence[Told], limit: int | None = LIMIT) -> Now:
    """Solve a course of remedies by going through every set and every way the remedies may have gone."""
    told = without_replaced(net, told)
    known = 1 - net.nothing_wrong - net.none_of_these
    sets = {causes: math.prod(net.odds[cause] for cause in causes) for causes in sets_of(net.odds, limit)}
    scale = sum(weight for causes, weight in sets.items() if causes) / known
    prior = {causes: weight / scale if causes else net.nothing_wrong for causes, weight in sets.items()}
    newest = {name: number for number, piece in enumerate(told) for name in piece.said}
    now: dict[tuple[str, ...], float] = {}
    right = dict.fromkeys(newest, 0.0)
    beyond = 0.0
    for first, share in prior.items():
        for course in product((False, True), repeat=sum(piece.tried is not None for piece in told)):
            weight, last, said_right = _history(net, told, first, course, newest)
            now[last] = now.get(last, 0.0) + share * weight
            beyond += share * weight * (len(first) > LIMIT)
            for name in newest:
                right[name] += share * weight * said_right[name]
    average = {
        name: [
            sum(prior[causes] * share_of_each_value(sign, causes)[place] for causes in sets if causes) / known
            for place in range(len(sign.values))
        ]
        for name, sign in net.signs.items()
    }
    other, said_right = _aside(net, told, average, newest)
    other *= net.none_of_these
    for name in newest:
        right[name] += other * said_right[name]
    total = sum(now.values()) + other
    weights = {causes: weight / total for causes, weight in now.items()}
    wrong = {name: 1 - part / total for name, part in right.items()}
    return Now(weights, other / total, wrong, beyond / total)


def without_replaced(net: Net, told: Sequence[Told]) -> list[Told]:
    """Leave out an answer that is given again before a remedy has touched its finding."""
    kept = []
    for number, piece in enumerate(told):
        answers = dict(piece.answers)
        for name in piece.answers:
            for before, later in zip(told[number:], told[number + 1 :], strict=False):
                if before.tried is not None and touches(net, before.tried, name):
                    break
                if name in later.answers:
                    del answers[name]
                    break
        said = {name: value for name, value in piece.said.items() if name in answers}
        kept.append(Told(answers, piece.tried, said))
    return kept


def touches(net: Net, tried: Tried, name: str) -> bool:
    sign = net.signs[name]
    shown = sign.kind != "circumstance" and any(cause in sign.links for cause in tried.causes)
    return shown or name in tried.changed


def _history(
    net: Net, told: Sequence[Told], first: tuple[str, ...], course: Sequence[bool], newest: Mapping[str, int]
) -> tuple[float, tuple[str, ...], dict[str, float]]:
    """Return P(course, all answers | first set), the last set, and P(said value right) of the newest answers.

    A course in which a remedy "worked" on a set without its causes is counted once only.
    """
    weight, causes = 1.0, first
    values = {name: share_of_each_value(sign, first) for name, sign in net.signs.items()}
    right: dict[str, float] = {}
    turns = iter(course)
    for number, piece in enumerate(told):
        for name, given in piece.answers.items():
            values[name] = [part * here for part, here in zip(values[name], given, strict=True)]
        for name in values:
            if newest.get(name) == number:
                place = net.signs[name].values.index(piece.said[name])
                right[name] = values[name][place] / sum(values[name])
        if piece.tried is None:
            continue
        worked, gone = next(turns), [cause for cause in causes if cause in piece.tried.causes]
        if gone:
            weight *= piece.tried.works if worked else 1 - piece.tried.works
        elif worked:
            return 0.0, causes, dict.fromkeys(newest, 0.0)
        if worked:
            causes = tuple(cause for cause in causes if cause not in gone)
        for name, sign in net.signs.items():
            shown = worked and sign.kind != "circumstance" and any(cause in sign.links for cause in gone)
            if shown or name in piece.tried.changed:
                weight *= sum(values[name])
                values[name] = share_of_each_value(sign, causes)
    return weight * math.prod(sum(parts) for parts in values.values()), causes, right


def _aside(
    net: Net, told: Sequence[Told], average: Mapping[str, list[float]], newest: Mapping[str, int]
) -> tuple[float, dict[str, float]]:
    """Return the same for a fault that is not on the list, which no remedy cures."""
    weight, values, right = 1.0, {name: list(parts) for name, parts in average.items()}, {}
    for number, piece in enumerate(told):
        for name, given in piece.answers.items():
            values[name] = [part * here for part, here in zip(values[name], given, strict=True)]
        for name in values:
            if newest.get(name) == number:
                place = net.signs[name].values.index(piece.said[name])
                right[name] = values[name][place] / sum(values[name])
        for name in piece.tried.changed if piece.tried is not None else ():
            weight *= sum(values[name])
            values[name] = list(average[name])
    return weight * math.prod(sum(parts) for parts in values.values()), right


def agrum_after_remedy(net: Net, before: Told, after: Told) -> dict[str, float]:
    """Return P(cause is there now | not none of these) after one remedy, by lazy propagation.

    Nodes: the causes before, whether the remedy works, the causes after; of each finding its value
    before, the value it would have anew, and the value after, which is one of the two.
    """
    tried = before.tried
    if tried is None:
        raise ValueError("one remedy is needed")
    bayes = gum.BayesNet()
    add_causes(bayes, net, LIMIT)
    add_node(bayes, "works", [], [[1 - tried.works, tried.works]])
    for cause in net.odds:
        stays = [[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 0.0] if cause in tried.causes else [0.0, 1.0]]
        add_node(bayes, f"{cause}-now", [cause, "works"], stays)
    for name in {*before.answers, *after.answers}:
        _add_twice(bayes, net, name, tried)
    evidence: dict[str, object] = {"asked": 1}
    evidence |= {name: list(given) for name, given in before.answers.items()}
    evidence |= {f"{name}-now": list(given) for name, given in after.answers.items()}
    engine = gum.LazyPropagation(bayes)
    engine.setEvidence(evidence)
    engine.makeInference()
    return {cause: float(engine.posterior(f"{cause}-now")[1]) for cause in net.odds}


def _add_twice(bayes: gum.BayesNet, net: Net, name: str, tried: Tried) -> None:
    sign = net.signs[name]
    linked, rows = explicit_table(net, name)
    add_node(bayes, name, linked, rows)
    cured = [cause for cause in linked if cause in tried.causes and sign.kind != "circumstance"]
    add_node(bayes, f"{name}-anew", [f"{cause}-now" for cause in linked], rows)
    moved = [
        [1.0, 0.0] if not (works and any(there)) else [0.0, 1.0]
        for works, *there in product((0, 1), repeat=1 + len(cured))
    ]
    if name in tried.changed:
        moved = [[0.0, 1.0]] * len(moved)
    add_node(bayes, f"{name}-moved", ["works", *cured], moved)
    count = len(sign.values)
    choose = [
        [float(place == (anew if is_moved else value)) for place in range(count)]
        for is_moved, value, anew in product((0, 1), range(count), range(count))
    ]
    add_node(bayes, f"{name}-now", [f"{name}-moved", name, f"{name}-anew"], choose)
