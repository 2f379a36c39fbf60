"""What decoders give out: what a file says of itself, its samples in pieces, and notes of what is amiss."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass

SAMPLE_BYTES = 4
BLOCK_S = 0.5
"""Length of a piece: short, so that of a file that breaks off next to nothing is lost."""
FEWEST_FRAMES, MOST_FRAMES = 2_048, 200_000
"""In one piece, whatever rate the file says."""
MOST_CHANNELS = 64


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
