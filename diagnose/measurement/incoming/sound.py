"""A sound file heard block by block: one channel, cleaned, watched, in little memory however long it is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import InputError
from diagnose.measurement.incoming.channels import choose_channel
from diagnose.measurement.incoming.opening import begin
from diagnose.measurement.incoming.pieces import BLOCK_S, Head, Note, Pieces
from diagnose.measurement.incoming.quality import Quality, Watch

LONGEST_HEARD_S = 26.0 * 3600.0
"""Nobody records a clock for longer than a day; a file that goes on is made to go on."""
_CHOOSE_S = 30.0
_MOST_CHOSEN_FROM = 6_000_000
"""Samples of all channels looked at before one is chosen: half a minute of two channels at 96 kHz."""
_NO_LEVEL = 2.0**40
"""Beyond the full scale of any way to store sound: such a sample is a broken one."""
_CUT_SHORT_SHARE = 0.98
_CUT_SHORT_S = 0.3
_END_S = 0.05
_TENTHS_BELOW_S = 9.95
_TOLD_GAPS = 3
_TOLD_LEFT_OUT_S = 0.1

_HOLES = "sound was lost or left out on the way."
_HOLLOW = (
    "the quiet parts were taken out, by noise suppression or because they were too quiet for this file. "
    "Ask for a recording made with a recorder app, the phone close to the clock."
)

Block = NDArray[np.float32]
Progress = Callable[[float, float], None]


def _no_pieces() -> Pieces:
    yield from ()


@dataclass(slots=True)
class Sound:
    """One channel of a sound file, heard once from its beginning.

    Parameters
    ----------
    rate_hz : float
        Samples per second [Hz].
    promised_s : float
        Length the file promises, 0 where it does not say [s].
    file : str
        Path it is read from.
    kind : str
        Kind of the file, as a person calls it.
    head : Head
        What the file says of itself.
    progress : callable, optional
        Called after each block with the seconds heard and the seconds promised.
    """

    rate_hz: float
    promised_s: float
    file: str
    kind: str
    head: Head
    progress: Progress | None = None
    heard_s: float = 0.0
    _pieces: Pieces = field(default_factory=_no_pieces)
    _first: list[Block] = field(default_factory=list)
    _watch: Watch = field(default_factory=lambda: Watch(1.0))
    _channel: int = 0
    _scale: float = 1.0
    _said_of_channels: tuple[str, ...] = ()
    _not_numbers: int = 0
    _notes: list[Note] = field(default_factory=list)
    _ended: bool = False

    def __enter__(self) -> Sound:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file and of the process that decodes it."""
        self._pieces.close()
        self._first = []

    def blocks(self) -> Iterator[Block]:
        """Yield the sound in blocks of about half a second, shape (N,), full scale 1; once."""
        most = int(LONGEST_HEARD_S * self.rate_hz)
        while self._first:
            yield self._taken(self._first.pop(0))
        for piece in self._pieces:
            if isinstance(piece, Note):
                self._notes.append(piece)
            elif isinstance(piece, bytes):
                block = np.frombuffer(piece, np.float32).reshape(-1, self.head.channels)[:, self._channel]
                yield self._taken(self._cleaned(block.copy()))
            if self._watch.samples > most:
                self.close()
                return
        self._ended = True

    def _taken(self, block: Block) -> Block:
        """Return a block that is counted and watched."""
        self._watch.hear(block)
        self.heard_s = self._watch.samples / self.rate_hz
        if self.progress is not None:
            self.progress(self.heard_s, self.promised_s)
        return block

    def _cleaned(self, block: Block) -> Block:
        """Return a block in which every sample is a number of the scale; in place."""
        self._not_numbers += silence_what_is_no_number(block)
        if self._scale != 1.0:
            block /= self._scale
        return block

    def _choose(self) -> None:
        """Read the first half minute of all channels and choose one.

        Raises
        ------
        InputError
            There is no sound.
        """
        most = min(int(_CHOOSE_S * self.rate_hz), max(_MOST_CHOSEN_FROM // self.head.channels, 1))
        parts: list[Block] = []
        count = 0
        self._ended = True
        for piece in self._pieces:
            if isinstance(piece, Note):
                self._notes.append(piece)
            elif isinstance(piece, bytes) and piece:
                parts.append(np.frombuffer(piece, np.float32).reshape(-1, self.head.channels))
                count += len(parts[-1])
            if count >= most:
                self._ended = False
                break
        if not count:
            raise InputError("there is no sound in this file", self.file, "It may be cut off: send it again")
        whole = np.concatenate(parts)
        parts.clear()
        broken = ~(np.abs(whole) <= _NO_LEVEL)
        whole[broken] = 0.0
        self._channel, self._said_of_channels = choose_channel(whole)
        self._not_numbers = int(np.count_nonzero(broken[:, self._channel]))
        chosen = whole[:, self._channel].copy()
        top = float(max(chosen.max(), -chosen.min()))
        if top > 1.0:
            self._scale = top
            chosen /= np.float32(top)
        size = max(int(BLOCK_S * self.rate_hz), 1)
        self._first = [chosen[start : start + size] for start in range(0, len(chosen), size)]

    def quality(self) -> Quality:
        """Return what the sound heard so far is fit for."""
        watch = self._watch
        holes = [note for note in self._notes if note.kind == "break"]
        return Quality(
            kind=self.kind,
            codec=self.head.codec,
            bit_rate=self.head.bit_rate,
            channels=self.head.channels,
            channel=self._channel,
            seconds=self.heard_s,
            clipped_runs=watch.clipped_runs,
            piled_up=watch.piled_up(),
            gaps_s=tuple(watch.gaps_s),
            gap_count=watch.gap_count,
            gap_total_s=watch.gap_total_s,
            edge_hz=watch.edge_hz(),
            peak=watch.peak,
            level_db=watch.level_db(),
            not_numbers=self._not_numbers,
            bad_packets=sum(note.kind == "bad" and not self._at_end(note) for note in self._notes),
            left_out_s=sum(note.length_s for note in self._notes if note.kind == "left out"),
            breaks_s=tuple((note.at_s, note.length_s) for note in holes),
        )

    def warnings(self) -> tuple[str, ...]:
        """Return what a person should know of the sound heard so far."""
        quality = self.quality()
        said: list[str] = []
        if self._ended and self._cut_short():
            said.append(f"The file is cut short: {_s(self.heard_s)} of {_s(self.promised_s)} s could be read.")
        elif self._ended and any(note.kind == "fault" or self._at_end(note) for note in self._notes):
            said.append(f"The file is cut short: nothing after {_s(self.heard_s)} s could be read.")
        said.extend(self._said_of_channels)
        if quality.not_numbers:
            said.append(f"{quality.not_numbers} samples were no numbers and were taken as silence.")
        if quality.clipped:
            said.append("The sound is clipped: it was recorded too loud. Move the phone a little away from the clock.")
        if quality.bad_packets:
            said.append(
                f"{quality.bad_packets} pieces of the file could not be decoded. Ask for it as M4A, MP3 or WAV."
            )
        for at_s, length_s in quality.breaks_s[:1]:
            said.append(
                f"The recording was interrupted after {_s(at_s)} s, for {_s(length_s)} s: "
                "what comes before and after does not join."
            )
        if quality.gap_count >= _TOLD_GAPS:
            said.append(
                f"In {quality.gap_count} places, {quality.gap_total_s:.1f} s altogether, the file holds exact silence: "
                + (_HOLLOW if quality.hollow else _HOLES)
            )
        if quality.left_out_s > _TOLD_LEFT_OUT_S:
            said.append(
                f"{quality.left_out_s:.1f} s were left out by the phone as silence. "
                "Ask for a recording made with a recorder app."
            )
        return tuple(said)

    def _at_end(self, note: Note) -> bool:
        """Whether a piece that could not be decoded is the last of the file: it was cut there."""
        return note.kind == "bad" and note.at_s >= self.heard_s - _END_S

    def _cut_short(self) -> bool:
        paused_s = sum(note.length_s for note in self._notes if note.kind == "break")
        return self.heard_s + paused_s < min(_CUT_SHORT_SHARE * self.promised_s, self.promised_s - _CUT_SHORT_S)


def _s(seconds: float) -> str:
    """Return seconds as a person says them."""
    return f"{seconds:.0f}" if seconds >= _TENTHS_BELOW_S else f"{seconds:.1f}"


def silence_what_is_no_number(block: Block) -> int:
    """Set samples that are no numbers, or of no scale, to zero, in place; return how many there were."""
    if not len(block) or float(np.abs(block).max()) <= _NO_LEVEL:
        return 0
    broken = ~(np.abs(block) <= _NO_LEVEL)
    block[broken] = 0.0
    return int(np.count_nonzero(broken))


def open_sound(path: str | Path, progress: Progress | None = None) -> Sound:
    """Open a sound file, to be heard block by block.

    Parameters
    ----------
    path : path
        WAV, FLAC, OGG, OPUS, MP3 or AIFF; M4A, 3GP, WebM and video where the `phone` extra or an `ffmpeg` program
        is installed.
    progress : callable, optional
        Called after each block with the seconds heard and the seconds promised (0 where the file does not say).

    Raises
    ------
    InputError
        There is no such file, it holds no sound, or it cannot be decoded.
    """
    path = Path(path)
    kind, head, pieces = begin(path)
    sound = Sound(head.rate_hz, head.promised_s, str(path), kind, head, progress, _pieces=pieces)
    sound._watch = Watch(head.rate_hz)
    sound._choose()
    return sound
