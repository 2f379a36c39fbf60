"""Decoding of sound files; run as a program it decodes in a process of its own and writes what it finds to stdout.

A decoder is a large piece of foreign code that is fed with whatever somebody has sent. In a process of its own,
held by limits of time and memory, the worst it can do is end. This file uses nothing else of the project, so that
such a process is there within a tenth of a second.

What is written is a row of pieces, each a letter, a length and that many bytes: H, the head (JSON); S, samples
(float32 of this machine, channel by channel for each moment); N, something to note (JSON); E, the end.
"""

from __future__ import annotations

import json
import os
import struct
import sys
from collections.abc import Generator, Iterator
from dataclasses import asdict, dataclass
from typing import Any, BinaryIO

PIECE = struct.Struct("<cI")
"""Letter and length before each piece."""
HEAD, SAMPLES, NOTE, END = b"H", b"S", b"N", b"E"
SAMPLE_BYTES = 4
BLOCK_S = 0.5
"""Short, so that of a file that breaks off next to nothing is lost."""
FEWEST_FRAMES, MOST_FRAMES = 2_048, 200_000
"""In one piece, whatever rate the file says."""

MEMORY_BYTES = 1_000_000_000
PROCESSOR_S = 600
"""An hour of sound takes four seconds to decode, a day two minutes."""
FAILED, CANNOT_READ, NOT_INSTALLED, NO_SOUND = 1, 21, 22, 23
"""Exit codes; the first is Python's own for an error nobody has thought of."""

_GAP_S = 0.01
_GAP_FRAMES = 0.9
_FILLED_S = 2.0
_FOLLOW = 0.05
_WHOLE_FRAME = 0.1
_AV_TIME_BASE = 1e6
_MOST_CHANNELS = 64
_SILENT_TYPES = {"amrnb": (8, 14, 15), "amrwb": (9, 14, 15)}
"""Types of AMR frames that carry noise, nothing or a loss instead of sound (3GPP TS 26.101 and 26.201, table 1a)."""
_TYPE_BITS = 0x0F
_OPUS_SILENT_BYTES = 2
_MOST_BAD = 500
"""Pieces in vain before anything is heard."""
_LAGGING_FORMS = ("aac", "mp3", "amr")
"""Forms without a length of their own: what their reader promises is a guess from the size of the file."""


class CannotRead(Exception):  # noqa: N818 - it is an answer as much as an error
    """The file cannot be read by this decoder; the text says why."""


class NoSound(CannotRead):
    """The file can be read, and nothing in it is sound."""


class NotInstalled(Exception):  # noqa: N818
    """The decoder is not on this machine."""


@dataclass(frozen=True, slots=True)
class Head:
    """What a file says of itself.

    Parameters
    ----------
    rate_hz : float
        Samples per second [Hz].
    channels : int
        Channels.
    promised_s : float
        Length the file promises, 0 where it does not say [s].
    codec : str
        How the sound is coded, as the decoder names it.
    bit_rate : float
        Bits per second, 0 where not known [1/s].
    """

    rate_hz: float
    channels: int
    promised_s: float
    codec: str
    bit_rate: float


@dataclass(frozen=True, slots=True)
class Note:
    """Something noticed while decoding.

    Parameters
    ----------
    kind : str
        "hole" (time that is missing, filled with silence), "break" (more is missing than was filled),
        "left out" (the sender sent no sound, the decoder made up noise), "bad" (a packet that could not be decoded)
        or "fault" (nothing after this could be decoded).
    at_s : float
        Time in the decoded sound [s].
    length_s : float
        Time that is missing [s].
    """

    kind: str
    at_s: float
    length_s: float = 0.0


Piece = Head | bytes | Note
Pieces = Generator[Piece, None, None]


def decode(path: str, decoder: str, form: str) -> Pieces:
    """Yield the head of a file, then its samples and notes.

    Parameters
    ----------
    path : str
        File.
    decoder : str
        "soundfile" or "av".
    form : str
        Name of the container as PyAV has it, so that it does not guess.

    Raises
    ------
    CannotRead, NoSound, NotInstalled
        Before any sound.
    """
    return _with_soundfile(path) if decoder == "soundfile" else _with_av(path, form)


def _with_soundfile(path: str) -> Pieces:
    """Yield the pieces of a file read by libsndfile."""
    import soundfile

    class Straight(soundfile.SoundFile):  # type: ignore[misc]
        """A file read straight through: a seek after each block would break an MP3 stream and put in clicks."""

        def seekable(self) -> bool:
            return False

    try:
        file = Straight(path)
    except (soundfile.LibsndfileError, OSError, ValueError, TypeError) as error:
        raise CannotRead(str(error)) from error
    with file:
        rate_hz = float(file.samplerate)
        if not 0 < file.channels <= _MOST_CHANNELS or rate_hz <= 0:
            raise CannotRead(f"{file.channels} channels at {rate_hz:.0f} Hz")
        frames = max(int(file.frames), 0)
        seconds = frames / rate_hz
        bit_rate = 8.0 * os.path.getsize(path) / seconds if seconds else 0.0
        yield Head(rate_hz, file.channels, seconds, str(file.subtype).lower(), bit_rate)
        yield from _read_through(file, soundfile.LibsndfileError)


