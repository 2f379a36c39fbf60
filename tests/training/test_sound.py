"""Checks of the sound: ticks where they belong, at the asked-for level, the same each time."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import hilbert

from diagnose.errors import UsageError
from diagnose.model.observations import ClockFacts
from diagnose.training.background import chime_rods, room_noise, talk
from diagnose.training.simulated_clock import SimulatedClock
from diagnose.training.sound import ONSET_WINDOW_S, Scene, demo_beats, render, save_flac
from diagnose.training.voices import tick_voice

CLOCK = SimulatedClock(ClockFacts(family="mantel"), offset_deg=0.5, seed=3)
DRY = {"rate_hz": 44_100, "snr_db": 80.0, "noise": "white", "room_s": 0.0, "impacts": 1}


def first_rise_s(samples, near_s, rate_hz, back_s=0.01, ahead_s=0.02):
    """Instant at which the envelope first passes a quarter of its highest value near a time."""
    envelope = np.abs(hilbert(samples))
    start = round((near_s - back_s) * rate_hz)
    window = envelope[start : round((near_s + ahead_s) * rate_hz)]
    return (start + np.argmax(window > window.max() / 4)) / rate_hz


def test_each_tick_is_heard_at_its_true_time():
    ticking = CLOCK.run(10, released_from="left")
    samples = render(ticking, Scene(**DRY))
    found = np.array([first_rise_s(samples, time, 44_100) for time in ticking.times_s[:-1]])
    assert np.abs(found - ticking.times_s[:-1]).max() < 3e-4


def test_beat_error_of_the_sound_is_that_of_the_clock():
    ticking = CLOCK.run(20, released_from="left")
    samples = render(ticking, Scene(**DRY))
    found = np.array([first_rise_s(samples, time, 44_100) for time in ticking.times_s[:-1]])
    gaps = np.diff(found)
    right, left = gaps[0::2].mean(), gaps[1::2].mean()  # let go from the left: the first tick is the right one
    assert 100 * (right - left) / (right + left) == pytest.approx(ticking.beat_error_percent, abs=0.1)


@pytest.mark.parametrize("snr_db", [0.0, 20.0])
@pytest.mark.parametrize("noise", ["white", "room", "hum"])
def test_signal_to_noise_is_as_asked(snr_db, noise):
    ticking = CLOCK.run(10)
    quiet = Scene(rate_hz=16_000, snr_db=120.0, noise=noise, seed=2, level=1.0)
    clean, noisy = render(ticking, quiet), render(ticking, Scene(rate_hz=16_000, snr_db=snr_db, noise=noise, seed=2))
    scale = np.dot(clean, noisy) / np.dot(clean, clean)
    rest = noisy - scale * clean
    window = round(ONSET_WINDOW_S * 16_000)
    after = [np.mean((scale * clean[round(t * 16_000) :][:window]) ** 2) for t in ticking.times_s[:-1]]
    assert 10 * np.log10(np.mean(after) / np.mean(rest**2)) == pytest.approx(snr_db, abs=0.3)


def test_the_highest_sample_is_the_level():
    assert np.abs(render(CLOCK.run(5), Scene(level=0.25))).max() == pytest.approx(0.25)


def test_same_seed_gives_the_same_sound():
    ticking = CLOCK.run(5)
    assert np.array_equal(render(ticking, Scene(seed=9)), render(ticking, Scene(seed=9)))
    assert not np.array_equal(render(ticking, Scene(seed=9)), render(ticking, Scene(seed=10)))


def test_a_dying_swing_is_heard_to_fade():
    dying = SimulatedClock(ClockFacts(family="floor"), q=80, power=0.1).run(60, "left", 3.0)
    samples = render(dying, Scene(**{**DRY, "rate_hz": 16_000}))
    loud = [np.abs(samples[round(t * 16_000) :][:800]).max() for t in dying.times_s]
    assert np.mean(loud[-6:]) < 0.6 * np.mean(loud[:6])


def test_a_silent_clock_leaves_only_noise():
    stopped = SimulatedClock(ClockFacts(family="floor"), q=80, power=0.1).run(60, "left", 3.0)
    samples = render(stopped, Scene(rate_hz=16_000, snr_db=40))
    assert stopped.stopped_at_s < 55
    after = round((stopped.stopped_at_s + 2) * 16_000)
    assert np.abs(samples[after:]).max() < 0.1 * np.abs(samples).max()


def test_two_pallets_sound_unlike_each_other():
    random = np.random.default_rng(1)
    first, second = tick_voice(random), tick_voice(random)
    assert first.frequencies_hz[0] != second.frequencies_hz[0]


@pytest.mark.parametrize("impacts", [1, 2, 3])
def test_a_tick_has_the_asked_for_impacts(impacts):
    voice = tick_voice(np.random.default_rng(5), impacts)
    assert voice.delays_s.size == voice.strengths.size == impacts
    assert voice.strengths.argmax() == 0


def test_chimes_and_talk_are_added():
    ticking = CLOCK.run(4)
    plain = render(ticking, Scene(rate_hz=16_000, seed=1))
    chimed = render(ticking, Scene(rate_hz=16_000, seed=1, chimes_at_s=(1.0, 2.0)))
    talked = render(ticking, Scene(rate_hz=16_000, seed=1, talk_db=0.0))
    assert np.std(chimed[20_000:]) > 2 * np.std(plain[20_000:])
    assert np.std(talked) > 1.5 * np.std(plain)


def test_chime_rods_ring_from_when_they_are_struck():
    samples = chime_rods(16_000, 16_000, [0.5], np.random.default_rng(1))
    assert not samples[:8000].any()
    assert np.abs(samples[8000:]).max() == pytest.approx(1)


def test_room_noise_falls_with_frequency():
    spectrum = np.abs(np.fft.rfft(room_noise(160_000, 16_000, "room", np.random.default_rng(1)))) ** 2
    assert spectrum[2000:4000].mean() > 5 * spectrum[40_000:80_000].mean()


def test_talk_has_the_rhythm_of_syllables():
    envelope = np.abs(talk(160_000, 16_000, 1, np.random.default_rng(1))).reshape(-1, 160).mean(axis=1)
    spectrum = np.abs(np.fft.rfft(envelope - envelope.mean())) ** 2
    hertz = np.fft.rfftfreq(envelope.size, 0.01)
    assert 2 < hertz[spectrum.argmax()] < 8


@pytest.mark.parametrize("rate_hz", [4000, 96_000])
def test_other_sample_rates_are_refused(rate_hz):
    with pytest.raises(UsageError, match="samples a second"):
        Scene(rate_hz=rate_hz)


@pytest.mark.parametrize("beats", [3600, 5400, 9000])
@pytest.mark.parametrize("percent", [0.0, 3.0, 5.0, 10.0])
def test_demo_beats_are_as_uneven_as_asked(beats, percent):
    beat_s = 3600 / beats
    samples = demo_beats(beats, percent, 12 * beat_s)
    rate, count = 44_100, 12
    shift = percent / 100 * beat_s / 2
    expected = (np.arange(count) + 0.5) * beat_s + np.where(np.arange(count) % 2 == 0, -shift, shift)
    found = np.array([first_rise_s(samples, time, rate) for time in expected])
    gaps = np.diff(found)
    assert 100 * (gaps[0::2].mean() - gaps[1::2].mean()) / (2 * beat_s) * 12 / 12 == pytest.approx(percent, abs=0.15)


def test_tick_and_tock_of_demo_beats_sound_alike():
    samples = demo_beats(3600, 0.0, 4)
    assert np.allclose(samples[22_000:40_000], samples[22_000 + 44_100 : 40_000 + 44_100], atol=1e-6)


def test_an_impossible_demo_beat_is_refused():
    with pytest.raises(UsageError, match="below 100 %"):
        demo_beats(3600, 100, 5)


def test_flac_comes_back_as_it_was_saved(tmp_path):
    import soundfile

    samples = demo_beats(7200, 5, 2, rate_hz=16_000)
    save_flac(tmp_path / "beats.flac", samples, 16_000)
    read, rate = soundfile.read(tmp_path / "beats.flac")
    assert rate == 16_000
    assert np.abs(read - samples).max() < 2 / 32_768
