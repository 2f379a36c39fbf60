"""Checks of the train against published counts."""

from __future__ import annotations

from fractions import Fraction

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics import train


@pytest.mark.parametrize(
    ("wheels", "pinions", "beats"),
    [
        ((64, 60), (8, 8), 3600),  # Beckett pp. 22-23
        ((96, 80), (8, 8), 7200),  # Beckett p. 135
        ((84, 80), (8, 7), 7200),  # Beckett p. 135, escape pinion of 7
        ((72, 60), (6, 6), 7200),  # Beckett p. 135, lantern pinions
        ((80, 75), (10, 10), 3600),  # Goodrich ch. XV
    ],
)
def test_published_trains_beat_as_printed(wheels, pinions, beats):
    assert train.beats_per_hour(wheels, pinions, 30) == beats


def test_product_of_half_seconds_wheels_is_120_by_64():
    assert 96 * 80 == 120 * 8 * 8  # Beckett p. 135
    assert train.turns((96, 80), (8, 8)) == 120


@pytest.mark.parametrize(("wheel", "pinion", "hours"), [(120, 10, 12), (96, 8, 12)])
def test_great_wheel_turns_in_twelve_hours(wheel, pinion, hours):
    assert train.turns((wheel,), (pinion,)) == hours  # Beckett pp. 22, 133


def test_train_of_a_year_clock():
    # Beckett p. 138: 100 x 90 x 76 over 12, 10, 10 with 16 turns of the barrel: 380 days
    assert train.turns((100, 90, 76), (12, 10, 10)) * 16 == 380 * 24
    assert 100 * 90 * 76 == 684_000 == 380 * 24 * 12 * 10 * 10 // 16


def test_moon_train():
    # Beckett p. 139: first pinion on the hour arbor, 6 into 91, 9 into 91, 37 into 171
    hours = 1 / train.turns((6, 9, 37), (91, 91, 171))
    assert float(hours) == pytest.approx(708.734234, abs=1e-6)


def test_blows_of_twelve_hours():
    # Beckett p. 165: great wheel 78 to a pinion of 8 with 8 pins makes one turn in 78 blows
    assert train.turns((78,), (8,)) * 8 == 78 == sum(range(1, 13))


def test_center_wheel_of_an_hour_gives_an_escape_wheel_of_a_minute():
    assert Fraction(60) / train.turns((64, 60), (8, 8)) == 1  # Beckett p. 23


def test_a_count_of_nothing_is_refused():
    with pytest.raises(UsageError, match="at least 1"):
        train.turns((64, 0), (8, 8))


def test_an_escape_wheel_without_teeth_is_refused():
    with pytest.raises(UsageError, match="0 teeth"):
        train.beats_per_hour((64,), (8,), 0)


def test_wheels_without_pinions_are_refused():
    with pytest.raises(UsageError, match="one pinion for each wheel"):
        train.turns((64, 60), (8,))


@pytest.mark.parametrize(("measured", "common"), [(3604, 3600), (7150, 7200), (8950, 9000), (14200, 14400)])
def test_nearest_common_train(measured, common):
    assert train.nearest_train(measured) == common


def test_far_from_every_common_train_none_is_proposed():
    assert train.nearest_train(3920) is None


@pytest.mark.parametrize(("days", "turns"), [(8, 16), (30, 60)])
def test_turns_of_a_great_wheel_of_twelve_hours(days, turns):
    assert train.run_days(turns, 96, 8) == days  # Beckett p. 133
    assert train.barrel_turns_for(days, (96,), (8,)) == turns


def test_a_moon_of_118_teeth_moved_twice_a_day_is_early():
    # 118 half days for two moons, common practice, no source: 29.5 days against 29.530589 of the mean moon
    month_h = train.moon_month_h((1,), (118,), 12) / 2
    assert month_h == 29.5 * 24
    assert train.moon_days_a_year(month_h) == pytest.approx(-365.2425 * (29.530589 / 29.5 - 1))


def test_the_printed_moon_train_is_right_to_a_few_minutes_a_year():
    month_h = train.moon_month_h((6, 9, 37), (91, 91, 171))  # Beckett p. 139: 29 d 12 h 44 min 3.2 s
    seconds = (month_h - 29 * 24 - 12) * 3600 - 44 * 60
    assert seconds == pytest.approx(3.2, abs=0.05)
    assert abs(train.moon_days_a_year(month_h)) * 24 * 60 < 5


def test_motion_work_that_is_not_twelve_to_one_says_what_it_is():
    assert train.hour_hand_ratio(30, 90, 10, 40) == 12
    assert train.hour_hand_ratio(30, 91, 10, 40) == Fraction(182, 15)
