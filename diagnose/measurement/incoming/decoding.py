"""Decoding of sound files; run as a program it decodes in a process of its own and writes what it finds to stdout.

A decoder is a large piece of foreign code that is fed with whatever somebody has sent. In a process of its own,
held by limits of time and memory, the worst it can do is end. Little else of the project is
loaded, so that such a process is there within a tenth of a second.

What is written is a row of pieces, each a letter, a length and that many bytes: H, the head (JSON); S, samples
(float32 of this machine, channel by channel for each moment); N, something to note (JSON); E, the end.
"""

from __future__ import annotations

import json
import os
import struct
import sys
from dataclasses import asdict
from typing import Any, BinaryIO

from diagnose.measurement.incoming.packets import read_packets
from diagnose.measurement.incoming.pieces import (
    BLOCK_S,
    FEWEST_FRAMES,
    MOST_CHANNELS,
    MOST_FRAMES,
    CannotRead,
    Head,
    NoSound,
    Note,
    NotInstalled,
    Pieces,
)

PIECE = struct.Struct("<cI")
"""Letter and length before each piece."""
HEAD, SAMPLES, NOTE, END = b"H", b"S", b"N", b"E"
MEMORY_BYTES = 1_000_000_000
PROCESSOR_S = 600
"""An hour of sound takes four seconds to decode, a day two minutes."""
_NO_WINDOWS = 0x0001 | 0x0002 | 0x8000
"""SEM_FAILCRITICALERRORS, SEM_NOGPFAULTERRORBOX and SEM_NOOPENFILEERRORBOX of winbase.h (from memory)."""
FAILED, CANNOT_READ, NOT_INSTALLED, NO_SOUND, TOO_LARGE = 1, 21, 22, 23, 24
"""Exit codes; the first is Python's own for an error nobody has thought of."""


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
    return _with_soundfile(path) if decoder == "soundfile" else read_packets(path, form)


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
        if not 0 < file.channels <= MOST_CHANNELS or rate_hz <= 0:
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


def _hold() -> None:
    """Hold this process within its limits, as far as the machine knows them."""
    if sys.platform == "win32":
        import ctypes

        # A crash ends the process instead of opening a window.
        ctypes.windll.kernel32.SetErrorMode(_NO_WINDOWS)
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


def _too_large() -> bool:
    """Return whether this process has taken more memory than it may, where nothing else stops it (macOS)."""
    if sys.platform != "darwin":
        return False
    import resource

    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss > MEMORY_BYTES


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
            if _too_large():
                return TOO_LARGE
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
