"""What steps cost: the ladder of opening, harm, waiting, parts and places."""

import numpy as np
import pytest

from diagnose.reasoning.costs import (
    PART_ALONG,
    finding_minutes,
    ladder_of,
    level_of,
    remedy_minutes,
    shop_ladder,
    waiting_minutes,
)
from tests.reasoning.planner_cases import small_knowledge

SHOP = small_knowledge().shop


def test_each_rung_is_paid_on_the_way_down_and_none_on_the_way_up():
    ladder = ladder_of(np.array([0.0, 1.0, 3.0, 25.0]), 3)
    assert ladder.minutes[0].tolist() == [0, 1, 4, 29]
    assert ladder.minutes[2].tolist() == [0, 0, 0, 25]


def test_the_shop_ladder_adds_up_the_figures_of_its_rungs():
    ladder = shop_ladder(small_knowledge(), "visit", "unknown")
    figures = SHOP.opening_minutes
    outside, hood = level_of("outside"), level_of("hood")
    assert ladder.minutes[outside, hood] == pytest.approx(figures["outside"] + figures["door"] + figures["hood"])


def test_after_a_shallow_repair_the_clock_stays_as_open_as_it_is():
    ladder = ladder_of(np.ones(6), level_of("dial"))
    assert ladder.after_repair(np.array([0, 2]), np.array([2, 1])).tolist() == [2, 2]


def test_after_a_deep_repair_the_clock_is_closed_as_far_as_it_must_be_to_run():
    ladder = ladder_of(np.ones(6), level_of("hood"))
    assert ladder.after_repair(np.array([0]), np.array([4])).tolist() == [level_of("hood")]


def test_a_shallow_repair_at_an_open_movement_closes_it_for_the_proof():
    ladder = ladder_of(np.ones(6), level_of("dial"))
    assert ladder.after_repair(np.array([4]), np.array([1])).tolist() == [level_of("dial")]


def test_at_the_bench_a_movement_runs_out_of_its_case():
    assert shop_ladder(small_knowledge(), "workshop", "floor").proof_level == level_of("movement-out")


def test_elsewhere_the_family_says_how_far_open_a_clock_runs():
    knowledge = small_knowledge()
    runs_open = knowledge.clocks["floor"].runs_open or "dial"
    assert shop_ladder(knowledge, "visit", "floor").proof_level == level_of(runs_open)


def test_a_day_of_waiting_costs_the_price_of_a_day():
    assert waiting_minutes(48, SHOP) == pytest.approx(2 * SHOP.day_minutes)


def test_looking_at_another_place_costs_the_change():
    entry = small_knowledge().findings["tick"]
    here, there = finding_minutes(entry, SHOP, entry.place), finding_minutes(entry, SHOP, "hands")
    assert there - here == pytest.approx(SHOP.change_place_minutes)


def test_care_has_a_price():
    entry = small_knowledge().findings["tick"]
    careful = entry.model_copy(update={"risk": "care"})
    assert finding_minutes(careful, SHOP) - finding_minutes(entry, SHOP) == pytest.approx(SHOP.harm_minutes["care"])


def test_a_remedy_pays_for_its_proof():
    entry = small_knowledge().remedies["put-the-leader-into-the-crutch"]
    assert remedy_minutes(entry, small_knowledge(), "visit") == pytest.approx(entry.minutes + SHOP.proof_minutes)


def test_a_part_that_may_not_be_at_hand_may_cost_a_second_visit():
    knowledge = small_knowledge()
    entry = knowledge.remedies["fit-new-suspension-spring"]
    without = remedy_minutes(entry, knowledge, "visit")
    with_it = remedy_minutes(entry, knowledge, "visit", frozenset(entry.parts))
    assert without - with_it == pytest.approx(SHOP.part_minutes + (1 - PART_ALONG) * SHOP.second_visit_minutes)


def test_in_the_workshop_a_part_costs_itself_only():
    knowledge = small_knowledge()
    entry = knowledge.remedies["fit-new-suspension-spring"]
    without = remedy_minutes(entry, knowledge, "workshop")
    assert without - remedy_minutes(entry, knowledge, "workshop", frozenset(entry.parts)) == pytest.approx(
        SHOP.part_minutes
    )
