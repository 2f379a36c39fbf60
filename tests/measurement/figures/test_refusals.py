"""What is no pendulum clock is named, with a reason and a way out, and never given a number."""

from __future__ import annotations

import json

import numpy as np
import pytest

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.beats import MEASURED, Beats, to_dict
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.measurement.synthetic_clock import Clock, sound_of

RATE_HZ = 22_050


def judge(
    samples: np.ndarray, nominal: float | None = None, side: str | None = None, rate_hz: float = RATE_HZ
) -> Beats:
    samples = samples * (0.5 / max(np.abs(samples).max(), 1e-12))
    recording = Recording(samples, rate_hz, len(samples) / rate_hz)
    return measure_beats(find_ticks(recording, nominal), nominal, side)


def noise(seconds: float, seed: int, level: float = 1.0) -> np.ndarray:
    return level * np.random.default_rng(seed).standard_normal(round(seconds * RATE_HZ))


def clicks(times: np.ndarray, seconds: float, seed: int, alike: bool = True, level: float = 1.0) -> np.ndarray:
    rng = np.random.default_rng(seed)
    length = round(0.04 * RATE_HZ)
    fall = np.exp(-np.arange(length) / (0.004 * RATE_HZ))
    samples = np.zeros(round(seconds * RATE_HZ))
    own = rng.standard_normal(length) * fall
    for moment in times:
        place = round(moment * RATE_HZ)
        part = own if alike else rng.standard_normal(length) * fall
        samples[place : place + length] += level * part[: max(len(samples) - place, 0)]
    return samples


