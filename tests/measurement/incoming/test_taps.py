"""Beats tapped on a key, or counted by ear."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import InputError
from diagnose.measurement.incoming.taps import (
    beats_from_count,
    beats_from_taps,
    more_taps_help,
    tapped_so_far,
)


def taps(
    count: int = 60, period_s: float = 0.5, percent: float = 0.0, hand_s: float = 0.02, seed: int = 1
) -> list[float]:
    rng = np.random.default_rng(seed)
    numbers = np.arange(count)
    side = np.where(numbers % 2 == 0, -1.0, 1.0)
    times = 1.0 + numbers * period_s + side * period_s * percent / 200.0 + rng.normal(0, hand_s, count)
    return times.tolist()


def test_tapped_beats_give_the_train_and_the_beat_error():
    beats = beats_from_taps(taps(percent=12.0))
    assert beats.nominal_beats_per_hour == 7200
    assert beats.beat_error_percent == pytest.approx(12.0, abs=2 * beats.uncertainty["beat_error_percent"])
    assert (beats.tool, beats.longer) == ("tapped", "even")


def test_tapped_beats_are_far_less_sure_than_a_recording():
    beats = beats_from_taps(taps())
    assert 1.5 < beats.uncertainty["beat_error_percent"] < 5.0
    assert beats.uncertainty["rate_s_per_day"] > 10.0
    assert beats.quality == "poor"


def test_more_taps_do_not_take_the_lag_of_a_hand_away():
    assert beats_from_taps(taps(2000)).uncertainty["beat_error_ms"] >= 10.0


def test_intervals_of_95_percent_of_tapped_beats_hold_the_truth():
    held = []
    for seed in range(60):
        beats = beats_from_taps(taps(40, percent=8.0, hand_s=0.025, seed=seed))
        held.append(abs(beats.beat_error_percent - 8.0) < 1.96 * beats.uncertainty["beat_error_percent"])
    assert 0.9 <= np.mean(held) <= 1.0


def test_a_skipped_beat_and_a_bounced_key_do_no_harm():
    times = taps(60, percent=10.0, hand_s=0.01)
    del times[21]
    times.insert(40, times[39] + 0.03)
    beats = beats_from_taps(times)
    assert beats.beat_error_percent == pytest.approx(10.0, abs=2.5)
    assert beats.beats_per_hour == pytest.approx(7200, rel=2e-3)


@pytest.mark.parametrize(("side", "early"), [("left", "right"), ("right", "left")])
def test_the_side_the_bob_was_drawn_to_gives_the_early_side(side, early):
    # The longer intervals begin on the first tap; drawn to the left, that is the right-hand tick: right early.
    beats = beats_from_taps(taps(percent=16.0), first_side=side)
    assert beats.early_side == early
    assert np.sign(beats.beat_error_percent) == (1 if early == "right" else -1)


@pytest.mark.parametrize(
    ("times", "sentence"),
    [
        ([0.0, 0.5, 1.0], "there are 3 taps"),
        ([0.0, 0.5, 1.0, 0.9, 1.5, 2.0, 2.5, 3.0], "tap 4 at 0.9 s does not come after"),
        ([0.0, 0.5, float("nan"), 1.5, 2.0, 2.5, 3.0, 3.5], "a tap has no time"),
        ([10.0 * n for n in range(10)], "no even train of beats"),
    ],
)  # fmt: skip
def test_taps_that_cannot_be_used_say_why(times, sentence):
    with pytest.raises(InputError, match=sentence):
        beats_from_taps(times)


def test_a_count_gives_beats_per_hour_and_no_beat_error():
    beats = beats_from_count(120, 60.0)
    assert beats.beats_per_hour == 7200
    assert (beats.beat_error_percent, beats.split, beats.tool) == (None, None, "counted")
    # Half a beat in 120 and 0.2 s in 60: 0.417 % and 0.333 %, together 0.534 %.
    assert beats.uncertainty["beats_per_hour"] == pytest.approx(7200 * 0.00534, rel=0.01)


def test_a_longer_count_is_surer():
    assert beats_from_count(1200, 600.0).uncertainty["beats_per_hour"] < 5.0


def test_a_count_between_two_trains_names_none():
    assert beats_from_count(1550, 600.0).nominal_beats_per_hour is None


def test_a_count_against_a_train_gives_a_rate():
    beats = beats_from_count(602, 300.0, nominal=7200)
    assert beats.rate_s_per_day == pytest.approx(86_400 * 2 / 600)
    assert [one.quantity for one in beats.measurements()] == ["rate"]


@pytest.mark.parametrize(("count", "seconds"), [(0, 60), (-5, 60), (100, 0), (float("nan"), 60), (1000, 60), (3, 60)])
def test_a_count_that_is_no_pendulum_says_so(count, seconds):
    with pytest.raises(InputError, match=r"cannot be|is no pendulum"):
        beats_from_count(count, seconds)


def test_about_as_many_taps_do_as_make_their_scatter_less_than_the_lag_of_a_hand():
    # A hand taps 25 ms beside a regular beat: the beat error has 2 x 25 / sqrt(N) ms, which is 10 ms at N = 25.
    few, many = (tapped_so_far(taps(count, percent=12.0, hand_s=0.025)) for count in (12, 60))
    assert more_taps_help(few) and not more_taps_help(many)


def test_too_few_or_uneven_taps_say_nothing_so_far():
    assert tapped_so_far([0.0, 0.5, 1.0]) is None
    assert tapped_so_far([10.0 * tap for tap in range(12)]) is None
