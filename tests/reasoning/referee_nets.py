"""Random nets, and three ways to solve them that share no code with the engine.

`enumerate_sets` follows the definitions in plain Python over every set of causes; `agrum_posteriors` and
`pgmpy_marginals` hand explicit tables to two general-purpose libraries for Bayesian networks.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import combinations, product

import numpy as np

from diagnose.reasoning.finding_table import Sign
from diagnose.reasoning.ranking import Piece
from diagnose.reasoning.tables import Base, base_from, choice, circumstance, graded
from diagnose.reasoning.values import Finding

with warnings.catch_warnings():
    # Both libraries warn while they are imported, and the first takes a warning raised as an error badly.
    warnings.simplefilter("ignore")
    import pyagrum as gum
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

LIMIT = 3


@dataclass(frozen=True)
class Net:
    """A small world: odds, findings, what was answered, and the shares of nothing and of none of these."""

    odds: Mapping[str, float]
    signs: Mapping[str, Sign]
    answers: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    said: Mapping[str, str] = field(default_factory=dict)
    nothing_wrong: float = 0.03
    none_of_these: float = 0.05

    @property
    def base(self) -> Base:
        return base_from(self.odds, self.signs, nothing_wrong=self.nothing_wrong, none_of_these=self.none_of_these)

    @property
    def piece(self) -> Piece:
        return Piece(tuple(Finding(name, given, self.said.get(name)) for name, given in self.answers.items()))


def share_of_each_value(sign: Sign, causes: Iterable[str]) -> list[float]:
    """Return P(value | causes) from the definitions, one cause and one value at a time."""
    present = [sign.links[cause] for cause in causes if cause in sign.links]
    if sign.kind == "circumstance":
        rates = dict(sign.rates or {})
        weights = []
        for value in sign.values:
            weight = rates[value]
            for factors in present:
                mean = sum(rate * factors.get(name, 1.0) for name, rate in rates.items())
                weight *= factors.get(value, 1.0) / mean
            weights.append(weight)
        return [weight / sum(weights) for weight in weights]
    normal = sign.normal or sign.values[0]
    abnormal = [value for value in sign.values if value != normal]
    leak = sign.leak if isinstance(sign.leak, Mapping) else dict.fromkeys(abnormal, sign.leak / len(abnormal))
    sources = [leak, *present]
    if sign.kind == "graded":
        at_most = [
            math.prod(1 - sum(source.get(worse, 0.0) for worse in sign.values[place + 1 :]) for source in sources)
            for place in range(len(sign.values))
        ]
        return [max(0.0, here - before) for here, before in zip(at_most, [0.0, *at_most[:-1]], strict=True)]
    rate = dict.fromkeys(sign.values, 0.0)
    for source in sources:
        total = sum(source.values())
        for value, probability in source.items():
            rate[value] += -math.log(1 - total) * probability / total if total else 0.0
    whole = sum(rate.values())
    shown = {value: (1 - math.exp(-whole)) * rate[value] / whole if whole else 0.0 for value in abnormal}
    return [shown.get(value, math.exp(-whole)) for value in sign.values]


def sets_of(causes: Iterable[str], limit: int | None) -> Iterator[tuple[str, ...]]:
    names = list(causes)
    for size in range(len(names) + 1 if limit is None else limit + 1):
        yield from combinations(names, size)


@dataclass(frozen=True)
class Solved:
    """What full enumeration says; `weights` by set add up, with `other`, to 1."""

    weights: Mapping[tuple[str, ...], float]
    other: float
    wrong: Mapping[str, float]
    conflict: float

    def of(self, cause: str) -> float:
        return sum(weight for causes, weight in self.weights.items() if cause in causes)


def enumerate_sets(net: Net, limit: int | None = LIMIT) -> Solved:
    """Solve a net by going through every set of causes."""
    share: dict[tuple[str, ...], float] = {
        causes: math.prod(net.odds[cause] for cause in causes) for causes in sets_of(net.odds, limit)
    }
    known = 1 - net.nothing_wrong - net.none_of_these
    scale = sum(weight for causes, weight in share.items() if causes) / known
    prior = {causes: weight / scale if causes else net.nothing_wrong for causes, weight in share.items()}
    tables = {name: _tables_by_set(net.signs[name], share) for name in net.answers}
    average = {
        name: [
            sum(prior[causes] * table[causes][place] for causes in share if causes) / known
            for place in range(len(net.signs[name].values))
        ]
        for name, table in tables.items()
    }
    weight = dict(prior)
    other = net.none_of_these
    mixed = 1.0
    for name, given in net.answers.items():
        for causes in share:
            weight[causes] *= _dot(given, tables[name][causes])
        other *= _dot(given, average[name])
        mixed *= _dot(given, average[name])
    evidence = sum(value for causes, value in weight.items() if causes) / known
    total = sum(weight.values()) + other
    weights = {causes: value / total for causes, value in weight.items()}
    wrong = {}
    for name, value in net.said.items():
        place, given = net.signs[name].values.index(value), net.answers[name]
        right = sum(
            weights[causes] * given[place] * tables[name][causes][place] / _dot(given, tables[name][causes])
            for causes in share
        )
        right += other / total * given[place] * average[name][place] / _dot(given, average[name])
        wrong[name] = 1 - right
    return Solved(weights, other / total, wrong, math.log(mixed / evidence))


def _tables_by_set(sign: Sign, sets: Iterable[tuple[str, ...]]) -> dict[tuple[str, ...], list[float]]:
    """Return P(value | set) for each set, worked out once for each choice of linked causes."""
    known: dict[tuple[str, ...], list[float]] = {}
    tables = {}
    for causes in sets:
        linked = tuple(cause for cause in causes if cause in sign.links)
        if linked not in known:
            known[linked] = share_of_each_value(sign, linked)
        tables[causes] = known[linked]
    return tables


def _dot(left: Iterable[float], right: Iterable[float]) -> float:
    return sum(one * two for one, two in zip(left, right, strict=True))


def asked_about(net: Net, limit: int | None) -> list[float]:
    """Return P(somebody asks about the clock | causes), the last cause changing fastest.

    1 for any fault, less where nothing is wrong, so that the shares before the first answer come out;
    0 for sets beyond the limit.
    """
    sizes = [math.prod(net.odds[cause] for cause in causes) for causes in sets_of(net.odds, limit) if causes]
    idle = net.nothing_wrong * sum(sizes) / (1 - net.nothing_wrong - net.none_of_these)
    # The scale keeps every entry below 1; it cancels in what is compared.
    scale = 1 / max(1.0, idle)
    return [
        min(1.0, scale * (idle if sum(there) == 0 else float(limit is None or sum(there) <= limit)))
        for there in product((0, 1), repeat=len(net.odds))
    ]


def explicit_table(net: Net, name: str) -> tuple[list[str], list[list[float]]]:
    """Return the linked causes of a finding, and its rows with the last cause changing fastest."""
    linked = [cause for cause in net.odds if cause in net.signs[name].links]
    rows = []
    for there in product((0, 1), repeat=len(linked)):
        causes = [cause for cause, is_there in zip(linked, there, strict=True) if is_there]
        rows.append(share_of_each_value(net.signs[name], causes))
    return linked, rows


def add_node(bayes: gum.BayesNet, name: str, parents: Iterable[str], rows: list[list[float]]) -> None:
    """Add a node to a pyAgrum net; in `rows` the last parent changes fastest."""
    bayes.add(gum.LabelizedVariable(name, name, len(rows[0])))
    for parent in reversed(list(parents)):
        bayes.addArc(parent, name)
    bayes.cpt(name).fillWith([part for row in rows for part in row])


def add_causes(bayes: gum.BayesNet, net: Net, limit: int | None) -> None:
    """Add the causes and the node that says that somebody asks about the clock."""
    for cause, odds in net.odds.items():
        add_node(bayes, cause, [], [[1 / (1 + odds), odds / (1 + odds)]])
    add_node(bayes, "asked", net.odds, [[1 - chance, chance] for chance in asked_about(net, limit)])


def agrum_posteriors(net: Net, limit: int | None) -> tuple[dict[str, float], dict[str, list[float]]]:
    """Return P(cause) and the distribution of each answered finding, by lazy propagation."""
    bayes = gum.BayesNet()
    add_causes(bayes, net, limit)
    for name in net.answers:
        add_node(bayes, name, *explicit_table(net, name))
    engine = gum.LazyPropagation(bayes)
    engine.setEvidence({"asked": 1, **{name: list(given) for name, given in net.answers.items()}})
    engine.makeInference()
    causes = {cause: float(engine.posterior(cause)[1]) for cause in net.odds}
    return causes, {name: [float(part) for part in engine.posterior(name).tolist()] for name in net.answers}


def pgmpy_marginals(net: Net, limit: int | None, causes: Iterable[str]) -> dict[str, float]:
    """Return P(cause) of some causes, by variable elimination."""
    model = DiscreteBayesianNetwork()
    names = list(net.odds)
    model.add_nodes_from([*names, "asked", *net.answers])
    tables = [TabularCPD(cause, 2, [[1 / (1 + odds)], [odds / (1 + odds)]]) for cause, odds in net.odds.items()]
    model.add_edges_from((cause, "asked") for cause in names)
    chances = asked_about(net, limit)
    tables.append(
        TabularCPD(
            "asked", 2, [[1 - chance for chance in chances], chances], evidence=names, evidence_card=[2] * len(names)
        )
    )
    for name in net.answers:
        linked, rows = explicit_table(net, name)
        model.add_edges_from((cause, name) for cause in linked)
        tables.append(
            TabularCPD(
                name, len(rows[0]), np.array(rows).T, evidence=linked or None, evidence_card=[2] * len(linked) or None
            )
        )
    model.add_cpds(*tables)
    # This library takes a likelihood for a probability, so none may be above 1.
    soft = [
        TabularCPD(name, len(given), [[part / sum(given)] for part in given]) for name, given in net.answers.items()
    ]
    solver = VariableElimination(model)
    return {
        cause: float(solver.query([cause], evidence={"asked": 1}, virtual_evidence=soft, show_progress=False).values[1])
        for cause in causes
    }


WORDS = (0.99, 0.85, 0.75, 0.5, 0.25, 0.15)


def random_net(
    seed: int,
    most_causes: int = 10,
    fewest_causes: int = 2,
    expected_faults: tuple[float, ...] = (0.1, 0.3, 0.6, 1.5),
) -> Net:
    """Return a net with findings of all three kinds and sure, doubtful and measured answers.

    `expected_faults` are the sums of the odds to choose from; 1.5 is beyond what the settings allow.
    """
    draw = np.random.default_rng(seed)
    causes = [f"c{number}" for number in range(draw.integers(fewest_causes, most_causes + 1))]
    weights = draw.choice([8.0, 4.0, 2.0, 1.0], len(causes))
    total = draw.choice(expected_faults)
    odds = {cause: float(total * weight / weights.sum()) for cause, weight in zip(causes, weights, strict=True)}
    signs = {f"f{number}": _random_sign(draw, causes) for number in range(draw.integers(4, 9))}
    answers, said = {}, {}
    culprits = list(draw.choice(causes, min(len(causes), int(draw.integers(1, 3))), replace=False))
    for name, sign in signs.items():
        if draw.random() < 0.25:
            continue
        count = len(sign.values)
        shown = np.array(share_of_each_value(sign, culprits))
        place = int(draw.choice(count, p=shown / shown.sum())) if draw.random() < 0.85 else int(draw.integers(count))
        if draw.random() < 0.2:
            answers[name] = tuple(float(part) for part in draw.dirichlet(np.ones(count)) + 0.01)
            continue
        wrong = float(draw.choice([0.02, 0.06, 0.26]))
        answers[name] = tuple(1 - wrong if here == place else wrong / (count - 1) for here in range(count))
        said[name] = sign.values[place]
    return Net(odds, signs, answers, said, float(draw.choice([0.03, 0.5])), float(draw.choice([0.02, 0.05, 0.1])))


def _random_sign(draw: np.random.Generator, causes: list[str]) -> Sign:
    values = [f"v{number}" for number in range(draw.integers(2, 6))]
    linked = [cause for cause in causes if draw.random() < 0.55]
    kind = draw.choice(["choice", "graded", "circumstance"], p=[0.5, 0.3, 0.2])
    if kind == "circumstance":
        rates = 0.05 + draw.dirichlet(np.ones(len(values))) * (1 - 0.05 * len(values))
        factors = {
            cause: {value: float(draw.choice([8, 4, 2, 0.5, 0.25])) for value in values[1:] if draw.random() < 0.6}
            for cause in linked
        }
        return circumstance(dict(zip(values, (rates / rates.sum()).tolist(), strict=True)), factors)
    links: dict[str, dict[str, float]] = {}
    for cause in linked:
        shown: dict[str, float] = {}
        for value in draw.permutation(values[1:])[: draw.integers(1, 3)]:
            probability = float(draw.choice(WORDS))
            if sum(shown.values()) + probability <= 0.99:
                shown[str(value)] = probability
        links[cause] = shown
    leak = {value: float(draw.uniform(0.005, 0.05)) for value in values[1:]} if draw.random() < 0.5 else 0.02
    if kind == "graded":
        return graded(values, links, leak)
    normal = str(draw.choice(values))
    links = {cause: {(values[0] if v == normal else v): p for v, p in shown.items()} for cause, shown in links.items()}
    if isinstance(leak, dict):
        leak = {(values[0] if value == normal else value): part for value, part in leak.items()}
    return choice(values, links, leak, normal)
