"""What a part of other dimensions would do, against the worked values."""

from __future__ import annotations

import math

import pytest

from diagnose.mechanics.part_effect import Hanging, effect_of
from diagnose.mechanics.part_match import Size
from diagnose.model.reading import read_knowledge

PARTS = read_knowledge(check=False).parts
SPRING, MAINSPRING, LEADER, PENDULUM = (
    PARTS[name] for name in ("suspension-spring", "mainspring", "leader", "pendulum")
)
FLOOR = Hanging(12, 25, 6, 994)


def pair(old, new, half=0.0):
    return Size(old, half), Size(new, half)


@pytest.mark.parametrize(
    ("old", "new", "hanging", "rate"),
    [
        # published_values.md section 6: gains over a hinge 73, 148 and 228 s/day at 6 kg and 994 mm.
        ((0.10, 10, 25), (0.15, 12, 25), FLOOR, 148 - 73),
        ((0.15, 12, 25), (0.20, 12, 25), FLOOR, 228 - 148),
        # The same table, 0.3 kg and 250 mm: 596 and 955 s/day.
        ((0.08, 4, 12), (0.10, 5, 12), Hanging(4, 12, 0.3, 250), 955 - 596),
    ],
)
def test_a_stiffer_leaf_gains_as_the_strip_equation_says(old, new, hanging, rate):
    keys = ("thickness", "width", "free-length")
    effect = effect_of(SPRING, {key: pair(a, b) for key, a, b in zip(keys, old, new, strict=True)}, hanging)
    # Each of the two figures of the table is rounded to a second.
    assert effect.rate_s_per_day == pytest.approx(rate, abs=1.1)
    assert effect.stiffer == pytest.approx((new[0] / old[0]) ** 3 * new[1] / old[1] - 1)


def test_thinner_is_not_kinder():
    # published_values.md section 6, 12 mm, 6 kg, 2.5 deg: 335 MPa of bending at 0.05 mm against 237 at 0.10 mm.
    effect = effect_of(SPRING, {"thickness": pair(0.10, 0.05)}, FLOOR)
    assert effect.strain == pytest.approx(335 / 237 - 1, abs=0.005)
    assert effect.stiffer == pytest.approx(1 / 8 - 1)


def test_a_millimeter_of_free_length_is_43_seconds_on_a_seconds_pendulum():
    # published_values.md section 6: 43.5 s/day per mm at 994 mm, 173 at 250 mm; longer is slower.
    for pendulum_mm, rate in ((994, 43.5), (250, 173)):
        effect = effect_of(SPRING, {"free-length": pair(25, 26)}, Hanging(10, 25, 6, pendulum_mm))
        assert effect.rate_s_per_day == pytest.approx(-rate, abs=0.3)


def test_a_leader_ten_millimeters_too_long_loses_seven_minutes_a_day():
    # published_values.md section 6: 7.2 min/day.
    effect = effect_of(LEADER, {"length": pair(100, 110)}, FLOOR)
    assert effect.rate_s_per_day / 60 == pytest.approx(-7.2, abs=0.1)
    assert effect_of(LEADER, {"length": pair(100, 110)}) is None


def test_another_length_of_pendulum_goes_with_its_own_length():
    assert effect_of(PENDULUM, {"length": pair(994, 995)}).rate_s_per_day == pytest.approx(-43.5, abs=0.1)


def test_a_mainspring_pulls_with_the_cube_of_its_thickness_and_its_width():
    # Bending of a strip: E w t^3 / 12 over its length (derived, reference 1 of the module).
    effect = effect_of(MAINSPRING, {"thickness": pair(0.40, 0.42), "width": pair(20, 21), "length": pair(1500, 1575)})
    assert effect.stiffer == pytest.approx(1.05**3 * 1.05 / 1.05 - 1)
    assert effect.rate_s_per_day is None


def test_the_uncertainty_of_a_stiffness_is_that_of_three_thicknesses():
    half = 0.005
    effect = effect_of(SPRING, {"thickness": pair(0.10, 0.10, half)}, FLOOR)
    assert effect.stiffer_unsure == pytest.approx(3 * math.sqrt(2) * half / math.sqrt(3) / 0.10)
    assert effect.rate_unsure > 0


def test_a_leaf_far_too_stiff_for_the_pendulum_has_no_rate():
    effect = effect_of(SPRING, {"thickness": pair(0.10, 4.5)}, Hanging(10, 25, 0.3, 250))
    assert effect.rate_s_per_day is None
    assert effect.stiffer > 1000


def test_a_part_without_physics_of_its_own_has_no_effect():
    assert effect_of(PARTS["hand-washer"], {"hole": pair(3, 3.2)}) is None