def _read_through(file: Any, fault: type[Exception]) -> Pieces:
    """Yield the samples of an open file in pieces of half a second, read in small steps: a step that fails is lost."""
    size = min(max(int(BLOCK_S * file.samplerate), FEWEST_FRAMES), MOST_FRAMES)
    gathered: list[bytes] = []
    done, since, broken = 0, 0, False
    while not broken:
        try:
            block = file.read(FEWEST_FRAMES, dtype="float32", always_2d=True)
        except (fault, ValueError, MemoryError):
            broken = True
            block = ()
        done += len(block)
        since += len(block)
        if len(block):
            gathered.append(block.tobytes())
        if since >= size or (since and not len(block)):
            yield b"".join(gathered)
            gathered.clear()
            since = 0
        if not len(block):
            break
    if broken:
        yield Note("fault", done / file.samplerate)


def _with_av(path: str, form: str) -> Pieces:
    """Yield the pieces of a phone or video file read by PyAV."""
    try:
        import av
    except ImportError as error:
        raise NotInstalled("av") from error
    av.logging.set_level(None)
    try:
        # Only this form and only files: a playlist that calls itself sound must not open anything else.
        opened = av.open(f"file:{path}", format=form or None, options={"protocol_whitelist": "file"})
    except (av.error.FFmpegError, OSError, ValueError, MemoryError) as error:
        raise CannotRead(str(error)) from error
    with opened:
        if not opened.streams.audio:
            raise NoSound(path)
        if opened.streams.audio[0].codec_context is None:
            raise CannotRead("nothing here knows how its sound is coded")
        yield from _Stream(av, opened, form).pieces()


