"""A recording as one row of samples, read in blocks, from whatever file a phone has sent."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import InputError
from diagnose.measurement.channels import choose_channel
from diagnose.measurement.containers import HEAD_BYTES, Container, sniff

LONGEST_S = 600.0
"""Only the first ten minutes are read: enough for any figure, and little enough for any machine."""
MOST_SAMPLES = 30_000_000
SLOWEST_HZ, FASTEST_HZ = 4_000.0, 400_000.0
_BLOCK_S = 0.5
"""Short, so that of a file that breaks off next to nothing is lost."""
_CHOOSE_S = 30.0
_PHONE = "pip install 'stopped-clock[phone]'"
_SUPPORTED = "WAV, FLAC, OGG, OPUS, MP3 and AIFF are read; M4A, 3GP, WebM and video with the phone extra"
_CLIPPED_LEVEL = 0.985
_CLIPPED_RUN = 3
_CLIPPED_RUNS = 3
_CUT_SHORT_SHARE = 0.98

Blocks = Iterator[NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording in one channel.

    Parameters
    ----------
    samples : array (N,)
        Sound, full scale 1.
    rate_hz : float
        Samples per second [Hz].
    seconds : float
        Length of what was read [s].
    file : str
        Path it was read from.
    warnings : tuple of str
        What a person should know: clipped, one channel dead, cut short, only the first minutes read.
    """

    samples: NDArray[np.float64]
    rate_hz: float
    seconds: float
    file: str = ""
    warnings: tuple[str, ...] = ()


def read_recording(path: str | Path, longest_s: float = LONGEST_S) -> Recording:
    """Read the first minutes of a sound file, one channel of it.

    Parameters
    ----------
    path : path
        WAV, FLAC, OGG, OPUS, MP3 or AIFF; M4A, 3GP, WebM and video where the `phone` extra is installed.
    longest_s : float
        How much of it is read [s].

    Raises
    ------
    InputError
        There is no such file, it holds no sound, or it cannot be decoded.
    """
    path = Path(path)
    container = _sniff_file(path)
    if container.reader == "av":
        rate_hz, promised, blocks = _open_with_av(path, container)
    else:
        rate_hz, promised, blocks = _open_with_soundfile(path, container)
    if not SLOWEST_HZ <= rate_hz <= FASTEST_HZ:
        raise InputError(
            f"the file says {rate_hz:.0f} samples a second",
            str(path),
            f"Between {SLOWEST_HZ:.0f} and {FASTEST_HZ:.0f} can be used",
        )
    return _collect(path, rate_hz, promised, blocks, longest_s)


def _sniff_file(path: Path) -> Container:
    """Return what kind of file it is, or raise where it is none that can be read."""
    where = str(path)
    if path.is_dir():
        raise InputError("this is a folder, not a recording", where, "Name a sound file in it")
    if not path.exists():
        raise InputError("there is no such file", where, "Check the name and the folder")
    if not path.is_file():
        raise InputError("this is not an ordinary file", where, "Name a sound file")
    try:
        with path.open("rb") as file:
            container = sniff(file.read(HEAD_BYTES))
    except OSError as error:
        raise InputError(f"the file cannot be opened ({error.strerror})", where) from error
    if container.reader == "empty":
        raise InputError("the file is empty", where, "Record or send it again")
    if container.reader == "text":
        raise InputError("this is a text file, not sound, whatever its name", where, _SUPPORTED)
    if container.reader == "unknown":
        raise InputError("this is no sound file of a known kind", where, _SUPPORTED)
    return container


def _open_with_soundfile(path: Path, container: Container) -> tuple[float, int, Blocks]:
    """Return rate [Hz], promised number of frames and the blocks of a file read by soundfile."""
    import soundfile

    class Straight(soundfile.SoundFile):  # type: ignore[misc]
        """A file read straight through: a seek after each block would break an MP3 stream and put in clicks."""

        def seekable(self) -> bool:
            return False

    try:
        file = Straight(path)
    except soundfile.LibsndfileError as error:
        if container.name in ("Ogg", "CAF"):
            return _open_with_av(path, container)
        raise InputError(
            f"this begins like a {container.name} file but cannot be read as one",
            str(path),
            "It may be damaged or cut off: send it again",
        ) from error
    return float(file.samplerate), max(int(file.frames), 0), _soundfile_blocks(file)


def _soundfile_blocks(file: Any) -> Blocks:
    """Yield blocks (frames, channels); a file that breaks off yields what there is."""
    import soundfile

    with file:
        size = max(int(_BLOCK_S * file.samplerate), 1)
        while True:
            try:
                block = file.read(size, dtype="float32", always_2d=True)
            except soundfile.LibsndfileError:
                return
            if not len(block):
                return
            yield block


