"""The averaged beats that go with a result: on the same scale, around the drop, few enough to keep."""

from __future__ import annotations

import json

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats, MeanTick, to_dict
from diagnose.measurement.hearing.arrival import Arrivals, Pattern
from diagnose.measurement.hearing.kinds import Kind
from diagnose.measurement.hearing.mean_ticks import mean_ticks
from diagnose.measurement.hearing.reference import Reference

RATE_HZ, ZERO, LENGTH = 40_000.0, 1200, 3600


def kind(height: float, at_s: float, instant_s: float = 0.0, rivals_s: tuple[float, ...] = ()) -> Kind:
    """A kind of beat whose average is one sample high at a time after the template's zero."""
    shape = np.full(LENGTH, 0.01)
    shape[ZERO + round(at_s * RATE_HZ)] = height
    none = np.empty(0)
    arrivals = Arrivals(
        none,
        none,
        none,
        none,
        none,
        shape,
        ZERO,
        RATE_HZ,
        0.02,
        none.astype(complex),
        True,
        Pattern(none.astype(complex), none),
    )
    return Kind(np.empty(0, np.intp), arrivals, Reference(instant_s, 1e-4, rivals_s), np.empty(0, bool), none)


def loudest_ms(tick: MeanTick) -> float:
    return tick.from_ms + tick.step_ms * (int(np.argmax(tick.level)) + 0.5)


def test_the_louder_side_is_one_and_the_other_on_the_same_scale() -> None:
    louder, fainter = mean_ticks((kind(4.0, 0.001), kind(1.0, 0.001)), turned=False)
    assert max(louder.level) == 1.0
    assert max(fainter.level) == 0.25
    assert fainter.noise_level == 0.02 / 4.0


def test_an_impact_of_one_sample_stands_at_its_time() -> None:
    (tick,) = mean_ticks((kind(1.0, 0.0123, instant_s=0.001),), turned=False)
    assert loudest_ms(tick) == pytest.approx(12.3, abs=tick.step_ms)


def test_where_the_first_beat_heard_is_of_the_second_kind_that_kind_is_the_even_one() -> None:
    ticks = mean_ticks((kind(1.0, 0.001), kind(2.0, 0.005)), turned=True)
    assert [tick.kind for tick in ticks] == ["even", "odd"]
    assert loudest_ms(ticks[0]) == pytest.approx(5.0, abs=ticks[0].step_ms)


def test_a_far_rival_is_within_what_is_kept_and_the_values_stay_few() -> None:
    (tick,) = mean_ticks((kind(1.0, 0.001, rivals_s=(-0.025, 0.05)),), turned=False)
    assert tick.from_ms < -25.0
    assert tick.from_ms + tick.step_ms * len(tick.level) > 50.0
    assert len(tick.level) <= 240


def test_no_kinds_and_silent_kinds_give_no_averaged_beats() -> None:
    assert mean_ticks((), turned=False) == ()
    silent = kind(1.0, 0.001)
    silent.arrivals.shape[:] = 0.0
    assert mean_ticks((silent,), turned=False) == ()


def test_a_result_with_averaged_beats_is_the_same_read_back_from_json() -> None:
    ticks = mean_ticks((kind(1.0, 0.001, rivals_s=(0.01,)), kind(2.0, 0.005)), turned=False)
    plain = to_dict(Beats(beats=2, mean_ticks=ticks, loud_s=((1.0, 2.5),), rivals_turned=(True,)))
    assert json.loads(json.dumps(plain)) == plain
    assert plain["mean_ticks"][0]["rivals_ms"] == [10.0]
