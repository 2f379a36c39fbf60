"""Reading sound files: what is read, what is said of it, and one clear sentence where it cannot be."""

from __future__ import annotations

import resource
import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from diagnose.errors import InputError
from diagnose.measurement.incoming.containers import sniff
from diagnose.measurement.incoming.recording import LONGEST_S, read_recording

RATE_HZ = 16_000
SOUND = 0.3 * np.sin(2.0 * np.pi * 440.0 * np.arange(3 * RATE_HZ) / RATE_HZ)


def written(path: Path, kind: str, subtype: str | None = None, sound: np.ndarray = SOUND, rate: int = RATE_HZ) -> Path:
    soundfile.write(path, sound, rate, format=kind, subtype=subtype)
    return path


@pytest.mark.parametrize(
    ("kind", "subtype"),
    [
        ("WAV", "PCM_16"),
        ("WAV", "PCM_24"),
        ("WAV", "FLOAT"),
        ("WAV", "ULAW"),
        ("FLAC", "PCM_16"),
        ("OGG", "VORBIS"),
        ("OGG", "OPUS"),
        ("MP3", "MPEG_LAYER_III"),
        ("AIFF", "PCM_16"),
    ],
)
def test_every_kind_of_sound_file_reads_whatever_its_name(tmp_path, kind, subtype):
    recording = read_recording(written(tmp_path / "tick.txt", kind, subtype))
    assert recording.rate_hz == RATE_HZ
    assert recording.seconds == pytest.approx(3.0, abs=0.15)
    assert np.sqrt(np.mean(recording.samples**2)) == pytest.approx(0.3 / np.sqrt(2.0), rel=0.05)
    assert recording.warnings == ()


@pytest.mark.parametrize(
    ("ending", "codec"), [("m4a", "aac"), ("webm", "libopus"), ("3gp", "aac"), ("mkv", "pcm_s16le")]
)
def test_what_phones_send_reads_with_the_phone_extra(tmp_path, ending, codec):
    av = pytest.importorskip("av")
    path = tmp_path / f"note.{ending}"
    with av.open(str(path), "w") as out:
        stream = out.add_stream(codec, rate=48_000, layout="mono")
        sound = (0.3 * 32767 * np.sin(2.0 * np.pi * 440.0 * np.arange(96_000) / 48_000)).astype(np.int16)
        frame = av.AudioFrame.from_ndarray(sound[None, :], format="s16", layout="mono")
        frame.rate = 48_000
        resampler = av.AudioResampler(
            format=stream.format, layout="mono", rate=48_000, frame_size=stream.frame_size or 0
        )
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    recording = read_recording(path)
    assert recording.seconds == pytest.approx(2.0, abs=0.2)
    assert recording.rate_hz == 48_000


def test_a_phone_file_without_the_phone_extra_says_how_to_get_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)
    path = tmp_path / "note.m4a"
    path.write_bytes(b"\x00\x00\x00\x20ftypM4A " + bytes(200))
    with pytest.raises(InputError, match=r"pip install 'stopped-clock\[phone\]'"):
        read_recording(path)


def wav_head(data_bytes: int, rate: int = 8000) -> bytes:
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, rate, 2 * rate, 2, 16)
    return struct.pack("<4sI4s", b"RIFF", 36 + data_bytes, b"WAVE") + form + struct.pack("<4sI", b"data", data_bytes)