def _open_with_av(path: Path, container: Container) -> tuple[float, int, Blocks]:
    """Return rate [Hz], promised number of frames (0, not known) and the blocks of a phone or video file."""
    try:
        import av
    except ImportError as error:
        raise InputError(
            f"this is {container.name}, which needs the phone extra",
            str(path),
            f"Install it with {_PHONE}, or save the recording as WAV",
        ) from error
    try:
        opened = av.open(str(path))
    except (av.error.FFmpegError, OSError, ValueError) as error:
        raise InputError(
            f"this begins like {container.name} but cannot be read",
            str(path),
            "It may be damaged or cut off: send it again",
        ) from error
    if not opened.streams.audio:
        opened.close()
        raise InputError("there is no sound in this file", str(path), "Send one with sound")
    rate_hz = float(opened.streams.audio[0].rate or 0)
    return rate_hz, 0, _av_blocks(opened)


def _av_blocks(opened: Any) -> Blocks:
    """Yield blocks (frames, channels) of a phone or video file; one that breaks off yields what there is."""
    import av

    stream = opened.streams.audio[0]
    resampler = av.AudioResampler(format="fltp")
    with opened:
        try:
            for frame in opened.decode(stream):
                for part in resampler.resample(frame):
                    yield np.ascontiguousarray(part.to_ndarray().T, dtype=np.float32)
        except (av.error.FFmpegError, OSError, ValueError):
            return


def _collect(path: Path, rate_hz: float, promised: int, blocks: Blocks, longest_s: float) -> Recording:
    """Return the recording of one channel, chosen by the first half minute."""
    most = int(min(longest_s * rate_hz, MOST_SAMPLES))
    head: list[NDArray[np.float32]] = []
    kept: list[NDArray[np.float32]] = []
    channel, count = -1, 0
    told: tuple[str, ...] = ()
    warnings: list[str] = []
    for block in blocks:
        count += len(block)
        if channel >= 0:
            kept.append(block[:, min(channel, block.shape[1] - 1)].copy())
        else:
            head.append(block)
        if channel < 0 and count >= min(_CHOOSE_S * rate_hz, most):
            channel, told, kept, head = *_first_part(head), []
        if count >= most:
            break
    if head:
        channel, told, kept = _first_part(head)
    if not kept or count == 0:
        raise InputError("there is no sound in this file", str(path), "It may be cut off: send it again")
    if count > most or (count == most and promised > most):
        warnings.append(f"Only the first {most / rate_hz / 60.0:.0f} minutes were read.")
    elif count < _CUT_SHORT_SHARE * promised:
        warnings.append(f"The file is cut short: {count / rate_hz:.0f} of {promised / rate_hz:.0f} s could be read.")
    samples = np.empty(min(count, most))
    place = 0
    kept.reverse()
    while kept:
        # Each piece is let go as soon as it is copied: the sound is never held twice.
        part = kept.pop()[: len(samples) - place]
        samples[place : place + len(part)] = part
        place += len(part)
    warnings += [*told, *_repair(samples)]
    return Recording(samples, rate_hz, len(samples) / rate_hz, str(path), tuple(warnings))


def _first_part(head: list[NDArray[np.float32]]) -> tuple[int, tuple[str, ...], list[NDArray[np.float32]]]:
    """Return the channel chosen by the first blocks, what to say of it, and that channel of them."""
    whole = np.concatenate(head)
    channel, told = choose_channel(whole)
    return channel, told, [whole[:, channel].copy()]


def _repair(samples: NDArray[np.float64]) -> list[str]:
    """Set samples that are no numbers to zero, in place, and return warnings of these and of clipping."""
    warnings = []
    broken = ~np.isfinite(samples)
    if broken.any():
        samples[broken] = 0.0
        warnings.append(f"{int(broken.sum())} samples were no numbers and were taken as silence.")
    top = float(max(samples.max(initial=0.0), -samples.min(initial=0.0)))
    if top > 1.0:
        samples /= top
    elif top < _CLIPPED_LEVEL:
        return warnings
    loud = np.abs(samples) >= _CLIPPED_LEVEL
    run = loud[: 1 - _CLIPPED_RUN].copy()
    for shift in range(1, _CLIPPED_RUN):
        run &= loud[shift : len(loud) - _CLIPPED_RUN + 1 + shift]
    if int(np.count_nonzero(np.diff(run.astype(np.int8)) == 1)) >= _CLIPPED_RUNS:
        warnings.append("The sound is clipped: it was recorded too loud. Move the phone a little away from the clock.")
    return warnings
