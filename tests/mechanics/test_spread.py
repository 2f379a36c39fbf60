"""Uncertainty of a reckoned figure against closed forms (JCGM 100:2008)."""

from __future__ import annotations

import math

import pytest

from diagnose.mechanics.spread import half_width_to_standard, spread


def test_a_sum_adds_variances():
    assert spread(lambda a, b: a + b, [1, 2], [3, 4]) == pytest.approx(5)


def test_a_product_adds_relative_variances():
    assert spread(lambda a, b: a * b, [10, 20], [0.1, 0.4]) == pytest.approx(200 * math.hypot(0.01, 0.02))


def test_what_is_sure_adds_nothing():
    assert spread(lambda a: a**3, [2], [0]) == 0


def test_a_rectangle_has_its_half_width_over_the_root_of_three():
    assert half_width_to_standard(0.5) == pytest.approx(0.5 / math.sqrt(3))  # GUM 4.3.7
