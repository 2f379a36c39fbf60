"""Published and worked examples of choosing the next step, checked against the numeric core."""

import numpy as np
import pytest

from diagnose.reasoning.costs import ladder_of
from diagnose.reasoning.lookahead import Question, outlook_for_classes, values_of_asking, values_of_doing
from diagnose.reasoning.planning import Repairs, close_classes, entropy_nats, repairs_only, told_truth

# A price of referring that no plan can be worth: these examples have none.
NEVER_REFER = 1e6
ONE_LEVEL = ladder_of(np.zeros(1), 0)


def sure_repairs(needs, cures, minutes, **more):
    """Return repairs of sure remedies at one level, unless said otherwise."""
    remedies = len(minutes)
    values = {
        "needs": np.array(needs, dtype=np.intp),
        "cures": np.array(cures, dtype=float),
        "minutes": np.array(minutes, dtype=float),
        "reach": np.zeros(remedies, dtype=np.intp),
        "tries": np.ones(remedies, dtype=np.intp),
        "ladder": ONE_LEVEL,
        "refer_minutes": NEVER_REFER,
    }
    values.update(more)
    return Repairs(**values)


def leaf_of_repairs(repairs):
    """Return an outlook whose leaf is repairs only, since there is nothing more to ask."""
    return outlook_for_classes(repairs)


def only_repairs(repairs, weights, level=0):
    return float(repairs_only(repairs, np.array([weights], dtype=float), np.array([level]))[0])


# Jensen et al. 2001, AI EDAM 15:321-333, figure 1: A1 mends {1, 2}, A2 {2, 3}, A3 {3, 4}; cost 1 each.
JENSEN = sure_repairs([[0], [1], [2], [3]], [[1, 0, 0], [1, 1, 0], [0, 1, 1], [0, 0, 1]], [1, 1, 1])
JENSEN_WEIGHTS = np.array([0.20, 0.25, 0.40, 0.15])


def test_greedy_repairs_of_jensen_2001_cost_1_50():
    assert only_repairs(JENSEN, JENSEN_WEIGHTS) == pytest.approx(1.50)


def test_one_look_over_the_repairs_of_jensen_2001_finds_a3_first_at_1_45():
    values = values_of_doing(leaf_of_repairs(JENSEN), JENSEN_WEIGHTS, 0, [0, 1, 2])
    assert values == pytest.approx([1.55, 1.50, 1.45])
    assert int(values.argmin()) == 2


# Lin 2014, Int. J. Approximate Reasoning 55:977-988, figure 2: P = (1/2, 1/4, 1/4), unit costs.
LIN = sure_repairs([[0], [1], [2]], np.eye(3), [1, 1, 1])
LIN_WEIGHTS = np.array([0.5, 0.25, 0.25])
LIN_QUESTION = Question(np.array([[0.5, 1.0, 0.0], [0.5, 0.0, 1.0]]), 1.0, 0, 0.0)


def test_plain_repairs_of_lin_2014_cost_1_75():
    assert only_repairs(LIN, LIN_WEIGHTS) == pytest.approx(1.75)


def test_the_question_of_lin_2014_is_not_worth_asking():
    outlook = leaf_of_repairs(LIN)
    asked = values_of_asking(outlook, [LIN_QUESTION], LIN_WEIGHTS, 0)
    done = values_of_doing(outlook, LIN_WEIGHTS, 0, [0])
    assert asked == pytest.approx([2.5])
    assert done == pytest.approx([1.75])


def test_the_question_of_lin_2014_after_the_first_repair_costs_2_in_all():
    outlook = leaf_of_repairs(LIN)
    after_first = LIN_WEIGHTS * [0, 1, 1]
    assert 1.0 + values_of_asking(outlook, [LIN_QUESTION], after_first, 0)[0] == pytest.approx(2.0)


def test_independent_faults_of_vomlelova_2003_are_repaired_in_the_order_that_costs_10_11():
    # p = (.5, .06), c = (10, 1), the machine known faulty: weights of {1}, {2} and {1, 2}.
    weights = np.array([0.5 * 0.94, 0.5 * 0.06, 0.5 * 0.06]) / 0.53
    repairs = sure_repairs([[0, -1], [1, -1], [0, 1]], np.eye(2), [10, 1])
    assert only_repairs(repairs, weights) == pytest.approx(10.11, abs=0.005)
    first, second = values_of_doing(leaf_of_repairs(repairs), weights, 0, [0, 1])
    assert first == pytest.approx(10.11, abs=0.005)
    assert second == pytest.approx(10.43, abs=0.005)


def test_one_fault_of_four_is_repaired_in_order_of_probability_over_cost_for_35_0():
    # Rule p/c: Heckerman, Breese & Rommelse 1995, CACM 38(3):49-57; 35.0 by brute force over all orders.
    repairs = sure_repairs([[0], [1], [2], [3]], np.eye(4), [30, 10, 20, 5])
    weights = np.array([0.5, 0.3, 0.15, 0.05])
    assert only_repairs(repairs, weights) == pytest.approx(35.0)
    values = values_of_doing(leaf_of_repairs(repairs), weights, 0, [0, 1, 2, 3])
    assert int(values.argmin()) == 1


