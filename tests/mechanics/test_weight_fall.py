"""When the driving weight is level with the bob, and how it would swing there."""

from __future__ import annotations

import math

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics import pendulum, weight_fall


def test_level_when_the_line_is_as_long_as_the_pendulum():
    # derived: 350 mm below at the start, 175 mm a day, 994 mm: (994 - 350) / 175
    early, level, late = weight_fall.days_until_level(350, 994, 175)
    assert level == pytest.approx(3.68)
    assert early < level < late


def test_there_the_weight_beats_with_the_pendulum():
    # Crook 2001 (abstract): the clock stops when the weight is about level with the bob
    _, level, _ = weight_fall.days_until_level(350, 994, 175)
    hangs = 350 + 175 * level
    assert weight_fall.beats_of_hanging_weight(hangs) == pytest.approx(pendulum.beats_per_hour(0.994))


def test_a_weight_that_hangs_lower_from_the_start_is_level_before_it_is_wound():
    assert weight_fall.days_until_level(1200, 994, 175)[2] < 0


def test_fall_of_a_weight_on_a_pulley():
    # a great wheel of 12 h (Beckett p. 133) turns twice a day; on a pulley half of two turns of line is one
    assert weight_fall.fall_a_day_mm(50, 12) == pytest.approx(math.pi * 50)
    assert weight_fall.fall_a_day_mm(50, 12, 1) == pytest.approx(2 * math.pi * 50)


def test_a_weight_that_does_not_fall_is_refused():
    with pytest.raises(UsageError, match="above 0"):
        weight_fall.days_until_level(350, 994, 0)
