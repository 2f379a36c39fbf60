"""The answer of a nut is learned from the clock's own rates."""

from __future__ import annotations

import pytest

from diagnose.mechanics.nut_response import NutPrior, Reading, turn_deviation
from diagnose.mechanics.nut_response import believe as believe_stages
from diagnose.mechanics.regulation import rate_per_turn

PRIOR = NutPrior(rate_per_turn(994, 1.0), 0.3)


def believe(rates, turns, prior):
    """One comparison of the hands at each stage."""
    return believe_stages([[Reading(*rate)] for rate in rates], turns, prior)


def test_before_any_turn_the_table_speaks_and_large_freedom_holds_back():
    # gains 240 s a day, 43.5 s a turn (derived): 5.5 turns down, less as the answer is not known
    belief = believe([(240, 5)], [], PRIOR)
    assert -5.5 < belief.best_turns < -4
    assert belief.per_turn == pytest.approx(43.5, rel=0.06)


def test_the_clocks_own_answer_replaces_the_table():
    belief = believe([(240, 3), (90, 3)], [-5.0], PRIOR)
    assert belief.per_turn == pytest.approx(30, rel=0.12)
    assert belief.best_turns == pytest.approx(-3, rel=0.12)
    assert belief.per_turn_uncertainty < 0.25 * 30


def test_a_turn_that_went_the_other_way_is_seen():
    belief = believe([(240, 3), (450, 3)], [-5.0], PRIOR)
    assert belief.other_way > 0.99
    assert belief.per_turn == pytest.approx(42, rel=0.12)


def test_a_bob_that_did_not_follow_is_seen():
    belief = believe([(240, 3), (239, 3)], [-5.0], PRIOR)
    assert belief.bob_stayed > 0.99
    assert belief.per_turn == pytest.approx(PRIOR.per_turn, rel=0.1)


def test_a_second_reading_of_the_same_rate_narrows_it():
    wide, narrow = believe([(20, 10)], [], PRIOR), believe([(20, 1)], [], PRIOR)
    assert narrow.now_uncertainty < wide.now_uncertainty


def test_a_small_turn_is_not_made_surer_than_a_hand():
    assert turn_deviation(0.02) == 0.015
    assert turn_deviation(4) == pytest.approx(0.2)


def recorded(rate):
    # 50 ppm of a day are 4.32 s, and a little of its own (from memory; the bench says what it is in fact)
    return Reading(rate, 4.4, recorded=True)


def test_what_a_turn_changed_is_known_better_than_each_recording():
    told = believe_stages([[recorded(240)], [recorded(200)]], [-1.0], PRIOR)
    compared = believe_stages([[Reading(240, 4.4)], [Reading(200, 4.4)]], [-1.0], PRIOR)
    assert told.per_turn_uncertainty < 0.7 * compared.per_turn_uncertainty


def test_recordings_alone_never_tell_the_rate_better_than_their_sample_clock():
    belief = believe_stages([[recorded(240)], [recorded(100)], [recorded(0)]], [-3.5, -2.5], PRIOR)
    assert belief.now_uncertainty > 4.0


def test_hands_beside_a_recording_tell_what_its_sample_clock_is_off():
    # two recordings and one comparison that differs from its recording by 6 s a day: so does the earlier one
    both = [[recorded(50), Reading(44, 0.5)], [recorded(10)]]
    assert believe_stages(both, [-1.0], PRIOR).now == pytest.approx(10 - 6 * 0.7, abs=1.2)
