"""The ranking of causes: worked examples, order, forecasts, doubtful answers, named sets.

W5 and W6 were worked out by hand for this project; their causes were checked with pyAgrum 3.3.1.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.reasoning.pairs import weigh
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import base_from, choice
from diagnose.reasoning.values import Finding
from diagnose.settings import Parameters
from tests.reasoning.plain_bases import by_set, one_piece, ranked, said, worked_answers, worked_base
from tests.reasoning.referee_nets import random_net

DECIBEL = 10 / math.log(10)


def decibans(probability: float) -> float:
    return DECIBEL * math.log(probability / (1 - probability))


def worked() -> Ranking:
    return rank(worked_base(), one_piece(worked_answers()))


def same(one: Ranking, two: Ranking) -> bool:
    """Tell whether two rankings are equal in every bit."""
    plain = all(
        getattr(one, name) == getattr(two, name)
        for name in ("causes", "nothing_wrong", "none_of_these", "together", "left_out", "conflict", "wrong", "sets")
    )
    return plain and np.array_equal(one.weights, two.weights)


# --- W5 and W6


def test_the_prior_of_the_worked_base():
    base = worked_base()
    weights = by_set(base, rank(base, [Piece()]))
    expected = {
        "A": 0.48595,
        "B": 0.242975,
        "C": 0.121487,
        "AB": 0.038876,
        "AC": 0.019438,
        "BC": 0.009719,
        "ABC": 0.001555,
    }
    assert {name: weights[name] for name in expected} == pytest.approx(expected, abs=5e-7)


def test_sets_of_the_worked_base_after_three_answers():
    expected = {
        "A": 0.809437, "B": 0.071348, "C": 0.002953, "AB": 0.054376, "AC": 0.015768, "BC": 0.001297,
        "ABC": 0.001059, "": 0.001604,
    }  # fmt: skip
    assert by_set(worked_base(), worked()) == pytest.approx(expected, abs=5e-7)


def test_causes_of_the_worked_base_after_three_answers():
    ranking = worked()
    assert ranking.none_of_these == pytest.approx(0.042158, abs=5e-7)
    chances = {entry.cause: entry.probability for entry in ranking.causes}
    assert chances == pytest.approx({"A": 0.880641, "B": 0.128081, "C": 0.021078}, abs=5e-7)


def test_causes_of_the_worked_base_where_the_fault_is_on_the_list():
    ranking = worked()
    listed = {entry.cause: entry.probability / (1 - ranking.none_of_these) for entry in ranking.causes}
    assert listed == pytest.approx({"A": 0.919401, "B": 0.133718, "C": 0.022005}, abs=5e-7)


def test_conflict_of_the_worked_base():
    ranking = worked()
    assert ranking.conflict == pytest.approx(-0.209241, abs=5e-7)
    assert ranking.conflict / math.log(2) == pytest.approx(-0.301871, abs=5e-7)


def test_odds_of_none_of_these_follow_from_the_conflict():
    ranking = worked()
    odds = ranking.none_of_these / (1 - ranking.none_of_these - ranking.nothing_wrong)
    assert odds == pytest.approx(0.044087, abs=5e-7)
    assert odds == pytest.approx(0.05 / 0.92 * math.exp(ranking.conflict), rel=1e-12)


def test_doubtful_answers_of_the_worked_base():
    assert worked().wrong == pytest.approx({"m": 0.062020, "f": 0.019751, "g": 0.080177}, abs=5e-7)


@pytest.mark.parametrize(("cause", "prior", "shown"), [("A", 0.7982, 8.6794), ("B", -3.8229, -8.3299)])
def test_decibans_of_the_worked_base(cause, prior, shown):
    entry = next(entry for entry in worked().causes if entry.cause == cause)
    assert decibans(entry.prior) == pytest.approx(prior, abs=5e-5)
    assert decibans(entry.probability) == pytest.approx(shown, abs=5e-5)


def test_two_explanations_of_the_worked_base_compared():
    base, answers = worked_base(), worked_answers()

    def ratio(findings) -> float:
        weights = by_set(base, rank(base, one_piece(findings)))
        return DECIBEL * math.log(weights["A"] / weights["B"])

    steps = [ratio(answers[:count]) for count in range(4)]
    gains = [steps[0], *(after - before for before, after in pairwise(steps))]
    assert gains == pytest.approx([3.0103, 3.6657, 4.3115, -0.4395], abs=5e-5)
    assert steps[-1] == pytest.approx(10.5480, abs=5e-5)


def test_two_and_three_faults_are_as_rare_as_the_settings_say():
    # 220 causes with odds of 0.3 together: 13 % two faults and 1.3 % three, worked out for this project.
    weights = weigh(base_from({f"c{number}": 0.3 / 220 for number in range(220)}, {}), [])
    two = weights.pair.sum() / 2
    three = weights.triple.sum() + weights.rest
    faulty = weights.single.sum() + two + three
    assert two / faulty == pytest.approx(0.13, abs=0.005)
    assert three / faulty == pytest.approx(0.013, abs=0.0005)


# --- what does not matter


@given(st.integers(0, 400), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_the_order_of_answers_within_a_piece_changes_nothing(seed, shuffler):
    net = random_net(seed)
    base, findings = net.base, list(net.piece.findings)
    before = rank(base, one_piece(findings))
    shuffler.shuffle(findings)
    assert same(before, rank(base, one_piece(findings)))


@given(st.integers(0, 400), st.data())
@settings(max_examples=40, deadline=None)
def test_taking_an_answer_back_equals_never_having_given_it(seed, data):
    net = random_net(seed)
    base, findings = net.base, net.piece.findings
    if not findings:
        return
    place = data.draw(st.integers(0, len(findings) - 1))
    without = findings[:place] + findings[place + 1 :]
    before = rank(base, one_piece(without))
    rank(base, one_piece(findings))
    assert same(before, rank(base, one_piece(without)))


WITH_AN_OPEN_QUESTION = [seed for seed in range(50) if len(random_net(seed).answers) < len(random_net(seed).signs)]


@pytest.mark.parametrize("seed", WITH_AN_OPEN_QUESTION)
def test_an_answer_that_says_nothing_counts_nothing(seed):
    net = random_net(seed)
    base = net.base
    unasked = next(name for name in net.signs if name not in net.answers)
    flat = Finding(unasked, (1.0,) * len(net.signs[unasked].values))
    before, after = (ranked(base, Piece(findings)) for findings in (net.piece.findings, (*net.piece.findings, flat)))
    assert after == pytest.approx(before, abs=1e-13)


def test_an_answer_given_twice_in_one_piece_counts_as_the_later():
    base = worked_base()
    twice = (*worked_answers(), Finding("f", (0.94, 0.03, 0.03), "n"))
    once = (*worked_answers()[:1], *worked_answers()[2:], Finding("f", (0.94, 0.03, 0.03), "n"))
    assert same(rank(base, one_piece(twice)), rank(base, one_piece(once)))


def test_only_the_ratios_of_a_likelihood_count():
    base = worked_base()
    scaled = tuple(replace(item, likelihood=tuple(7 * part for part in item.likelihood)) for item in worked_answers())
    one, two = rank(base, one_piece(worked_answers())), rank(base, one_piece(scaled))
    assert by_set(base, two) == pytest.approx(by_set(base, one), rel=1e-12)
    assert two.wrong == pytest.approx(one.wrong, rel=1e-12)
    assert two.conflict == pytest.approx(one.conflict, abs=1e-12)


def test_a_finding_the_clock_has_not_says_nothing():
    base = worked_base()
    assert same(worked(), rank(base, one_piece((*worked_answers(), said("chain-hook", "yes")))))


def test_answers_cut_into_pieces_without_a_remedy_are_one_piece():
    base = worked_base()
    cut = [Piece(worked_answers()[:1]), Piece(worked_answers()[1:])]
    assert same(worked(), rank(base, cut))


def test_no_piece_at_all_is_the_prior():
    base = worked_base()
    assert [entry.probability for entry in rank(base, []).causes] == pytest.approx(sorted(base.prior)[::-1], abs=1e-12)


# --- forecast and update


@pytest.mark.parametrize("seed", WITH_AN_OPEN_QUESTION)
def test_a_forecast_and_the_update_after_it_agree(seed):
    net = random_net(seed)
    base = net.base
    unasked = [name for name in net.signs if name not in net.answers]
    now = rank(base, [net.piece], Parameters(kept_sets=1000))
    kept = now.sets
    for name in unasked[:2]:
        table, wrong = base.tables[name], 0.06
        count = len(table.values)
        chance = [float(now.weights @ [table.given(causes)[place] for causes in kept]) for place in range(count)]
        chance = [part + now.other_weight * table.other[place] for place, part in enumerate(chance)]
        mean = dict.fromkeys(base.causes, 0.0)
        whole = 0.0
        for place in range(count):
            shown = tuple(1 - wrong if here == place else wrong / (count - 1) for here in range(count))
            forecast = sum(one * two for one, two in zip(shown, chance, strict=True))
            whole += forecast
            after = ranked(base, Piece((*net.piece.findings, Finding(name, shown))))
            for cause, probability in after.items():
                mean[cause] += forecast * probability
        assert whole == pytest.approx(1.0, abs=1e-12)
        assert mean == pytest.approx({entry.cause: entry.probability for entry in now.causes}, abs=1e-12)


# --- none of these, and rules


def test_a_factor_of_a_rule_multiplies_the_odds_of_its_cause():
    base = worked_base()
    before = by_set(base, rank(base, one_piece(worked_answers())))
    after = by_set(base, rank(base, [Piece(worked_answers(), {"B": 4.0})]))
    assert after["B"] / after["A"] == pytest.approx(4 * before["B"] / before["A"], rel=1e-12)
    assert after["AB"] / after["A"] == pytest.approx(4 * before["AB"] / before["A"], rel=1e-12)


def test_a_fault_not_on_the_list_sees_a_rule_as_an_average_faulty_clock_does():
    base = worked_base()
    before, after = rank(base, [Piece()]), rank(base, [Piece((), {"A": 4.0})])
    share = float(base.prior[base.index["A"]]) / 0.92
    gain = (after.none_of_these / after.nothing_wrong) / (before.none_of_these / before.nothing_wrong)
    assert gain == pytest.approx(1 + share * 3, rel=1e-12)


def test_all_causes_excluded_leaves_a_ranking_and_no_nan():
    base = worked_base()
    ranking = rank(base, [Piece(worked_answers(), dict.fromkeys(base.causes, 0.0))])
    assert ranking.none_of_these + ranking.nothing_wrong == pytest.approx(1.0)
    assert all(entry.probability < 1e-12 for entry in ranking.causes)


def test_an_answer_no_cause_explains_raises_none_of_these():
    odds = {"A": 0.1, "B": 0.1}
    signs = {f"f{number}": choice(["no", "yes"], {"A": {"yes": 0.85}}, 0.02) for number in range(4)}
    signs |= {f"g{number}": choice(["no", "yes"], {"B": {"yes": 0.85}}, 0.02) for number in range(4)}
    base = base_from(odds, signs)

    def none_of_these(values):
        findings = tuple(said(name, value, 0.06) for name, value in zip(signs, values, strict=True))
        return rank(base, one_piece(findings)).none_of_these

    fitting = none_of_these(["yes"] * 4 + ["no"] * 4)
    odd = none_of_these(["yes", "no"] * 4)
    assert fitting < 0.05 < odd


# --- doubtful answers


def test_the_answer_that_fits_no_other_is_the_most_doubtful():
    links = {"A": {"yes": 0.9}, "B": {"yes": 0.05}}
    base = base_from({"A": 0.1, "B": 0.1}, {f"f{number}": choice(["no", "yes"], links, 0.02) for number in range(5)})
    findings = [said(f"f{number}", "yes" if number else "no", 0.06) for number in range(5)]
    wrong = rank(base, one_piece(findings)).wrong
    assert max(wrong, key=wrong.__getitem__) == "f0"
    assert wrong["f0"] > 0.3 > 0.06 > max(value for name, value in wrong.items() if name != "f0")


def test_an_answer_taken_for_certain_is_never_doubtful():
    base = base_from({"A": 0.1}, {"f": choice(["no", "yes"], {"A": {"yes": 0.9}}, 0.02)})
    assert rank(base, one_piece([said("f", "yes")])).wrong["f"] == pytest.approx(0.0, abs=1e-15)


def test_a_measurement_is_not_listed_among_answers():
    base = worked_base()
    assert "g" not in rank(base, one_piece((Finding("g", (0.4, 0.6)),))).wrong


# --- what is shown


def test_kept_sets_and_none_of_these_add_up_to_one():
    for most in (2, 5, 160):
        ranking = rank(worked_base(), one_piece(worked_answers()), Parameters(kept_sets=most))
        assert len(ranking.sets) == len(ranking.weights) == min(most, 8)
        assert ranking.weights.sum() + ranking.other_weight == pytest.approx(1.0, abs=1e-12)


def test_kept_sets_come_heaviest_first():
    weights = rank(random_net(5).base, [random_net(5).piece]).weights
    assert (np.diff(weights) <= 0).all()


def test_sets_named_together_have_two_causes_or_more():
    ranking = worked()
    assert [item.causes for item in ranking.together] == [("A", "B"), ("A", "C")]


def test_probability_decides_the_order_before_the_id_does():
    base = base_from({"a": 0.1, "b": 0.2, "c": 0.2}, {})
    assert [entry.cause for entry in rank(base, []).causes] == ["b", "c", "a"]


def test_a_clock_no_cause_fits_has_still_a_ranking():
    base = base_from({}, {"f": choice(["no", "yes"], {}, 0.02)})
    ranking = rank(base, one_piece([said("f", "yes", 0.06)]))
    assert ranking.causes == ()
    assert ranking.nothing_wrong + ranking.none_of_these == pytest.approx(1.0)


@pytest.mark.parametrize("count", [1, 2])
def test_bases_of_one_and_two_causes_are_exact(count):
    base = base_from(dict.fromkeys(["a", "b"][:count], 0.2), {"f": choice(["no", "yes"], {"a": {"yes": 0.85}}, 0.02)})
    ranking = rank(base, one_piece([said("f", "yes", 0.06)]))
    odds = 0.2 * (0.94 * (1 - 0.15 * 0.98) + 0.06 * 0.15 * 0.98) / (0.94 * 0.02 + 0.06 * 0.98)
    others = 1.2 if count == 2 else 1.0
    everything = others * 1.2 - 1 if count == 2 else 0.2
    faulty = odds * others + (0.2 if count == 2 else 0.0)
    nothing = 0.03 * everything / 0.92
    listed = ranking.causes[0].probability / (1 - ranking.none_of_these)
    assert listed == pytest.approx(odds * others / (faulty + nothing), abs=1e-12)
