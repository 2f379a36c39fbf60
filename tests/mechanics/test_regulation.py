"""Checks of the rating nut against published values."""

from __future__ import annotations

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics import regulation
from diagnose.mechanics.pendulum import MM_PER_INCH


def test_nut_of_18_threads_an_inch_on_a_seconds_pendulum():
    # Beckett p. 50 and Goodrich ch. V: about a minute a day; exactly 61.318 s
    rate = regulation.rate_per_turn(39.14 * MM_PER_INCH, MM_PER_INCH / 18)
    assert rate == pytest.approx(61.318, abs=0.001)


@pytest.mark.parametrize(("threads", "seconds"), [(36, 30.7), (32, 34.5), (40, 27.6)])
def test_finer_threads(threads, seconds):
    rate = regulation.rate_per_turn(39.14 * MM_PER_INCH, MM_PER_INCH / threads)
    assert rate == pytest.approx(seconds, abs=0.06)


def test_thread_for_a_minute_a_turn_is_the_720th_part_of_the_length():
    assert regulation.pitch_for(60, 720) == pytest.approx(1)  # Beckett p. 50


def test_a_second_a_day_on_a_seconds_pendulum():
    assert 1 / regulation.rate_per_mm(993.62) == pytest.approx(0.0230, abs=5e-5)  # derived


@pytest.mark.parametrize(
    ("length_mm", "rates"),
    [
        (994, (21.7, 30.4, 32.6, 34.8, 43.5)),
        (560, (38.6, 54.0, 57.9, 61.7, 77.1)),
        (430, (50.2, 70.3, 75.3, 80.4, 100.5)),
        (250, (86.4, 121.0, 129.6, 138.2, 172.8)),
        (160, (135, 189, 203, 216, 270)),
        (120, (180, 252, 270, 288, 360)),
    ],
)
def test_table_of_rate_per_turn(length_mm, rates):
    # derived from 43200 dL / L (Beckett p. 50)
    for pitch_mm, rate in zip((0.5, 0.7, 0.75, 0.8, 1.0), rates, strict=True):
        assert regulation.rate_per_turn(length_mm, pitch_mm) == pytest.approx(rate, abs=0.06 if rate % 1 else 0.51)


def test_worked_example_of_a_clock_that_gains():
    # gains 4 min a day, seconds pendulum, 18 threads: 3.9 turns down (derived)
    turns = regulation.turns_to_correct(240, 39.14 * MM_PER_INCH, MM_PER_INCH / 18)
    assert turns == pytest.approx(-3.9, abs=0.05)


def test_worked_example_of_a_clock_that_loses():
    # loses 90 s a day, 250 mm, pitch 0.7 mm: 0.74 turn up (derived)
    assert regulation.turns_to_correct(-90, 250, 0.7) == pytest.approx(0.74, abs=0.005)


def test_twenty_minutes_a_day_by_length():
    # first order 27.6 mm, exactly 27.8 mm (derived)
    assert regulation.length_change_mm(1200, 994) == pytest.approx(27.8, abs=0.06)
    assert 1200 / regulation.rate_per_mm(994) == pytest.approx(27.6, abs=0.06)


def test_rate_from_a_reading_after_a_week():
    assert regulation.rate_from_reading(3, 7) == pytest.approx(25.7, abs=0.05)


def test_reading_without_time_is_refused():
    with pytest.raises(UsageError, match="days since it was set"):
        regulation.rate_from_reading(3, 0)


def test_half_way_weight_of_a_10800th_part_gains_a_second():
    assert regulation.rate_by_small_weight(1 / 10_800, 0.5) == pytest.approx(1)  # Beckett p. 51


def test_half_way_up_has_the_greatest_effect():
    # Beckett p. 51
    rates = [regulation.rate_by_small_weight(1e-4, place / 10) for place in range(11)]
    assert max(rates) == rates[5]


def test_a_weight_at_a_third_must_be_a_9600th_part():
    # derived from Beckett's own formula (p. 51), whose printed figure for this case is wrong
    assert regulation.rate_by_small_weight(1 / 9600, 1 / 3) == pytest.approx(1)


def test_front_edge_to_the_right_raises_the_bob():
    assert (regulation.front_edge_of_nut(True), regulation.front_edge_of_nut(False)) == ("right", "left")


@pytest.mark.parametrize(("rate", "length", "pitch"), [(1200, 994, 1.0), (-90, 250, 0.7), (240, 994.2, 1.411)])
def test_exact_turns_undo_the_rate_they_were_reckoned_from(rate, length, pitch):
    turns = regulation.turns_to_correct_exactly(rate, length, pitch)
    # From where the nut ends, the same turns back give the rate again.
    there = length - turns * pitch
    assert regulation.rate_after_turns(-turns, there, pitch) == pytest.approx(rate)


def test_for_small_rates_exact_turns_are_those_of_the_rule():
    exact, rule = (
        reckoned(5, 994, 0.7) for reckoned in (regulation.turns_to_correct_exactly, regulation.turns_to_correct)
    )
    assert exact == pytest.approx(rule, rel=1e-4)


def test_turns_that_raise_the_bob_past_its_spring_are_refused():
    with pytest.raises(UsageError, match="past its suspension"):
        regulation.rate_after_turns(400, 250, 0.7)


@pytest.mark.parametrize(("place", "share"), [(1 / 3, 9600), (2 / 3, 9600), (0.5, 10_800)])
def test_share_of_a_small_weight_for_a_second(place, share):
    # Beckett p. 51; his 7200 for a third is a misprint of his own formula
    assert regulation.small_weight_for(1, place) == pytest.approx(1 / share)


@pytest.mark.parametrize(("gain", "place"), [(1, 0.0), (1, 1.0), (-1, 0.5), (0, 0.5)])
def test_a_weight_where_it_does_nothing_is_refused(gain, place):
    with pytest.raises(UsageError, match="only gains"):
        regulation.small_weight_for(gain, place)
