"""What kind of file it is, told by its first bytes and never by its name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Reader = Literal["soundfile", "av", "text", "empty", "unknown"]

HEAD_BYTES = 4096
_PRINTABLE_SHARE = 0.97
_LAYER_BITS = 0x06
_SYNC = 0xE0


@dataclass(frozen=True, slots=True)
class Container:
    """Kind of a file.

    Parameters
    ----------
    name : str
        As a person calls it.
    reader : str
        What reads it: "soundfile", "av" (the `phone` extra), or "text", "empty" and "unknown" where nothing does.
    form : str
        What PyAV calls it; empty where it is not to try.
    plain : bool
        Whether its decoder is simple enough to run in the program itself.
    instead : str
        What to do where it cannot be read.
    """

    name: str
    reader: Reader
    form: str = ""
    plain: bool = False
    instead: str = ""


_MP3 = Container("MP3", "soundfile", "mp3")
_AAC = Container("AAC", "av", "aac")
_AMR = Container(
    "AMR", "av", "amr", instead="Ask for it saved as M4A, MP3 or WAV, or recorded again with a recorder app"
)
_AT_START: tuple[tuple[bytes, Container], ...] = (
    (b"fLaC", Container("FLAC", "soundfile", "flac", plain=True)),
    (b"OggS", Container("Ogg", "soundfile", "ogg")),
    (b"ID3", _MP3),
    (b".snd", Container("AU", "soundfile", "au", plain=True)),
    (b"caff", Container("CAF", "soundfile", "caf")),
    (b"\x1aE\xdf\xa3", Container("WebM or Matroska", "av", "matroska")),
    (b"#!AMR", _AMR),
    (b"0&\xb2u\x8ef\xcf\x11", Container("Windows Media", "av", "asf")),
    (b"ADIF", _AAC),
    (b"FLV", Container("Flash video", "av", "flv")),
    (b"\x00\x00\x01\xba", Container("MPEG video", "av", "mpeg")),
)
_FORMS: dict[bytes, Container] = {
    b"WAVE": Container("WAV", "soundfile", "wav", plain=True),
    b"AIFF": Container("AIFF", "soundfile", "aiff", plain=True),
    b"AIFC": Container("AIFF", "soundfile", "aiff", plain=True),
    b"AVI ": Container("AVI video", "av", "avi"),
}
_MOVIE = Container("M4A, 3GP or MP4", "av", "mov")


def sniff(head: bytes) -> Container:
    """Return the kind of a file.

    Parameters
    ----------
    head : bytes
        Its first bytes, at least 16 and up to `HEAD_BYTES`.
    """
    if not head:
        return Container("an empty file", "empty")
    if head[:4] in (b"RIFF", b"RIFX", b"RF64", b"FORM") and head[8:12] in _FORMS:
        return _FORMS[head[8:12]]
    for start, container in _AT_START:
        if head.startswith(start):
            return container
    if head[4:8] == b"ftyp":
        return _MOVIE
    if len(head) > 1 and head[0] == 0xFF and head[1] & _SYNC == _SYNC:
        # Raw AAC carries no layer number where an MPEG audio frame has one.
        return _MP3 if head[1] & _LAYER_BITS else _AAC
    return Container("text", "text") if _is_text(head) else Container("unknown", "unknown")


def _is_text(head: bytes) -> bool:
    """Return whether bytes read as text."""
    if b"\x00" in head:
        return False
    text = head.decode("utf-8", errors="replace")
    readable = sum(character.isprintable() or character in "\r\n\t" for character in text)
    return readable >= _PRINTABLE_SHARE * len(text) and text.count("�") <= 1
