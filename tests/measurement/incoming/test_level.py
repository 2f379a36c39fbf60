"""How the clock comes in while it is recorded: the one thing to say to whoever holds the phone."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.measurement.incoming.level import LEVEL_STATES, level_of
from diagnose.training.background import chime_rods, room_noise, talk
from tests.measurement.synthetic_clock import Clock, sound_of

RATE = 16_000


def clock(beats_per_hour: float = 7200.0, snr_db: float = 25.0, seed: int = 3, seconds: float = 8.0) -> np.ndarray:
    return sound_of(Clock(beats_per_hour=beats_per_hour, snr_db=snr_db, rate_hz=RATE, seconds=seconds), seed).samples


@pytest.mark.parametrize("beats_per_hour", [3600.0, 5400.0, 7200.0, 10_800.0])
@pytest.mark.parametrize("snr_db", [30.0, 10.0])
def test_a_clock_that_stands_out_is_good(beats_per_hour, snr_db):
    assert level_of(clock(beats_per_hour, snr_db), RATE).state == "good"


def test_the_tick_stands_out_by_as_much_less_as_there_is_more_noise():
    quiet, noisy = level_of(clock(snr_db=30.0), RATE), level_of(clock(snr_db=15.0), RATE)
    assert quiet.stands_out_db - noisy.stands_out_db == pytest.approx(15.0, abs=2.0)


def test_the_highest_sample_is_told_over_full_scale():
    # Half of full scale is 20 log10 0.5 = -6.02 dB.
    assert level_of(clock(seconds=6.0), RATE).peak_db == pytest.approx(-6.02, abs=0.01)


def test_too_little_sound_says_nothing_yet():
    assert level_of(clock()[: 2 * RATE], RATE).state == "no-ticks-yet"
    assert level_of(np.empty(0), RATE).state == "no-ticks-yet"


def test_a_microphone_that_is_off_is_silent():
    assert level_of(np.zeros(5 * RATE), RATE).state == "silent"


@pytest.mark.parametrize("kind", ["white", "room", "hum"])
def test_a_quiet_room_without_a_tick_is_too_quiet(kind):
    noise = room_noise(6 * RATE, RATE, kind, np.random.default_rng(1))
    assert level_of(noise * 0.002 / np.abs(noise).max(), RATE).state == "too-quiet"


def test_a_clock_far_away_in_a_quiet_room_is_too_quiet():
    assert level_of(clock(snr_db=0.0) * 0.02, RATE).state == "too-quiet"


def test_ticks_that_are_cut_off_are_too_loud_at_once():
    loud = np.clip(clock() * 8.0, -1.0, 1.0)
    assert level_of(loud, RATE).state == "too-loud"
    assert level_of(loud[:RATE], RATE).state == "too-loud"


def test_a_single_sample_at_the_top_is_not_cut_off():
    assert level_of(clock() * 2.0, RATE).clipped_share == 0.0


@pytest.mark.parametrize("what", ["talk", "chime", "noise"])
def test_what_is_louder_than_any_clock_drowns_it(what):
    random = np.random.default_rng(4)
    sound = {
        "talk": lambda: talk(6 * RATE, RATE, 1, random),
        "chime": lambda: chime_rods(6 * RATE, RATE, (0.3, 1.2, 2.4, 3.3, 4.5, 5.2), random),
        "noise": lambda: room_noise(6 * RATE, RATE, "white", random),
    }[what]()
    assert level_of(sound * 0.5 / np.abs(sound).max(), RATE).state == "drowned"


def test_one_slammed_door_changes_nothing():
    sound = clock()
    sound[3 * RATE : 3 * RATE + 4000] += 0.45 * np.random.default_rng(1).standard_normal(4000).clip(-1, 1)
    assert level_of(sound, RATE).state == "good"


def test_only_the_latest_seconds_are_looked_at():
    moved_away = np.concatenate([clock(), 1e-4 * np.random.default_rng(2).standard_normal(7 * RATE)])
    assert level_of(moved_away, RATE).state == "too-quiet"


def test_samples_that_are_no_numbers_are_taken_as_silence():
    sound = clock()
    sound[::1000] = np.nan
    assert level_of(sound, RATE).state in LEVEL_STATES
