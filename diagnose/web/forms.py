"""What a browser sends: fields, and a recording that is written to disk while it comes in."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from diagnose.errors import InputError
from diagnose.model.wording import Wording

if TYPE_CHECKING:
    from starlette.requests import Request

MEGABYTE = 1_000_000
LARGEST_UPLOAD_MB = 200
LARGEST_FORM_BYTES = MEGABYTE
# What is too large is read to its end, so that the browser can show why, but not for ever.
DRAINED_BYTES = 2_000 * MEGABYTE
# The recording, and a second one of the same clock from another place.
RECORDING, BESIDE = "recording", "beside"
_SUFFIXES = {"WAV": ".wav", "FLAC": ".flac", "Ogg": ".ogg", "MP3": ".mp3", "AIFF": ".aiff", "M4A, 3GP or MP4": ".m4a"}
_OTHER_SUFFIX = ".sound"


@dataclass(slots=True)
class Given:
    """What a form gave.

    Parameters
    ----------
    fields : dict of str to list of str
        Texts by name.
    recording : Path, optional
        The file that came with it, under a name of our own.
    beside : Path, optional
        A second recording of the same clock.
    fault : InputError, optional
        Why part of it could not be taken; the texts are there all the same.
    """

    fields: dict[str, list[str]] = field(default_factory=dict)
    recording: Path | None = None
    beside: Path | None = None
    fault: InputError | None = None

    def text(self, name: str, default: str = "") -> str:
        """Return one text without blanks around it."""
        values = self.fields.get(name)
        return values[-1].strip() if values else default

    def texts(self, name: str) -> list[str]:
        """Return all texts of a name."""
        return self.fields.get(name, [])

    def forget_recording(self) -> None:
        """Delete the files that came with the form."""
        for path in (self.recording, self.beside):
            if path is not None:
                path.unlink(missing_ok=True)
        self.recording = self.beside = None


async def read_form(request: Request, folder: Path, wording: Wording) -> Given:
    """Read a form; a recording in it is written below `folder` as it comes in.

    Parameters
    ----------
    request : Request
        The request.
    folder : Path
        Where recordings are kept.
    wording : Wording
        For the sentences of what cannot be taken.
    """
    kind = request.headers.get("content-type", "")
    if kind.startswith("multipart/form-data"):
        return await _read_multipart(request, folder, wording)
    body = bytearray()
    async for chunk in request.stream():
        if len(body) <= LARGEST_FORM_BYTES:
            body.extend(chunk)
    if len(body) > LARGEST_FORM_BYTES:
        return Given(fault=InputError(wording.say("page-form-too-large")))
    return Given(_fields_of(body.decode("utf-8", errors="replace")))


def _fields_of(text: str) -> dict[str, list[str]]:
    from urllib.parse import parse_qsl

    fields: dict[str, list[str]] = {}
    for name, value in parse_qsl(text, keep_blank_values=True):
        fields.setdefault(name, []).append(value)
    return fields


async def _read_multipart(request: Request, folder: Path, wording: Wording) -> Given:
    from python_multipart.exceptions import FormParserError
    from python_multipart.multipart import MultipartParser, parse_options_header

    _, options = parse_options_header(request.headers["content-type"])
    boundary = options.get(b"boundary", b"")
    if not boundary:
        return Given(fault=InputError(wording.say("page-form-broken")))
    parts = _Parts(folder, wording)
    try:
        parser = MultipartParser(boundary, parts.callbacks())  # type: ignore[arg-type]
        async for chunk in _until_drained(request.stream()):
            if parts.given.fault is None:
                parser.write(chunk)
        if parts.given.fault is None:
            parser.finalize()
    except FormParserError:
        parts.given.fault = InputError(wording.say("page-form-broken"))
    except BaseException:
        # The browser went away, or the program ends: half a recording is worth nothing.
        parts.drop()
        raise
    return parts.finished()


async def _until_drained(stream: AsyncIterator[bytes]) -> AsyncIterator[bytes]:
    total = 0
    async for chunk in stream:
        total += len(chunk)
        if total > DRAINED_BYTES:
            return
        yield chunk


class _Parts:
    """The parts of a form as the parser meets them."""

    def __init__(self, folder: Path, wording: Wording) -> None:
        self.given = Given()
        self._folder = folder
        self._wording = wording
        self._header: list[bytes] = [b"", b""]
        self._disposition = b""
        self._name = ""
        self._text = bytearray()
        self._texts_bytes = 0
        self._file: BinaryIO | None = None
        self._paths: dict[str, Path] = {}
        self._written = 0
        self._skipped = False

    def callbacks(self) -> dict[str, object]:
        return {
            "on_part_begin": self._begin,
            "on_header_field": self._header_field,
            "on_header_value": self._header_value,
            "on_header_end": self._header_end,
            "on_headers_finished": self._headers_finished,
            "on_part_data": self._data,
            "on_part_end": self._end,
        }

    def _begin(self) -> None:
        self._disposition, self._name, self._text, self._skipped = b"", "", bytearray(), False

    def _header_field(self, data: bytes, start: int, end: int) -> None:
        self._header[0] += data[start:end]

    def _header_value(self, data: bytes, start: int, end: int) -> None:
        self._header[1] += data[start:end]

    def _header_end(self) -> None:
        if self._header[0].lower() == b"content-disposition":
            self._disposition = self._header[1]
        self._header = [b"", b""]

    def _headers_finished(self) -> None:
        from python_multipart.multipart import parse_options_header

        _, options = parse_options_header(self._disposition)
        self._name = options.get(b"name", b"").decode("utf-8", errors="replace")
        if b"filename" not in options:
            return
        # The name the file had elsewhere is never used: not for a path, not for its kind.
        if self._name in (RECORDING, BESIDE) and self._name not in self._paths and options[b"filename"]:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._paths[self._name] = self._folder / f"{secrets.token_hex(8)}.part"
            self._file = self._paths[self._name].open("xb")
        else:
            self._skipped = True

    def _data(self, data: bytes, start: int, end: int) -> None:
        if self._skipped:
            return
        if self._file is not None:
            self._written += end - start
            if self._written > LARGEST_UPLOAD_MB * MEGABYTE:
                self.given.fault = InputError(self._wording.say("page-too-large", most=LARGEST_UPLOAD_MB))
                self.drop()
                self._skipped = True
                return
            self._file.write(data[start:end])
            return
        self._texts_bytes += end - start
        if self._texts_bytes > LARGEST_FORM_BYTES:
            self.given.fault = InputError(self._wording.say("page-form-too-large"))
            self._skipped = True
            return
        self._text.extend(data[start:end])

    def _end(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None
        elif not self._skipped and self._name:
            self.given.fields.setdefault(self._name, []).append(self._text.decode("utf-8", errors="replace"))

    def drop(self) -> None:
        """Delete what has come in of the recordings."""
        if self._file is not None:
            self._file.close()
            self._file = None
        for path in self._paths.values():
            path.unlink(missing_ok=True)
        self._paths.clear()

    def finished(self) -> Given:
        """Return what was given, the recording under its kept name."""
        if self._file is not None and self.given.fault is None:
            self.given.fault = InputError(self._wording.say("page-form-broken"))
        if self.given.fault is not None:
            self.drop()
        kept = {name: _named_by_content(path) for name, path in self._paths.items()}
        self.given.recording, self.given.beside = kept.get(RECORDING), kept.get(BESIDE)
        return self.given


def _named_by_content(path: Path) -> Path:
    """Rename a file by what its first bytes say it is."""
    from diagnose.measurement.incoming.containers import HEAD_BYTES, sniff

    with path.open("rb") as file:
        kind = sniff(file.read(HEAD_BYTES)).name
    return path.rename(path.with_suffix(_SUFFIXES.get(kind, _OTHER_SUFFIX)))
