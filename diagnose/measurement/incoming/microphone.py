"""Sound as it comes: from the microphone of this machine, or from a file played as if it were live."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import InputError

BLOCK_S = 0.25
_USUAL_HZ = 48_000.0
_WAIT_S = 5.0
"""A microphone that gives nothing for so long is none."""
_EXTRA = "pip install 'stopped-clock[microphone]'"
_OTHER_WAY = "record with a phone and name the file: `diagnose listen FILE`"

Block = NDArray[np.float32]


@dataclass(slots=True)
class Source:
    """Where blocks of sound come from.

    Parameters
    ----------
    rate_hz : float
        Samples per second [Hz].
    blocks : iterator of arrays (N,)
        Sound, full scale 1.
    lost : list of str
        Grows by a sentence where sound was lost on the way.
    """

    rate_hz: float
    blocks: Iterator[Block]
    lost: list[str] = field(default_factory=list)


def microphone() -> Source:
    """Return the sound of this machine's own microphone; it begins when the first block is taken.

    Raises
    ------
    InputError
        The `microphone` extra is not installed, or the machine has no microphone that can be opened.
    """
    sounddevice = _sounddevice()
    try:
        device = sounddevice.query_devices(kind="input")
    except (sounddevice.PortAudioError, ValueError) as error:
        raise InputError("this machine has no microphone", "", f"Plug one in, or {_OTHER_WAY}") from error
    rate_hz = float(device.get("default_samplerate") or _USUAL_HZ)
    lost: list[str] = []
    return Source(rate_hz, _from_device(sounddevice, rate_hz, lost), lost)


def _sounddevice() -> Any:
    """Return the library that reads the microphone."""
    try:
        import sounddevice
    except ImportError as error:
        raise InputError(
            "the live microphone needs the microphone extra", "", f"Install it with {_EXTRA}, or {_OTHER_WAY}"
        ) from error
    except OSError as error:
        raise InputError(
            "the live microphone needs the PortAudio library, which this machine lacks",
            "",
            f"Install it (on Debian: apt install libportaudio2), or {_OTHER_WAY}",
        ) from error
    return sounddevice


def _from_device(sounddevice: Any, rate_hz: float, lost: list[str]) -> Iterator[Block]:
    """Yield blocks of the microphone until the reader stops."""
    waiting: queue.SimpleQueue[Block] = queue.SimpleQueue()

    def take(block: Block, frames: int, when: Any, status: Any) -> None:
        if status.input_overflow:
            lost.append("Some sound was lost on the way from the microphone: the machine was too busy.")
        waiting.put(block[:, 0].copy())

    try:
        stream = sounddevice.InputStream(
            samplerate=rate_hz, channels=1, dtype="float32", blocksize=int(BLOCK_S * rate_hz), callback=take
        )
    except (sounddevice.PortAudioError, ValueError) as error:
        raise InputError(
            "the microphone cannot be opened", "", f"Allow this program to use it, or {_OTHER_WAY}"
        ) from error
    with stream:
        while True:
            try:
                yield waiting.get(timeout=_WAIT_S)
            except queue.Empty:
                raise InputError("nothing comes from the microphone", "", f"Is it on? Or {_OTHER_WAY}") from None


def played(path: str | Path, paced: bool = False, sleep: Callable[[float], None] = time.sleep) -> Source:
    """Return the sound of a file, block by block as a microphone would give it.

    Parameters
    ----------
    path : path
        A sound file.
    paced : bool
        Whether it takes as long as the sound lasts.
    sleep : callable
        Waits so many seconds.

    Raises
    ------
    InputError
        The file cannot be read as sound.
    """
    from diagnose.measurement.incoming.recording import read_recording

    recording = read_recording(path)
    size = max(int(BLOCK_S * recording.rate_hz), 1)

    def blocks() -> Iterator[Block]:
        for start in range(0, len(recording.samples), size):
            if paced:
                sleep(BLOCK_S)
            yield recording.samples[start : start + size].astype(np.float32)

    return Source(recording.rate_hz, blocks())
