"""Opening a sound file: what kind it is, and the first decoder that can read it."""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from diagnose.errors import InputError
from diagnose.measurement.child import Crashed, decode_apart, decode_by_program
from diagnose.measurement.containers import HEAD_BYTES, Container, after_tag, promised_wav_s, sniff
from diagnose.measurement.decoding import CannotRead, Head, NoSound, NotInstalled, Piece, Pieces, decode

_PHONE = "pip install 'stopped-clock[phone]'"
_SUPPORTED = "WAV, FLAC, OGG, OPUS, MP3 and AIFF are read; M4A, 3GP, WebM and video with the phone extra"
_SEND_AGAIN = "It may be damaged or cut off: send it again"
SLOWEST_HZ, FASTEST_HZ = 4_000.0, 400_000.0
_PROGRAM = "ffmpeg"
_WAV_HEAD_BYTES = 1 << 16


def begin(path: Path) -> tuple[str, Head, Pieces]:
    """Return the kind of a sound file, what it says of itself, and its pieces.

    Raises
    ------
    InputError
        There is no such file, or no decoder on this machine reads it.
    """
    container = _sniff_file(path)
    readable = False
    for pieces in _ways(path, container):
        try:
            head = next(pieces, None)
            if isinstance(head, Head) and not SLOWEST_HZ <= head.rate_hz <= FASTEST_HZ:
                pieces.close()
                what = f"the file says {head.rate_hz:.0f} samples a second"
                raise InputError(what, str(path), f"Between {SLOWEST_HZ:.0f} and {FASTEST_HZ:.0f} can be used")
            first = next(pieces, None)
        except NoSound:
            readable = True
            continue
        except (CannotRead, NotInstalled):
            continue
        except Crashed as crashed:
            what = "takes too long to decode" if str(crashed) == "hang" else "makes its decoder fail"
            raise InputError(f"this {container.name} file {what}", str(path), _SEND_AGAIN) from None
        if isinstance(head, Head):
            readable = True
            if first is not None:
                return container.name, _with_promise(head, path), _again(first, pieces)
    if readable:
        raise InputError("there is no sound in this file", str(path), "It may be cut off: send it again")
    if container.reader == "av" and importlib.util.find_spec("av") is None:
        do = f"Install it with {_PHONE}, or save the recording as WAV"
        raise InputError(f"this is {container.name}, which needs the phone extra", str(path), do)
    what = f"this begins like a {container.name} file but cannot be read as one"
    raise InputError(what, str(path), container.instead or _SEND_AGAIN)


def _again(first: Piece, pieces: Pieces) -> Pieces:
    """Yield a piece that was taken out, and those behind it."""
    with closing(pieces):
        yield first
        yield from pieces


def _with_promise(head: Head, path: Path) -> Head:
    """Return a head with the length a WAV file was to have, which its decoder cuts to what is there."""
    with path.open("rb") as file:
        promised_s = promised_wav_s(file.read(_WAV_HEAD_BYTES))
    return replace(head, promised_s=promised_s) if promised_s > head.promised_s else head


def _ways(path: Path, container: Container) -> Iterator[Pieces]:
    """Yield the ways to decode a file, first choice first."""
    where = str(path.resolve())
    if container.reader == "soundfile":
        apart = decode_apart(where, "soundfile", "")
        yield decode(where, "soundfile", "") if container.plain else apart
    if container.form and importlib.util.find_spec("av") is not None:
        yield decode_apart(where, "av", container.form)
    program = shutil.which(_PROGRAM)
    if program is not None:
        yield decode_by_program(where, program)


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
            head = file.read(HEAD_BYTES)
            container = sniff(head)
            if (start := after_tag(head)) > 0:
                # What stands behind a tag decides, where it is known.
                file.seek(start)
                behind = sniff(file.read(HEAD_BYTES))
                container = behind if behind.form else container
    except OSError as error:
        raise InputError(f"the file cannot be opened ({error.strerror})", where) from error
    if container.reader == "empty":
        raise InputError("the file is empty", where, "Record or send it again")
    if container.reader == "text":
        raise InputError("this is a text file, not sound, whatever its name", where, _SUPPORTED)
    if container.reader == "other":
        raise InputError(f"this is {container.name}, not sound", where, container.instead or _SUPPORTED)
    if container.reader == "unknown":
        raise InputError("this is no sound file of a known kind", where, _SUPPORTED)
    return container
