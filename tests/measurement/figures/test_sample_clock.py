"""How true a phone counts time, from a source whose rate is known."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import InputError
from diagnose.measurement.figures.sample_clock import SampleClock, calibrate
from diagnose.measurement.incoming.recording import Recording
from tests.measurement.synthetic_clock import Clock, sound_of

RATE = 16_000


def second_ticks(ppm: float, seconds: float = 60.0, jitter_s: float = 5e-5, seed: int = 3, uneven_s: float = 0.0):
    """Return what a phone records that counts `ppm` too many, beside a clock that ticks once a second."""
    count = np.arange(int(seconds) - 1)
    scatter = np.random.default_rng(seed).normal(0.0, jitter_s, len(count))
    drops = (0.4 + count + scatter + uneven_s * (count % 2)) * (1.0 + ppm * 1e-6)
    clock = Clock(beats_per_hour=3600.0, seconds=seconds, snr_db=25.0, rate_hz=RATE, same_kind=True, late_impact=0.0)
    return Recording(sound_of(clock, seed, drops).samples, float(RATE), seconds, "phone.wav")


def pips(ppm: float, seconds: float = 40.0):
    """Return pips of 1 kHz and 100 ms, one a second, as a time signal has them."""
    sound = 1e-3 * np.random.default_rng(1).standard_normal(int(seconds * RATE))
    for pip in range(int(seconds) - 1):
        start_s = (0.5 + pip) * (1.0 + ppm * 1e-6)
        at = np.arange(int(np.ceil(start_s * RATE)), int((start_s + 0.1) * RATE))
        since_s = at / RATE - start_s
        sound[at] += 0.3 * np.sin(2 * np.pi * 1000.0 * since_s) * np.minimum(1.0, since_s / 0.002)
    return Recording(sound, float(RATE), seconds)


@pytest.mark.parametrize("ppm", [-80.0, 0.0, 35.0])
def test_a_quartz_clock_tells_how_much_a_phone_counts_too_many(ppm):
    found = calibrate(second_ticks(ppm))
    assert found.clock.ppm == pytest.approx(ppm, abs=1.0)
    # 6 ppm is 15 s in a month of 30 days: 15 / (30 x 86 400) = 5.8e-6.
    assert 6.0 < found.clock.sigma_ppm < 8.0


def test_pips_of_a_time_signal_tell_it_more_exactly():
    found = calibrate(pips(-60.0), "time-signal")
    assert found.clock.ppm == pytest.approx(-60.0, abs=2 * found.clock.sigma_ppm)
    assert found.clock.sigma_ppm < 3.5


def test_what_the_scatter_adds_holds_the_truth_in_most_trials():
    held = []
    for seed in range(12):
        found = calibrate(second_ticks(20.0, 31.0, 2e-4, seed))
        held.append(abs(found.clock.ppm - 20.0) < 2 * found.timing_ppm)
    assert sum(held) >= 11


def test_a_phone_that_counts_too_many_makes_a_clock_seem_slow_and_the_factor_puts_it_right():
    # A true second is recorded as 1.00005 s: 3600 beats an hour are heard as 3599.82.
    assert 3600.0 / 1.00005 * SampleClock(50.0).factor == pytest.approx(3600.0, abs=1e-5)


@pytest.mark.parametrize(
    ("recording", "sentence"),
    [
        (second_ticks(0.0, 20.0), "the recording is 20 s long, too short"),
        (second_ticks(900.0), "not once a second"),
        (second_ticks(0.0, jitter_s=4e-3), "no even tick a second"),
        (second_ticks(0.0, uneven_s=0.06), "no even tick a second"),
        (Recording(1e-3 * np.random.default_rng(2).standard_normal(40 * RATE), float(RATE), 40.0), "no even tick"),
    ],
    ids=["short", "another rate", "unsteady", "limping", "noise"],
)
def test_what_is_no_source_is_refused(recording, sentence):
    with pytest.raises(InputError, match=sentence):
        calibrate(recording)


def test_a_pendulum_of_another_train_is_refused():
    sound = sound_of(Clock(beats_per_hour=7200.0, seconds=40.0, rate_hz=RATE), 4)
    with pytest.raises(InputError):
        calibrate(Recording(sound.samples, sound.rate_hz, 40.0))
