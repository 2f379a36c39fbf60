"""Sound files of every kind people send, written by the tests themselves: the same three seconds of ticking."""

from __future__ import annotations

import io
from collections.abc import Callable
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np
import soundfile

SECONDS = 3.0
TICK_S = 0.5
FIRST_S = 0.25


def ticking(rate: int, seconds: float = SECONDS) -> np.ndarray:
    """Ticks of 4 ms every half second from a quarter of a second on, in a room with a little noise."""
    rng = np.random.default_rng(7)
    sound = 0.004 * rng.standard_normal(int(seconds * rate))
    since = np.arange(int(0.02 * rate)) / rate
    pulse = 0.6 * np.exp(-since / 0.004) * np.sin(2.0 * np.pi * 1900.0 * since)
    for start in np.arange(FIRST_S, seconds - 0.1, TICK_S):
        first = round(start * rate)
        sound[first : first + len(pulse)] += pulse
    return sound


def by_soundfile(kind: str, subtype: str, rate: int) -> Callable[[], bytes]:
    """A kind that soundfile writes."""

    def write() -> bytes:
        out = io.BytesIO()
        soundfile.write(out, ticking(rate), rate, format=kind, subtype=subtype)
        return out.getvalue()

    return write


def by_av(form: str, codec: str, rate: int, *, video: bool = False, **options: str) -> Callable[[], bytes]:
    """A kind that PyAV writes; with `video`, a moving picture stands beside the sound."""

    def write() -> bytes:
        import av

        out = io.BytesIO()
        of_codec = {
            key: value for key, value in options.items() if key in ("dtx", "application", "frame_duration", "b")
        }
        of_form = {key: value for key, value in options.items() if key not in of_codec}
        with av.open(out, "w", format=form, options=of_form) as file:
            picture = file.add_stream("mpeg4", rate=10) if video else None
            stream = file.add_stream(codec, rate=rate, layout="mono", options=of_codec)
            if picture is not None:
                _show(file, picture)
            encode(file, stream, ticking(rate), rate)
        return out.getvalue()

    return write


def _show(file: Any, stream: Any) -> None:
    """Write three seconds of a picture to a stream of an open file."""
    import av

    stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
    for number in range(int(SECONDS * 10)):
        shade = np.full((48, 64, 3), number * 8, np.uint8)
        frame = av.VideoFrame.from_ndarray(shade, format="rgb24")
        frame.pts, frame.time_base = number, Fraction(1, 10)
        file.mux(stream.encode(frame))
    file.mux(stream.encode(None))


def encode(file: Any, stream: Any, sound: np.ndarray, rate: int) -> None:
    """Write a sound to a stream of an open file."""
    import av

    whole = np.clip(np.round(sound * 32767.0), -32768, 32767).astype(np.int16)
    frame = av.AudioFrame.from_ndarray(whole[None, :], format="s16", layout="mono")
    frame.rate, frame.pts, frame.time_base = rate, 0, Fraction(1, rate)
    cutter = av.AudioResampler(format=stream.format, layout="mono", rate=rate, frame_size=stream.frame_size or 0)
    for part in [*cutter.resample(frame), *cutter.resample(None)]:
        file.mux(stream.encode(part))
    file.mux(stream.encode(None))


PLAIN: dict[str, Callable[[], bytes]] = {
    "wav-16": by_soundfile("WAV", "PCM_16", 44_100),
    "wav-8": by_soundfile("WAV", "PCM_U8", 22_050),
    "wav-24": by_soundfile("WAV", "PCM_24", 48_000),
    "wav-float": by_soundfile("WAV", "FLOAT", 48_000),
    "wav-a-law": by_soundfile("WAV", "ALAW", 8_000),
    "wav-mu-law": by_soundfile("WAV", "ULAW", 8_000),
    "wav-gsm": by_soundfile("WAV", "GSM610", 8_000),
    "wav-adpcm": by_soundfile("WAV", "MS_ADPCM", 16_000),
    "rf64": by_soundfile("RF64", "PCM_16", 16_000),
    "w64": by_soundfile("W64", "PCM_16", 16_000),
    "flac": by_soundfile("FLAC", "PCM_16", 44_100),
    "aiff": by_soundfile("AIFF", "PCM_16", 44_100),
    "au": by_soundfile("AU", "ULAW", 8_000),
    "caf": by_soundfile("CAF", "ALAC_16", 44_100),
    "ogg-vorbis": by_soundfile("OGG", "VORBIS", 44_100),
    "voice-note-opus": by_soundfile("OGG", "OPUS", 16_000),
    "mp3": by_soundfile("MP3", "MPEG_LAYER_III", 44_100),
}
"""Kinds the base installation reads."""

PHONE: dict[str, Callable[[], bytes]] = {
    "m4a-aac": by_av("ipod", "aac", 44_100),
    "m4a-alac": by_av("ipod", "alac", 44_100),
    "m4a-fragments": by_av("mp4", "aac", 48_000, movflags="frag_keyframe+empty_moov", frag_duration="500000"),
    "aac-raw": by_av("adts", "aac", 44_100),
    "mp4-video": by_av("mp4", "aac", 48_000, video=True),
    "mov-video": by_av("mov", "pcm_s16le", 48_000, video=True),
    "avi-video": by_av("avi", "libmp3lame", 44_100, video=True),
    "3gp-amr": by_av("3gp", "libopencore_amrnb", 8_000, b="12200"),
    "3gp-aac": by_av("3gp", "aac", 16_000),
    "amr": by_av("amr", "libopencore_amrnb", 8_000, b="12200"),
    "webm-opus": by_av("webm", "libopus", 48_000),
    "webm-live": by_av("webm", "libopus", 48_000, live="1"),
    "mka-pcm": by_av("matroska", "pcm_s16le", 44_100),
    "wma": by_av("asf", "wmav2", 44_100, b="64000"),
    "ts-aac": by_av("mpegts", "aac", 48_000),
    "flv-aac": by_av("flv", "aac", 44_100),
    "wavpack": by_av("wv", "wavpack", 44_100),
}
"""Kinds that need the phone extra."""


@cache
def content(kind: str) -> bytes:
    """Return the bytes of a file of one kind."""
    return (PLAIN.get(kind) or PHONE[kind])()
