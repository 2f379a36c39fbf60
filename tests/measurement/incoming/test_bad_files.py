"""Bad sound files: each gives what can be heard of it, or one clear sentence."""

from __future__ import annotations

import struct

import numpy as np
import pytest
import soundfile

from diagnose.errors import InputError
from diagnose.measurement.incoming.recording import Recording, read_recording
from tests.bench.fuzzing import LONGEST_S, MOST_BYTES, fuzz
from tests.measurement.incoming.sound_kinds import PHONE, SECONDS, content

RATE_HZ = 8_000
SOUND = (3000.0 * np.random.default_rng(1).standard_normal(2 * RATE_HZ)).astype("<i2").tobytes()
TENTHS = range(1, 10)
FEW_SEEDS = range(108)
"""Three of each kind; `python -m tests.bench.fuzzing` reads a thousand."""


def wav(promised: int, body: bytes, rate: int = RATE_HZ, channels: int = 1, bits: int = 16, coding: int = 1) -> bytes:
    """Return a WAV file that says what it is told to say."""
    frame = channels * bits // 8
    form = struct.pack(
        "<4sIHHIIHH", b"fmt ", 16, coding, channels, rate, rate * frame & 0xFFFFFFFF, frame & 0xFFFF, bits
    )
    head = struct.pack("<4sI4s", b"RIFF", 36 + promised & 0xFFFFFFFF, b"WAVE") + form
    return head + struct.pack("<4sI", b"data", promised) + body


def read(tmp_path, body: bytes) -> Recording:
    path = tmp_path / "note"
    path.write_bytes(body)
    return read_recording(path)


@pytest.mark.parametrize(
    ("body", "seconds"),
    [
        (wav(0, SOUND), 2.0),
        (wav(0xFFFFFFFF, SOUND), 2.0),
        (wav(0x7FFFFFFF, SOUND), 2.0),
        (wav(0xFFFFFFF0, SOUND), 2.0),
        (wav(len(SOUND), SOUND[:-1]), 2.0),
        (wav(len(SOUND) // 2, SOUND), 1.0),
        (wav(len(SOUND), SOUND, channels=64), 2.0 / 64),
        (wav(2, SOUND[:2]), 1.0 / RATE_HZ),
        (wav(len(SOUND), SOUND, bits=8), 4.0),
    ],
    ids=[
        "no-length",
        "most-length",
        "2^31",
        "2^31-frames",
        "half-a-sample",
        "half",
        "64-channels",
        "1-sample",
        "8-bit",
    ],
)
def test_a_wav_file_with_an_odd_head_is_heard_as_far_as_it_goes(tmp_path, body, seconds):
    if body[40:44] == bytes(4):
        pytest.importorskip("av")
    assert read(tmp_path, body).seconds == pytest.approx(seconds, abs=1e-3)


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        (wav(len(SOUND), SOUND, rate=0), "cannot be read"),
        (wav(len(SOUND), SOUND, rate=4_000_000_000), "cannot be read|samples a second"),
        (wav(len(SOUND), SOUND, channels=0), "cannot be read"),
        (wav(len(SOUND), SOUND, channels=65_535), "cannot be read"),
        (wav(len(SOUND), SOUND, bits=0), "cannot be read"),
        (wav(len(SOUND), SOUND, coding=0x1234), "cannot be read"),
        (wav(len(SOUND), SOUND)[:36], "cannot be read"),
        (wav(0, b""), "there is no sound in this file"),
        (b"\xff\xd8\xff\xe0" + bytes(900), "this is a picture, not sound"),
        (b"PK\x03\x04" + bytes(900), "this is a packed folder, not sound"),
    ],
    ids=["0-hz", "4-ghz", "0-channels", "65535-channels", "0-bits", "coding", "no-data", "0-samples", "photo", "zip"],
)
def test_a_file_nobody_could_hear_gives_one_clear_sentence(tmp_path, body, sentence):
    with pytest.raises(InputError, match=sentence) as caught:
        read(tmp_path, body)
    assert "\n" not in str(caught.value)


