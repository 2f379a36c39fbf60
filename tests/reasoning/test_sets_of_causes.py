"""Pairs exactly, triples nearly, and an honest figure for what is left out."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.reasoning.pairs import Reach, weigh
from diagnose.reasoning.ranking import rank
from diagnose.reasoning.readings import joined, read
from diagnose.reasoning.tables import padded
from tests.reasoning.referee_nets import enumerate_sets, random_net

ALLOWED = (0.1, 0.3, 0.6)
"""Expected numbers of faults that the settings allow."""


def readings_of(net, base):
    return [read(base.tables[name], np.array(given)) for name, given in net.answers.items()]


@pytest.mark.parametrize("seed", range(40))
def test_pairs_equal_going_through_every_pair(seed):
    net = random_net(seed, most_causes=16, fewest_causes=6)
    base = net.base
    weights = weigh(base, readings_of(net, base))
    dense = enumerate_sets(net).weights
    for first, one in enumerate(base.causes):
        assert weights.single[first] / weights.nothing == pytest.approx(dense[(one,)] / dense[()], rel=1e-12)
        for second in range(first + 1, len(base.causes)):
            both = dense[(one, base.causes[second])] / dense[()]
            assert weights.pair[first, second] / weights.nothing == pytest.approx(both, rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_triples_by_corrections_and_exact_triples_share_their_sums(seed):
    net = random_net(seed, most_causes=12, fewest_causes=5)
    base = net.base
    exact = weigh(base, readings_of(net, base), reach=Reach(10_000, 100))
    assert exact.rest == pytest.approx(0.0, abs=1e-12)
    dense = enumerate_sets(net).weights
    found = {
        tuple(base.causes[place] for place in row): part
        for row, part in zip(exact.members.tolist(), exact.triple, strict=True)
    }
    expected = {causes: weight for causes, weight in dense.items() if len(causes) == 3}
    shares = (1 - exact.other) / sum(dense.values())
    assert found == pytest.approx({causes: weight * shares for causes, weight in expected.items()}, rel=1e-9)


@pytest.mark.parametrize("block", range(10))
def test_probabilities_are_within_a_half_percent_of_going_through_every_triple(block):
    # Of 17 to 30 causes only some triples are worked out exactly.
    worst = 0.0
    for seed in range(5000 + 10 * block, 5010 + 10 * block):
        net = random_net(seed, most_causes=30, fewest_causes=17, expected_faults=ALLOWED)
        every_set = enumerate_sets(net)
        ranking = rank(net.base, [net.piece])
        worst = max(worst, *(abs(entry.probability - every_set.of(entry.cause)) for entry in ranking.causes))
        worst = max(worst, *(abs(ranking.wrong[name] - wrong) for name, wrong in every_set.wrong.items()), 0.0)
    assert worst <= 0.005


def test_what_is_left_out_covers_sets_of_four_and_more_in_98_of_100_nets():
    covered = []
    for seed in range(200):
        net = random_net(seed, most_causes=11, fewest_causes=9)
        every_set = enumerate_sets(net, limit=None)
        tail = sum(weight for causes, weight in every_set.weights.items() if len(causes) > 3)
        covered.append(tail <= rank(net.base, [net.piece]).left_out)
    assert len(covered) == 200
    assert sum(covered) >= 0.98 * len(covered)


def test_the_figure_for_what_is_left_out_is_no_wild_exaggeration():
    ratios = []
    for seed in range(40):
        net = random_net(seed, most_causes=11, fewest_causes=9)
        every_set = enumerate_sets(net, limit=None)
        tail = sum(weight for causes, weight in every_set.weights.items() if len(causes) > 3)
        ratios.append(rank(net.base, [net.piece]).left_out / tail)
    assert np.median(ratios) < 3


@pytest.mark.parametrize("seed", range(20))
def test_findings_evaluated_together_equal_each_by_itself(seed):
    net = random_net(seed, fewest_causes=4)
    base = net.base
    readings = [
        read(
            base.tables[name],
            np.array(given),
            base.tables[name].values.index(net.said[name]) if name in net.said else None,
        )
        for name, given in net.answers.items()
    ]
    members = padded([(), (0,), (1, 2), (0, 1, 3)], len(base.causes))
    answer, right = joined(readings).given(members)
    for place, reading in enumerate(readings):
        table = reading.table.given_members(members)
        assert answer[:, place] == pytest.approx(table @ reading.likelihood, abs=1e-14)
        assert np.exp(reading.log_given(members)) == pytest.approx(table @ reading.likelihood, rel=1e-12)
        if reading.said is not None:
            assert right[:, place] == pytest.approx(
                table[:, reading.said] * reading.likelihood[reading.said], abs=1e-14
            )