class _Stream:
    """One stream of sound in a file opened by PyAV."""

    def __init__(self, av: Any, opened: Any, form: str) -> None:
        self.av = av
        self.opened = opened
        self.form = form
        self.stream = opened.streams.audio[0]
        self.faults = (av.error.FFmpegError, OSError, ValueError, MemoryError)
        self.decoder = self._amr_decoder()
        self.resampler: Any = None
        self.layout: Any = None
        self.rate = 0
        self.channels = 0
        self.done = 0
        """Samples given out."""
        self.gathered: list[bytes] = []
        self.since = 0
        """Samples gathered for the next piece."""
        self.bad = 0
        self.left_out_from_s: float | None = None
        self.lag_s: float | None = None
        """By how much the time stamps are ahead of the sound given out, followed slowly: two clocks drift apart."""

    def _amr_decoder(self) -> Any:
        """Return the decoder that knows the silence frames of AMR, where there is one and it is needed."""
        name = {"amrnb": "libopencore_amrnb", "amrwb": "libopencore_amrwb"}.get(self.stream.codec_context.name)
        if name is None or name not in self.av.codecs_available:
            return None
        decoder = self.av.CodecContext.create(name, "r")
        decoder.sample_rate = 16_000 if name.endswith("wb") else 8_000
        decoder.layout = "mono"
        return decoder

    def pieces(self) -> Pieces:
        """Yield the head, samples in pieces of half a second, and notes."""
        for frame in self._frames():
            if isinstance(frame, Note):
                self.bad += frame.kind == "bad"
                if self.done:
                    yield frame
                elif self.bad > _MOST_BAD:
                    return
                continue
            if not self.rate:
                yield self._head(frame)
            note = self._missing(frame)
            if note is not None:
                yield note
            for part in self._converted(frame):
                self._gather(bytes(part.planes[0])[: part.samples * self.channels * SAMPLE_BYTES])
            if self.since >= BLOCK_S * self.rate:
                yield self._piece()
        if self.since:
            yield self._piece()

    def _gather(self, content: bytes) -> None:
        samples = len(content) // (self.channels * SAMPLE_BYTES)
        self.done += samples
        self.since += samples
        self.gathered.append(content)

    def _piece(self) -> bytes:
        """Return what was gathered as one piece."""
        whole = b"".join(self.gathered)
        self.gathered.clear()
        self.since = 0
        return whole

    def _head(self, frame: Any) -> Head:
        """Return the head: rate and channels as they are decoded, which the container may not know."""
        self.rate, self.layout = int(frame.sample_rate), frame.layout.name
        self.channels = int(frame.layout.nb_channels)
        if self.rate <= 0 or not 0 < self.channels <= _MOST_CHANNELS:
            raise CannotRead(f"{self.channels} channels at {self.rate} Hz")
        self.resampler = self.av.AudioResampler(format="flt")
        promised_s = 0.0
        if self.form not in _LAGGING_FORMS:
            if self.stream.duration and self.stream.time_base:
                promised_s = float(self.stream.duration * self.stream.time_base)
            elif self.opened.duration:
                promised_s = self.opened.duration / _AV_TIME_BASE
        bit_rate = float(self.stream.bit_rate or self.opened.bit_rate or 0)
        return Head(float(self.rate), self.channels, max(promised_s, 0.0), self.stream.codec_context.name, bit_rate)

    def _frames(self) -> Iterator[Any]:
        """Yield decoded frames, and a note for each packet that cannot be decoded."""
        packets = self.opened.demux(self.stream)
        while True:
            try:
                packet = next(packets, None)
            except self.faults:
                yield Note("fault", self.done / (self.rate or 1))
                packet = None
            if packet is None:
                return
            note = self._left_out(packet)
            if note is not None:
                yield note
            try:
                frames = packet.decode() if self.decoder is None else self.decoder.decode(packet)
            except self.faults:
                yield Note("bad", self.done / (self.rate or 1))
                continue
            yield from frames

    def _left_out(self, packet: Any) -> Note | None:
        """Return a note of a stretch without sound that ends with this packet."""
        name = self.stream.codec_context.name
        first = bytes(packet)[:1] if name in _SILENT_TYPES else b""
        silent = bool(first) and first[0] >> 3 & _TYPE_BITS in _SILENT_TYPES[name]
        silent = silent or (name == "opus" and 0 < packet.size <= _OPUS_SILENT_BYTES)
        now_s = self.done / (self.rate or 1)
        if silent:
            if self.left_out_from_s is None:
                self.left_out_from_s = now_s
            return None
        start_s, self.left_out_from_s = self.left_out_from_s, None
        return None if start_s is None or now_s <= start_s else Note("left out", start_s, now_s - start_s)

    def _converted(self, frame: Any) -> list[Any]:
        """Return a frame as float samples of the first frame's rate and channels."""
        try:
            return list(self.resampler.resample(frame))
        except self.faults:
            # Rate or channels changed on the way.
            self.resampler = self.av.AudioResampler(format="flt", layout=self.layout, rate=self.rate)
            try:
                return list(self.resampler.resample(frame))
            except self.faults:
                return []

    def _missing(self, frame: Any) -> Note | None:
        """Fill in silence where the time stamps show that sound is missing, so that what follows keeps its time."""
        if frame.time is None or not frame.samples:
            return None
        frame_s = frame.samples / float(frame.sample_rate)
        ahead_s = float(frame.time) - self.done / self.rate
        if self.lag_s is None:
            self.lag_s = ahead_s
        missing_s = ahead_s - self.lag_s
        if missing_s < max(_GAP_S, _GAP_FRAMES * frame_s):
            self.lag_s += _FOLLOW * missing_s
            return None
        count = missing_s / frame_s
        if abs(count - round(count)) < _WHOLE_FRAME:
            # Time stamps of a millisecond are coarser than the frames that are missing.
            missing_s = round(count) * frame_s
        at_s = self.done / self.rate
        if missing_s > _FILLED_S:
            self.lag_s = ahead_s
            return Note("break", at_s, missing_s)
        self._gather(bytes(round(missing_s * self.rate) * self.channels * SAMPLE_BYTES))
        return Note("hole", at_s, missing_s)


def _hold() -> None:
    """Hold this process within its limits, as far as the machine knows them."""
    if sys.platform == "win32":
        import ctypes

        # A crash ends the process instead of opening a window.
        ctypes.windll.kernel32.SetErrorMode(0x0001 | 0x0002 | 0x8000)
        return
    import resource

    for kind, most in (
        ("RLIMIT_CPU", PROCESSOR_S),
        ("RLIMIT_AS", MEMORY_BYTES),
        ("RLIMIT_CORE", 0),
        ("RLIMIT_FSIZE", 0),
    ):
        try:
            resource.setrlimit(getattr(resource, kind), (most, most))
        except (AttributeError, ValueError, OSError):
            # macOS refuses some of them.
            continue


def _write(out: BinaryIO, letter: bytes, content: bytes) -> None:
    """Write one piece."""
    out.write(PIECE.pack(letter, len(content)))
    out.write(content)


def main(words: list[str]) -> int:
    """Decode a file to stdout; with "exec", become another program under the same limits."""
    _hold()
    if words[0] == "exec":
        os.execv(words[1], words[1:])
    out = sys.stdout.buffer
    try:
        for piece in decode(*words):
            if isinstance(piece, bytes):
                _write(out, SAMPLES, piece)
            else:
                letter = HEAD if isinstance(piece, Head) else NOTE
                _write(out, letter, json.dumps(asdict(piece)).encode())
        _write(out, END, b"")
        out.flush()
    except NoSound:
        return NO_SOUND
    except CannotRead:
        return CANNOT_READ
    except (NotInstalled, ImportError):
        return NOT_INSTALLED
    except BrokenPipeError:
        # Nobody listens any more. Without this Python would complain once more at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