def test_speech_coding_that_cannot_be_read_says_what_to_ask_for(tmp_path):
    pytest.importorskip("av")
    with pytest.raises(InputError, match=r"AMR but cannot be read\. Ask for it saved as M4A, MP3 or WAV"):
        read(tmp_path, b"#!AMR\n")


def test_a_wav_file_that_promises_more_than_it_holds_is_told(tmp_path):
    recording = read(tmp_path, wav(2 * len(SOUND), SOUND))
    assert recording.warnings == ("The file is cut short: 2.0 of 4.0 s could be read.",)


LOST_S = {"wav-16": 0.01, "flac": 0.3, "mp3": 0.2, "aac-raw": 0.1, "webm-live": 0.1}
"""What is lost of a cut file with its last page, fragment or frame."""


@pytest.mark.parametrize("kind", [*LOST_S, "voice-note-opus", "m4a-fragments"])
def test_a_file_cut_at_any_tenth_is_heard_as_far_as_it_goes(tmp_path, kind):
    if kind in PHONE:
        pytest.importorskip("av")
    whole = content(kind)
    lost_s = LOST_S.get(kind, 1.1)
    for tenth in TENTHS:
        length_s = tenth / 10.0 * SECONDS
        try:
            recording = read(tmp_path, whole[: len(whole) * tenth // 10])
        except InputError as error:
            assert length_s < lost_s, (kind, tenth)
            assert "send it again" in str(error)
            continue
        assert length_s - lost_s <= recording.seconds <= length_s + 0.3, (kind, tenth)
        assert np.isfinite(recording.samples).all()


def test_a_movie_whose_list_of_contents_is_cut_off_gives_one_clear_sentence(tmp_path):
    pytest.importorskip("av")
    whole = content("m4a-aac")
    for tenth in TENTHS:
        with pytest.raises(InputError, match=r"cannot be read\. It may be damaged or cut off: send it again"):
            read(tmp_path, whole[: len(whole) * tenth // 10])


def test_a_movie_without_sound_gives_one_clear_sentence(tmp_path):
    av = pytest.importorskip("av")
    path = tmp_path / "movie"
    with av.open(str(path), "w", format="mp4") as file:
        stream = file.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        file.mux(stream.encode(av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24")))
        file.mux(stream.encode(None))
    with pytest.raises(InputError, match="there is no sound in this file"):
        read_recording(path)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30])
def test_one_sample_that_is_no_number_does_not_spoil_the_rest(tmp_path, value):
    sound = np.frombuffer(SOUND, "<i2").astype(np.float32) / 32768.0
    broken = sound.copy()
    broken[5000] = value
    path = tmp_path / "note.wav"
    soundfile.write(path, broken, RATE_HZ, subtype="FLOAT")
    recording = read_recording(path)
    broken[5000] = 0.0
    assert recording.samples == pytest.approx(broken, abs=1e-6)
    assert recording.warnings == ("1 samples were no numbers and were taken as silence.",)


def test_floats_on_the_scale_of_whole_numbers_are_brought_to_full_scale(tmp_path):
    path = tmp_path / "note.wav"
    soundfile.write(path, np.frombuffer(SOUND, "<i2").astype(np.float32), RATE_HZ, subtype="FLOAT")
    assert np.abs(read_recording(path).samples).max() == pytest.approx(1.0)


@pytest.mark.parametrize("value", [0, 5000], ids=["silence", "one-value"])
def test_silence_is_read_as_silence(tmp_path, value):
    recording = read(tmp_path, wav(len(SOUND), struct.pack("<h", value) * (len(SOUND) // 2)))
    assert np.ptp(recording.samples) == 0.0
    assert recording.quality.gap_count == 0


def test_spoilt_files_never_hang_nor_take_much_memory():
    outcomes = fuzz(FEW_SEEDS)
    assert max(outcome.seconds for outcome in outcomes) < LONGEST_S
    assert max(outcome.memory_bytes for outcome in outcomes) < MOST_BYTES
    # Most of what is only a little spoilt is still heard.
    assert sum(outcome.end.startswith("heard") for outcome in outcomes) > len(outcomes) / 2
