"""Phone and video files read by PyAV, packet by packet: bad ones are passed over, missing ones keep their time."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from diagnose.measurement.incoming.pieces import (
    BLOCK_S,
    MOST_CHANNELS,
    SAMPLE_BYTES,
    CannotRead,
    Head,
    NoSound,
    Note,
    NotInstalled,
    Pieces,
)

_GAP_S = 0.01
_GAP_FRAMES = 0.9
_SURE_FRAMES = 4
_FILLED_S = 2.0
_FOLLOW = 0.05
_WHOLE_FRAME = 0.1
_AV_TIME_BASE = 1e6
_SILENT_TYPES = {"amrnb": (8, 15), "amrwb": (9, 14, 15)}
"""Types of AMR frames that carry noise, nothing or a loss instead of sound (3GPP TS 26.101 and 26.201; from memory)."""
_TYPE_BITS = 0x0F
_OPUS_SILENT_BYTES = 2
_MOST_BAD = 500
"""Packets in a row that cannot be decoded; after these nobody expects more."""
_LAGGING_FORMS = ("aac", "mp3", "amr")
"""Forms without a length of their own: what their reader promises is a guess from the size of the file."""


def read_packets(path: str, form: str) -> Pieces:
    """Yield the head of a file, then its samples and notes.

    Parameters
    ----------
    path : str
        File.
    form : str
        Name of its container as PyAV has it, so that it does not guess.

    Raises
    ------
    CannotRead, NoSound, NotInstalled
        Before any sound.
    """
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
        self.gap: _Gap | None = None
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
                if self.bad > _MOST_BAD:
                    if self.done:
                        yield Note("fault", self.done / self.rate)
                    break
                continue
            self.bad = 0
            if not self.rate:
                yield self._head(frame)
            yield from self._settled(frame)
            for part in self._converted(frame):
                self._gather(bytes(part.planes[0])[: part.samples * self.channels * SAMPLE_BYTES])
            if self.since >= BLOCK_S * self.rate and self.gap is None:
                yield self._piece()
        yield from self._filled()
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
        if self.rate <= 0 or not 0 < self.channels <= MOST_CHANNELS:
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

    def _settled(self, frame: Any) -> Iterator[Note]:
        """Compare the time stamp of a frame with the sound given out, and fill in what is missing for certain.

        The stamps of a live recording waver: only what is still missing some frames later was lost, and what is
        filled in wrongly would move every tick behind it.
        """
        if frame.time is None or not frame.samples:
            return
        frame_s = frame.samples / float(frame.sample_rate)
        ahead_s = float(frame.time) - self.done / self.rate
        if self.lag_s is None:
            self.lag_s = ahead_s
        missing_s = ahead_s - self.lag_s
        if self.gap is None:
            if missing_s < max(_GAP_S, _GAP_FRAMES * frame_s):
                self.lag_s += _FOLLOW * missing_s
                return
            self.gap = _Gap(len(self.gathered), self.done, frame_s)
        self.gap.missing_s.append(missing_s)
        if len(self.gap.missing_s) >= _SURE_FRAMES:
            yield from self._filled()

    def _filled(self) -> Iterator[Note]:
        """Fill a gap with silence where it has lasted, so that what follows keeps its time."""
        gap, self.gap = self.gap, None
        if gap is None or self.lag_s is None:
            return
        missing_s = min(gap.missing_s)
        if missing_s < max(_GAP_S, _GAP_FRAMES * gap.frame_s):
            return
        count = round(missing_s / gap.frame_s)
        if abs(missing_s / gap.frame_s - count) < _WHOLE_FRAME:
            # Time stamps of a millisecond are coarser than the frames that are missing.
            missing_s = count * gap.frame_s
        at_s = gap.at / self.rate
        if missing_s > _FILLED_S:
            self.lag_s += missing_s
            yield Note("break", at_s, missing_s)
            return
        samples = round(missing_s * self.rate)
        self.gathered.insert(gap.place, bytes(samples * self.channels * SAMPLE_BYTES))
        self.done += samples
        self.since += samples
        yield Note("hole", at_s, missing_s)


@dataclass(slots=True)
class _Gap:
    """A place where sound seems to be missing: how much, by the time stamp of each frame behind it [s]."""

    place: int
    """Index among the pieces gathered."""
    at: int
    """Samples before it."""
    frame_s: float
    missing_s: list[float] = field(default_factory=list)
