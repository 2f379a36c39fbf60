"""Checks of the voices of ticks."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.sound import Scene, clean_ticks, power_after, render, together
from diagnose.training.voices import add_tick, lifelike_voice, tick_voice

VOICES = [lifelike_voice(np.random.default_rng(seed)) for seed in range(200)]


def test_lifelike_voices_have_one_to_four_impacts():
    assert {voice.delays_s.size for voice in VOICES} == {1, 2, 3, 4}


def test_the_drop_itself_is_always_there():
    assert all(voice.delays_s[0] == 0.0 and voice.strengths[0] == 1.0 for voice in VOICES)


def test_what_comes_before_the_drop_is_faint():
    early = np.concatenate([voice.strengths[voice.delays_s < 0] for voice in VOICES])
    assert early.size
    assert early.max() <= 0.25


def test_a_late_impact_may_be_the_loudest():
    assert any(voice.strengths.max() > 1.0 for voice in VOICES)
    assert max(voice.delays_s.max() for voice in VOICES) < 0.025


def test_every_voice_has_something_a_telephone_lets_through():
    assert all(((voice.frequencies_hz > 300) & (voice.frequencies_hz < 3400)).any() for voice in VOICES)


def test_a_tick_is_laid_between_the_samples():
    voice = tick_voice(np.random.default_rng(1), 1)
    modes = np.ones(voice.gains.size)
    early, late = np.zeros(4000), np.zeros(4000)
    add_tick(early, 48_000, 0.010, voice, 1.0, modes)
    add_tick(late, 48_000, 0.010 + 0.3 / 48_000, voice, 1.0, modes)
    hertz = np.fft.rfftfreq(4000, 1 / 48_000)
    inside = (hertz > 500) & (hertz < 3000)
    turned = np.angle(np.fft.rfft(late)[inside] / np.fft.rfft(early)[inside])
    delay_s = -turned / (2 * np.pi * hertz[inside])
    assert np.median(delay_s) * 48_000 == pytest.approx(0.3, abs=0.02)


def test_a_silent_beat_is_not_heard():
    ticking = lay_drops(DropPlan(3600, seconds=20, silent_share=0.4), 3)
    scene = Scene(rate_hz=16_000, room_s=0.0)
    samples = clean_ticks(ticking, scene, np.random.default_rng(1))
    loudness = [power_after(samples, np.array([time]), 16_000) for time in ticking.times_s]
    assert np.max(np.array(loudness)[ticking.silent]) < 1e-3 * np.min(np.array(loudness)[~ticking.silent])


def test_a_double_is_heard_after_its_beat():
    ticking = lay_drops(DropPlan(3600, seconds=20, doubled_share=0.5, doubled_after_s=(0.05, 0.06)), 3)
    samples = clean_ticks(ticking, Scene(rate_hz=16_000, room_s=0.0, impacts=1), np.random.default_rng(1))
    loudness = np.array([power_after(samples, np.array([time + 0.05]), 16_000) for time in ticking.times_s])
    doubled = np.isfinite(ticking.doubled_s)
    assert loudness[doubled].min() > 10 * loudness[~doubled].max()


def test_a_clock_may_sound_alike_on_both_sides():
    ticking = lay_drops(DropPlan(3600, seconds=4, jitter_s=0.0, walk_s=0.0, first_s=0.5), 1)
    scene = Scene(rate_hz=16_000, room_s=0.0, alike=True, gain_scatter_db=0.0, mode_scatter=0.0)
    samples = clean_ticks(ticking, scene, np.random.default_rng(1))
    assert samples[8000:10_000] == pytest.approx(samples[24_000:26_000], abs=1e-9)


def test_two_clocks_are_heard_at_once():
    first = render(lay_drops(DropPlan(3600, seconds=10), 1), Scene(rate_hz=16_000))
    second = render(lay_drops(DropPlan(9000, seconds=8), 2), Scene(rate_hz=16_000))
    both = together(first, second, 6.0)
    assert both.size == second.size
    assert np.abs(both).max() == pytest.approx(0.5)
    part = np.linalg.lstsq(np.stack([first[: both.size], second], axis=1), both, rcond=None)[0]
    ratio = part[0] ** 2 * np.mean(first[: both.size] ** 2) / (part[1] ** 2 * np.mean(second**2))
    assert 10 * np.log10(ratio) == pytest.approx(6.0, abs=0.1)
