"""Where a call or a noise filter has taken the ticks out, that is the reason that is told."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from diagnose.measurement import listen
from diagnose.measurement.figures import named_results
from tests.measurement.synthetic_clock import Clock, sound_of

RATE_HZ = 16_000


def written(path: Path, samples: np.ndarray) -> Path:
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_16")
    return path


def test_a_recording_emptied_but_for_a_voice_says_that_the_ticks_were_taken_out(tmp_path: Path) -> None:
    random = np.random.default_rng(1)
    samples = np.zeros(20 * RATE_HZ)
    for start_s, length_s in ((0.3, 1.1), (4.0, 0.7), (9.5, 1.6), (15.2, 0.9)):
        part = slice(round(start_s * RATE_HZ), round((start_s + length_s) * RATE_HZ))
        samples[part] = 0.1 * random.standard_normal(part.stop - part.start)
    beats = listen(written(tmp_path / "gated.wav", samples))
    assert beats.refused == named_results.TAKEN_OUT
    assert "exact silence" in (beats.reason or "")


def test_ticks_that_stay_are_measured_though_all_between_them_is_silence(tmp_path: Path) -> None:
    sound = sound_of(Clock(7200.0, 6.0, seconds=20.0, rate_hz=RATE_HZ, snr_db=60.0), seed=2)
    samples = sound.samples.copy()
    samples[np.abs(samples) < 2e-3] = 0.0
    beats = listen(written(tmp_path / "hard.wav", samples))
    assert beats.refused is None
    assert abs((beats.beat_error_percent or 0.0) - 6.0) < 0.3


def test_noise_without_a_tick_is_not_blamed_on_the_way(tmp_path: Path) -> None:
    noise = 0.1 * np.random.default_rng(3).standard_normal(20 * RATE_HZ)
    assert listen(written(tmp_path / "noise.wav", noise)).refused in (
        named_results.NO_TICKS,
        named_results.NOT_A_CLOCK,
    )


def test_a_balance_wheel_is_refused_with_its_pace(tmp_path: Path) -> None:
    sound = sound_of(Clock(14_400.0, 1.0, seconds=15.0, rate_hz=RATE_HZ, snr_db=25.0), seed=4)
    beats = listen(written(tmp_path / "alarm.wav", sound.samples))
    assert beats.refused == named_results.BALANCE
    assert abs((beats.beats_per_hour or 0.0) / 14_400.0 - 1.0) < 1e-3
    assert beats.rate_s_per_day is None
    assert beats.beat_error_percent is None
