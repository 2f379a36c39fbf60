"""The motion of the pendulum beside scipy's solver of differential equations.

The clock is exact for a light swing; its one approximation is that a wide swing is slowed as a whole, by the circular
error of its stretch. So a beat of a wide swing may differ by parts in a hundred thousand, and ten half swings of decay
by one part in ten thousand, which the tests allow.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from diagnose.mechanics.escapement import beat_error_percent
from diagnose.training.pendulum_motion import Escapement, Moment, next_tick, overswing_turn, reach, turn

SOLVER = {"rtol": 1e-11, "atol": 1e-14}


def solved(angle, speed, rest, quality, until, rises, linear=False):
    """When a pendulum first passes an angle on its way up, by the solver: (time, angle, speed)."""
    back = (lambda y: y) if linear else math.sin

    def motion(_, y):
        return [y[1], rest - y[1] / quality - back(y[0])]

    def passes(_, y):
        return y[1] if until is None else y[0] - until

    passes.terminal, passes.direction = True, (1 if rises else -1)
    found = solve_ivp(motion, (0.0, 20.0), [angle, speed], events=passes, **SOLVER)
    return float(found.t_events[0][0]), *(float(value) for value in found.y_events[0][0])


@pytest.mark.parametrize("quality", [20.0, 200.0, 2000.0])
@pytest.mark.parametrize("rest", [0.0, 2e-5, -1e-5])
def test_a_light_swing_passes_an_angle_when_the_solver_says(quality, rest):
    # a swing of half a thousandth of a radian: the circular error is under 2e-8
    found = reach(-5e-4, 0.0, rest, quality, 1e-4)
    time, _, speed = solved(-5e-4, 0.0, rest, quality, 1e-4, True, linear=True)
    assert found.after == pytest.approx(time, rel=1e-7)
    assert found.speed == pytest.approx(speed, rel=1e-6)


@pytest.mark.parametrize("swing_deg", [1.5, 3.0, 6.0])
def test_a_wide_swing_passes_dead_center_when_the_solver_says(swing_deg):
    swing = math.radians(swing_deg)
    time, _, _ = solved(-swing, 0.0, 0.0, 500.0, 0.0, True)
    assert reach(-swing, 0.0, 0.0, 500.0, 0.0).after == pytest.approx(time, rel=1e-5)


def test_free_swing_decays_as_the_solver_says():
    # ten half swings of a free pendulum; energy falls by exp(-t / Q)
    quality, angle, total = 80.0, -0.05, 0.0
    expected_angle, expected_total = -0.05, 0.0
    for _ in range(10):
        there = turn(angle, 0.0, 0.0, quality)
        time, reached, _ = solved(expected_angle, 0.0, 0.0, quality, None, False)
        angle, total = -there.angle, total + there.after
        expected_angle, expected_total = -reached, expected_total + time
    assert angle == pytest.approx(expected_angle, rel=1e-4)
    assert total == pytest.approx(expected_total, rel=1e-5)
    assert angle == pytest.approx(-0.05 * math.exp(-expected_total / (2 * quality)), rel=1e-3)


def test_a_swing_that_is_too_small_never_passes():
    assert reach(-0.03, 0.0, 0.0, 50.0, 0.031) is None


def steady_beats(escapement, offset, swing):
    """Both intervals of a swing that has settled."""
    angle, speed, heading = -swing, 0.0, 1
    times = []
    for _ in range(600):
        tick = next_tick(angle, speed, heading * offset, escapement)
        times.append(tick.after)
        angle, speed, heading = -tick.angle, -tick.speed, -heading
    return times[-2], times[-1]


@pytest.mark.parametrize("recoil", [True, False])
@pytest.mark.parametrize("offset_deg", [0.1, 0.4])
def test_beat_error_grows_with_the_offset_by_the_arcsine(recoil, offset_deg):
    swing, drop = math.radians(3), math.radians(1.5)
    push = swing**2 * math.pi / (2 * 300.0 * (2 * drop if recoil else 1.5 * drop))
    escapement = Escapement(drop, drop / 2, recoil, push, 300.0)
    left, right = steady_beats(escapement, math.radians(offset_deg), swing)
    assert 100 * abs(right - left) / (right + left) == pytest.approx(beat_error_percent(offset_deg, 3, 1.5), rel=0.01)


@pytest.mark.parametrize("recoil", [True, False])
def test_a_tick_and_its_turn_are_those_of_the_solver(recoil):
    escapement = Escapement(math.radians(1.5), math.radians(0.7), recoil, 1e-4, 400.0)
    offset, swing = math.radians(0.3), math.radians(3.2)
    tick = next_tick(-swing, 0.0, offset, escapement)
    time, angle, speed, now = 0.0, -swing, 0.0, 0.0
    stretches = [(1e-4, escapement.drop - offset)]
    if not recoil:
        stretches.insert(0, (0.0, -escapement.lift_from - offset))
    for rest, until in stretches:
        time, angle, speed = solved(angle, speed, rest, 400.0, until, True)
        now += time
    after, top, _ = solved(angle, speed, -1e-4 if recoil else 0.0, 400.0, None, False)
    turned = overswing_turn(tick, escapement)
    assert tick.after == pytest.approx(now, rel=2e-5)
    assert turned.after == pytest.approx(after, rel=1e-4)
    assert turned.angle == pytest.approx(top, rel=1e-5)


def test_a_moment_is_a_value():
    assert Moment(0.1, 0.2, 0.3) == Moment(0.1, 0.2, 0.3)
    assert np.isfinite(turn(-0.05, 0.0, 0.0, 100.0).after)
