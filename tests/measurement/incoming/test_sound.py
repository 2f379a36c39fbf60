"""A sound heard in blocks is the sound of the whole file, in little memory; what it has been through is told."""

from __future__ import annotations

import resource

import numpy as np
import pytest
import soundfile

from diagnose.measurement.incoming.quality import Watch
from diagnose.measurement.incoming.recording import read_recording
from diagnose.measurement.incoming.sound import open_sound
from tests.measurement.incoming.sound_kinds import content
from tests.measurement.synthetic_clock import Clock, sound_of

RATE_HZ = 16_000


def noise(seconds: float, seed: int = 1, level: float = 0.05) -> np.ndarray:
    return (level * np.random.default_rng(seed).standard_normal(int(seconds * RATE_HZ))).astype(np.float32)


def test_the_blocks_are_the_recording(tmp_path):
    path = tmp_path / "note"
    soundfile.write(path, noise(40.0), RATE_HZ, format="OGG", subtype="OPUS")
    with open_sound(path) as sound:
        blocks = list(sound.blocks())
    whole = read_recording(path)
    assert np.array_equal(np.concatenate(blocks), whole.samples)
    assert max(len(block) for block in blocks) <= RATE_HZ
    assert sound.warnings() == whole.warnings == ()
    assert sound.quality() == whole.quality


def test_progress_is_told_after_each_block(tmp_path):
    path = tmp_path / "note.wav"
    soundfile.write(path, noise(40.0), RATE_HZ)
    told: list[tuple[float, float]] = []
    read_recording(path, progress=lambda done_s, promised_s: told.append((done_s, promised_s)))
    assert told[-1] == (40.0, 40.0)
    assert len(told) >= 40
    assert told == sorted(told)


def test_a_long_file_is_heard_in_the_memory_of_a_short_one(tmp_path):
    path = tmp_path / "hours.flac"
    piece = noise(60.0)
    with soundfile.SoundFile(path, "w", RATE_HZ, 1) as file:
        for _ in range(30):
            file.write(piece)

    def heard_s(most_s: float) -> float:
        with open_sound(path) as sound:
            for _ in sound.blocks():
                if sound.heard_s > most_s:
                    break
            return sound.heard_s

    heard_s(60.0)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert heard_s(1e9) == 1800.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 10_000


def test_a_sound_not_heard_to_its_end_is_not_called_cut_short(tmp_path):
    path = tmp_path / "note.wav"
    soundfile.write(path, noise(90.0), RATE_HZ)
    with open_sound(path) as sound:
        next(sound.blocks())
    assert sound.warnings() == ()
    assert sound.promised_s == 90.0


def test_whoever_stops_listening_ends_the_decoder(tmp_path):
    path = tmp_path / "note"
    soundfile.write(path, noise(90.0), RATE_HZ, format="OGG", subtype="VORBIS")
    with open_sound(path) as sound:
        next(sound.blocks())
    assert list(sound.blocks()) == []


def test_silence_inside_a_sound_is_found_and_that_around_it_is_not(tmp_path):
    sound = np.concatenate([np.zeros(8000), noise(4.0), np.zeros(8000)])
    for start in (20_000, 40_000, 60_000):
        sound[start : start + 640] = 0.0
    path = tmp_path / "note.wav"
    soundfile.write(path, sound, RATE_HZ)
    recording = read_recording(path)
    assert [start for start, _ in recording.quality.gaps_s] == pytest.approx([1.25, 2.5, 3.75], abs=2e-4)
    assert recording.quality.gap_total_s == pytest.approx(0.12, abs=1e-3)
    assert recording.warnings[0].startswith("In 3 places, 0.1 s altogether, the file holds exact silence")


def watched(blocks: list[np.ndarray]) -> Watch:
    watch = Watch(float(RATE_HZ))
    for block in blocks:
        watch.hear(np.asarray(block, np.float32))
    return watch


