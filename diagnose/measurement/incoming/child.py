"""The parent's side of decoding in a process of its own: it waits only so long, and survives whatever comes."""

from __future__ import annotations

import json
import os
import struct
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import IO

import numpy as np

from diagnose.measurement.incoming import decoding
from diagnose.measurement.incoming.pieces import (
    BLOCK_S,
    FEWEST_FRAMES,
    MOST_FRAMES,
    SAMPLE_BYTES,
    CannotRead,
    Head,
    NoSound,
    Note,
    NotInstalled,
    Pieces,
)

DECODER = (sys.executable, "-P", "-B", "-m", decoding.__name__)
"""Never from the folder one happens to be in: it may hold files of the same names."""
WAIT_S = 20.0
"""No piece of sound takes longer on any machine; a slow start of a cold one is within it."""
_LOOK_S = 0.25
_LONGEST_PIECE = 1 << 28
_AU_HEAD = struct.Struct(">4sIIIII")
_AU_FLOAT = 6
_AU_SAMPLE = np.dtype(">f4")
_LONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


class Crashed(Exception):  # noqa: N818 - the file's end, not ours
    """The decoder ended by itself, or was ended; the text says how: "crash" or "hang"."""


def decode_apart(path: str, decoder: str, form: str) -> Pieces:
    """Yield what `decoding.decode` does, decoded in a child process.

    Parameters
    ----------
    path, decoder, form : str
        As for `decoding.decode`.

    Raises
    ------
    CannotRead, NotInstalled
        Before any sound.
    Crashed
        Before any sound; later a crash is a note of the kind "fault".
    """
    command = [*DECODER, path, decoder, form]
    with _Child(command) as child:
        begun = False
        while True:
            piece = child.piece()
            if piece is None:
                code = child.code()
                if begun:
                    yield Note("fault", -1.0)
                    return
                if code == decoding.NO_SOUND:
                    raise NoSound(path)
                if code in (decoding.FAILED, decoding.CANNOT_READ) and not child.late:
                    raise CannotRead(path)
                if code == decoding.NOT_INSTALLED:
                    raise NotInstalled(decoder)
                raise Crashed("hang" if child.late else "crash")
            letter, content = piece
            if letter == decoding.END:
                return
            if letter == decoding.HEAD:
                yield Head(**json.loads(content))
            elif letter == decoding.NOTE:
                yield Note(**json.loads(content))
            else:
                begun = True
                yield content


def decode_by_program(path: str, program: str, form: str) -> Pieces:
    """Yield the pieces of a file decoded by an `ffmpeg` program.

    Parameters
    ----------
    path : str
        File.
    program : str
        The program.
    form : str
        Name of the container as the program has it, so that it does not guess.

    Raises
    ------
    CannotRead, Crashed
        Before any sound.
    """
    command = [program, "-v", "error", "-nostdin", "-threads", "1", "-protocol_whitelist", "file,pipe"]
    command += ["-f", form, "-i", f"file:{path}", "-map", "0:a:0", "-c:a", "pcm_f32be", "-f", "au", "-"]
    if sys.platform != "win32":
        # It takes on the limits of the process that becomes it.
        command = [*DECODER, "exec", *command]
    with _Child(command) as child:
        head = child.read(_AU_HEAD.size)
        if len(head) < _AU_HEAD.size:
            raise Crashed("hang") if child.late else CannotRead(path)
        magic, start, _, coding, rate, channels = _AU_HEAD.unpack(head)
        if magic != b".snd" or coding != _AU_FLOAT or not rate or not channels:
            raise CannotRead(path)
        child.read(start - _AU_HEAD.size)
        yield Head(float(rate), channels, 0.0, "", 0.0)
        frames = min(max(int(BLOCK_S * rate), FEWEST_FRAMES), MOST_FRAMES)
        size = frames * channels * SAMPLE_BYTES
        while content := child.read(size):
            whole = len(content) - len(content) % (channels * SAMPLE_BYTES)
            yield np.frombuffer(content[:whole], _AU_SAMPLE).astype(np.float32).tobytes()
        if child.code() != 0:
            yield Note("fault", -1.0)


def _surroundings() -> dict[str, str]:
    """Return the environment of a child: it finds the same package, and starts no threads."""
    package = str(Path(__file__).resolve().parents[2])
    known = os.environ.get("PYTHONPATH", "")
    return {**os.environ, **_LONE_THREAD, "PYTHONPATH": os.pathsep.join(filter(None, (package, known)))}


class _Child:
    """A process that writes sound, and a watch that ends it when it keeps somebody waiting."""

    def __init__(self, command: list[str]) -> None:
        self.command = command
        self.late = False
        self._due_s = 0.0
        """When the piece now waited for is late, on the monotonic clock; 0 while nobody waits."""
        self._over = threading.Event()

    def __enter__(self) -> _Child:
        try:
            self.process = subprocess.Popen(
                self.command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=_surroundings(),
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        except OSError as error:
            raise NotInstalled(str(error)) from error
        threading.Thread(target=self._watch, daemon=True).start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self.process.kill()
        if self.process.stdout is not None:
            self.process.stdout.close()
        self.process.wait()

    def code(self) -> int:
        """Return the exit code once it has ended."""
        try:
            return self.process.wait(WAIT_S)
        except subprocess.TimeoutExpired:
            self.late = True
            self.process.kill()
            return self.process.wait()

    def read(self, count: int) -> bytes:
        """Return so many bytes, fewer where it ends or keeps one waiting too long."""
        out: IO[bytes] | None = self.process.stdout
        if out is None or count <= 0:
            return b""
        self._due_s = time.monotonic() + WAIT_S
        try:
            return out.read(count)
        finally:
            self._due_s = 0.0

    def _watch(self) -> None:
        """End the process when somebody has waited too long for it."""
        while not self._over.wait(_LOOK_S):
            if 0.0 < self._due_s < time.monotonic():
                self.late = True
                self.process.kill()
                return

    def piece(self) -> tuple[bytes, bytes] | None:
        """Return letter and content of the next piece, None where there is none that is whole."""
        start = self.read(decoding.PIECE.size)
        if len(start) < decoding.PIECE.size:
            return None
        letter, length = decoding.PIECE.unpack(start)
        if length > _LONGEST_PIECE:
            return None
        content = self.read(length)
        return (letter, content) if len(content) == length else None
