"""Checks of what happens to a sound on its way."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.training.transmission import (
    Cut,
    clipped,
    cut_together,
    gain_controlled,
    instants_after,
    left_out,
    looped,
    mu_law,
    telephone_band,
    with_lost_packets,
    without_silence,
)

RATE_HZ = 48_000
TIME = np.arange(RATE_HZ) / RATE_HZ


def tone(hertz):
    return np.sin(2 * np.pi * hertz * TIME)


@pytest.mark.parametrize(("hertz", "level"), [(1000, 1.0), (2500, 1.0), (100, 0.0), (3900, 0.05), (6000, 0.0)])
def test_a_telephone_lets_300_to_3400_hertz_through(hertz, level):
    # ITU-T G.712: 300 to 3400 Hz; from memory
    heard = telephone_band(tone(hertz), RATE_HZ)[1000:-1000]
    assert heard.std() * np.sqrt(2) == pytest.approx(level, abs=0.05)


def test_a_telephone_moves_nothing_in_time():
    pulse = np.zeros(RATE_HZ)
    pulse[24_000] = 1.0
    assert np.argmax(np.abs(telephone_band(pulse, RATE_HZ))) == 4000


def test_a_rate_that_does_not_divide_is_refused():
    with pytest.raises(UsageError, match="44100 samples"):
        telephone_band(np.zeros(441), 44_100)


def test_companding_keeps_faint_sound_finely_and_loud_sound_coarsely():
    faint, loud = 1e-3 * tone(440), 0.9 * tone(440)
    assert np.abs(mu_law(faint) - faint).max() < 2e-4
    assert 1e-3 < np.abs(mu_law(loud) - loud).max() < 0.03


def test_companding_has_no_more_than_256_steps():
    assert len(np.unique(mu_law(tone(440)))) <= 256


def test_a_clipped_sound_stays_at_full_scale():
    heard = clipped(0.2 * tone(440), 6.0)
    assert heard.max() == 1.0
    assert np.mean(np.abs(heard) == 1.0) == pytest.approx(1 - 2 / np.pi * np.arcsin(10 ** (-6 / 20)), abs=0.01)


def test_gain_control_evens_out_loud_and_faint():
    sound = np.concatenate([tone(500), 0.05 * tone(500), 0.05 * tone(500), 0.05 * tone(500), 0.05 * tone(500)])
    heard = gain_controlled(sound, RATE_HZ, release_s=0.5)
    assert heard[-RATE_HZ // 2 :].std() > 0.6 * heard[RATE_HZ // 4 : RATE_HZ // 2].std()


def test_lost_packets_leave_the_rest_where_it_was():
    sound = np.random.default_rng(1).standard_normal(10 * RATE_HZ)
    heard = with_lost_packets(sound, RATE_HZ, 0.1, seed=4)
    changed = (heard != sound).reshape(-1, 960).any(axis=1)
    assert heard.size == sound.size
    assert changed.mean() == pytest.approx(0.1, abs=0.03)
    assert np.array_equal(heard.reshape(-1, 960)[~changed], sound.reshape(-1, 960)[~changed])


def test_silence_is_not_sent_and_speech_is():
    sound = 1e-4 * np.random.default_rng(1).standard_normal(4 * RATE_HZ)
    sound[:9600] = 0.5 * tone(500)[:9600]
    heard = without_silence(sound, RATE_HZ, 40.0, seed=2)
    assert np.array_equal(heard[:9600], sound[:9600])
    assert not np.array_equal(heard[-96_000:], sound[-96_000:])
    assert heard[-96_000:].std() == pytest.approx(1e-4, rel=0.2)


def test_a_loop_repeats_its_piece_to_the_end():
    cuts = looped(0.2, 0.5, 1.0)
    heard = cut_together(TIME, RATE_HZ, cuts)
    assert heard.size == RATE_HZ
    assert heard[round(0.3 * RATE_HZ)] == pytest.approx(0.2)


def test_drops_of_a_loop_come_back_with_it():
    assert instants_after(np.array([0.1, 0.3, 0.6]), looped(0.2, 0.5, 0.95)) == pytest.approx([0.1, 0.4, 0.7])


def test_what_was_left_out_moves_the_rest_up():
    cuts = left_out([(0.2, 0.3), (0.5, 0.6)], 1.0)
    assert instants_after(np.array([0.1, 0.25, 0.4, 0.9]), cuts) == pytest.approx([0.1, 0.3, 0.7])
    assert cut_together(TIME, RATE_HZ, cuts).size == round(0.8 * RATE_HZ)


def test_cuts_go_where_they_are_told():
    assert cut_together(TIME, RATE_HZ, [Cut(0.5, 0.6, 0.0)])[0] == pytest.approx(0.5)


def test_a_loop_without_length_is_refused():
    with pytest.raises(UsageError, match="earlier time first"):
        looped(0.5, 0.5, 3.0)