BAD_FILES = {
    "empty.wav": (b"", "the file is empty"),
    "letter.wav": (b"Dear sir, my clock has stopped.\nIt is in the hall.\n", "this is a text file"),
    "garbage.wav": (np.random.default_rng(4).bytes(5000), "no sound file of a known kind"),
    "head-only.wav": (wav_head(0), "there is no sound in this file"),
    "cut-in-head.wav": (wav_head(100)[:20], "cannot be read"),
    "cut.flac": (b"fLaC\x00\x00\x00\x22", "cannot be read"),
    "broken.mp3": (b"ID3\x04" + bytes(300), "cannot be read"),
    "broken.ogg": (b"OggS" + bytes(300), "cannot be read"),
    "broken.webm": (b"\x1aE\xdf\xa3" + bytes(300), "cannot be read"),
    "zeros.wav": (bytes(4000), "no sound file of a known kind"),
    "fast.wav": (wav_head(2000, rate=1_000_000) + bytes(2000), "1000000 samples a second"),
    "slow.wav": (wav_head(2000, rate=100) + bytes(2000), "100 samples a second"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_that_is_no_sound_gives_one_clear_sentence(tmp_path, name):
    content, sentence = BAD_FILES[name]
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=sentence) as caught:
        read_recording(tmp_path / name)
    assert str(tmp_path / name) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_that_is_not_there_gives_one_clear_sentence(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_recording(tmp_path / "nothing.wav")


def test_a_folder_gives_one_clear_sentence(tmp_path):
    with pytest.raises(InputError, match="this is a folder, not a recording"):
        read_recording(tmp_path)


def test_a_device_is_not_waited_for():
    with pytest.raises(InputError, match="not an ordinary file"):
        read_recording("/dev/zero")


def test_a_recording_cut_short_is_used_and_told(tmp_path):
    whole = written(tmp_path / "whole.wav", "WAV").read_bytes()
    (tmp_path / "cut.flac").write_bytes(written(tmp_path / "whole.flac", "FLAC").read_bytes()[:-3000])
    (tmp_path / "cut.wav").write_bytes(whole[: len(whole) // 2])
    assert read_recording(tmp_path / "cut.wav").seconds == pytest.approx(1.5, abs=0.05)
    assert "cut short" in read_recording(tmp_path / "cut.flac").warnings[0]


def test_a_day_of_sound_is_read_in_its_first_ten_minutes_and_little_memory(tmp_path):
    path = tmp_path / "day.wav"
    day = 24 * 3600 * 8000 * 2
    with path.open("wb") as file:
        file.write(wav_head(day))
        file.truncate(44 + day)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    recording = read_recording(path)
    grown_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert recording.seconds == LONGEST_S
    assert recording.warnings == ("Only the first 10 minutes were read.",)
    assert grown_kb < 300_000


def test_a_clipped_recording_is_told(tmp_path):
    loud = np.clip(8.0 * SOUND, -1.0, 1.0)
    assert "clipped" in read_recording(written(tmp_path / "loud.wav", "WAV", sound=loud)).warnings[0]


def test_a_loud_recording_that_is_not_clipped_is_not_called_so(tmp_path):
    assert read_recording(written(tmp_path / "full.wav", "WAV", sound=SOUND / 0.3 * 0.99)).warnings == ()


def test_the_live_channel_is_used_where_the_other_is_dead(tmp_path):
    both = np.stack([np.zeros_like(SOUND), SOUND], axis=1)
    recording = read_recording(written(tmp_path / "both.wav", "WAV", sound=both))
    assert recording.samples.max() == pytest.approx(0.3, abs=0.01)
    assert recording.warnings == ("Channel 1 of 2 is dead; channel 2 was used.",)


def test_of_two_live_channels_the_one_with_the_plainer_ticks_is_used(tmp_path):
    rng = np.random.default_rng(8)
    noisy = 0.1 * rng.standard_normal(len(SOUND))
    ticking = 0.02 * rng.standard_normal(len(SOUND))
    for first in range(4000, len(SOUND) - 100, 8000):
        ticking[first : first + 80] += 0.5 * rng.standard_normal(80)
    both = np.clip(np.stack([noisy, ticking], axis=1), -1, 1)
    recording = read_recording(written(tmp_path / "both.wav", "WAV", "FLOAT", both))
    assert recording.samples == pytest.approx(np.clip(ticking, -1, 1), abs=1e-6)
    assert recording.warnings == ()


def test_a_whole_channel_is_used_rather_than_one_whose_quiet_parts_were_taken_out(tmp_path):
    rng = np.random.default_rng(9)
    whole = 0.01 * rng.standard_normal(len(SOUND))
    gated = np.zeros(len(SOUND))
    for first in range(4000, len(SOUND) - 100, 8000):
        pulse = 0.5 * rng.standard_normal(80)
        whole[first : first + 80] += pulse
        gated[first : first + 80] += pulse
    path = written(tmp_path / "both.wav", "WAV", sound=np.clip(np.stack([gated, whole], axis=1), -1, 1))
    assert read_recording(path).quality.channel == 1


def test_samples_that_are_no_numbers_are_silence_and_told(tmp_path):
    broken = SOUND.copy()
    broken[100:110] = np.nan
    recording = read_recording(written(tmp_path / "nan.wav", "WAV", "FLOAT", broken))
    assert np.isfinite(recording.samples).all()
    assert recording.warnings == ("10 samples were no numbers and were taken as silence.",)


def test_raw_aac_is_not_taken_for_mp3():
    assert (sniff(b"\xff\xf1\x50\x80" + bytes(20)).name, sniff(b"\xff\xfb\x90\x00" + bytes(20)).name) == ("AAC", "MP3")


@pytest.mark.parametrize(("kind", "subtype"), [("MP3", "MPEG_LAYER_III"), ("OGG", "VORBIS")])
def test_reading_in_blocks_puts_no_clicks_into_the_sound(tmp_path, kind, subtype):
    path = written(tmp_path / "tick", kind, subtype)
    at_once, _ = soundfile.read(path)
    assert read_recording(path).samples == pytest.approx(at_once, abs=1e-6)
