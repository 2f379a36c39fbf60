"""The engine against two general-purpose libraries and against published nets.

The libraries are pyAgrum (lazy propagation) and pgmpy (variable elimination). Figures marked printed stand
in the source; the others were worked out with both libraries, which agree.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from diagnose.reasoning.ranking import rank
from diagnose.reasoning.tables import base_from, choice
from tests.reasoning.plain_bases import one_piece, said
from tests.reasoning.referee_nets import (
    DiscreteBayesianNetwork,
    TabularCPD,
    VariableElimination,
    add_node,
    agrum_posteriors,
    enumerate_sets,
    gum,
    pgmpy_marginals,
    random_net,
)

SEEDS = range(200)
CLOSE = 1e-9


# --- 200 random nets: choice, graded and circumstance findings, soft answers, the node "asked about"


@cache
def solved(seed):
    net = random_net(seed)
    return net, rank(net.base, [net.piece]), agrum_posteriors(net, limit=3)


@pytest.mark.parametrize("seed", SEEDS)
def test_ranking_agrees_with_the_first_library(seed):
    _, ranking, (causes, _) = solved(seed)
    listed = 1 - ranking.none_of_these
    assert {entry.cause: entry.probability / listed for entry in ranking.causes} == pytest.approx(causes, abs=CLOSE)


@pytest.mark.parametrize("seed", SEEDS)
def test_ranking_agrees_with_the_second_library(seed):
    net, ranking, _ = solved(seed)
    asked = [entry.cause for entry in ranking.causes[:3]]
    causes = pgmpy_marginals(net, 3, asked)
    listed = 1 - ranking.none_of_these
    assert {entry.cause: entry.probability / listed for entry in ranking.causes[:3]} == pytest.approx(causes, abs=CLOSE)


@pytest.mark.parametrize("seed", SEEDS)
def test_full_enumeration_without_a_limit_agrees_with_the_first_library(seed):
    net, _, _ = solved(seed)
    causes, _ = agrum_posteriors(net, limit=None)
    every_set = enumerate_sets(net, limit=None)
    assert {cause: every_set.of(cause) / (1 - every_set.other) for cause in causes} == pytest.approx(causes, abs=CLOSE)


@pytest.mark.parametrize("seed", SEEDS)
def test_doubt_about_each_answer_agrees_with_the_library_and_the_average_faulty_clock(seed):
    net, ranking, (_, findings) = solved(seed)
    base = net.base
    for name, value in net.said.items():
        place = net.signs[name].values.index(value)
        apart = base.tables[name].other * np.array(net.answers[name])
        expected = (1 - ranking.none_of_these) * (1 - findings[name][place])
        expected += ranking.none_of_these * (1 - apart[place] / apart.sum())
        assert ranking.wrong[name] == pytest.approx(expected, abs=CLOSE)


@pytest.mark.parametrize("seed", SEEDS)
def test_none_of_these_and_conflict_agree_with_going_through_every_set(seed):
    net, ranking, _ = solved(seed)
    every_set = enumerate_sets(net)
    assert ranking.none_of_these == pytest.approx(every_set.other, abs=CLOSE)
    assert ranking.conflict == pytest.approx(every_set.conflict, abs=CLOSE)
    assert ranking.nothing_wrong == pytest.approx(every_set.weights[()], abs=CLOSE)


# --- fever by noisy-OR, priors added: cold .1, flu .05, malaria .001 (table of causes printed in Russell
# and Norvig, Artificial Intelligence: A Modern Approach; posteriors worked out with both libraries)


def fever_base(leak):
    chance = {"cold": 0.1, "flu": 0.05, "malaria": 0.001}
    links = {"cold": {"yes": 0.4}, "flu": {"yes": 0.8}, "malaria": {"yes": 0.9}}
    return base_from(
        {cause: probability / (1 - probability) for cause, probability in chance.items()},
        {"fever": choice(["no", "yes"], links, leak)},
        # Without the node "asked about", nothing is wrong as often as all three are absent.
        nothing_wrong=math.prod(1 - probability for probability in chance.values()),
        none_of_these=0.0,
    )


@pytest.mark.parametrize(
    ("value", "leak", "expected"),
    [
        ("yes", 0.0, {"cold": 0.535809, "flu": 0.510021, "malaria": 0.011458}),
        ("yes", 0.01, {"cold": 0.486530, "flu": 0.458004, "malaria": 0.010276}),
        ("no", 0.0, {"cold": 0.0625, "flu": 0.010417, "malaria": 0.0001}),
    ],
)
def test_what_is_behind_a_fever(value, leak, expected):
    ranking = rank(fever_base(leak), one_piece([said("fever", value)]))
    assert {entry.cause: entry.probability for entry in ranking.causes} == pytest.approx(expected, abs=5e-7)


@pytest.mark.parametrize(("leak", "expected"), [(0.0, 0.079229), (0.01, 0.088437)])
def test_how_often_there_is_a_fever(leak, expected):
    ranking = rank(fever_base(leak), [])
    table = fever_base(leak).tables["fever"]
    chance = sum(weight * table.given(causes)[1] for causes, weight in zip(ranking.sets, ranking.weights, strict=True))
    assert chance == pytest.approx(expected, abs=5e-7)


# --- published nets: that the libraries, and the way nets are built for them here, give the known figures

# Lauritzen and Spiegelhalter 1988, Journal of the Royal Statistical Society B 50, 157-224; either is
# "tuberculosis or lung cancer". Rows: parents, then P(no), P(yes) with the last parent changing fastest.
CHEST = {
    "asia": ([], [[0.99, 0.01]]),
    "smoke": ([], [[0.5, 0.5]]),
    "tub": (["asia"], [[0.99, 0.01], [0.95, 0.05]]),
    "lung": (["smoke"], [[0.99, 0.01], [0.9, 0.1]]),
    "bronc": (["smoke"], [[0.7, 0.3], [0.4, 0.6]]),
    "either": (["tub", "lung"], [[1.0, 0.0], [0.0, 1.0], [0.0, 1.0], [0.0, 1.0]]),
    "xray": (["either"], [[0.95, 0.05], [0.02, 0.98]]),
    "dysp": (["bronc", "either"], [[0.9, 0.1], [0.3, 0.7], [0.2, 0.8], [0.1, 0.9]]),
}
CHEST_POSTERIORS = [
    ({}, 0.010400, 0.055000, 0.450000),
    ({"dysp": 1}, 0.018845, 0.102759, 0.833967),
    ({"asia": 1, "dysp": 1}, 0.087751, 0.099525, 0.811402),
    ({"asia": 1, "dysp": 1, "smoke": 1}, 0.072760, 0.145519, 0.867258),
    ({"asia": 1, "dysp": 1, "smoke": 0}, 0.112835, 0.022567, 0.717942),
    ({"xray": 1}, 0.092411, 0.488711, 0.506326),
    ({"xray": 1, "dysp": 1}, 0.113933, 0.621253, 0.681869),
    ({"smoke": 1, "xray": 1}, 0.067183, 0.645991, 0.600000),
    ({"asia": 1, "xray": 1, "dysp": 1}, 0.391712, 0.444271, 0.628822),
    ({"asia": 1, "smoke": 0, "xray": 1, "dysp": 1}, 0.632329, 0.126466, 0.458960),
    ({"asia": 1, "dysp": 1, "xray": 0}, 0.002249, 0.002550, 0.862761),
]
# Russell and Norvig, Artificial Intelligence: A Modern Approach. P(B | J, M) = .284 is printed.
ALARM = {
    "B": ([], [[0.999, 0.001]]),
    "E": ([], [[0.998, 0.002]]),
    "A": (["B", "E"], [[0.999, 0.001], [0.71, 0.29], [0.06, 0.94], [0.05, 0.95]]),
    "J": (["A"], [[0.95, 0.05], [0.1, 0.9]]),
    "M": (["A"], [[0.99, 0.01], [0.3, 0.7]]),
}
ALARM_POSTERIORS = [
    ("B", {"J": 1, "M": 1}, 0.284172),
    ("B", {"J": 1}, 0.016284),
    ("B", {"J": 1, "M": 0}, 0.005130),
    ("B", {"A": 1}, 0.373551),
    ("B", {"A": 1, "E": 1}, 0.003268),
    ("E", {"J": 1, "M": 1}, 0.176067),
]


def agrum_net(nodes):
    bayes = gum.BayesNet()
    for name, (parents, rows) in nodes.items():
        add_node(bayes, name, parents, rows)
    return bayes


def by_agrum(nodes, target, evidence):
    engine = gum.LazyPropagation(agrum_net(nodes))
    engine.setEvidence(evidence)
    engine.makeInference()
    return float(engine.posterior(target)[1])


def by_pgmpy(nodes, target, evidence):
    model = DiscreteBayesianNetwork()
    model.add_nodes_from(nodes)
    for name, (parents, rows) in nodes.items():
        model.add_edges_from((parent, name) for parent in parents)
        sizes = {"evidence": parents, "evidence_card": [2] * len(parents)} if parents else {}
        model.add_cpds(TabularCPD(name, 2, np.array(rows).T, **sizes))
    return float(VariableElimination(model).query([target], evidence=evidence, show_progress=False).values[1])


@pytest.mark.parametrize("solve", [by_agrum, by_pgmpy])
@pytest.mark.parametrize(("evidence", "tub", "lung", "bronc"), CHEST_POSTERIORS)
def test_the_libraries_give_the_chest_clinic(solve, evidence, tub, lung, bronc):
    found = [solve(CHEST, target, evidence) for target in ("tub", "lung", "bronc")]
    assert found == pytest.approx([tub, lung, bronc], abs=5e-7)


@pytest.mark.parametrize("solve", [by_agrum, by_pgmpy])
@pytest.mark.parametrize(("target", "evidence", "expected"), ALARM_POSTERIORS)
def test_the_libraries_give_the_burglar_alarm(solve, target, evidence, expected):
    assert solve(ALARM, target, evidence) == pytest.approx(expected, abs=5e-7)


def chance_of(nodes, evidence):
    engine = gum.LazyPropagation(agrum_net(nodes))
    engine.setEvidence(evidence)
    engine.makeInference()
    return float(engine.evidenceProbability())


@pytest.mark.parametrize(
    ("evidence", "bits"),
    [
        ({"xray": 1, "dysp": 1}, -0.5556),
        ({"asia": 1, "xray": 1, "dysp": 1}, -1.0393),
        ({"smoke": 0, "xray": 1}, 0.6792),
        ({"xray": 1, "dysp": 0}, 0.6508),
        ({"smoke": 0, "xray": 1, "dysp": 0}, 0.6895),
    ],
)
def test_conflict_in_the_chest_clinic(evidence, bits):
    apart = math.prod(chance_of(CHEST, {name: value}) for name, value in evidence.items())
    assert math.log2(apart / chance_of(CHEST, evidence)) == pytest.approx(bits, abs=5e-5)
