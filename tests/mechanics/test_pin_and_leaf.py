"""Checks of taper pins and of leaves against their pattern; limits are common practice, no source."""

from __future__ import annotations

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics.pin_and_leaf import Hanging, TaperPin, fit_pin, leaf_length, leaf_thickness

PIN = TaperPin(thin_mm=0.8, thick_mm=1.4, length_mm=20)
FLOOR = Hanging(leaf_width_mm=12, free_length_mm=25, mass_kg=6, pendulum_mm=994)


@pytest.mark.parametrize(("hole", "expected"), [(1.2, "two-thirds"), (0.95, "will-not-pass"), (1.38, "rattles")])
def test_pin_by_the_hole(hole, expected):
    assert fit_pin(PIN, hole, 7, "micrometer", "micrometer").answer == expected


def test_a_pin_that_does_not_show_beyond_a_wide_post_will_not_pass():
    assert fit_pin(PIN, 1.2, 14, "micrometer", "micrometer").answer == "will-not-pass"


def test_a_ruler_cannot_tell_a_pin():
    assert fit_pin(PIN, 1.2, 7, "ruler", "ruler").answer == "cannot-tell"


def test_a_pin_is_never_driven():
    assert fit_pin(PIN, 1.2, 7, "micrometer", "micrometer").never == "drive"


def test_a_pin_without_taper_is_refused():
    with pytest.raises(UsageError, match="no taper"):
        fit_pin(TaperPin(1.0, 1.0, 20), 1.0, 7, "micrometer", "micrometer")


@pytest.mark.parametrize(
    ("pattern", "new", "expected"), [(0.20, 0.20, "same"), (0.15, 0.20, "stiffer"), (0.20, 0.15, "weaker")]
)
def test_thickness_by_micrometer(pattern, new, expected):
    assert leaf_thickness(pattern, new, "micrometer", "micrometer").answer == expected


def test_a_caliper_cannot_tell_leaves_of_a_tenth():
    assert leaf_thickness(0.10, 0.12, "steel-caliper", "steel-caliper").answer == "cannot-tell"


def test_rate_of_a_stiffer_leaf_is_that_of_the_table():
    # derived table of the suspension spring: 148 and 228 s/day over a hinge
    answer = leaf_thickness(0.15, 0.20, "micrometer", "micrometer", FLOOR)
    assert round(answer.rate_s_per_day) == 80


@pytest.mark.parametrize(
    ("new", "expected"), [(25.2, "same"), (35.0, "longer"), (20.0, "shorter"), (26.0, "cannot-tell")]
)
def test_length_by_steel_caliper(new, expected):
    assert leaf_length(25.0, new, "steel-caliper", "steel-caliper").answer == expected


def test_a_leaf_ten_millimeters_longer_loses_seven_minutes_a_day():
    # derived: 43.5 s/day per mm, 7.2 min/day for 10 mm
    assert round(leaf_length(25.0, 35.0, "ruler", "ruler", pendulum_mm=994).rate_s_per_day) == -435
