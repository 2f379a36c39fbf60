"""Looking two acts ahead: what an act, the side and a look are worth."""

from __future__ import annotations

import pytest

from diagnose.coaching.lookahead import best_act, worth_of_look, worth_of_side
from diagnose.mechanics.beat_response import WRONG_WAY, Beat, Move, Prior, believe

TABLE = 10.0
PRIOR = Prior(TABLE, 0.4)
KNOWN = Prior(TABLE, 0.02)


def belief(*percents, moves=(), signed=True, prior=PRIOR):
    return believe([Beat(percent, 0.3, signed) for percent in percents], [Move(mm) for mm in moves], prior)


def test_the_last_act_of_a_known_clock_goes_all_the_way():
    # where the answer is known nothing is held back, to the step of the grid
    assert best_act(belief(10, prior=KNOWN), TABLE, 1, True).move_percent == pytest.approx(10, abs=1)


def test_the_last_act_is_worth_what_acts_that_go_the_right_way_are():
    # in with the share of acts that go as told, less what a side noted wrongly, a turned adjuster and scatter take
    worth = best_act(belief(10, prior=KNOWN), TABLE, 1, True).worth
    assert 1 - WRONG_WAY - 0.1 < worth < 1 - WRONG_WAY


def test_a_second_act_is_worth_much():
    told = belief(10, prior=KNOWN)
    assert best_act(told, TABLE, 2, True).worth > best_act(told, TABLE, 1, True).worth + 0.1


def test_an_unknown_answer_makes_it_worth_less():
    assert best_act(belief(14), TABLE, 2, True).worth < best_act(belief(14, prior=KNOWN), TABLE, 2, True).worth


def test_the_act_goes_to_the_side_that_comes_early():
    right, left = (best_act(belief(sign * 12), TABLE, 2, True).move_percent for sign in (1, -1))
    assert right > 0 > left
    assert right == pytest.approx(-left)


def test_a_known_side_is_worth_little_more_and_an_unknown_one_much():
    assert worth_of_side(belief(12), TABLE, 2, True) < 0.02
    assert worth_of_side(belief(12, signed=False), TABLE, 2, True) > 0.08


def test_after_a_good_act_nobody_needs_to_look_and_after_a_bad_one_it_helps():
    assert worth_of_look(belief(12, 4, moves=(0.8,)), TABLE, 2, True) < 0.02
    assert worth_of_look(belief(12, 20, moves=(0.8,), signed=False), TABLE, 1, False) > 0.08


def test_a_beat_that_is_in_is_left_nearly_alone():
    assert abs(best_act(belief(2), TABLE, 1, True).move_percent) <= 2
