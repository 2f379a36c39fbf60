"""Checks of the suspension spring against the table and against a numerical solution of the strip."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from diagnose.mechanics import suspension_spring as spring


@pytest.mark.parametrize(
    ("thickness", "width", "length", "mass", "pendulum", "q", "gain"),
    [
        (0.10, 10, 25, 6, 994, 1.683, 73),
        (0.15, 12, 25, 6, 994, 3.387, 148),
        (0.20, 12, 25, 6, 994, 5.215, 228),
        (0.08, 4, 12, 0.3, 250, 3.406, 596),
        (0.10, 5, 12, 0.3, 250, 5.322, 955),
    ],
)
def test_stiff_length_and_gain_of_the_table(thickness, width, length, mass, pendulum, q, gain):
    # derived from the stiff strip under tension, E = 200 GPa
    assert spring.stiff_length_mm(thickness, width, mass) == pytest.approx(q, abs=0.001)
    assert spring.gain_over_hinge(thickness, width, length, mass, pendulum) == pytest.approx(gain, abs=1)


@pytest.mark.parametrize(
    ("thickness", "q", "bending", "pull", "gain"),
    [(0.05, 0.652, 335, 98, 28), (0.10, 1.844, 237, 49, 80), (0.15, 3.387, 193, 33, 148), (0.20, 5.215, 167, 25, 228)],
)
def test_a_thinner_leaf_is_strained_more(thickness, q, bending, pull, gain):
    # derived: 12 mm wide, 6 kg, 2.5 degrees, 25 mm free, 994 mm
    stiff = spring.stiff_length_mm(thickness, 12, 6)
    assert stiff == pytest.approx(q, abs=0.001)
    assert spring.bending_stress_mpa(spring.bending_strain(thickness, stiff, 2.5)) == pytest.approx(bending, abs=0.6)
    assert spring.pull_mpa(thickness, 12, 6) == pytest.approx(pull, abs=0.6)
    assert spring.gain_over_hinge(thickness, 12, 25, 6, 994) == pytest.approx(gain, abs=0.6)


def test_bending_strain_of_the_usual_floor_clock_leaf():
    stiff = spring.stiff_length_mm(0.15, 12, 6)
    assert spring.bending_strain(0.15, stiff, 2.5) == pytest.approx(9.66e-4, abs=1e-6)


def test_a_millimeter_more_on_a_seconds_pendulum():
    assert spring.rate_by_free_length(1, 994) == pytest.approx(-43.46, abs=0.01)


@pytest.mark.parametrize(
    ("q_mm", "free_mm", "pendulum_mm"), [(1.683, 25, 994), (5.215, 25, 994), (3.406, 12, 250), (5.322, 12, 250)]
)
def test_shortening_agrees_with_the_strip_solved_numerically(q_mm, free_mm, pendulum_mm):
    # The bob is held aside by a small force: EI y'''' = W y'', clamped above, a rigid rod below the leaf.
    # Force over weight and the bob's place give the length of the simple pendulum: W y_bob / H.
    slope, rod_mm = 0.02, pendulum_mm - free_mm

    def strip(x, y):
        return np.vstack([y[1], y[2], y[3], y[2] / q_mm**2])

    def ends(top, bottom):
        return np.array([top[0], top[1], bottom[1] - slope, bottom[2] + rod_mm * bottom[3]])

    x = np.linspace(0, free_mm, 400)
    solved = solve_bvp(strip, ends, x, np.zeros((4, x.size)), tol=1e-9, max_nodes=50_000)
    assert solved.success
    place, _, _, third = solved.sol(free_mm)
    force_over_weight = slope - q_mm**2 * third
    simple_length = (place + rod_mm * slope) / force_over_weight
    shorter = spring.shortening_mm(q_mm, free_mm)
    assert pendulum_mm - simple_length == pytest.approx(shorter, rel=2e-3)
