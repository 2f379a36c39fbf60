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
    """

    name: str
    reader: Reader


_AT_START: tuple[tuple[bytes, Container], ...] = (
    (b"fLaC", Container("FLAC", "soundfile")),
    (b"OggS", Container("Ogg", "soundfile")),
    (b"ID3", Container("MP3", "soundfile")),
    (b".snd", Container("AU", "soundfile")),
    (b"caff", Container("CAF", "soundfile")),
    (b"\x1aE\xdf\xa3", Container("WebM or Matroska", "av")),
    (b"#!AMR", Container("AMR", "av")),
    (b"0&\xb2u\x8ef\xcf\x11", Container("Windows Media", "av")),
    (b"ADIF", Container("AAC", "av")),
    (b"FLV", Container("Flash video", "av")),
    (b"\x00\x00\x01\xba", Container("MPEG video", "av")),
)
_FORMS: dict[bytes, Container] = {
    b"WAVE": Container("WAV", "soundfile"),
    b"AIFF": Container("AIFF", "soundfile"),
    b"AIFC": Container("AIFF", "soundfile"),
    b"AVI ": Container("AVI video", "av"),
}


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
        return Container("M4A, 3GP or MP4", "av")
    if len(head) > 1 and head[0] == 0xFF and head[1] & _SYNC == _SYNC:
        # Raw AAC carries no layer number where an MPEG audio frame has one.
        return Container("MP3", "soundfile") if head[1] & _LAYER_BITS else Container("AAC", "av")
    return Container("text", "text") if _is_text(head) else Container("unknown", "unknown")


def _is_text(head: bytes) -> bool:
    """Return whether bytes read as text."""
    if b"\x00" in head:
        return False
    text = head.decode("utf-8", errors="replace")
    readable = sum(character.isprintable() or character in "\r\n\t" for character in text)
    return readable >= _PRINTABLE_SHARE * len(text) and text.count("�") <= 1
