"""A recording as one row of samples, from whatever file a phone has sent."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.incoming.quality import Quality
from diagnose.measurement.incoming.sound import Progress, Sound, open_sound

LONGEST_S = 600.0
"""Only the first ten minutes are read: enough for any figure, and little enough for any machine."""
MOST_SAMPLES = 30_000_000


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording in one channel.

    Parameters
    ----------
    samples : array (N,)
        Sound, full scale 1; float32 where it was read from a file.
    rate_hz : float
        Samples per second [Hz].
    seconds : float
        Length of what was read [s].
    file : str
        Path it was read from.
    warnings : tuple of str
        What a person should know: clipped, one channel dead, cut short, only the first minutes read.
    quality : Quality
        What the file is, and what its sound has been through.
    """

    samples: NDArray[np.floating[Any]]
    rate_hz: float
    seconds: float
    file: str = ""
    warnings: tuple[str, ...] = ()
    quality: Quality = field(default_factory=Quality)


def read_recording(path: str | Path, longest_s: float = LONGEST_S, progress: Progress | None = None) -> Recording:
    """Read the first minutes of a sound file, one channel of it.

    Parameters
    ----------
    path : path
        Whatever `open_sound` reads.
    longest_s : float
        How much of it is read [s].
    progress : callable, optional
        Called after each block with the seconds read and the seconds promised (0 where the file does not say).

    Raises
    ------
    InputError
        There is no such file, it holds no sound, or it cannot be decoded.
    """
    with open_sound(path, progress) as sound:
        return _collected(sound, longest_s)


def _collected(sound: Sound, longest_s: float) -> Recording:
    """Return the first so many seconds of a sound as one row."""
    most = int(min(longest_s * sound.rate_hz, MOST_SAMPLES))
    kept: list[NDArray[np.float32]] = []
    count = 0
    for block in sound.blocks():
        kept.append(block)
        count += len(block)
        if count >= most:
            break
    warnings = list(sound.warnings())
    if count > most or (count == most and sound.promised_s * sound.rate_hz > most):
        warnings.insert(0, f"Only the first {most / sound.rate_hz / 60.0:.0f} minutes were read.")
    samples = np.empty(min(count, most), np.float32)
    place = 0
    kept.reverse()
    while kept:
        # Each piece is let go as soon as it is copied: the sound is never held twice.
        part = kept.pop()[: len(samples) - place]
        samples[place : place + len(part)] = part
        place += len(part)
    top = float(max(samples.max(initial=0.0), -samples.min(initial=0.0)))
    if top > 1.0:
        # The scale of the first half minute was too small for what came later.
        samples /= np.float32(top)
    return Recording(samples, sound.rate_hz, len(samples) / sound.rate_hz, sound.file, tuple(warnings), sound.quality())