@pytest.mark.parametrize("size", [1, 7, 500, 100_000])
def test_what_is_found_does_not_hang_on_how_the_sound_is_cut(size):
    sound = noise(1.0)
    sound[3000:3300] = 0.0
    sound[9000:9170] = 0.25
    for start in (500, 2_000, 4_999, 12_000):
        sound[start : start + 4] = 1.0
    sound[15_998:] = 1.0
    sound[7_000:7_002] = 1.0
    watch = watched([sound[first : first + size] for first in range(0, len(sound), size)])
    assert watch.clipped_runs == 4
    assert watch.gaps_s == [(3000 / RATE_HZ, 300 / RATE_HZ), (9000 / RATE_HZ, 170 / RATE_HZ)]
    assert watch.peak == 1.0
    assert watch.level_db() == pytest.approx(10.0 * np.log10(np.mean(np.square(sound, dtype=np.float64))), abs=1e-3)


def low_passed(sound: np.ndarray, edge_hz: float) -> np.ndarray:
    spectrum = np.fft.rfft(sound)
    spectrum[int(edge_hz * len(sound) / RATE_HZ) :] = 0.0
    return np.fft.irfft(spectrum, len(sound))


@pytest.mark.parametrize("edge_hz", [2_500.0, 3_400.0, 5_000.0, 7_000.0])
@pytest.mark.parametrize("floor", [0.0, 3e-5, 3e-4])
def test_the_edge_of_a_low_pass_is_found_over_whatever_noise_is_added_behind_it(edge_hz, floor):
    sound = low_passed(noise(20.0), edge_hz) + noise(20.0, 2, floor)
    edge = watched([sound[first : first + 8000] for first in range(0, len(sound), 8000)]).edge_hz()
    assert edge == pytest.approx(edge_hz, abs=400.0)


def test_hum_with_a_quiet_room_above_it_is_no_low_pass():
    times = np.arange(20 * RATE_HZ) / RATE_HZ
    sound = 0.3 * np.sin(2.0 * np.pi * 100.0 * times) + noise(20.0, 3, 2e-4)
    edge = watched([sound[first : first + 8000] for first in range(0, len(sound), 8000)]).edge_hz()
    assert edge == RATE_HZ / 2.0


def test_what_a_file_is_stands_in_its_quality(tmp_path):
    path = tmp_path / "note"
    path.write_bytes(content("ogg-vorbis"))
    quality = read_recording(path).quality
    assert (quality.kind, quality.codec, quality.channels, quality.clipped) == ("Ogg", "vorbis", 1, False)


@pytest.mark.parametrize(("kind", "subtype"), [("OGG", "OPUS"), ("MP3", "MPEG_LAYER_III"), ("OGG", "VORBIS")])
@pytest.mark.parametrize(("gain", "clipped"), [(0.9, False), (4.0, True)])
def test_clipping_is_seen_through_a_coder(tmp_path, kind, subtype, gain, clipped):
    sound = sound_of(Clock(7200, 3.0, seconds=20.0, rate_hz=48_000), seed=3).samples
    path = tmp_path / "note"
    loud = np.clip(gain * sound / np.abs(sound).max(), -1.0, 1.0)
    soundfile.write(path, loud, 48_000, format=kind, subtype=subtype)
    assert read_recording(path).quality.clipped is clipped


def test_a_loud_hum_is_not_called_clipped():
    sound = 0.9 * np.sin(2.0 * np.pi * 50.0 * np.arange(20 * RATE_HZ) / RATE_HZ)
    assert not watched([sound]).piled_up()


def test_a_sound_whose_quiet_parts_were_taken_out_says_what_to_ask_for(tmp_path):
    sound = noise(10.0)
    for start in range(4000, len(sound), 8000):
        sound[start : start + 4000] = 0.0
    path = tmp_path / "note.wav"
    soundfile.write(path, sound, RATE_HZ)
    recording = read_recording(path)
    assert recording.quality.hollow
    assert "noise suppression" in recording.warnings[0]
    assert not recording.quality.clipped
