"""Remedies move the belief, and do not erase it.

W8 was worked out by hand for this project.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.remedies_effect import shown_by
from diagnose.reasoning.tables import base_from, choice, circumstance
from diagnose.reasoning.values import Finding, RemedyEffect
from tests.reasoning.plain_bases import by_set, ranked, said, two_causes
from tests.reasoning.referee_nets import random_net
from tests.reasoning.referee_remedies import Told, Tried, agrum_after_remedy, through_remedies

COMPLAINT = said("complaint", "yes")


def after_mending(findings, later, base=None, remedy="mend-A"):
    base = base or two_causes()
    return by_set(base, rank(base, [Piece(tuple(findings), remedy=remedy), Piece(tuple(later))]))


# --- W8


def test_before_the_remedy():
    base = two_causes()
    weights = by_set(base, rank(base, [Piece((COMPLAINT, said("f", "yes")))]))
    assert weights == pytest.approx({"A": 0.909920, "B": 0.010088, "AB": 0.079992, "": 0.0}, abs=5e-7)


def test_the_complaint_is_still_there_after_the_remedy():
    weights = after_mending([COMPLAINT, said("f", "yes")], [COMPLAINT])
    expected = {"A": 0.499588, "B": 0.411529, "AB": 0.043919, "": 0.044963}
    assert weights == pytest.approx(expected, abs=5e-7)


def test_the_complaint_is_still_there_and_the_sign_is_gone():
    weights = after_mending([COMPLAINT, said("f", "yes", 0.06)], [COMPLAINT, said("f", "no", 0.06)])
    expected = {"A": 0.057809, "B": 0.864463, "AB": 0.005082, "": 0.072646}
    assert weights == pytest.approx(expected, abs=5e-7)


def test_forgetting_the_old_answers_would_give_something_else():
    weights = after_mending([COMPLAINT, said("f", "yes", 0.06)], [COMPLAINT, said("f", "no", 0.06)])
    # What is left when the answers before the remedy are dropped and the cured part with them.
    odds = {"A": 0.16 * 0.1, "B": 0.08, "AB": 0.16 * 0.08 * 0.1}
    seen = {"A": 0.901, "B": 0.901, "AB": 0.9901}
    sign = {"A": 0.94 * 0.098 + 0.06 * 0.902, "B": 0.94 * 0.98 + 0.06 * 0.02, "AB": 0.94 * 0.098 + 0.06 * 0.902}
    forgotten = {name: odds[name] * seen[name] * sign[name] for name in odds}
    forgotten = {name: weight / sum(forgotten.values()) for name, weight in forgotten.items()}
    assert forgotten == pytest.approx({"A": 0.030651, "B": 0.966654, "AB": 0.002695}, abs=5e-7)
    assert weights["B"] < forgotten["B"] - 0.1


# --- random courses of remedies


def random_course(seed, remedies=2, most_causes=6):
    """Return a net, what was told between remedies, and the base with these remedies."""
    net = random_net(seed, most_causes=most_causes, fewest_causes=2)
    draw = np.random.default_rng(seed + 10_000)
    names, causes = list(net.signs), list(net.odds)
    told = []
    for number in range(remedies + 1):
        answers, shown = {}, {}
        for name in names:
            count = len(net.signs[name].values)
            if draw.random() < 0.4:
                continue
            place, wrong = int(draw.integers(count)), float(draw.choice([0.06, 0.26]))
            answers[name] = tuple(1 - wrong if here == place else wrong / (count - 1) for here in range(count))
            shown[name] = net.signs[name].values[place]
        tried = None
        if number < remedies:
            cured = draw.choice(causes, int(draw.integers(1, min(3, len(causes)) + 1)), replace=False)
            changed = frozenset(str(name) for name in draw.choice(names, int(draw.integers(0, 2)), replace=False))
            tried = Tried(tuple(str(cause) for cause in cured), float(draw.choice([0.5, 0.85, 0.99])), changed)
        told.append(Told(answers, tried, shown))
    return net, told


def as_pieces(net, told):
    """Return the base and the pieces of a course."""
    base = net.base
    effects = {}
    pieces = []
    for number, part in enumerate(told):
        findings = tuple(Finding(name, given, part.said.get(name)) for name, given in part.answers.items())
        remedy = None
        if part.tried is not None:
            remedy = f"remedy-{number}"
            places = tuple(base.index[cause] for cause in part.tried.causes)
            stale = shown_by(base, places) | part.tried.changed
            effects[remedy] = RemedyEffect(remedy, places, part.tried.works, stale, part.tried.changed)
        pieces.append(Piece(findings, remedy=remedy))
    return replace(base, remedies=effects), pieces


@pytest.mark.parametrize("remedies", [1, 2, 3])
@pytest.mark.parametrize("seed", range(25))
def test_courses_of_remedies_agree_with_going_through_every_history(seed, remedies):
    net, told = random_course(seed, remedies)
    base, pieces = as_pieces(net, told)
    ranking, expected = rank(base, pieces), through_remedies(net, told)
    assert {entry.cause: entry.probability for entry in ranking.causes} == pytest.approx(
        {cause: expected.of(cause) for cause in net.odds}, abs=1e-11
    )
    assert ranking.none_of_these == pytest.approx(expected.other, abs=1e-11)
    assert ranking.nothing_wrong == pytest.approx(expected.weights.get((), 0.0), abs=1e-11)
    assert ranking.wrong == pytest.approx(expected.wrong, abs=1e-11)


@pytest.mark.parametrize("seed", range(60))
def test_one_remedy_agrees_with_a_library(seed):
    net, told = random_course(seed, remedies=1, most_causes=5)
    # Where nothing touched a finding the newer answer replaces the older; the library would count both.
    tried = told[0].tried
    again = {
        name
        for name in told[0].answers
        if name in told[1].answers and name not in shown_by(net.base, tuple(net.base.index[c] for c in tried.causes))
    } - tried.changed
    told[0] = Told({name: part for name, part in told[0].answers.items() if name not in again}, tried)
    expected = agrum_after_remedy(net, *told)
    base, pieces = as_pieces(net, told)
    ranking = rank(base, pieces)
    listed = {entry.cause: entry.probability / (1 - ranking.none_of_these) for entry in ranking.causes}
    assert listed == pytest.approx(expected, abs=1e-9)


@given(st.integers(0, 300), st.integers(1, 3), st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_the_order_of_answers_between_two_remedies_changes_nothing(seed, remedies, shuffler):
    base, pieces = as_pieces(*random_course(seed, remedies))
    shuffled = []
    for piece in pieces:
        findings = list(piece.findings)
        shuffler.shuffle(findings)
        shuffled.append(replace(piece, findings=tuple(findings)))
    before, after = rank(base, pieces), rank(base, shuffled)
    assert before.causes == after.causes
    assert before.wrong == after.wrong
    assert np.array_equal(before.weights, after.weights)


# --- what a remedy does and does not change


def test_the_same_answers_before_and_after_a_remedy_are_not_the_same():
    before = after_mending([COMPLAINT], [])
    after = after_mending([], [COMPLAINT])
    assert before["B"] != pytest.approx(after["B"], abs=0.01)


def test_a_remedy_for_causes_not_in_play_changes_nothing():
    base = two_causes()
    findings = (COMPLAINT, said("f", "yes", 0.06))
    plain = rank(base, [Piece(findings)])
    tried = rank(base, [Piece(findings, remedy="mend-nothing-here"), Piece()])
    assert by_set(base, tried) == by_set(base, plain)
    assert tried.wrong == plain.wrong
    assert tried.conflict == plain.conflict


def test_answers_may_come_after_a_remedy_for_causes_not_in_play():
    base = two_causes()
    plain = ranked(base, Piece((COMPLAINT, said("f", "yes", 0.06))))
    tried = ranked(base, Piece((COMPLAINT,), remedy="mend-nothing-here"), Piece((said("f", "yes", 0.06),)))
    assert tried == plain


def test_a_remedy_that_never_works_leaves_the_causes_as_they_were():
    base = two_causes()
    effect = replace(base.remedies["mend-A"], works=0.0)
    base = replace(base, remedies={"mend-A": effect})
    findings = (COMPLAINT, said("f", "yes", 0.06))
    tried = rank(base, [Piece(findings, remedy="mend-A"), Piece()])
    plain = rank(base, [Piece(findings)])
    assert {"": 0.0, **by_set(base, tried)} == pytest.approx(by_set(base, plain), abs=1e-12)


def test_a_remedy_that_always_works_leaves_none_of_its_causes():
    base = two_causes()
    base = replace(base, remedies={"mend-A": replace(base.remedies["mend-A"], works=1.0)})
    assert ranked(base, Piece((COMPLAINT, said("f", "yes")), remedy="mend-A"), Piece())["A"] == 0.0


def test_a_remedy_alone_lowers_its_cause_by_what_it_fails():
    base = two_causes()
    before = ranked(base, Piece((COMPLAINT, said("f", "yes"))))
    after = ranked(base, Piece((COMPLAINT, said("f", "yes")), remedy="mend-A"), Piece())
    assert after["A"] == pytest.approx(0.1 * before["A"], rel=1e-12)
    assert after["B"] == pytest.approx(before["B"], rel=1e-12)


def test_a_last_piece_that_ends_with_a_remedy_shows_the_clock_after_it():
    base = two_causes()
    findings = (COMPLAINT, said("f", "yes"))
    ending = by_set(base, rank(base, [Piece(findings, remedy="mend-A")]))
    assert ending == by_set(base, rank(base, [Piece(findings, remedy="mend-A"), Piece()]))


def test_a_proof_of_cure_raises_nothing_wrong():
    weights = after_mending([COMPLAINT, said("f", "yes")], [said("complaint", "no", 0.06), said("f", "no", 0.06)])
    assert weights[""] > 0.9


def test_a_second_fault_comes_forward_when_the_first_is_mended_and_the_complaint_stays():
    base = two_causes()
    before = ranked(base, Piece((COMPLAINT, said("f", "yes"))))
    after = ranked(base, Piece((COMPLAINT, said("f", "yes")), remedy="mend-A"), Piece((COMPLAINT,)))
    assert before["B"] < 0.1 < 0.4 < after["B"]


def test_the_same_remedy_tried_twice_cures_the_more():
    base = two_causes()
    findings = (COMPLAINT, said("f", "yes"))
    once = ranked(base, Piece(findings, remedy="mend-A"), Piece())
    twice = ranked(base, Piece(findings, remedy="mend-A"), Piece(remedy="mend-A"), Piece())
    assert twice["A"] == pytest.approx(0.1 * once["A"], rel=1e-12)


def test_the_same_remedy_tried_twice_with_the_complaint_still_there_points_elsewhere():
    base = two_causes()
    piece = Piece((COMPLAINT,), remedy="mend-A")
    once = ranked(base, piece, Piece((COMPLAINT,)))
    twice = ranked(base, piece, piece, Piece((COMPLAINT,)))
    assert once["B"] < twice["B"]
    assert twice["A"] < once["A"]


def test_a_finding_no_remedy_touched_is_answered_anew_and_not_twice():
    base = base_from(
        {"A": 0.16, "B": 0.08},
        {"f": choice(["no", "yes"], {"A": {"yes": 0.9}}, 0.02), "g": choice(["no", "yes"], {"B": {"yes": 0.9}}, 0.02)},
        remedies={"mend-A": (("A",), 0.9)},
    )
    answer = said("g", "yes", 0.06)
    once = ranked(base, Piece((said("f", "yes", 0.06), answer), remedy="mend-A"), Piece())
    again = ranked(base, Piece((said("f", "yes", 0.06), answer), remedy="mend-A"), Piece((answer,)))
    assert again == pytest.approx(once, abs=1e-12)


def test_a_second_reading_of_the_same_value_makes_it_surer_where_nothing_was_cured():
    base = replace(two_causes(), remedies={"mend-A": replace(two_causes().remedies["mend-A"], works=0.0)})
    answer = said("f", "yes", 0.06)
    wrong_once = rank(base, [Piece((answer,), remedy="mend-A"), Piece()]).wrong["f"]
    wrong_twice = rank(base, [Piece((answer,), remedy="mend-A"), Piece((answer,))]).wrong["f"]
    assert wrong_twice < wrong_once


def with_circumstance():
    return base_from(
        {"A": 0.16, "B": 0.08},
        {
            "moved": circumstance({"no": 0.8, "yes": 0.2}, {"A": {"yes": 5}}),
            "f": choice(["no", "yes"], {"A": {"yes": 0.9}, "B": {"yes": 0.5}}, 0.02),
        },
        remedies={"mend-A": (("A",), 0.9)},
    )


def test_a_circumstance_told_after_the_remedy_speaks_for_what_was_there_before_it():
    base = with_circumstance()
    moved, sign = said("moved", "yes", 0.06), said("f", "yes", 0.06)
    early = ranked(base, Piece((moved, sign), remedy="mend-A"), Piece((sign,)))
    late = ranked(base, Piece((sign,), remedy="mend-A"), Piece((moved, sign)))
    assert late == pytest.approx(early, abs=1e-12)


def test_a_finding_the_remedy_changes_itself_is_drawn_anew_even_where_nothing_was_cured():
    plain = two_causes()
    effect = plain.remedies["mend-A"]
    renewed = replace(plain, remedies={"mend-A": replace(effect, changed=frozenset({"complaint"}))})
    pieces = [Piece((COMPLAINT,), remedy="mend-A"), Piece((said("complaint", "no", 0.06),))]
    assert ranked(renewed, *pieces)["B"] > ranked(plain, *pieces)["B"]


def test_none_of_these_grows_when_remedies_fail_one_after_another():
    base = base_from(
        {"A": 0.1, "B": 0.1},
        {"complaint": choice(["no", "yes"], {"A": {"yes": 0.9}, "B": {"yes": 0.9}}, 0.02)},
        remedies={"mend-A": (("A",), 0.95), "mend-B": (("B",), 0.95)},
    )
    answer = said("complaint", "yes", 0.06)
    pieces = [Piece((answer,), remedy="mend-A"), Piece((answer,), remedy="mend-B"), Piece((answer,))]
    grown = [rank(base, [*pieces[:count], replace(pieces[count], remedy=None)]).none_of_these for count in range(3)]
    assert grown == sorted(grown)
    assert grown[2] > 0.3


# --- rules and remedies


def test_a_rule_that_fires_before_and_after_a_remedy_counts_once_where_its_cause_is_still_there():
    base = two_causes()
    once = by_set(base, rank(base, [Piece((COMPLAINT,), {"B": 4.0}, "mend-A"), Piece()]))
    both = by_set(base, rank(base, [Piece((COMPLAINT,), {"B": 4.0}, "mend-A"), Piece((), {"B": 4.0})]))
    assert both == pytest.approx(once, abs=1e-12)


def test_a_rule_after_a_remedy_speaks_of_the_clock_as_it_is_now():
    base = two_causes()
    before = by_set(base, rank(base, [Piece((COMPLAINT,), remedy="mend-A"), Piece()]))
    after = by_set(base, rank(base, [Piece((COMPLAINT,), remedy="mend-A"), Piece((), {"A": 0.25})]))
    assert after["A"] / after["B"] == pytest.approx(0.25 * before["A"] / before["B"], rel=1e-12)


# --- many causes


def large_course(seed):
    net = random_net(seed, most_causes=30, fewest_causes=24, expected_faults=(0.3,))
    cause = max(net.odds, key=net.odds.__getitem__)
    again = {name: given for name, given in net.answers.items() if cause in net.signs[name].links}
    return net, [Told(net.answers, Tried((cause,), 0.85), net.said), Told(again)]


@pytest.mark.parametrize("seed", range(8))
def test_thirty_causes_stay_within_a_half_percent_of_going_through_every_history(seed):
    net, told = large_course(seed)
    base, pieces = as_pieces(net, told)
    expected = through_remedies(net, told)
    ranking = rank(base, pieces)
    assert max(abs(entry.probability - expected.of(entry.cause)) for entry in ranking.causes) < 0.005
    assert math.isfinite(ranking.conflict)
    assert 0 <= ranking.left_out < 1


def test_what_is_left_out_after_a_remedy_covers_what_began_with_four_and_more_in_98_of_100_courses():
    covered = []
    for seed in range(100):
        net, told = random_course(seed, remedies=1, most_causes=7)
        base, pieces = as_pieces(net, told)
        covered.append(through_remedies(net, told, limit=None).beyond <= rank(base, pieces).left_out + 1e-15)
    assert sum(covered) >= 98
