"""Comparisons with the right time give a rate with its error, against published sums."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.mechanics.comparing import (
    ORDINARY_S_PER_DAY,
    Comparison,
    days_to_see,
    minutes_a_week,
    rate_by_heat,
    rate_of,
)

BEGIN = datetime(2031, 3, 1, 9)


def at(days, fast_s, unsure_s=5.0, set_right=False):
    return Comparison(BEGIN + timedelta(days=days), fast_s, unsure_s, set_right)


def test_three_minutes_in_a_week():
    # fast 3 min after 7 days = 25.7 s a day (worked example, derived)
    rate = rate_of([at(0, 0), at(7, 180)])
    assert rate.s_per_day == pytest.approx(25.7, abs=0.05)
    assert rate.minutes_a_week == pytest.approx(3)


def test_the_error_is_that_of_both_readings_over_the_days():
    assert rate_of([at(0, 0), at(7, 180)]).uncertainty == pytest.approx(50**0.5 / 7)


def test_one_comparison_tells_no_rate():
    assert rate_of([at(0, 30)]) is None


def test_a_setting_of_the_hands_between_does_not_count_as_rate():
    rate = rate_of([at(0, 0), at(7, 180, set_right=True), at(14, 180)])
    assert rate.s_per_day == pytest.approx(180 / 7)
    assert rate.uncertainty == pytest.approx(50**0.5 / 7 / 2**0.5)


def test_several_readings_lie_on_the_line_of_least_squares():
    random = np.random.default_rng(5)
    drawn = [rate_of([at(day, 20 * day + random.normal(0, 5)) for day in range(5)]) for _ in range(400)]
    rates = np.array([rate.s_per_day for rate in drawn])
    assert rates.mean() == pytest.approx(20, abs=0.3)
    assert rates.std() == pytest.approx(drawn[0].uncertainty, rel=0.1)


def test_comparisons_out_of_order_are_refused():
    with pytest.raises(UsageError, match="order of time"):
        rate_of([at(7, 0), at(0, 10)])


def test_days_until_a_rate_is_seen():
    # two readings of 5 s over 7 days are known to 1.01 s a day
    assert days_to_see(50**0.5 / 7, 5.0) == pytest.approx(7)


def test_two_minutes_a_week_is_about_seventeen_seconds_a_day():
    assert pytest.approx(17.14, abs=0.01) == ORDINARY_S_PER_DAY
    assert minutes_a_week(ORDINARY_S_PER_DAY) == pytest.approx(2)


@pytest.mark.parametrize(
    ("material", "seconds_a_week"),
    [("iron", -63.5), ("brass", -90.7), ("wood", -20.9)],
)
def test_heat_against_published_sums(material, seconds_a_week):
    # Beckett p. 52, 40 to 70 deg F: iron a minute a week (63.5 s), brass a minute in 5 days (64.8 s), and p. 60:
    # wood 20 s a week (20.9)
    assert 7 * rate_by_heat(material, 30 * 5 / 9) == pytest.approx(seconds_a_week, rel=0.01)


def test_steel_loses_half_a_second_a_day_for_a_degree():
    assert rate_by_heat("steel", 1) == pytest.approx(-0.498, abs=0.001)  # Beckett p. 53


def test_an_unknown_rod_is_refused():
    with pytest.raises(UsageError, match="no rod of 'glass'"):
        rate_by_heat("glass", 1)
