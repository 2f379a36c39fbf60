"""Rod and bob with mass and width, against bodies of textbooks, slices, and an integrated swing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from diagnose.errors import UsageError
from diagnose.mechanics import pendulum
from diagnose.mechanics.real_pendulum import RodAndBob, bob_place_mm, center_of_swing_mm, nut_share

FLOOR = RodAndBob(rod_kg=0.5, rod_mm=1150, bob_kg=4.0, bob_radius_mm=100)


def test_a_point_on_a_rod_without_mass_swings_as_long_as_it_hangs():
    assert center_of_swing_mm(RodAndBob(0, 1000, 2, 0), 994) == pytest.approx(994)
    assert nut_share(RodAndBob(0, 1000, 2, 0), 994) == pytest.approx(1)


def test_a_bare_rod_swings_as_two_thirds_of_itself():
    # textbook: uniform rod about its end
    assert center_of_swing_mm(RodAndBob(1, 900, 1e-12, 0), 500) == pytest.approx(600)


def test_a_disk_hung_at_its_rim_swings_as_three_halves_of_its_radius():
    # textbook: disk about a point of its rim
    assert center_of_swing_mm(RodAndBob(0, 1000, 1, 100), 100) == pytest.approx(150)


def test_center_of_swing_is_that_of_the_body_cut_in_slices():
    place = 1010.0
    along = (np.arange(20_000) + 0.5) / 20_000
    rod = along * FLOOR.rod_mm
    radius = np.sqrt(along) * FLOOR.bob_radius_mm
    inertia = FLOOR.rod_kg * np.mean(rod**2) + FLOOR.bob_kg * (place**2 + np.mean(radius**2))
    moment = FLOOR.rod_kg * np.mean(rod) + FLOOR.bob_kg * place
    assert center_of_swing_mm(FLOOR, place) == pytest.approx(inertia / moment, rel=1e-8)


def test_it_beats_as_an_integrated_swing_of_the_body_does():
    # scipy: I a'' = -M g sin a from rest at 0.1 degrees; a quarter of the period to the middle
    place = bob_place_mm(FLOOR, 993.62)
    inertia = FLOOR.rod_kg * 1.150**2 / 3 + FLOOR.bob_kg * ((place / 1000) ** 2 + 0.100**2 / 2)
    moment = FLOOR.rod_kg * 1.150 / 2 + FLOOR.bob_kg * place / 1000

    def swing(time, state):
        return [state[1], -moment * pendulum.STANDARD_GRAVITY / inertia * math.sin(state[0])]

    def middle(time, state):
        return state[0]

    middle.terminal = True
    solved = solve_ivp(swing, (0, 1), [math.radians(0.1), 0], events=middle, rtol=1e-12, atol=1e-15)
    assert 2 * solved.t_events[0][0] == pytest.approx(1.0, abs=2e-6)  # a beat of a second; CGPM gravity


def test_a_heavy_rod_carries_the_bob_lower():
    light, heavy = (RodAndBob(kg, 1150, 4, 0) for kg in (0.1, 1.0))
    assert 994 < bob_place_mm(light, 994) < bob_place_mm(heavy, 994)


def test_a_wide_bob_alone_hangs_higher():
    # derived: r^2 / 2 d below the middle of a disk
    assert bob_place_mm(RodAndBob(0, 1150, 4, 100), 994) == pytest.approx(994 - 100**2 / 2 / 994, abs=0.05)


@given(st.floats(0, 2), st.floats(0.2, 8), st.floats(0, 120), st.floats(960, 1120))
def test_place_and_length_undo_each_other(rod_kg, bob_kg, radius_mm, place):
    body = RodAndBob(rod_kg, 1150, bob_kg, radius_mm)
    length = center_of_swing_mm(body, place)
    # Only the lower of two places is looked for: where more travel of the bob makes it longer.
    if nut_share(body, place) > 0:
        assert bob_place_mm(body, length) == pytest.approx(place, rel=1e-9)


@given(st.floats(0, 2), st.floats(0.2, 8), st.floats(0, 120), st.floats(960, 1120))
def test_share_of_the_nut_is_the_slope_of_the_length(rod_kg, bob_kg, radius_mm, place):
    body = RodAndBob(rod_kg, 1150, bob_kg, radius_mm)
    slope = (center_of_swing_mm(body, place + 0.01) - center_of_swing_mm(body, place - 0.01)) / 0.02
    assert nut_share(body, place) == pytest.approx(slope, abs=1e-6)


def test_a_rod_too_short_for_the_beat_is_refused():
    with pytest.raises(UsageError, match="No place of the bob"):
        bob_place_mm(RodAndBob(0.5, 900, 4, 50), 994)


def test_a_bob_too_light_for_its_rod_is_refused():
    with pytest.raises(UsageError, match="No place of the bob"):
        bob_place_mm(RodAndBob(4, 1150, 0.01, 50), 500)
