"""What is noticed besides beat and rate, from lists of beats and sounds; and what is not noticed in a sound clock."""

import json
from dataclasses import replace

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats, from_dict, to_dict
from diagnose.measurement.hearing.second_clock import SecondClock
from diagnose.measurement.hearing.ticks import Ticks, nothing_heard
from diagnose.measurement.noticing import fading, noticed
from diagnose.measurement.noticing.blows import find_blows
from diagnose.measurement.noticing.notice import notice
from diagnose.measurement.noticing.odd_beats import doubled_beats, missed_beats, second_knock
from tests.measurement.noticing.turning_clock import TurningClock, beats_of

PERIOD_S = 0.5
NONE = np.empty((0, 2))


def ticks_of(times, number, seconds=None, **more) -> Ticks:
    """Return what was heard of a clear clock."""
    count = len(times)
    ones = np.ones(count)
    heard = Ticks(times, number, 50.0 * ones, ones, 1e-5 * ones, np.zeros(count, int), ones,
                  float(times[-1]) + 0.4 if seconds is None else seconds, clicks_s=times)  # fmt: skip
    return replace(heard, **more)


def kinds(found) -> set[str]:
    return {one.kind for one in found}


@pytest.fixture
def even():
    return beats_of(TurningClock(beats=80), 1)[:2]


def test_a_short_sound_recording_tells_only_that_it_is_too_short_for_the_wheel(even):
    assert kinds(notice(ticks_of(*even), PERIOD_S)) == {noticed.SHORT_TURN}


def test_a_long_sound_recording_tells_that_nothing_comes_back():
    found = notice(ticks_of(*beats_of(TurningClock(beats=400), 1)[:2]), PERIOD_S)
    assert kinds(found) == {noticed.NO_TURN, "steadiness-scatter"} or kinds(found) == {
        noticed.NO_TURN, "steadiness-wander",
    }  # fmt: skip


@pytest.mark.parametrize("seed", range(5))
def test_missed_beats_are_found_and_no_others(seed):
    number = np.arange(400)
    random = np.random.default_rng(seed)
    silent = random.random(400) < 0.05
    silent[[0, -1]] = False
    heard = number[~silent]
    found = missed_beats(PERIOD_S * heard, heard, np.zeros(len(heard), int), NONE)
    assert found.tolist() == number[silent].tolist()


def test_a_beat_under_something_louder_is_not_missed():
    heard = np.delete(np.arange(40), [10, 25])
    found = missed_beats(PERIOD_S * heard, heard, np.zeros(38, int), np.array([[4.5, 6.0]]))
    assert found.tolist() == [25]


def test_over_a_break_and_of_a_side_never_heard_nothing_is_missed():
    heard = np.delete(np.arange(40), [10])
    broken = (heard > 10).astype(int)
    assert not len(missed_beats(PERIOD_S * heard, heard, broken, NONE))
    one_side = np.arange(0, 40, 2)
    assert not len(missed_beats(PERIOD_S * one_side, one_side, np.zeros(20, int), NONE))


@pytest.mark.parametrize("seed", range(5))
def test_doubled_beats_are_found_and_no_others(seed):
    random = np.random.default_rng(seed)
    number = np.arange(400)
    times = PERIOD_S * number
    double = random.random(400) < 0.2
    clicks = np.sort(np.concatenate([times, times[double] + random.uniform(0.015, 0.06, double.sum())]))
    assert doubled_beats(times, number, clicks, PERIOD_S).tolist() == double.tolist()


def test_a_second_impact_of_every_tick_is_no_doubled_beat():
    number = np.arange(100)
    times = PERIOD_S * number
    clicks = np.sort(np.concatenate([times, times[::2] + 0.018]))
    assert not doubled_beats(times, number, clicks, PERIOD_S).any()


def test_a_second_knock_in_each_swing_is_told_with_its_lag():
    number = np.arange(60)
    times = PERIOD_S * number
    clicks = np.sort(np.concatenate([times, times[1::2] + 0.14]))
    assert second_knock(times, number, clicks, PERIOD_S) == pytest.approx((0.14, 1.0))
    assert second_knock(times, number, times, PERIOD_S) is None


def test_knock_and_doubles_are_noticed(even):
    times, number = even
    knocks = ticks_of(times, number, clicks_s=np.sort(np.concatenate([times, times + 0.12])))
    assert noticed.SECOND_KNOCK in kinds(notice(knocks, PERIOD_S))
    lags = np.random.default_rng(1).uniform(0.015, 0.06, 8)
    doubles = ticks_of(times, number, clicks_s=np.sort(np.concatenate([times, times[::10] + lags])))
    assert noticed.DOUBLED in kinds(notice(doubles, PERIOD_S))


