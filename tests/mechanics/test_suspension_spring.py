"""Checks of the suspension spring against the table and against a numerical solution of the strip."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_bvp

from diagnose.errors import UsageError
from diagnose.mechanics import suspension_spring as spring
from diagnose.mechanics.pendulum import STANDARD_GRAVITY


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
    assert pendulum_mm - simple_length == pytest.approx(shorter, rel=1e-3)


def beat_of_the_strip(leaf, mass_kg, from_block_mm):
    """Square of the angular frequency of a pendulum on a strip, solved as an eigenvalue [1/s2], and its bend.

    The bend is the curvature at the top block for each radian of the rod [1/mm].

    The strip is massless, E I y'''' = W y'', and clamped above; below it carries a rigid rod with the bob as a
    point, whose inertia is the force at its end: H = m w^2 y_bob. Lengths in mm, g in mm/s2, all else as ratios.
    """
    q_mm, gravity = spring.stiff_length_mm(leaf.thickness_mm, leaf.width_mm, mass_kg), STANDARD_GRAVITY * 1000
    rod_mm, slope = from_block_mm - leaf.free_mm, 0.01

    def strip(x, y, square):
        return np.vstack([y[1], y[2], y[3], y[2] / q_mm**2])

    def ends(top, bottom, square):
        place_of_bob = bottom[0] + rod_mm * bottom[1]
        # Pull of the strip sideways, over the weight: its slope less the shear of bending.
        sideways = bottom[1] - q_mm**2 * bottom[3]
        return np.array(
            [top[0], top[1], bottom[1] - slope, bottom[2] + rod_mm * bottom[3],
             sideways - square[0] * place_of_bob / gravity]
        )  # fmt: skip

    x = np.linspace(0, leaf.free_mm, 400)
    guess = np.vstack([slope * x / 2, slope * x / leaf.free_mm, np.zeros_like(x), np.zeros_like(x)])
    solved = solve_bvp(strip, ends, x, guess, p=[gravity / from_block_mm], tol=1e-10, max_nodes=50_000)
    assert solved.success
    return solved.p[0], solved.sol(0)[2] / slope


@pytest.mark.parametrize(
    ("thickness", "width", "free", "mass", "from_block"),
    [(0.10, 10, 25, 6, 994), (0.15, 12, 25, 6, 994), (0.20, 12, 25, 6, 994), (0.08, 4, 12, 0.3, 250),
     (0.10, 5, 12, 0.3, 250), (0.20, 6, 6, 0.3, 250)],
)  # fmt: skip
def test_gain_over_a_hinge_is_that_of_the_strip_solved_as_an_eigenvalue(thickness, width, free, mass, from_block):
    square, _ = beat_of_the_strip(spring.Leaf(thickness, width, free), mass, from_block)
    gain = 86_400 * (np.sqrt(square / (STANDARD_GRAVITY * 1000 / from_block)) - 1)
    assert spring.gain_over_hinge(thickness, width, free, mass, from_block) == pytest.approx(gain, rel=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "mass", "from_block"),
    [
        ((0.10, 10, 25), (0.15, 12, 25), 6, 994),
        ((0.10, 10, 25), (0.10, 10, 28), 6, 994),
        ((0.08, 4, 12), (0.10, 5, 12), 0.3, 250),
        ((0.10, 5, 12), (0.05, 5, 10), 0.3, 250),
    ],
)
def test_rate_by_a_new_leaf_is_that_of_two_strips_solved_as_eigenvalues(old, new, mass, from_block):
    before, after = spring.Leaf(*old), spring.Leaf(*new)
    # A longer leaf lowers the whole pendulum by as much.
    lower = after.free_mm - before.free_mm
    old_square, new_square = (
        beat_of_the_strip(leaf, mass, from_block + more)[0] for leaf, more in ((before, 0), (after, lower))
    )
    theoretical_mm = STANDARD_GRAVITY * 1000 / old_square
    expected = 86_400 * (np.sqrt(new_square / old_square) - 1)
    assert spring.rate_by_new_leaf(before, after, mass, theoretical_mm) == pytest.approx(expected, rel=1e-3)


def test_the_same_leaf_changes_nothing_and_a_longer_one_loses_as_its_length():
    leaf, longer = spring.Leaf(0.1, 10, 25), spring.Leaf(0.1, 10, 26)
    assert spring.rate_by_new_leaf(leaf, leaf, 6, 994) == 0
    assert spring.rate_by_new_leaf(leaf, longer, 6, 994) == pytest.approx(-43.46, abs=0.05)  # derived


def test_a_leaf_that_holds_the_pendulum_is_refused():
    with pytest.raises(UsageError, match="holds the pendulum still"):
        spring.rate_by_new_leaf(spring.Leaf(0.1, 5, 12), spring.Leaf(4.5, 5, 12), 0.3, 250)


@pytest.mark.parametrize(("thickness", "width"), [(0.05, 12), (0.10, 10), (0.15, 12)])
def test_strain_at_the_block_is_that_of_the_strip_solved_numerically(thickness, width):
    leaf = spring.Leaf(thickness, width, 25)
    _, bend = beat_of_the_strip(leaf, 6, 994)
    stiff = spring.stiff_length_mm(thickness, width, 6)
    # Strain is half the thickness times the curvature.
    expected = thickness / 2 * bend * np.radians(2.5)
    assert spring.bending_strain(thickness, stiff, 2.5) == pytest.approx(expected, rel=0.01)
