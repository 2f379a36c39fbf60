"""Checks of drops laid down by figures: each figure is found again in them."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.training.drop_plan import DropPlan, balance_wheel, lay_drops, one_a_second
from diagnose.training.ticking import LEFT, RIGHT
from diagnose.training.wheelwork import TurnError, Wheelwork

STILL = {"jitter_s": 0.0, "walk_s": 0.0}


@pytest.mark.parametrize("percent", [-30.0, -5.0, 0.0, 2.0, 20.0])
@pytest.mark.parametrize("beats", [3600.0, 10_800.0])
def test_beat_error_is_the_one_asked_for_with_its_sign(percent, beats):
    assert lay_drops(DropPlan(beats, percent, **STILL), 1).beat_error_percent == pytest.approx(percent, abs=1e-9)


@pytest.mark.parametrize("rate", [-90.0, 0.0, 90.0])
def test_rate_is_the_one_asked_for(rate):
    assert lay_drops(DropPlan(7200, 3, rate, **STILL), 1).rate_s_per_day == pytest.approx(rate, abs=1e-6)


def test_sides_take_turns_from_the_right():
    assert lay_drops(DropPlan(), 1).sides[:4].tolist() == [RIGHT, LEFT, RIGHT, LEFT]


def test_jitter_and_walk_are_as_large_as_asked():
    jitter = lay_drops(DropPlan(36_000, seconds=2000, jitter_s=2e-4, walk_s=0.0), 3).times_s
    walk = lay_drops(DropPlan(36_000, seconds=2000, jitter_s=0.0, walk_s=1e-4), 3).times_s
    # successive differences of white times have twice their variance, of a walk once
    assert np.diff(jitter).std() == pytest.approx(2e-4 * np.sqrt(2), rel=0.03)
    assert np.diff(walk).std() == pytest.approx(1e-4, rel=0.03)


def test_silent_and_double_beats_are_as_many_as_asked():
    ticking = lay_drops(DropPlan(36_000, seconds=1000, silent_share=0.05, doubled_share=0.3), 5)
    assert ticking.silent.mean() == pytest.approx(0.05, abs=0.01)
    assert np.isfinite(ticking.doubled_s).mean() == pytest.approx(0.3 * 0.95, abs=0.02)


def test_a_double_follows_a_beat_that_sounds():
    ticking = lay_drops(DropPlan(36_000, seconds=100, silent_share=0.3, doubled_share=0.5), 5)
    doubled = np.isfinite(ticking.doubled_s)
    after = (ticking.doubled_s - ticking.times_s)[doubled]
    assert not (doubled & ticking.silent).any()
    assert 0.015 <= after.min() <= after.max() <= 0.060


def test_errors_of_the_wheels_are_in_the_times_and_told():
    wheels = Wheelwork(30, (TurnError(60, 1e-3),))
    plain, bent = lay_drops(DropPlan(**STILL), 2), lay_drops(DropPlan(**STILL, wheels=wheels), 2)
    assert bent.times_s - plain.times_s == pytest.approx(wheels.lateness_s(bent.numbers))
    assert bent.wheels is wheels


def test_drops_keep_inside_the_recording():
    for seed in range(20):
        times = lay_drops(DropPlan(9000, 30, seconds=7), seed).times_s
        assert 0 < times.min() < times.max() < 7


def test_same_seed_gives_the_same_drops():
    assert np.array_equal(lay_drops(DropPlan(), 4).times_s, lay_drops(DropPlan(), 4).times_s)
    assert not np.array_equal(lay_drops(DropPlan(), 4).times_s, lay_drops(DropPlan(), 5).times_s)


def test_a_balance_wheel_is_too_fast_for_a_pendulum():
    assert np.diff(lay_drops(balance_wheel(10), 1).times_s).mean() == pytest.approx(0.2, rel=1e-3)


def test_a_battery_clock_steps_each_second_evenly():
    assert np.diff(lay_drops(one_a_second(20), 1).times_s) == pytest.approx(1.0, abs=2e-4)


@pytest.mark.parametrize(("beats", "percent", "seconds"), [(0, 0, 10), (3600, 100, 10), (3600, 0, 0)])
def test_an_impossible_plan_is_refused(beats, percent, seconds):
    with pytest.raises(UsageError, match="beats an hour"):
        DropPlan(beats, percent, seconds=seconds)