def test_clicks_at_any_time_are_a_noisy_room_and_no_doubled_ticks(even):
    times, number = even
    anywhere = np.random.default_rng(5).uniform(times[0], times[-1], 60)
    noisy = ticks_of(times, number, clicks_s=np.sort(np.concatenate([times, anywhere])))
    assert noticed.DOUBLED not in kinds(notice(noisy, PERIOD_S))


def test_a_faint_second_impact_heard_now_and_then_is_no_doubled_tick(even):
    times, number = even
    faint = ticks_of(times, number, clicks_s=np.sort(np.concatenate([times, times[::8] + 0.021])))
    assert noticed.DOUBLED not in kinds(notice(faint, PERIOD_S))


def test_a_missing_tick_is_noticed_only_where_the_others_are_clear(even):
    times, number = (np.delete(values, [20, 33]) for values in even)
    found = notice(ticks_of(times, number), PERIOD_S)
    missed = next(one for one in found if one.kind == noticed.MISSED)
    assert missed.figures == {"missed": 2, "beats": 80}
    faint = ticks_of(times, number, strength=np.full(78, 6.0))
    assert noticed.MISSED not in kinds(notice(faint, PERIOD_S))


def dying(count=120, growth=0.8):
    """Return a clock whose beat error grows and whose ticks fade as the swing shrinks."""
    number = np.arange(count)
    shrunk = np.exp(growth * number / count)
    side = np.where(number % 2, 1.0, -1.0)
    random = np.random.default_rng(3)
    times = 1.0 + PERIOD_S * number + side * 4e-3 * shrunk + random.normal(0, 1.5e-4, count)
    loud = np.exp(-1.5 * number / count) * np.exp(random.normal(0, 0.1, count))
    return times, number, loud


def test_a_dying_swing_shows_in_loudness_and_beat_together():
    times, number, loud = dying()
    found = notice(ticks_of(times, number, loudness=loud), PERIOD_S)
    told = next(one for one in found if one.kind == noticed.DYING)
    assert told.figures["fall_db"] == pytest.approx(20 * 1.5 / np.log(10), abs=1.5)
    # e^(-1.5 t / 60 s) is down to a tenth after 60 ln 10 / 1.5 s = 92 s.
    assert told.figures["tenth_minutes"] == pytest.approx(92 / 60, rel=0.1)
    assert told.chance > 0.9


def test_a_dying_swing_that_is_in_beat_shows_in_its_rate(even):
    times, number = even
    slower = times + 2e-6 * np.square(number)
    loud = np.exp(-1.2 * number / 80)
    assert noticed.DYING in kinds(notice(ticks_of(slower, number, loudness=loud), PERIOD_S))


def test_ticks_that_only_fade_may_be_a_phone_moved_away(even):
    times, number = even
    found = notice(ticks_of(times, number, loudness=np.exp(-1.2 * number / 80)), PERIOD_S)
    told = next(one for one in found if one.kind == noticed.FADING)
    assert told.chance < 0.8


def test_a_phone_moved_at_one_moment_is_no_fading(even):
    times, number = even
    loud = np.where(number < 40, 1.0, 0.3) * np.exp(np.random.default_rng(1).normal(0, 0.1, 80))
    fall = fading.loudness_fall(times, number, loud)
    assert fall is not None
    assert not fall.plain
    assert not kinds(notice(ticks_of(times, number, loudness=loud), PERIOD_S)) & {noticed.FADING, noticed.DYING}


@pytest.mark.parametrize("seed", range(8))
def test_a_steady_clock_does_not_fade(seed):
    random = np.random.default_rng(seed)
    number = np.arange(100)
    assert fading.loudness_fall(PERIOD_S * number, number, np.exp(random.normal(0, 0.2, 100))) is None


def test_ticks_that_end_are_told_with_the_moment(even):
    times, number = even
    found = notice(ticks_of(times, number, seconds=float(times[-1]) + 9.0), PERIOD_S)
    stop = next(one for one in found if one.kind == noticed.STOPPED)
    assert stop.figures["at_s"] == pytest.approx(float(times[-1]))


def test_ticks_that_fade_and_end_died_away():
    times, number, loud = dying()
    found = notice(ticks_of(times, number, seconds=float(times[-1]) + 9.0, loudness=loud), PERIOD_S)
    assert noticed.DIED_AWAY in kinds(found)
    assert noticed.DYING not in kinds(found)


def test_ticks_under_a_strike_at_the_end_have_not_stopped(even):
    times, number = even
    end = float(times[-1])
    covered = ticks_of(times, number, seconds=end + 6.0, loud_s=np.array([[end + 0.5, end + 6.0]]))
    assert noticed.STOPPED not in kinds(notice(covered, PERIOD_S))


