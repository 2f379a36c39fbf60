"""How often people set the beat of 300 simulated clocks in at most three acts.

Goal: 95 % below 5 and below 3 percent. It is met where nobody slips, and where people are turned about but look
after a step that did not help. With a slip in every fifth act it is not: two slips in three acts happen to one
in ten, and nothing that is told can undo both. The floors below are what is reached, less a little.
"""

from __future__ import annotations

from tests.coaching.adjusting import Person, set_the_beat, shares


def test_without_slips_the_goal_is_met():
    below_five, below_three = shares(Person())
    assert below_five >= 0.95
    assert below_three >= 0.95


def test_people_who_are_turned_about_but_look_meet_the_goal():
    below_five, below_three = shares(Person(mirrored=0.2, looks=0.9))
    assert below_five >= 0.95
    assert below_three >= 0.95


def test_a_slip_in_every_fifth_act_leaves_nine_in_ten():
    below_five, below_three = shares(Person(slips=0.2, looks=0.9))
    assert below_five >= 0.88
    assert below_three >= 0.84


def test_five_acts_make_good_a_slip_in_every_fifth():
    assert shares(Person(slips=0.2, looks=0.9), most_acts=5)[0] >= 0.93


def test_with_the_side_never_known_slips_cost_most():
    below_five, _ = shares(Person(slips=0.2, looks=0.9, learns_side=False), count=150)
    assert below_five >= 0.80


def test_with_the_side_never_known_and_no_slips_the_trial_step_is_enough():
    below_five, below_three = shares(Person(learns_side=False), count=150)
    assert below_five >= 0.92
    assert below_three >= 0.88


def test_no_clock_needs_more_than_the_acts_it_is_allowed():
    assert all(len(set_the_beat(seed, Person()).acts) <= 3 for seed in range(40))


def test_a_clock_in_the_hands_of_someone_careful_never_stops():
    assert all(max(set_the_beat(seed, Person()).percents) < 30 for seed in range(100))
