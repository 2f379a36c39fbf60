"""A decoder that crashes, hangs or eats memory ends in its own process, with one clear sentence."""

from __future__ import annotations

import subprocess
import sys

import pytest

from diagnose.errors import InputError
from diagnose.measurement.incoming import child, decoding, opening
from diagnose.measurement.incoming.pieces import SAMPLE_BYTES, Head, Note
from diagnose.measurement.incoming.recording import read_recording
from tests.measurement.incoming.sound_kinds import SECONDS, content

BEGIN = """
import sys, os, time, struct, json
from diagnose.measurement.incoming import decoding
out = sys.stdout.buffer
def head():
    words = dict(rate_hz=8000.0, channels=1, promised_s=4.0, codec="x", bit_rate=0.0)
    decoding._write(out, b"H", json.dumps(words).encode())
def second():
    decoding._write(out, b"S", struct.pack("8000f", *([0.01, -0.01] * 4000)))
    out.flush()
"""


@pytest.fixture
def only(tmp_path, monkeypatch):
    """Return a function that puts a program of one's own in the place of the decoder."""

    def put(program: str) -> str:
        script = tmp_path / "decoder.py"
        script.write_text(BEGIN + program)
        monkeypatch.setattr(child, "DECODER", (sys.executable, "-B", str(script)))
        monkeypatch.setattr(opening.shutil, "which", lambda _: None)
        note = tmp_path / "note.ogg"
        note.write_bytes(content("voice-note-opus"))
        return str(note)

    return put


def test_a_decoder_that_crashes_gives_one_clear_sentence(only):
    note = only("os.abort()")
    with pytest.raises(InputError, match=r"this Ogg file makes its decoder fail\. It may be damaged"):
        read_recording(note)


def test_a_decoder_that_hangs_is_ended_and_told(only, monkeypatch):
    monkeypatch.setattr(child, "WAIT_S", 0.5)
    note = only("time.sleep(60)")
    with pytest.raises(InputError, match="takes too long to decode"):
        read_recording(note)


def test_what_was_heard_before_a_crash_is_kept(only):
    recording = read_recording(only("head(); second(); second(); os.abort()"))
    assert recording.seconds == 2.0
    assert recording.warnings == ("The file is cut short: 2.0 of 4.0 s could be read.",)


def test_what_was_heard_before_a_hang_is_kept(only, monkeypatch):
    monkeypatch.setattr(child, "WAIT_S", 1.0)
    recording = read_recording(only("head(); second(); second(); second(); time.sleep(60)"))
    assert recording.seconds == 3.0
    assert recording.warnings == ("The file is cut short: 3.0 of 4.0 s could be read.",)


def test_a_decoder_that_writes_nonsense_is_no_sound(only):
    with pytest.raises(InputError):
        read_recording(only("out.write(bytes([72, 255, 255, 255, 255]) * 100)"))


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds a process to its memory")
def test_a_decoder_may_not_take_more_than_its_memory():
    program = BEGIN + "decoding._hold(); bytearray(2 * decoding.MEMORY_BYTES)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert "MemoryError" in done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="no such limit there")
def test_a_decoder_may_not_write_files(tmp_path):
    target = tmp_path / "written"
    program = BEGIN + f"decoding._hold(); open({str(target)!r}, 'wb').write(b'x' * 100)"
    subprocess.run([sys.executable, "-c", program], capture_output=True, check=False)
    assert not target.exists() or target.stat().st_size == 0


def test_decoded_apart_is_the_same_as_decoded_here(tmp_path):
    path = tmp_path / "note"
    path.write_bytes(content("flac"))
    assert list(child.decode_apart(str(path), "soundfile", "")) == list(decoding.decode(str(path), "soundfile", ""))


def test_a_program_on_the_path_reads_what_nothing_else_does(tmp_path, monkeypatch):
    if opening.shutil.which("ffmpeg") is None:
        pytest.skip("there is no such program here")
    pytest.importorskip("av")
    path = tmp_path / "note.m4a"
    path.write_bytes(content("m4a-aac"))
    monkeypatch.setitem(sys.modules, "av", None)
    assert read_recording(path).seconds == pytest.approx(SECONDS, abs=0.1)


def test_speech_coding_without_its_better_decoder_keeps_the_time(tmp_path, monkeypatch):
    av = pytest.importorskip("av")
    path = tmp_path / "note.amr"
    path.write_bytes(content("amr"))
    monkeypatch.setattr(av, "codecs_available", av.codecs_available - {"libopencore_amrnb"})
    pieces = list(decoding.decode(str(path), "av", "amr"))
    assert isinstance(pieces[0], Head)
    samples = sum(len(piece) for piece in pieces if isinstance(piece, bytes)) // SAMPLE_BYTES
    assert samples / pieces[0].rate_hz == pytest.approx(SECONDS, abs=0.1)
    assert not any(isinstance(piece, Note) for piece in pieces)
