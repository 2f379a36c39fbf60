"""Whether the uncertainties given with a sound are honest, over many seeded sounds."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.timing import SAMPLE_CLOCK, measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.measurement.synthetic_clock import Clock, phone, sound_of

TWO_SIGMA = 1.959964
SOUNDS = 72


@pytest.fixture(scope="module")
def heard() -> list[tuple[Clock, Beats]]:
    found = []
    for number in range(SOUNDS):
        clock = phone(
            Clock(
                (4800, 5400, 7200, 9000)[number % 4],
                float(np.random.default_rng(number).uniform(-20.0, 20.0)),
                rate_s_per_day=-120.0 + 3.0 * number,
                snr_db=(20.0, 12.0, 6.0)[number % 3],
                seconds=16.0,
            )
        )
        sound = sound_of(clock, seed=500 + number)
        ticks = find_ticks(Recording(sound.samples, sound.rate_hz, clock.seconds), clock.beats_per_hour)
        found.append((clock, measure_beats(ticks, clock.beats_per_hour)))
    return found


def test_intervals_of_95_percent_of_the_beat_error_hold_the_truth(heard):
    held = [
        abs(beats.beat_error_percent - abs(clock.beat_error_percent))
        < TWO_SIGMA * beats.uncertainty["beat_error_percent"]
        for clock, beats in heard
    ]
    assert len(held) == SOUNDS
    assert 0.85 <= np.mean(held) <= 1.0


def test_intervals_of_95_percent_of_the_rate_hold_the_truth_without_the_sample_clock(heard):
    held = [
        abs(beats.rate_s_per_day - clock.rate_s_per_day) < TWO_SIGMA * beats.terms["rate_timing"]
        for clock, beats in heard
    ]
    assert 0.85 <= np.mean(held) <= 1.0


def test_the_uncertainty_of_the_beat_error_is_useful(heard):
    assert np.median([beats.uncertainty["beat_error_percent"] for _, beats in heard]) < 0.1


def test_the_sample_clock_is_a_term_of_its_own_in_the_rate(heard):
    # 50 parts in a million of a day are 4.32 s: the usual tolerance of a phone's clock, from memory.
    assert abs(SAMPLE_CLOCK * 86_400.0 - 4.32) < 1e-9
    for _, beats in heard:
        assert beats.terms["rate_sample_clock"] == pytest.approx(4.32)
        whole = np.hypot(beats.terms["rate_timing"], beats.terms["rate_sample_clock"])
        assert beats.uncertainty["rate_s_per_day"] == pytest.approx(whole)


def test_the_instant_of_the_drop_is_a_term_of_the_beat_error(heard):
    for _, beats in heard:
        least = np.hypot(beats.terms["beat_error_timing_ms"], beats.terms["beat_error_instant_ms"])
        assert beats.uncertainty["beat_error_ms"] >= least * (1.0 - 1e-9)
        assert beats.terms["beat_error_instant_ms"] > 0.1


def test_a_longer_recording_knows_the_beat_error_better():
    short, long = (
        measure_beats(find_ticks(Recording(sound.samples, sound.rate_hz, seconds)))
        for seconds in (8.0, 60.0)
        for sound in [sound_of(phone(Clock(7200, 5.0, jitter_ms=1.0, seconds=seconds)), seed=4)]
    )
    assert long.terms["beat_error_timing_ms"] < 0.6 * short.terms["beat_error_timing_ms"]
