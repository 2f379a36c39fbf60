"""A result carries one turn of the escape wheel where an error of it is heard, counted from the first beat."""

from __future__ import annotations

import json

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats, from_dict, to_dict
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.swing import Swing
from diagnose.measurement.hearing.ticks import Ticks
from tests.measurement.noticing.turning_clock import BEAT_S, TurningClock, beats_of


def heard(clock: TurningClock, seed: int = 3) -> Beats:
    times_s, numbers, _ = beats_of(clock, seed)
    count = len(times_s)
    ones = np.ones(count)
    swing = Swing(2 * BEAT_S, (0.0, 0.5), 0.0, 2, False, 100.0, 100.0, np.ones(4), np.ones(2))
    ticks = Ticks(
        times_s, numbers, 50 * ones, ones, 1e-5 * ones, np.zeros(count, np.intp), ones, float(times_s[-1]) + 1, swing,
        reference_s=1e-4, sounds_s=times_s,
    )  # fmt: skip
    return measure_beats(ticks)


def test_a_bad_tooth_is_in_the_turn_with_its_number_and_size() -> None:
    turn = heard(TurningClock(beats=200, bad_tooth=17, bad_ms=1.5, bad_beats=(0,))).wheel
    assert turn is not None
    assert (turn.teeth, turn.tooth) == (30, 17)
    assert turn.late_ms == pytest.approx(1.5, abs=0.3)
    assert len(turn.deviations_ms) == 60
    assert int(np.argmax(turn.deviations_ms)) == 32
    assert 0.0 < turn.sigma_ms < 0.3


def test_a_wheel_without_an_error_gives_no_turn() -> None:
    assert heard(TurningClock(beats=160)).wheel is None


def test_a_turn_is_the_same_read_back_from_json() -> None:
    beats = heard(TurningClock(beats=160, wheel_ms=1.5))
    assert beats.wheel is not None and beats.wheel.tooth is None
    assert from_dict(json.loads(json.dumps(to_dict(beats)))).wheel == beats.wheel
