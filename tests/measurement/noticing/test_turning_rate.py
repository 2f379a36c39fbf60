"""The rate of a clock whose escape wheel may not run true."""

import numpy as np
import pytest

from diagnose.measurement.figures.fitting import Fit, fit_beats
from tests.measurement.noticing.turning_clock import BEAT_S, TurningClock, beats_of

TWO_SIGMA = 1.959964


def fit_of(times, number) -> Fit:
    fit = fit_beats(times, number, np.full(len(number), 1e-6), np.zeros(len(number), int))
    assert fit is not None
    return fit


def test_a_line_through_one_turn_is_off_by_six_amplitudes_over_pi_turns_and_the_fit_is_not():
    # A sine of amplitude A over one turn of N beats tilts a line by 6 A / (pi N) a beat (least squares, many beats).
    clock = TurningClock(beats=121, wheel_ms=1.0, jitter_ms=0.01, walk_ms=0.0, phase=0.0)
    times, number, _ = beats_of(clock, 3)
    line = np.polyfit(number[:61], times[:61], 1)[0]
    assert line - BEAT_S == pytest.approx(-6 * 1e-3 / (np.pi * 60), rel=0.1)
    assert abs(fit_of(times, number).period_s - BEAT_S) < 0.1 * abs(line - BEAT_S)


def test_an_interval_with_a_wheel_error_holds_the_true_period():
    held = 0
    for seed in range(30):
        clock = TurningClock(
            beats=(60, 120, 240)[seed % 3], wheel_ms=(0.0, 0.3, 1.0)[seed // 3 % 3], teeth=24 + seed % 19
        )
        fit = fit_of(*beats_of(clock, seed)[:2])
        held += abs(fit.period_s - BEAT_S) <= TWO_SIGMA * fit.period_sigma_s
    assert held >= 26
