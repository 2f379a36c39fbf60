"""The air: published orders of size."""

from __future__ import annotations

import pytest

from diagnose.mechanics import air


def test_a_fall_of_the_barometer_gains_what_a_rise_loses():
    least, most = air.loss_by_barometer(20)
    assert air.loss_by_barometer(-20) == pytest.approx((-most, -least))
    assert 0 < least < most


def test_the_weather_never_explains_a_second_a_day():
    # Beckett p. 73: 0.3 s a day and inch; the barometer hardly ever moves by two inches (from memory)
    assert air.loss_by_barometer(air.LARGEST_SWING_OF_THE_BAROMETER_HPA)[1] < 1


def test_a_lighter_pendulum_is_carried_more():
    assert air.loss_by_buoyancy(2_700) > air.loss_by_buoyancy(11_000)
