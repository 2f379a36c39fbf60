"""From stop times to the wheel or the meeting of hands: exact periods, false alarms and power."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from diagnose.mechanics import train
from diagnose.mechanics.stop_patterns import HANDS_MEET_MIN, USUAL_COUNTS, Counts, wheel_patterns
from diagnose.mechanics.stop_times import TURNS, VALUES, explain_stops, rounding_min
from diagnose.model.reading import read_knowledge
from diagnose.model.stop_notes import StopTime, parse_stops


def explained(text, **more):
    return explain_stops(parse_stops(text), **more)


# ---- periods ---------------------------------------------------------------------------------------


def test_wheels_of_the_seconds_train_turn_in_60_and_7_and_a_half_and_1_minute():
    # Beckett pp. 22-23 (64 into 8, 60 into 8, escape wheel once a minute); his 8 minutes are a slip for 7 1/2
    assert train.turning_times_min((64, 60), (8, 8)) == (60, Fraction(15, 2), 1)


@pytest.mark.parametrize(("teeth", "pinion"), [(120, 10), (96, 8)])
def test_great_wheel_turns_in_twelve_hours(teeth, pinion):
    assert train.great_wheel_min(teeth, pinion) == 720  # Beckett pp. 22, 133


def test_half_seconds_trains_have_a_wheel_of_five_minutes():
    # Beckett p. 135: 96 and 80 into 8 and 8; derived
    assert train.turning_times_min((96, 80), (8, 8)) == (60, 5, Fraction(1, 2))
    assert train.turning_times_min((84, 80), (8, 7))[1] == Fraction(40, 7)


def test_hands_meet_every_twelve_elevenths_of_an_hour():
    assert Fraction(12, 11) * 60 == Fraction(720, 11)
    assert abs(HANDS_MEET_MIN - (65 + 27.3 / 60)) < 0.001


def test_eleven_meetings_in_twelve_hours_are_where_both_hands_point_alike():
    # exact: the minute hand makes 12 turns while the hour hand makes one
    for meeting in range(11):
        minutes = Fraction(720 * meeting, 11)
        assert (minutes / 60) % 1 == (minutes / 720) % 1


def test_usual_trains_name_each_period_once():
    names = [(pattern.name, round(pattern.period_min, 4)) for pattern in wheel_patterns(USUAL_COUNTS)]
    assert len(set(names)) == len(names)
    assert {("between-wheel", 7.5), ("escape-wheel", 1.0), ("great-wheel", 720.0)} <= set(names)


# ---- what times say ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("times", "name", "value"),
    [
        ("1:20, 4:21, 9:19, 7:20", "minute-hand", "same-minute-each-hour"),
        ("1:05, 2:11, 5:27, 9:50", "hands-meet", "every-65-min"),
        ("12:55, 1:05, 12:50, 1:12", "near-one", "near-one"),
        ("1:57, 4:58, 9:56, 11:58", "before-hour", "just-before-hour"),
        ("1:14, 4:29, 9:44, 2:59, 7:29", "quarters", "quarters"),
        ("Tue 9:11, Tue 7:04, Tue 10:49, Tue 3:23", "weekday", "same-weekday"),
        ("4:20, 4:26, 4:13, 4:21", "dial-time", "same-time-each-day"),
        ("11:50 pm, 2:10 am, 5:00 am, 3:33 am, 1:10 am, 10:41 pm", "night", "night-only"),
    ],
)
def test_times_name_their_pattern_and_the_value_of_the_finding(times, name, value):
    answer = explained(times)
    assert (answer.verdict, answer.best.pattern.name) == ("pattern", name)
    shares = answer.likelihoods["stop-pattern"]
    assert max(shares, key=shares.get) == value
    assert sum(shares.values()) == pytest.approx(1)


@pytest.mark.parametrize(
    ("finding", "values"), [("stop-pattern", VALUES), ("repeats-with", ("no-period", *TURNS.values()))]
)
def test_the_values_are_those_of_the_knowledge(finding, values):
    entry = read_knowledge(check=False).findings[finding]
    assert set(values) == set(entry.values)
    assert entry.normal == values[0]


def test_runs_of_whole_turns_name_the_wheel_between():
    # 10, 21, 31 and 7 turns of 7 1/2 minutes (Beckett pp. 22-23)
    answer = explained("ran 75 min, 157 min, 232 min, 52 min", counts=(Counts(),))
    assert answer.best.pattern.name == "between-wheel"
    assert answer.best.pattern.period_min == 7.5
    shares = answer.likelihoods["repeats-with"]
    assert max(shares, key=shares.get) == "third-wheel"


def test_runs_of_one_length_are_told_and_name_no_value():
    answer = explained("ran 7 h 30 min, 7 h 52 min, 7 h 41 min")
    assert answer.best.pattern.name == "same-run"
    assert answer.likelihoods == {}


def test_the_mean_place_is_the_minute_that_was_logged():
    best = explained("1:20, 4:21, 9:19, 7:20").best
    assert best.place == pytest.approx(20, abs=0.1)
    assert best.together > 0.99


def test_rayleighs_chance_of_four_at_one_place():
    # exp(sqrt(1 + 4n) - (1 + 2n)) for R = 1 and n = 4 (Zar, from memory)
    assert explained("1:20, 4:20, 9:20, 7:20", read_to_min=1).best.by_chance == pytest.approx(np.exp(17**0.5 - 9))


def test_one_stray_time_among_six_does_not_hide_the_minute():
    assert explained("1:20, 4:21, 9:19, 7:20, 3:47, 11:21").best.pattern.name == "minute-hand"


# ---- what they cannot say ----------------------------------------------------------------------------


def test_two_times_say_nothing_yet():
    answer = explained("1:20, 4:20")
    assert (answer.verdict, answer.more, answer.likelihoods) == ("cannot-tell", 2, {})


def test_three_doubtful_times_ask_for_two_more():
    answer = explained("9:47, 2:14 pm, Tue 8:40")
    assert (answer.verdict, answer.more) == ("cannot-tell", 2)
    assert answer.false_alarm > 0.05


def test_the_escape_wheel_cannot_be_told_from_times_to_the_minute():
    names = {pattern.name for pattern in explained("1:20, 4:21, 9:19, 7:20").too_short}
    assert names == {"escape-wheel-dial"}


def test_times_to_the_quarter_hour_cannot_tell_quarters():
    answer = explained("1:15, 4:30, 9:45, 2:00")
    assert answer.read_to_min == 15
    assert "quarters" in {pattern.name for pattern in answer.too_short}
    assert answer.verdict == "cannot-tell"


def test_a_reading_to_five_minutes_is_seen_from_the_times():
    assert rounding_min(parse_stops("1:05, 2:10, 5:25")) == 5


def test_what_would_let_more_be_tried_is_named():
    assert explained("9:47, 2:14, 8:40").missing == ("half-of-day", "weekday", "run")


def test_hands_that_were_set_between_the_stops_say_nothing_of_the_train():
    names = {fit.pattern.name for fit in explained("1:05, 2:13, 5:28, 9:50", hands_set=True).fits}
    assert not names & {"between-wheel-dial", "escape-wheel-dial"}


def test_a_wheel_that_has_not_turned_once_is_not_tried():
    names = {fit.pattern.name for fit in explained("ran 20 min, 31 min, 44 min").fits}
    assert "center-wheel" not in names


def test_six_times_all_over_the_dial_are_no_pattern():
    answer = explained("1:03, 2:31, 4:46, 6:12, 8:55, 10:38, 11:22")
    assert answer.verdict == "none"
    shares = answer.likelihoods["stop-pattern"]
    assert max(shares, key=shares.get) == "no-pattern"


# ---- seeded simulations ------------------------------------------------------------------------------

SIMULATED = 400


def simulated(seed, count, place):
    """The verdict and name of the best pattern for stops drawn by `place(random, count)` [min], read to the minute."""
    random = np.random.default_rng(seed)
    minutes = np.round(place(random, count)).astype(int) % 720
    answer = explain_stops([StopTime("", int(minute)) for minute in minutes], read_to_min=1)
    return answer.verdict == "pattern", answer.best.pattern.name


def anywhere(random, count):
    return random.uniform(0, 720, count)


def at_one_minute(random, count):
    # Just before the hour is a pattern of its own.
    return 60 * random.integers(0, 12, count) + random.uniform(4, 50) + random.normal(0, 1.5, count)


def where_hands_meet(random, count):
    return 720 / 11 * random.integers(0, 11, count) + random.normal(-0.5, 1.5, count)


@pytest.mark.parametrize("count", [3, 4, 6, 8])
def test_stops_at_any_time_raise_no_more_false_alarms_than_stated(count):
    alarms = sum(simulated(seed, count, anywhere)[0] for seed in range(SIMULATED))
    assert alarms / SIMULATED <= 0.05 + 2 * (0.05 * 0.95 / SIMULATED) ** 0.5


@pytest.mark.parametrize(
    ("count", "place", "name", "least"),
    [
        (4, at_one_minute, "minute-hand", 0.80),
        (6, at_one_minute, "minute-hand", 0.97),
        (8, at_one_minute, "minute-hand", 0.98),
        (4, where_hands_meet, "hands-meet", 0.90),
        (6, where_hands_meet, "hands-meet", 0.97),
        (8, where_hands_meet, "hands-meet", 0.98),
    ],
)
def test_a_true_pattern_is_found(count, place, name, least):
    found = sum(simulated(seed, count, place) == (True, name) for seed in range(200))
    assert found / 200 >= least
