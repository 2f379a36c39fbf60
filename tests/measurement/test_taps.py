"""Beats tapped on a key, listed in a file, or counted by ear."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import InputError
from diagnose.measurement.taps import beats_from_count, beats_from_file, beats_from_taps, read_taps


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


def test_a_file_of_seconds_is_read(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("time\n0.5\n1.0\n\n1.5\n", encoding="utf-8")
    assert (read_taps(path).times_s, read_taps(path).unit) == ((0.5, 1.0, 1.5), "s")


@pytest.mark.parametrize(
    "text", ["500\n1000\n1500\n", "tick (ms)\n500\n1000\n1500\n", "ms;note\n500;a\n1000;b\n1500;c\n"]
)
def test_a_file_of_milliseconds_is_told_by_its_heading_or_its_size(tmp_path, text):
    path = tmp_path / "taps.csv"
    path.write_text(text, encoding="utf-8")
    assert (read_taps(path).times_s, read_taps(path).unit) == ((0.5, 1.0, 1.5), "ms")


def test_decimal_commas_and_a_byte_order_mark_are_read(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("\ufeff0,5\n1,0\n1,5\n", encoding="utf-8")
    assert read_taps(path).times_s == (0.5, 1.0, 1.5)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"time\n0.5\nlater\n1.5\n", r"taps\.csv:3: 'later' is not a time"),
        (b"0.5\n1.5\n1.0\n", r"taps\.csv:3: 1 does not come after 1\.5"),
        (b"", "there are 0 times"),
        (b"only words\n", "there are 0 times"),
        (b"\xff\xfe\x00\x81garbage", "this is not a text file"),
        (b"9" * 6_000_000, "too large to be a list of times"),
    ],
)
def test_a_file_that_is_no_list_of_times_says_where(tmp_path, content, sentence):
    path = tmp_path / "taps.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match=sentence):
        read_taps(path)


def test_a_list_that_is_not_there_or_a_folder_says_so(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_taps(tmp_path / "none.csv")
    with pytest.raises(InputError, match="this is a folder"):
        read_taps(tmp_path)


def test_a_file_of_times_gives_beats_and_its_faults_name_the_file(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("\n".join(f"{time:.4f}" for time in taps(percent=12.0)), encoding="utf-8")
    assert beats_from_file(path, 7200).beat_error_percent == pytest.approx(12.0, abs=4.0)
    path.write_text("1\n2\n3\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"taps\.csv: there are 3 taps"):
        beats_from_file(path)


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
