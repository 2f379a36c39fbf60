"""Every kind of sound file people send gives the same ticks at the same times, whatever its name says."""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile

from diagnose.measurement.incoming.containers import HEAD_BYTES, after_tag, promised_wav_s, sniff
from diagnose.measurement.incoming.recording import Recording, read_recording
from tests.measurement.incoming.sound_kinds import FIRST_S, PHONE, PLAIN, SECONDS, TICK_S, content, encode, ticking

PADDING_S = 0.1
"""Encoders put up to two frames before and after the sound."""
SCATTER_S = {"3gp-amr": 3e-3, "amr": 3e-3}
"""A speech coder writes a tick as one of its pulses, which stand on a grid of 5 ms subframes: measured here 2.6 ms."""
LEAST_SCATTER_S = 2.5e-4


def tick_times_s(recording: Recording) -> np.ndarray:
    """Where the sound is loudest in each half second around an expected tick."""
    energy = np.convolve(np.square(recording.samples, dtype=np.float64), np.ones(round(0.002 * recording.rate_hz)))
    length = round(TICK_S * recording.rate_hz)
    count = int(SECONDS / TICK_S)
    return np.array([int(np.argmax(energy[k * length : (k + 1) * length])) for k in range(count)]) / recording.rate_hz


@pytest.mark.parametrize("kind", [*PLAIN, *PHONE])
def test_a_file_of_every_kind_gives_evenly_spaced_ticks(tmp_path, kind):
    if kind in PHONE:
        pytest.importorskip("av")
    # Names lie: what the file is called must not matter.
    path = tmp_path / "note.txt"
    path.write_bytes(content(kind))
    recording = read_recording(path)
    assert recording.samples.dtype == np.float32
    assert recording.seconds == pytest.approx(SECONDS, abs=PADDING_S)
    assert recording.warnings == ()
    times_s = tick_times_s(recording)
    assert np.ptp(times_s) < SCATTER_S.get(kind, LEAST_SCATTER_S)
    assert times_s.mean() == pytest.approx(FIRST_S, abs=PADDING_S)
    assert recording.quality.codec


def test_at_least_sixteen_kinds_are_tried():
    assert len(PLAIN) >= 16
    assert len(PLAIN) + len(PHONE) >= 32


@pytest.mark.parametrize(
    ("kind", "edge_hz", "share"),
    [("wav-16", 22_050, 0.01), ("wav-mu-law", 4_000, 0.01), ("mp3", 17_000, 0.1), ("webm-opus", 20_000, 0.1)],
)
def test_the_highest_frequency_with_content_is_told(tmp_path, kind, edge_hz, share):
    if kind in PHONE:
        pytest.importorskip("av")
    path = tmp_path / "note"
    path.write_bytes(content(kind))
    assert read_recording(path).quality.edge_hz == pytest.approx(edge_hz, rel=share)


@pytest.mark.parametrize(
    ("kind", "codec", "bit_rate"),
    [("wav-16", "pcm_16", 705_600), ("voice-note-opus", "opus", 27_000), ("m4a-aac", "aac", 69_000)],
)
def test_codec_and_bit_rate_are_told(tmp_path, kind, codec, bit_rate):
    if kind in PHONE:
        pytest.importorskip("av")
    path = tmp_path / "note"
    path.write_bytes(content(kind))
    quality = read_recording(path).quality
    assert quality.codec == codec
    assert quality.bit_rate == pytest.approx(bit_rate, rel=0.05)


def tagged(body: bytes, size: int) -> bytes:
    """Put an ID3 tag of some size, as of one with a picture, before a file."""
    seven = [size >> 21 & 0x7F, size >> 14 & 0x7F, size >> 7 & 0x7F, size & 0x7F]
    return b"ID3\x04\x00\x00" + bytes(seven) + bytes(size) + body


@pytest.mark.parametrize("kind", ["mp3", "aac-raw", "flac"])
def test_what_stands_behind_a_tag_with_a_picture_is_read(tmp_path, kind):
    if kind in PHONE:
        pytest.importorskip("av")
    path = tmp_path / "note.mp3"
    path.write_bytes(tagged(content(kind), 20_000))
    assert read_recording(path).seconds == pytest.approx(SECONDS, abs=PADDING_S)


def test_the_length_of_a_tag_counts_seven_bits_a_byte():
    # ID3v2.4, section 6.2: a size of 0x0201 is stored as 00 00 02 01 and means 2 * 128 + 1.
    assert after_tag(b"ID3\x04\x00\x00\x00\x00\x02\x01") == 10 + 257


@pytest.mark.parametrize(
    ("head", "name"),
    [
        (b"\xff\xd8\xff\xe0", "a picture"),
        (b"\x89PNG\r\n", "a picture"),
        (b"\x00\x00\x00\x18ftypheic", "a picture"),
        (b"PK\x03\x04\x14", "a packed folder"),
        (b"%PDF-1.7", "a PDF file"),
        (b"\x00\x00\x00\x08wide\x00\x00", "M4A, 3GP or MP4"),
        (b"#!AMR-WB\n", "AMR"),
    ],
)
def test_a_file_is_told_by_its_first_bytes(head, name):
    assert sniff(head + bytes(400)).name == name


@pytest.mark.parametrize(
    ("kind", "plain"),
    [("wav-16", True), ("wav-24", True), ("wav-float", True), ("wav-a-law", True), ("flac", True), ("aiff", True),
     ("rf64", True), ("wav-gsm", False), ("wav-adpcm", False), ("mp3", False), ("voice-note-opus", False)],
)  # fmt: skip
def test_only_what_is_plainly_coded_is_decoded_in_the_program_itself(kind, plain):
    assert sniff(content(kind)[:HEAD_BYTES]).plain is plain