def test_a_beat_that_changes_is_told_with_both_ends():
    number = np.arange(90)
    side = np.where(number % 2, 1.0, -1.0)
    times = PERIOD_S * number + side * np.linspace(8e-3, -8e-3, 90) / 2
    times = times + np.random.default_rng(2).normal(0, 1e-4, 90)
    change = next(one for one in notice(ticks_of(times, number), PERIOD_S) if one.kind == noticed.BEAT_CHANGES)
    # The unevenness t1 - t2 is four times the shift of one side, on a swing of 1 s; a third in, two thirds are left.
    assert change.figures["first_percent"] == pytest.approx(100 * 2 * 8e-3 * 2 / 3, rel=0.1)


def test_a_drifting_beat_with_the_side_kept_and_loudness_kept_is_no_dying_swing():
    times, number, _ = dying()
    assert kinds(notice(ticks_of(times, number), PERIOD_S)) & {noticed.BEAT_CHANGES, noticed.DYING} == {
        noticed.BEAT_CHANGES
    }


@pytest.mark.parametrize("count", [3, 8, 12])
def test_the_blows_of_a_strike_are_counted(count):
    blows = 10.3 + 1.6 * np.arange(count) + np.random.default_rng(count).normal(0, 0.015, count)
    beats = 0.2 + PERIOD_S * np.arange(80)
    sounds = np.sort(np.concatenate([beats, blows]))
    found = find_blows(sounds, beats, np.array([[10.2, float(blows[-1]) + 1.0]]))
    assert found.count == count
    assert found.interval_s == pytest.approx(1.6, abs=0.05)


def test_talk_is_no_strike():
    random = np.random.default_rng(4)
    beats = 0.2 + PERIOD_S * np.arange(80)
    sounds = np.sort(np.concatenate([beats, random.uniform(10, 22, 25)]))
    assert find_blows(sounds, beats, np.array([[10.0, 22.0]])) is None


def test_a_strike_is_noticed_and_another_loud_sound_is_told_as_such(even):
    times, number = even
    loud = np.array([[10.1, 16.0]])
    sounds = np.sort(np.concatenate([times, 10.2 + 1.4 * np.arange(5)]))
    struck = notice(ticks_of(times, number, loud_s=loud, sounds_s=sounds), PERIOD_S)
    assert next(one for one in struck if one.kind == noticed.STRIKE).figures["blows"] == 5
    assert noticed.LOUD in kinds(notice(ticks_of(times, number, loud_s=loud, sounds_s=times), PERIOD_S))


def test_another_clock_and_other_kinds_of_clock_are_noticed(even):
    other = notice(ticks_of(*even, second=SecondClock(5070.0, 0.2)), PERIOD_S)
    assert noticed.TWO_CLOCKS in kinds(other)
    nothing = nothing_heard(20.0, None)
    assert kinds(notice(nothing, 0.0, "one tick a second: no pendulum")) == {noticed.ONE_A_SECOND}
    assert kinds(notice(nothing, 0.0, "balance wheel, not a pendulum")) == {noticed.BALANCE}
    assert not notice(nothing, 0.0, "no ticks found")


@pytest.mark.parametrize(
    ("clock", "kind"),
    [
        ({"bad_ms": 0.7, "bad_tooth": 17}, noticed.TOOTH),
        ({"wheel_ms": 0.6}, noticed.SWELL),
        ({"scatter_of_teeth_ms": 0.3}, noticed.TURN),
    ],
)
def test_a_wheel_is_told_by_how_its_turn_looks(clock, kind):
    times, number, _ = beats_of(TurningClock(beats=420, **clock), 5)
    found = notice(ticks_of(times, number), PERIOD_S)
    told = next(one for one in found if one.kind == kind)
    assert told.figures["teeth"] == 30
    if kind == noticed.TOOTH:
        assert told.figures["tooth"] == 17


def test_a_swell_in_the_loudness_alone_is_noticed():
    times, number, _ = beats_of(TurningClock(beats=420), 5)
    loud = np.exp(0.4 * np.sin(2 * np.pi * number / 60) + np.random.default_rng(1).normal(0, 0.15, 420))
    assert noticed.TURN in kinds(notice(ticks_of(times, number, loudness=loud), PERIOD_S))


def test_nobody_is_told_a_kind_that_has_no_name():
    times, number, loud = dying()
    found = notice(ticks_of(times, number, loudness=loud, second=SecondClock(5070.0, 0.2)), PERIOD_S)
    assert kinds(found) <= set(noticed.KINDS)


def test_what_is_noticed_outlives_being_written_down(even):
    beats = Beats(noticed=notice(ticks_of(*even), PERIOD_S))
    assert from_dict(json.loads(json.dumps(to_dict(beats)))).noticed == beats.noticed != ()
