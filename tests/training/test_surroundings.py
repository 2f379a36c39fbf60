"""Checks of what is heard around a clock."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.sound import Scene, render
from diagnose.training.surroundings import SURROUNDINGS, Beside, surrounding

RATE_HZ = 16_000


@pytest.mark.parametrize("kind", SURROUNDINGS)
def test_each_kind_sounds_and_is_the_same_by_its_seed(kind):
    first = surrounding(kind, 4 * RATE_HZ, RATE_HZ, np.random.default_rng(3))
    again = surrounding(kind, 4 * RATE_HZ, RATE_HZ, np.random.default_rng(3))
    other = surrounding(kind, 4 * RATE_HZ, RATE_HZ, np.random.default_rng(4))
    assert np.isfinite(first).all()
    assert first.std() > 0
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


@pytest.mark.parametrize("kind", ["rain", "strike", "talk"])
def test_it_sounds_only_from_when_to_when_and_as_loud_as_asked(kind):
    beside = Beside(kind, 10.0, 2.0, 5.0)
    heard = beside.sound(8 * RATE_HZ, RATE_HZ, 1e-3, np.random.default_rng(1))
    assert not heard[: 2 * RATE_HZ].any()
    assert not heard[5 * RATE_HZ :].any()
    assert np.mean(heard[2 * RATE_HZ : 5 * RATE_HZ] ** 2) == pytest.approx(1e-2)


def test_what_begins_after_the_end_is_not_heard():
    assert not Beside("dog", 0.0, 9.0).sound(RATE_HZ, RATE_HZ, 1.0, np.random.default_rng(1)).any()


def test_a_strike_in_the_middle_is_heard_in_a_recording():
    ticking = lay_drops(DropPlan(3600, seconds=12), 1)
    plain = Scene(rate_hz=RATE_HZ, snr_db=40, level=1.0)
    struck = Scene(rate_hz=RATE_HZ, snr_db=40, level=1.0, beside=(Beside("strike", 10.0, 4.0, 8.0),))
    before, during = (
        np.mean(render(ticking, struck)[first * RATE_HZ : (first + 3) * RATE_HZ] ** 2) for first in (0, 5)
    )
    quiet = render(ticking, plain)
    assert during > 10 * before
    assert np.mean(quiet[5 * RATE_HZ : 8 * RATE_HZ] ** 2) < 3 * np.mean(quiet[: 3 * RATE_HZ] ** 2)


@pytest.mark.parametrize(("kind", "from_s", "to_s"), [("trumpet", 0.0, 1.0), ("rain", 3.0, 2.0), ("rain", -1.0, 2.0)])
def test_an_impossible_surrounding_is_refused(kind, from_s, to_s):
    with pytest.raises(UsageError):
        Beside(kind, 0.0, from_s, to_s)
