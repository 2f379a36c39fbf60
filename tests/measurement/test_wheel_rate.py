"""The rate of a clock whose escape wheel may not run true."""

import numpy as np
import pytest

from diagnose.measurement.fitting import fit_beats
from diagnose.measurement.wheel_rate import fit_with_wheel
from tests.measurement.turning_clock import TurningClock, beats_of

PERIOD_S = 0.5


def test_an_interval_with_a_wheel_error_holds_the_true_period():
    # Goal of the measurement: 93 to 97 of 100; the bound is what 60 trials can tell.
    held = 0
    for seed in range(60):
        clock = TurningClock(
            beats=(60, 120, 240)[seed % 3], wheel_ms=(0.0, 0.3, 1.0)[seed // 3 % 3], teeth=24 + seed % 19
        )
        fit = fit_with_wheel(*beats_of(clock, seed)[:2])
        held += fit.period_interval_s[0] <= PERIOD_S <= fit.period_interval_s[1]
    assert held >= 53


def test_a_line_through_one_turn_is_off_by_six_amplitudes_over_pi_turns_and_this_is_not():
    # A sine of amplitude A over one turn of N beats tilts a line by 6 A / (pi N) a beat (least squares, many beats).
    clock = TurningClock(beats=121, wheel_ms=1.0, jitter_ms=0.01, walk_ms=0.0, phase=0.0)
    times, number, _ = beats_of(clock, 3)
    line = np.polyfit(number[:61], times[:61], 1)[0]
    assert line - PERIOD_S == pytest.approx(-6 * 1e-3 / (np.pi * 60), rel=0.1)
    fit = fit_with_wheel(times, number)
    assert abs(fit.period_s - PERIOD_S) < 0.1 * abs(line - PERIOD_S)


def test_a_wheel_that_is_seen_is_taken_out_of_the_uncertainty():
    times, number, _ = beats_of(TurningClock(beats=300, wheel_ms=1.0), 1)
    plain = fit_beats(times, number, np.full(len(number), 1e-6), np.zeros(len(number), int))
    fit = fit_with_wheel(times, number)
    assert fit.wheel_chance > 0.99
    assert fit.period_sigma_s < 0.5 * plain.period_sigma_s


def test_a_true_wheel_costs_little():
    times, number, _ = beats_of(TurningClock(beats=300), 1)
    plain = fit_beats(times, number, np.full(len(number), 1e-6), np.zeros(len(number), int))
    fit = fit_with_wheel(times, number)
    assert fit.wheel_chance < 0.2
    assert fit.period_sigma_s < 1.5 * plain.period_sigma_s


def test_the_unevenness_is_that_of_the_plain_fit():
    times, number, _ = beats_of(TurningClock(beats=200, error_ms=8.0), 2)
    fit = fit_with_wheel(times, number)
    # The interval that begins on an even beat is `period + 2 half`; beat error = |t1 - t2| / 2 = 2 half.
    assert 2 * fit.half_s == pytest.approx(8e-3, abs=1e-4)
    assert fit.half_interval_s[0] < 4e-3 < fit.half_interval_s[1]


def test_one_kind_of_beat_gives_a_period_and_no_unevenness():
    times, number, _ = beats_of(TurningClock(beats=200), 2)
    fit = fit_with_wheel(times[::2], number[::2])
    assert fit.period_s == pytest.approx(PERIOD_S, abs=1e-4)
    assert fit.half_s == 0.0


def test_too_few_beats_give_nothing():
    times, number, _ = beats_of(TurningClock(beats=5), 2)
    assert fit_with_wheel(times, number) is None
