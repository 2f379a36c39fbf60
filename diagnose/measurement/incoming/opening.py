"""Opening a sound file: what kind it is, and the first decoder that can read it."""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from diagnose.errors import InputError
from diagnose.measurement.incoming.child import Crashed, decode_apart, decode_by_program
from diagnose.measurement.incoming.containers import HEAD_BYTES, Container, after_tag, promised_wav_s, sniff
from diagnose.measurement.incoming.decoding import decode
from diagnose.measurement.incoming.pieces import CannotRead, Head, NoSound, NotInstalled, Piece, Pieces

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
    ends: set[str] = set()
    for pieces in _ways(path, container, ends):
        try:
            head, whole = _first_sound(pieces, path)
        except NoSound:
            ends.add("no sound")
        except Crashed as crashed:
            ends.add(str(crashed))
        except (CannotRead, NotInstalled):
            continue
        else:
            return container.name, _with_promise(head, path), whole
    raise _refusal(path, container, ends)


def _refusal(path: Path, container: Container, ends: set[str]) -> InputError:
    """Return the sentence for a file that nothing here reads."""
    name, where = container.name, str(path)
    if "hang" in ends:
        return InputError(f"this {name} file takes too long to decode", where, _SEND_AGAIN)
    if "no sound" in ends:
        return InputError("there is no sound in this file", where, "It may be cut off: send it again")
    if "crash" in ends:
        return InputError(f"this {name} file makes its decoder fail", where, _SEND_AGAIN)
    if container.reader == "av" and importlib.util.find_spec("av") is None:
        do = f"Install it with {_PHONE} or put a program {_PROGRAM} on the path, or save the recording as WAV"
        return InputError(f"this is {name}, which needs the phone extra", where, do)
    what = f"this begins like {name} but cannot be read"
    return InputError(what, where, container.instead or _SEND_AGAIN)


def _first_sound(pieces: Pieces, path: Path) -> tuple[Head, Pieces]:
    """Return the head of a file and all its pieces, once there is sound."""
    head = next(pieces, None)
    if not isinstance(head, Head):
        raise CannotRead(str(path))
    if not SLOWEST_HZ <= head.rate_hz <= FASTEST_HZ:
        pieces.close()
        what = f"the file says {head.rate_hz:.0f} samples a second"
        raise InputError(what, str(path), f"Between {SLOWEST_HZ:.0f} and {FASTEST_HZ:.0f} can be used")
    first = next(pieces, None)
    if first is None:
        raise NoSound(str(path))
    return head, _again(first, pieces)


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


def _ways(path: Path, container: Container, ends: set[str]) -> Iterator[Pieces]:
    """Yield the ways to decode a file, first choice first, as long as none has kept one waiting in vain."""
    where = str(path.resolve())
    if container.reader == "soundfile":
        yield decode(where, "soundfile", "") if container.plain else decode_apart(where, "soundfile", "")
    with_av = importlib.util.find_spec("av") is not None
    if with_av and container.form and "hang" not in ends:
        yield decode_apart(where, "av", container.form)
    program = shutil.which(_PROGRAM)
    # PyAV is the same library: what it refuses in good order the program would refuse too.
    if program is not None and container.form and "hang" not in ends and (not with_av or "crash" in ends):
        yield decode_by_program(where, program, container.form)


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