# Worked example W9: hood +3, movement-out +25 more; A 10 min at the hood, B 40 min with the movement out.
W9_LADDER = ladder_of(np.array([0.0, 3.0, 25.0]), 2)
W9 = sure_repairs([[0], [1]], np.eye(2), [10, 40], reach=np.array([1, 2], dtype=np.intp), ladder=W9_LADDER)


W9_QUESTION = Question(np.array([[0.9, 0.1], [0.1, 0.9]]), 2.0, 1, 0.0)


@pytest.mark.parametrize(
    ("first", "a_first", "b_first", "asked"), [(0.6, 39.0, 74.0, 41.0), (0.25, 61.75, 70.5, 58.625)]
)
def test_the_ladder_decides_between_repairing_and_asking(first, a_first, b_first, asked):
    weights = np.array([first, 1 - first])
    outlook = leaf_of_repairs(W9)
    assert values_of_doing(outlook, weights, 0, [0, 1]) == pytest.approx([a_first, b_first])
    assert values_of_asking(outlook, [W9_QUESTION], weights, 0) == pytest.approx([asked])


def test_opening_is_paid_once_while_it_stays_open():
    assert only_repairs(W9, [1.0, 0.0], level=1) == pytest.approx(10.0)
    assert only_repairs(W9, [0.0, 1.0], level=0) == pytest.approx(3 + 25 + 40)


def test_a_deep_repair_closes_the_clock_again_as_far_as_the_proof_needs():
    # Two repairs with the movement out; the clock runs only up to the hood, so the second opens it anew.
    closing = sure_repairs(
        [[0], [1]],
        np.eye(2),
        [40, 40],
        reach=np.array([2, 2], dtype=np.intp),
        ladder=ladder_of(np.array([0, 3, 25]), 1),
    )
    standing = sure_repairs(
        [[0], [1]],
        np.eye(2),
        [40, 40],
        reach=np.array([2, 2], dtype=np.intp),
        ladder=ladder_of(np.array([0, 3, 25]), 2),
    )
    weights = [0.5, 0.5]
    assert only_repairs(standing, weights) == pytest.approx(68 + 0.5 * 40)
    assert only_repairs(closing, weights) == pytest.approx(68 + 0.5 * (40 + 25))


def test_an_uncertain_remedy_is_tried_at_most_as_often_as_it_may_be_and_then_referred():
    once = sure_repairs([[0]], [[0.8]], [10], refer_minutes=100.0)
    twice = sure_repairs([[0]], [[0.8]], [10], refer_minutes=100.0, tries=np.array([2], dtype=np.intp))
    assert only_repairs(once, [1.0]) == pytest.approx(10 + 0.2 * 100)
    assert only_repairs(twice, [1.0]) == pytest.approx(10 + 0.2 * 10 + 0.04 * 100)


def test_repairs_stop_where_referring_is_cheaper():
    repairs = sure_repairs([[0], [1]], np.eye(2), [10, 500], refer_minutes=100.0)
    assert only_repairs(repairs, [0.5, 0.5]) == pytest.approx(10 + 0.5 * 100)


def test_the_told_truth_takes_the_cheapest_remedy_or_refers():
    repairs = sure_repairs([[0], [1], [-1]], [[1, 1], [0, 0]], [10, 7], refer_minutes=100.0)
    assert told_truth(repairs)[0] == pytest.approx([7, 100, 0])


def test_the_told_truth_of_two_needs_opens_the_clock_once():
    both = sure_repairs([[0, 1]], np.eye(2), [10, 40], reach=np.array([1, 2], dtype=np.intp), ladder=W9_LADDER)
    assert told_truth(both)[0] == pytest.approx([3 + 10 + 25 + 40])


def test_a_repair_moves_a_class_with_two_needs_to_the_class_with_the_other():
    classes = close_classes({frozenset({0, 1})})
    needs = [sorted(item) + [-1] * (2 - len(item)) for item in classes]
    repairs = sure_repairs(needs, np.diag([0.9, 1.0]), [10, 1])
    weights = np.array([1.0 if len(item) == 2 else 0.0 for item in classes])
    # 10 for the first, whether it mends or not; then 1 for the second; then the tenth not mended is referred.
    value = values_of_doing(leaf_of_repairs(repairs), weights, 0, [0])[0]
    assert value == pytest.approx(10 + 1 + 0.1 * NEVER_REFER, rel=1e-9)


def test_entropy_is_that_of_the_shares_times_the_weight():
    assert entropy_nats(np.array([[1.0, 1.0], [2.0, 0.0]])) == pytest.approx([2 * np.log(2), 0.0])


def test_handing_over_costs_less_the_better_the_cause_is_known():
    repairs = sure_repairs([[0], [1]], np.zeros((2, 1)), [1], refer_minutes=100.0, handover_minutes=50.0)
    assert only_repairs(repairs, [0.5, 0.5]) == pytest.approx(125)
    assert only_repairs(repairs, [1.0, 0.0]) == pytest.approx(100)
