"""How often people set the beat of simulated clocks in at most three acts, as they are coached.

Goal: 95 % below 5 percent with every fifth act done the wrong way, the side unknown at first and the answer of the
clock unknown. `python -m tests.bench.coaching_bench` prints the shares beside the best possible; what stands here
are floors, two deviations below what was measured on 1,200 clocks: 0.957, and 0.89 below 3 percent. Where the side is
never told the best that is possible is 0.86, and the goal is out of reach.
"""

from __future__ import annotations

import pytest

from tests.bench.coaching_optimum import Game, best_share
from tests.coaching.adjusting import OnTheLine, Person, by_the_textbook, set_the_beat, shares

COUNT = 100
SLIPS = Person(slips=0.2, content=True)


def below_five(person, **others):
    return shares(person, COUNT, **others)[0]


def test_with_every_fifth_act_the_wrong_way_the_beat_comes_in():
    assert below_five(SLIPS) >= 0.92


def test_without_slips_nearly_every_beat_comes_in():
    below_five, below_three = shares(Person(), COUNT)
    assert below_five >= 0.96
    assert below_three >= 0.90


def test_people_for_whom_all_goes_the_other_way_but_who_look_come_in():
    assert below_five(Person(mirrored=0.2, looks=0.9, content=True)) >= 0.93


def test_with_the_side_never_told_slips_cost_most():
    assert below_five(Person(slips=0.2, looks=0.9, learns_side=0.0, content=True)) >= 0.82


def test_the_textbook_alone_comes_in_far_less_often():
    assert below_five(SLIPS) >= below_five(SLIPS, policy=by_the_textbook) + 0.1


def test_the_coach_comes_near_the_best_that_is_possible():
    best = sum(best_share(Game(), error) for error in (8, 13, 18)) / 3
    coached = below_five(Person(slips=0.2, side_wrong=0.0, content=True), place=OnTheLine)
    assert coached >= best - 0.06


def test_nobody_does_better_than_the_best_that_is_possible():
    # Two acts that both go the wrong way, and the third too: what knows everything cannot help that
    assert best_share(Game(gain_spread=0.0), 7) == pytest.approx(1 - 0.2**3, abs=0.002)


def test_no_clock_needs_more_than_the_acts_it_is_allowed():
    assert all(len(set_the_beat(seed, SLIPS).acts) <= 3 for seed in range(30))


def test_a_clock_in_the_hands_of_someone_careful_never_stops():
    assert all(max(set_the_beat(seed, Person(side_wrong=0.0)).percents) < 30 for seed in range(60))