def even_times(period_s: float, seconds: float, scatter: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    steps = period_s * (1.0 + scatter * rng.standard_normal(int(seconds / period_s) + 5))
    times = 0.3 + np.cumsum(steps)
    return times[times < seconds - 0.1]


def talk(seconds: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    samples = np.zeros(round(seconds * RATE_HZ))
    at_s = 0.0
    while at_s < seconds - 0.5:
        length = round(rng.uniform(0.08, 0.3) * RATE_HZ)
        since = np.arange(length) / RATE_HZ
        pitch_hz = rng.uniform(90, 200)
        voice = sum(np.sin(2 * np.pi * pitch_hz * k * since + rng.uniform(0, 6)) / k**0.7 for k in range(1, 25))
        place = round(at_s * RATE_HZ)
        samples[place : place + length] += voice * np.hanning(length) * rng.uniform(0.2, 1.0)
        at_s += length / RATE_HZ + rng.uniform(0.0, 0.4)
    return samples


def assert_refused(beats: Beats, *names: str) -> None:
    assert beats.refused in names
    assert beats.reason
    assert beats.way_out
    assert beats.reason.endswith(".")
    # What ticks evenly without a pendulum tells its pace, and nothing else.
    told = {"beats_per_hour"} if beats.refused in named_results.EVEN_KINDS else set()
    assert {name for name in MEASURED if getattr(beats, name) is not None} == told
    assert {name for name, sigma in beats.uncertainty.items() if sigma is not None} == told
    assert (beats.quality, beats.split, beats.measurements()) == ("none", None, ())


@pytest.mark.parametrize("seconds", [5.0, 20.0])
@pytest.mark.parametrize("seed", range(4))
def test_steady_noise_holds_no_ticks(seconds, seed):
    assert_refused(judge(noise(seconds, seed)), named_results.NO_TICKS)


def test_silence_holds_no_ticks():
    assert_refused(judge(np.zeros(20 * RATE_HZ)), named_results.NO_TICKS)


def test_a_tone_holds_no_ticks():
    tone = np.sin(2 * np.pi * 440 * np.arange(20 * RATE_HZ) / RATE_HZ)
    assert_refused(judge(tone + noise(20, 1, 1e-3)), named_results.NO_TICKS)


@pytest.mark.parametrize("seed", range(4))
def test_talk_is_no_clock(seed):
    assert_refused(judge(talk(20, seed) + noise(20, seed, 0.01)), named_results.NO_TICKS, named_results.NOT_A_CLOCK)


@pytest.mark.parametrize("seed", range(4))
def test_sounds_at_random_are_no_clock(seed):
    times = np.sort(np.random.default_rng(seed).uniform(0.2, 19.5, 40))
    sound = clicks(times, 20, seed, alike=False) + noise(20, seed, 0.01)
    assert_refused(judge(sound), named_results.NO_TICKS, named_results.NOT_A_CLOCK)


@pytest.mark.parametrize("seed", range(4))
def test_footsteps_are_no_clock(seed):
    sound = clicks(even_times(0.55, 20, 0.04, seed), 20, seed, alike=False) + noise(20, seed, 0.01)
    assert_refused(judge(sound), named_results.NOT_A_CLOCK)


@pytest.mark.parametrize("seed", range(4))
def test_a_dripping_tap_is_no_clock(seed):
    sound = clicks(even_times(0.8, 20, 0.10, seed), 20, seed) + noise(20, seed, 0.01)
    assert_refused(judge(sound), named_results.NOT_A_CLOCK)


@pytest.mark.parametrize("seconds", [0.0, 0.3, 1.9])
def test_a_moment_of_sound_is_too_short(seconds):
    recording = Recording(noise(seconds, 1), RATE_HZ, seconds)
    assert_refused(measure_beats(find_ticks(recording)), named_results.TOO_SHORT)


def test_three_beats_are_too_short():
    sound = sound_of(Clock(3600, 4.0, seconds=3.2, first_s=0.3), seed=1)
    assert_refused(judge(sound.samples, rate_hz=sound.rate_hz), named_results.TOO_SHORT, named_results.NO_TICKS)


@pytest.mark.parametrize("seconds", [6.0, 30.0])
def test_one_even_tick_a_second_is_a_battery_clock(seconds):
    times = 0.4 + np.arange(int(seconds - 1.0)) * (1.0 + 1.5e-5)
    beats = judge(clicks(times, seconds, 3) + noise(seconds, 3, 0.02))
    assert_refused(beats, named_results.ONE_A_SECOND)
    assert "3600 beats an hour" in beats.way_out


def test_few_beats_of_a_battery_clock_are_named_with_the_doubt():
    times = 0.4 + np.arange(5) * 1.0
    assert "cannot tell it from a seconds pendulum" in judge(clicks(times, 6, 3) + noise(6, 3, 0.02)).reason


@pytest.mark.parametrize(("percent", "rate"), [(1.5, 20.0), (0.0, 60.0), (0.6, 0.0), (0.0, 0.0)])
def test_a_seconds_pendulum_is_not_taken_for_a_battery_clock(percent, rate):
    sound = sound_of(Clock(3600, percent, rate_s_per_day=rate, seconds=40.0), seed=6)
    beats = judge(sound.samples, rate_hz=sound.rate_hz)
    assert beats.refused is None
    assert any("if it is a battery clock" in warning for warning in beats.warnings)


@pytest.mark.parametrize("way", ["train", "side"])
def test_who_says_that_it_has_a_pendulum_is_believed(way):
    times = 0.4 + np.arange(25) * (1.0 + 1.5e-5)
    sound = clicks(times, 26, 3) + noise(26, 3, 0.02)
    assert judge(sound, 3600.0 if way == "train" else None, "left" if way == "side" else None).refused is None


@pytest.mark.parametrize("beats_per_hour", [12_000, 14_400, 18_000, 21_600, 28_800])
def test_a_balance_wheel_is_named(beats_per_hour):
    sound = sound_of(Clock(beats_per_hour, 3.0, seconds=15.0, late_impact=0.0), seed=2)
    beats = judge(sound.samples, rate_hz=sound.rate_hz)
    assert_refused(beats, named_results.BALANCE)
    assert float(beats.reason.split()[0]) == pytest.approx(beats_per_hour, rel=0.01)


@pytest.mark.parametrize("beats_per_hour", [9000, 10_800])
def test_a_fast_pendulum_is_not_taken_for_a_balance_wheel(beats_per_hour):
    sound = sound_of(Clock(beats_per_hour, 3.0, seconds=15.0), seed=2)
    assert judge(sound.samples, rate_hz=sound.rate_hz).refused is None


@pytest.mark.parametrize("seed", range(3))
def test_two_clocks_are_named(seed):
    one = clicks(even_times(0.5, 20, 2e-4, seed), 20, seed)
    other = clicks(even_times(0.71, 20, 2e-4, seed + 50), 20, seed + 50, level=0.7)
    beats = judge(one + other + noise(20, seed, 0.02))
    assert_refused(beats, named_results.TWO_CLOCKS)
    assert "7200" in beats.reason


@pytest.mark.parametrize("level", [0.06, 0.5])
def test_of_two_clocks_the_one_whose_train_is_given_is_measured(level):
    one = sound_of(Clock(7200, 4.0, seconds=30.0, rate_hz=RATE_HZ), seed=5).samples
    other = clicks(even_times(0.71, 30, 2e-4, 8), 30, 8, level=level)
    beats = judge(one + other, nominal=7200)
    assert beats.beat_error_percent == pytest.approx(4.0, abs=0.15)
    assert "other-clock" in [one.kind for one in beats.noticed]


def test_a_pendulum_beside_a_battery_clock_is_measured():
    one = sound_of(Clock(9000, 4.0, seconds=30.0, rate_hz=RATE_HZ), seed=5).samples
    other = clicks(0.7 + np.arange(29) * 1.0, 30, 8, level=0.02)
    beats = judge(one + other)
    assert beats.beats_per_hour == pytest.approx(9000, rel=1e-3)
    assert beats.beat_error_percent == pytest.approx(4.0, abs=0.15)


def test_every_name_has_a_reason_and_a_way_out():
    made = [
        named_results.silent(-110.0),
        named_results.no_ticks(),
        named_results.too_short(1.0, 10.0),
        named_results.too_few(3, 4.0),
        named_results.two_clocks(7200.0, 5000.0),
        named_results.one_a_second("So it seems."),
        named_results.balance_wheel(18_000.0),
        named_results.not_a_clock("It is odd."),
        named_results.taken_out(0.4),
    ]
    assert {refusal.name for refusal in made} == set(named_results.NAMES)
    assert all(refusal.reason.endswith(".") and refusal.way_out.endswith(".") for refusal in made)


def odd_sounds(seed: int) -> list[np.ndarray]:
    """Return short sounds such as nobody plans for."""
    rng = np.random.default_rng(seed)
    count = round(rng.uniform(1.5, 6.0) * RATE_HZ)
    since = np.arange(count) / RATE_HZ
    few = np.zeros(count)
    few[rng.integers(0, count, rng.integers(1, 6))] = 1.0
    comb = np.zeros(count)
    comb[:: round(rng.uniform(0.05, 1.5) * RATE_HZ)] = 1.0
    gated = rng.standard_normal(count) * (np.sin(2 * np.pi * rng.uniform(0.3, 3.0) * since) > 0.95)
    return [
        few,
        comb,
        gated,
        np.full(count, 0.3),
        np.sign(np.sin(2 * np.pi * rng.uniform(0.3, 6.0) * since)),
        rng.standard_normal(count) * np.exp(-since / 0.3),
        1e-9 * rng.standard_normal(count),
        1e6 * rng.standard_normal(count),
    ]


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize(("nominal", "side"), [(None, None), (7200.0, "left"), (100.0, None), (1e6, "right")])
def test_no_sound_makes_hearing_fall_over(seed, nominal, side):
    for samples in odd_sounds(seed):
        recording = Recording(samples, RATE_HZ, len(samples) / RATE_HZ)
        beats = measure_beats(find_ticks(recording, nominal), nominal, side)
        json.dumps(to_dict(beats), allow_nan=False)
        assert (beats.refused in (None, *named_results.EVEN_KINDS)) == (beats.beats_per_hour is not None)
