"""Hearing sound as it comes: the same figures as at once, in little memory, however long it goes on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.live import WHOLE_S, Listening
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.measurement.synthetic_clock import Clock, Sound, found_share, sound_of

RATE_HZ = 16_000
LONG = Clock(7200.0, 6.0, seconds=200.0, rate_hz=RATE_HZ, snr_db=15.0, missing=0.03)


def fed(sound: Sound, block_s: float = 0.5) -> Listening:
    listening = Listening(sound.rate_hz)
    feed(listening, sound.samples, block_s)
    return listening


def feed(listening: Listening, samples: NDArray[np.float64], block_s: float = 0.5) -> None:
    size = round(block_s * listening.rate_hz)
    for start in range(0, len(samples), size):
        listening.feed(samples[start : start + size].astype(np.float32))


@pytest.fixture(scope="module")
def long_sound() -> Sound:
    return sound_of(LONG, seed=3)


def test_a_short_recording_heard_in_blocks_gives_what_it_gives_at_once() -> None:
    sound = sound_of(Clock(5400.0, -4.0, seconds=30.0, rate_hz=RATE_HZ), seed=1)
    samples = sound.samples.astype(np.float32)
    at_once = measure_beats(find_ticks(Recording(samples, sound.rate_hz, len(samples) / sound.rate_hz)))
    assert fed(sound, 0.37).result() == at_once


def test_every_beat_of_a_long_recording_is_found_once(long_sound: Sound) -> None:
    beats = fed(long_sound).result()
    assert found_share(np.array(beats.times_s), long_sound.heard_drops_s) > 0.998
    assert len(set(beats.numbers)) == len(beats.numbers)


def test_numbers_go_on_from_piece_to_piece(long_sound: Sound) -> None:
    beats = fed(long_sound).result()
    times_s, numbers = np.array(beats.times_s), np.array(beats.numbers)
    nearest = np.argmin(np.abs(times_s[:, None] - long_sound.drops_s[None, :]), axis=1)
    assert np.array_equal(numbers - numbers[0], nearest - nearest[0])


def test_figures_of_a_long_recording_are_those_of_the_clock(long_sound: Sound) -> None:
    beats = fed(long_sound).result()
    assert beats.beat_error_percent == pytest.approx(6.0, abs=0.2)
    assert beats.beats_per_hour == pytest.approx(7200.0, abs=0.05)


def test_the_sound_that_is_held_does_not_grow(long_sound: Sound) -> None:
    listening = Listening(long_sound.rate_hz)
    held = []
    for second in range(int(LONG.seconds)):
        feed(listening, long_sound.samples[second * RATE_HZ : (second + 1) * RATE_HZ])
        held.append(listening._held / listening.rate_hz)
    assert max(held) <= WHOLE_S + 1.0
    assert max(held[100:]) <= 35.0


def test_a_result_can_be_had_at_any_time_and_changes_nothing(long_sound: Sound) -> None:
    listening = Listening(long_sound.rate_hz)
    feed(listening, long_sound.samples[: 104 * RATE_HZ])
    first = listening.result()
    assert first == listening.result()
    assert first.times_s[-1] == pytest.approx(104.0, abs=0.6)
    feed(listening, long_sound.samples[104 * RATE_HZ :])
    assert listening.result() == fed(long_sound).result()


@pytest.mark.parametrize("train", [3600.0, 7200.0, 10800.0])
def test_ten_seconds_tell_the_beat_error_to_a_millisecond(train: float) -> None:
    """The goal of a first figure: within 10 s of sound, at +-1 ms."""
    errors = []
    for seed in range(6):
        clock = Clock(train, 5.0, seconds=10.0, rate_hz=RATE_HZ, snr_db=15.0)
        beats = fed(sound_of(clock, seed=seed)).result(())
        assert beats.beat_error_ms is not None, (seed, beats.reason)
        errors.append(abs(beats.beat_error_ms - 3600.0 / train * 1e3 * 0.05))
    assert max(errors) <= 1.0


def test_a_clock_that_stops_and_is_started_again_begins_a_new_stretch() -> None:
    one = sound_of(replace(LONG, seconds=110.0, missing=0.0), seed=4)
    other = sound_of(replace(LONG, seconds=80.0, missing=0.0, first_s=0.55), seed=4)
    quiet = np.random.default_rng(1).normal(0.0, one.samples[: RATE_HZ // 4].std(), 20 * RATE_HZ)
    listening = Listening(one.rate_hz)
    feed(listening, np.concatenate([one.samples, quiet, other.samples]))
    beats = listening.result()
    assert beats.beat_error_percent == pytest.approx(6.0, abs=0.3)
    times_s = np.array(beats.times_s)
    assert not np.any((times_s > 111.0) & (times_s < 129.0))
    assert found_share(times_s[times_s > 130.0] - 130.0, other.drops_s) > 0.97
    assert len(set(listening.ticks().segments)) > 1


def test_what_is_not_a_clock_stays_refused_however_long_it_goes_on() -> None:
    noise = np.random.default_rng(2).normal(0.0, 0.1, 200 * 8000)
    listening = Listening(8000.0)
    feed(listening, noise)
    assert listening.result().refused in (named_results.NO_TICKS, named_results.NOT_A_CLOCK)


def test_a_clock_that_is_plain_only_later_is_heard_from_there_on() -> None:
    sound = sound_of(replace(LONG, seconds=150.0), seed=5)
    noise = np.random.default_rng(3).normal(0.0, 0.3, len(sound.samples[: 60 * RATE_HZ]))
    samples = sound.samples.copy()
    samples[: 60 * RATE_HZ] = noise
    samples = np.concatenate([np.random.default_rng(4).normal(0.0, 0.3, 60 * RATE_HZ), samples])
    listening = Listening(float(RATE_HZ))
    feed(listening, samples)
    beats = listening.result()
    assert beats.beat_error_percent == pytest.approx(6.0, abs=0.3)
    assert beats.times_s[0] > 100.0


def test_what_is_known_of_the_sound_stands_with_the_result(long_sound: Sound) -> None:
    listening = Listening(long_sound.rate_hz)
    feed(listening, long_sound.samples[: 20 * RATE_HZ])
    assert listening.result(("The sound is clipped.",)).warnings[0] == "The sound is clipped."