def test_a_letter_in_wide_letters_is_text():
    assert sniff("Dear sir, my clock has stopped.".encode("utf-16")).reader == "text"


def test_a_length_that_a_recorder_wrote_before_it_knew_is_no_promise():
    wav = content("wav-16")
    assert promised_wav_s(wav) == pytest.approx(SECONDS)
    assert promised_wav_s(wav[:40] + b"\xff\xff\xff\xff" + wav[44:]) == 0.0


def test_two_channels_of_a_movie_give_the_one_that_ticks(tmp_path):
    av = pytest.importorskip("av")
    rate = 48_000
    path = tmp_path / "movie"
    with av.open(str(path), "w", format="mov") as file:
        stream = file.add_stream("pcm_s16le", rate=rate, layout="stereo")
        both = np.stack([np.zeros(int(SECONDS * rate)), ticking(rate)], axis=1)
        frame = av.AudioFrame.from_ndarray(
            np.round(both * 32767).astype(np.int16).reshape(1, -1), format="s16", layout="stereo"
        )
        frame.rate = rate
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    recording = read_recording(path)
    assert recording.quality.channel == 1
    assert recording.warnings == ("Channel 1 of 2 is dead; channel 2 was used.",)


def test_a_recorder_that_left_silence_out_is_told(tmp_path):
    av = pytest.importorskip("av")
    if "libopencore_amrnb" not in av.codecs_available:
        pytest.skip("this PyAV writes no AMR")
    rate = 8_000
    sound = ticking(rate, 6.0)
    sound[2 * rate : 5 * rate] *= 0.001
    out = io.BytesIO()
    with av.open(out, "w", format="amr") as file:
        encode(file, file.add_stream("libopencore_amrnb", rate=rate, layout="mono", options={"dtx": "1"}), sound, rate)
    (tmp_path / "note.amr").write_bytes(out.getvalue())
    recording = read_recording(tmp_path / "note.amr")
    assert recording.seconds == pytest.approx(6.0, abs=PADDING_S)
    assert recording.quality.left_out_s == pytest.approx(3.0, abs=0.4)
    assert "left out by the phone as silence" in recording.warnings[-1]


def live_again(change) -> bytes:
    """Write the live recording again, each packet as `change(number, packet)` returns it, or without it."""
    av = pytest.importorskip("av")
    out = io.BytesIO()
    with av.open(io.BytesIO(content("webm-live"))) as whole, av.open(out, "w", format="webm") as file:
        copied = file.add_stream_from_template(whole.streams.audio[0])
        for number, packet in enumerate(whole.demux(whole.streams.audio[0])):
            kept = change(number, packet) if packet.size else None
            if kept is not None:
                kept.stream = copied
                file.mux(kept)
    return out.getvalue()


def test_what_is_missing_in_a_live_recording_is_filled_so_that_the_rest_keeps_its_time(tmp_path):
    # Five packets of 20 ms lost, between two ticks.
    (tmp_path / "note").write_bytes(live_again(lambda number, packet: None if 45 <= number < 50 else packet))
    recording = read_recording(tmp_path / "note")
    assert recording.seconds == pytest.approx(SECONDS, abs=0.02)
    assert np.ptp(tick_times_s(recording)) < LEAST_SCATTER_S
    assert recording.quality.gap_total_s == pytest.approx(0.1, abs=0.01)


def test_time_stamps_that_waver_put_no_silence_in(tmp_path):
    late = np.random.default_rng(5).integers(0, 15, 1000)
    last = -1

    def wavering(number, packet):
        # A stall of 40 ms now and then on top of a little wavering, both in the stamps only.
        nonlocal last
        last = packet.pts = max(packet.pts + int(late[number]) + (40 if number % 29 == 20 else 0), last + 1)
        packet.dts = packet.pts
        return packet

    (tmp_path / "note").write_bytes(live_again(wavering))
    recording = read_recording(tmp_path / "note")
    assert recording.seconds == pytest.approx(SECONDS, abs=0.02)
    assert np.ptp(tick_times_s(recording)) < LEAST_SCATTER_S
    assert recording.quality.gap_count == 0


def test_a_long_break_is_told_and_not_filled(tmp_path):
    def paused(number, packet):
        packet.pts += 60_000 if number >= 75 else 0
        packet.dts = packet.pts
        return packet

    (tmp_path / "note").write_bytes(live_again(paused))
    recording = read_recording(tmp_path / "note")
    assert recording.seconds == pytest.approx(SECONDS, abs=0.02)
    assert recording.quality.breaks_s == (pytest.approx((1.5, 60.0), abs=0.05),)
    assert recording.warnings[0].startswith("The recording was interrupted after 1.5 s, for 60 s")


def test_packets_that_say_only_that_there_is_silence_are_told(tmp_path):
    av = pytest.importorskip("av")

    def emptied(number, packet):
        if not 40 <= number < 60:
            return packet
        # RFC 6716, section 3.1: the first byte says how it is coded; nothing behind it means nothing was sent.
        short = av.Packet(bytes(packet)[:1])
        short.pts, short.dts, short.time_base = packet.pts, packet.dts, packet.time_base
        return short

    (tmp_path / "note.webm").write_bytes(live_again(emptied))
    recording = read_recording(tmp_path / "note.webm")
    assert recording.seconds == pytest.approx(SECONDS, abs=0.02)
    assert recording.quality.left_out_s == pytest.approx(0.4, abs=0.03)
    assert "left out by the phone as silence" in recording.warnings[-1]


def test_a_rate_that_is_not_usual_is_kept(tmp_path):
    path = tmp_path / "note"
    soundfile.write(path, ticking(11_025), 11_025, format="FLAC")
    assert read_recording(path).rate_hz == 11_025
