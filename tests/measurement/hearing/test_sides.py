"""Which side comes early, from a bob drawn aside and let go, with the motion computed and not assumed."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.sides import early_side, find_first_tick
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.measurement.synthetic_clock import Clock, sound_of

BEAT_S = 0.5
DROP_DEG, STEADY_DEG, GROWTH_S = 2.0, 3.5, 2.0
OPPOSITE = {"left": "right", "right": "left"}


def let_go(
    from_side: str, right_early_deg: float, begin_s: float, seconds: float, start_deg: float = 2.6
) -> tuple[np.ndarray, list[str]]:
    """Return drops and their sides of a pendulum let go at a time: right tick at drop - e, left tick at drop + e.

    The angle is positive to the right; from rest on the left it swings to the right and passes the right tick there.
    """
    step_s = 1e-5
    since = np.arange(0.0, seconds - begin_s, step_s)
    size = STEADY_DEG - (STEADY_DEG - start_deg) * np.exp(-since / GROWTH_S)
    toward = -1.0 if from_side == "left" else 1.0
    angle = toward * size * np.cos(np.pi * since / BEAT_S)
    moments: list[tuple[float, str]] = []
    for side, sign, level in (("right", 1.0, DROP_DEG - right_early_deg), ("left", -1.0, DROP_DEG + right_early_deg)):
        over = sign * angle > level
        # A tooth drops on the way out, once the pallet of the other side has been passed.
        moments += [(begin_s + since[place + 1], side) for place in np.flatnonzero(~over[:-1] & over[1:])]
    moments.sort()
    return np.array([time for time, _ in moments]), [side for _, side in moments]


def hear(
    from_side: str, right_early_deg: float, drawn: bool = True, begin_s: float = 1.5, told: str | None = "same"
) -> Beats:
    seconds = 24.0
    drops, _ = let_go(from_side, right_early_deg, begin_s, seconds)
    # Drawn aside until it ticks, then held for a while: that tick is on the side it is drawn to.
    times = np.concatenate([[begin_s - 0.63], drops]) if drawn else drops
    sound = sound_of(Clock(7200, seconds=seconds, snr_db=25.0, tock_db=0.0), seed=17, drops_s=times)
    ticks = find_ticks(Recording(sound.samples, sound.rate_hz, seconds))
    return measure_beats(ticks, None, from_side if told == "same" else told)


def test_the_motion_of_these_tests_swings_to_the_other_side_first():
    _, sides = let_go("left", 0.1, 0.0, 4.0)
    assert sides[:4] == ["right", "left", "right", "left"]


@pytest.mark.parametrize("drawn", [True, False])
@pytest.mark.parametrize("early_deg", [0.15, -0.15, 0.4, -0.4])
@pytest.mark.parametrize("from_side", ["left", "right"])
def test_the_early_side_is_named(from_side, early_deg, drawn):
    beats = hear(from_side, early_deg, drawn)
    assert beats.early_side == ("right" if early_deg > 0 else "left")
    assert np.sign(beats.beat_error_percent) == np.sign(early_deg)
    assert np.sign(beats.beat_error_ms) == np.sign(early_deg)


def test_the_size_is_that_of_the_settled_swing_and_not_of_the_first_seconds():
    # Intervals of a sine swing from the angles: the right-hand one is longer by 2 (asin((g+e)/A) - asin((g-e)/A)) / w.
    early_deg = 0.4
    wide, narrow = ((DROP_DEG + sign * early_deg) / STEADY_DEG for sign in (1.0, -1.0))
    settled = 100.0 * (np.arcsin(wide) - np.arcsin(narrow)) / np.pi
    beats = hear("left", early_deg)
    assert beats.beat_error_percent == pytest.approx(settled, rel=0.06)


def test_without_a_side_the_error_has_no_sign():
    beats = hear("left", -0.4, told=None)
    assert (beats.early_side, beats.beat_error_percent > 0) == ("unknown", True)


def test_an_even_beat_has_no_early_side():
    beats = hear("left", 0.0)
    assert beats.early_side == "unknown"
    assert any("too nearly even" in warning for warning in beats.warnings)


def test_a_recording_that_begins_in_the_swing_is_told():
    beats = hear("left", 0.4, drawn=False, begin_s=-0.30)
    assert any("Take the side with care" in warning for warning in beats.warnings)


@pytest.mark.parametrize("longer_even", [True, False])
@pytest.mark.parametrize("number", [0, 1, 2, 3])
def test_the_longer_interval_begins_on_the_early_side(number, longer_even):
    # Let go on the left, beat `number` is the first right-hand one, as is every second beat from it.
    begins_right = (number % 2 == 0) == longer_even
    assert early_side("left", number, longer_even) == ("right" if begins_right else "left")
    assert early_side("right", number, longer_even) == OPPOSITE[early_side("left", number, longer_even)]


def first(times: np.ndarray, numbers: np.ndarray, strays: list[float]) -> int | None:
    return find_first_tick(times, numbers, np.zeros(len(times), np.intp), np.array(strays), 0.5).number


def test_a_tick_made_by_hand_before_the_pause_is_not_counted():
    times = 3.0 + 0.5 * np.arange(20)
    assert first(times, np.arange(20), [1.9]) == 0


def test_a_tick_made_by_hand_that_fell_on_a_beat_is_not_counted():
    # Three beats before the first that counts, on a left-hand place; the first that counts is a right-hand one.
    times = np.concatenate([[1.5], 3.0 + 0.5 * np.arange(20)])
    numbers = np.concatenate([[0], 3 + np.arange(20)])
    assert first(times, numbers, []) % 2 == 1


def test_first_beats_that_were_not_measured_are_counted_back():
    times = 3.0 + 0.5 * np.arange(20)
    assert first(times, np.arange(20), [2.02, 2.49, 1.2]) == -2


def test_beats_heard_on_one_side_only_give_no_count():
    times = 3.0 + 0.5 * np.arange(20)
    found = find_first_tick(times[::2], 2 * np.arange(10), np.zeros(10, np.intp), np.empty(0), 0.5)
    assert found.number is None
    assert "no stretch of beats is plain enough" in found.reason


def test_a_bob_let_go_at_once_leaves_the_side_unknown():
    # Drawn and let go in one movement, the tick made by hand lies about a beat before the first one that counts.
    times = 3.0 + 0.5 * np.arange(20)
    found = find_first_tick(times, np.arange(20), np.zeros(20, np.intp), np.array([2.46]), 0.5)
    assert found.number is None
    assert "may be the tick made by hand" in found.reason


def test_a_lead_without_a_tick_made_by_hand_is_told():
    times = 3.0 + 0.5 * np.arange(20)
    found = find_first_tick(times, np.arange(20), np.zeros(20, np.intp), np.empty(0), 0.5)
    assert (found.number, "was not heard" in found.reason) == (0, True)
