"""Tables of findings: worked examples, hand calculation and the three kinds over random nets.

The worked examples W1 to W5 were worked out by hand for this project and, where a second engine is
named, checked with it; they are no published figures.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from diagnose.errors import InputError
from diagnose.reasoning.finding_table import triples_of
from diagnose.reasoning.tables import base_from, choice, circumstance, graded, padded
from tests.reasoning.plain_bases import worked_base
from tests.reasoning.referee_nets import random_net, share_of_each_value

DECIBEL = 10 / math.log(10)


def one_table(sign, causes=("a",)):
    return base_from(dict.fromkeys(causes, 0.1), {"f": sign}).tables["f"]


def test_two_links_of_one_cause_share_its_rate():
    table = one_table(choice(["n", "u", "w"], {"a": {"u": 0.5, "w": 0.25}}))
    assert table.given([0]) == pytest.approx([0.25, 0.5, 0.25], abs=1e-12)


def test_rates_taken_link_by_link_would_give_something_else():
    table = one_table(choice(["n", "u", "w"], {"a": {"u": 0.5}, "b": {"w": 0.25}}), ("a", "b"))
    assert table.given([0, 1]) == pytest.approx([0.375, 0.441684, 0.183316], abs=5e-7)


def test_a_leak_competes_with_the_cause():
    table = one_table(choice(["n", "u", "w"], {"a": {"u": 0.5, "w": 0.25}}, {"u": 0.02, "w": 0.01}))
    assert table.given([0]) == pytest.approx([0.2425, 0.505, 0.2525], abs=5e-8)


def test_a_second_cause_competes_too():
    links = {"a": {"u": 0.5, "w": 0.25}, "b": {"w": 0.85}}
    table = one_table(choice(["n", "u", "w"], links, {"u": 0.02, "w": 0.01}), ("a", "b"))
    assert table.given([0, 1]) == pytest.approx([0.036375, 0.274647, 0.688978], abs=5e-7)
    assert table.pair[0, 1] == pytest.approx(table.given([0, 1]), abs=1e-15)


def test_the_worse_of_two_graded_causes_shows():
    links = {"a": {"minutes": 0.9}, "b": {"days": 0.9}}
    table = one_table(graded(["never", "days", "hours", "minutes"], links), ("a", "b"))
    assert table.given([0, 1]) == pytest.approx([0.01, 0.09, 0.0, 0.9], abs=1e-12)


def test_competing_risks_would_let_the_milder_show_half_the_time():
    links = {"a": {"minutes": 0.9}, "b": {"days": 0.9}}
    table = one_table(choice(["never", "days", "hours", "minutes"], links), ("a", "b"))
    assert table.given([0, 1]) == pytest.approx([0.01, 0.495, 0.0, 0.495], abs=1e-12)


def moved(causes=("a",)):
    return one_table(circumstance({"no": 0.8, "yes": 0.2}, {cause: {"yes": 5} for cause in causes}), causes)


def test_factors_of_a_circumstance_are_divided_by_their_mean():
    table = moved()
    # ln(P(v|a) / P(v|nothing)) is the logarithm of the divided factor.
    assert np.exp(table.effect[0]) == pytest.approx([0.555556, 2.777778], abs=5e-7)


def test_a_circumstance_multiplies_the_odds_of_a_single_cause_by_its_factor():
    odds, table = 0.02 / 0.98, moved()
    after = [odds * float(table.single[0, place] / table.nothing[place]) for place in (0, 1)]
    assert [value / (1 + value) for value in after] == pytest.approx([0.011211, 0.053648], abs=5e-7)


def test_an_unasked_circumstance_leaves_a_cause_where_it_is():
    odds, table = 0.02 / 0.98, moved()
    chance = 0.98 * table.nothing + 0.02 * table.single[0]
    after = 0.02 * table.single[0] / chance
    assert float(chance @ after) == pytest.approx(odds / (1 + odds), abs=1e-15)


def test_two_causes_that_share_a_circumstance():
    table = moved(("a", "b"))
    whole = float((np.exp(table.ground) * np.exp(table.effect[0] + table.effect[1])).sum())
    assert whole == pytest.approx(1.790123, abs=5e-7)
    assert table.given([0, 1])[1] == pytest.approx(0.862069, abs=5e-7)


@pytest.mark.parametrize(
    ("wrong", "abnormal", "normal"),
    [(0.0, 16.299, -8.239), (0.06, 10.190, -6.876), (0.26, 3.950, -3.443)],
)
def test_decibans_of_one_answer(wrong, abnormal, normal):
    table = one_table(choice(["n", "x"], {"a": {"x": 0.85}}, 0.02))

    def decibans(place):
        likelihood = np.where(np.arange(2) == place, 1 - wrong, wrong)
        return DECIBEL * math.log(float(table.single[0] @ likelihood) / float(table.nothing @ likelihood))

    # The worked example takes the cause with its leak.
    assert decibans(1) == pytest.approx(abnormal, abs=5e-4)
    assert decibans(0) == pytest.approx(normal, abs=5e-4)


def test_the_average_faulty_clock_of_the_worked_base():
    tables = worked_base().tables
    assert tables["f"].other == pytest.approx([0.330575, 0.514146, 0.155279], abs=5e-7)
    assert tables["g"].other[1] == pytest.approx(0.249901, abs=5e-7)
    assert tables["m"].other[1] == pytest.approx(0.410944, abs=5e-7)


def test_two_causes_in_the_worked_base():
    assert worked_base().tables["f"].given([0, 1]) == pytest.approx([0.060625, 0.62625, 0.313125], abs=5e-9)


@pytest.mark.parametrize("seed", range(60))
def test_tables_of_all_kinds_follow_the_definitions_for_sets_of_any_size(seed):
    net = random_net(seed, most_causes=6)
    base = net.base
    sets = [causes for size in range(len(base.causes) + 1) for causes in combinations(range(len(base.causes)), size)]
    for name, sign in net.signs.items():
        given = base.tables[name].given_members(padded(sets, len(base.causes)))
        expected = [share_of_each_value(sign, [base.causes[place] for place in causes]) for causes in sets]
        assert np.abs(given - expected).max() < 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_one_set_and_many_sets_agree(seed):
    base = random_net(seed).base
    for table in base.tables.values():
        many = table.given_members(padded([(), (0,), (0, 1)], len(base.causes)))
        assert many == pytest.approx(np.array([table.given(()), table.given((0,)), table.given((0, 1))]), abs=1e-15)


@pytest.mark.parametrize("seed", range(20))
def test_every_row_is_a_distribution(seed):
    for table in random_net(seed).base.tables.values():
        for rows in (table.nothing, table.single, table.pair, table.other):
            assert (rows >= 0).all()
            assert rows.sum(axis=-1) == pytest.approx(np.ones(rows.shape[:-1]), abs=1e-12)


def test_one_leak_is_shared_equally_among_the_abnormal_values():
    table = one_table(choice(["n", "u", "w"], {}, 0.03))
    assert table.nothing == pytest.approx([0.97, 0.015, 0.015], abs=1e-12)


def test_the_normal_value_need_not_come_first():
    table = one_table(choice(["u", "n", "w"], {"a": {"w": 0.5}}, 0.02, normal="n"))
    assert table.given([0]) == pytest.approx(
        one_table(choice(["n", "u", "w"], {"a": {"w": 0.5}}, 0.02)).given([0])[[1, 0, 2]]
    )


def test_two_valued_choice_and_graded_are_the_same():
    links = {"a": {"x": 0.75}, "b": {"x": 0.5}}
    kinds = [one_table(make(["n", "x"], links, 0.02), ("a", "b")) for make in (choice, graded)]
    assert kinds[0].pair == pytest.approx(kinds[1].pair, abs=1e-15)


# Fever with inhibition probabilities cold .6, flu .2, malaria .1: Russell and Norvig, Artificial
# Intelligence: A Modern Approach, section on efficient representation of conditional distributions.
FEVER = {
    (): 0.0,
    ("malaria",): 0.9,
    ("flu",): 0.8,
    ("flu", "malaria"): 0.98,
    ("cold",): 0.4,
    ("cold", "malaria"): 0.94,
    ("cold", "flu"): 0.88,
    ("cold", "flu", "malaria"): 0.988,
}


@pytest.mark.parametrize("make", [choice, graded])
@pytest.mark.parametrize(("causes", "expected"), FEVER.items())
def test_fever_by_noisy_or(make, causes, expected):
    odds = {"cold": 1 / 9, "flu": 1 / 19, "malaria": 1 / 999}
    links = {"cold": {"yes": 0.4}, "flu": {"yes": 0.8}, "malaria": {"yes": 0.9}}
    base = base_from(odds, {"fever": make(["no", "yes"], links)})
    table = base.tables["fever"]
    assert table.given([base.index[cause] for cause in causes])[1] == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("sign", "message"),
    [
        (choice(["n", "u"], {"a": {"v": 0.5}}), "unknown value 'v'"),
        (choice(["n", "u"], {"a": {"n": 0.5}}), "abnormal values only"),
        (choice(["n", "u", "w"], {"a": {"u": 0.9, "w": 0.5}}), "at most 1"),
        (choice(["n", "u"], {"b": {"u": 0.5}}), "unknown cause 'b'"),
        (choice(["n", "u"], {}, 1.0), "leak"),
        (circumstance({"no": 0.5, "yes": 0.4}, {}), "add up to 1"),
        (circumstance({"no": 0.5, "yes": 0.5}, {"a": {"yes": 0.0}}), "above 0"),
    ],
)
def test_numbers_that_make_no_sense_are_refused(sign, message):
    with pytest.raises(InputError, match=message):
        one_table(sign)


@pytest.mark.parametrize(("nothing", "other"), [(0.6, 0.4), (-0.1, 0.1), (0.1, -0.1)])
def test_shares_that_leave_nothing_for_the_causes_are_refused(nothing, other):
    with pytest.raises(InputError, match="sum is below 1"):
        base_from({"a": 0.1}, {}, nothing_wrong=nothing, none_of_these=other)


@pytest.mark.parametrize("odds", [-0.1, math.inf, math.nan])
def test_odds_that_are_no_odds_are_refused(odds):
    with pytest.raises(InputError, match="at least 0"):
        base_from({"a": odds}, {})


@pytest.mark.parametrize("count", range(8))
def test_triples_are_all_triples_in_order(count):
    assert [tuple(row) for row in np.stack(triples_of(count), axis=1).tolist()] == list(combinations(range(count), 3))


def test_padding_stands_for_no_cause():
    assert padded([(), (2,), (0, 1)], 5).tolist() == [[5, 5], [2, 5], [0, 1]]
