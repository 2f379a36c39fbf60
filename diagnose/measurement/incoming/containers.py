"""What kind of file it is, told by its first bytes and never by its name."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

Reader = Literal["soundfile", "av", "text", "empty", "other", "unknown"]

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
        What reads it: "soundfile", "av" (the `phone` extra), or "text", "empty", "other" (a picture, a packed
        folder) and "unknown" where nothing does.
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
_PICTURE = Container("a picture", "other")
_AT_START: tuple[tuple[bytes, Container], ...] = (
    (b"fLaC", Container("FLAC", "soundfile", "flac", plain=True)),
    (b"OggS", Container("Ogg", "soundfile", "ogg")),
    (b"ID3", _MP3),
    (b".snd", Container("AU", "soundfile", "au")),
    (b"caff", Container("CAF", "soundfile", "caf")),
    (b"\x1aE\xdf\xa3", Container("WebM or Matroska", "av", "matroska")),
    (b"#!AMR", _AMR),
    (b"0&\xb2u\x8ef\xcf\x11", Container("Windows Media", "av", "asf")),
    (b"ADIF", _AAC),
    (b"FLV", Container("Flash video", "av", "flv")),
    (b"\x00\x00\x01\xba", Container("MPEG video", "av", "mpeg")),
    (b"riff\x2e\x91\xcf\x11", Container("W64", "soundfile", "w64")),
    (b"Creative Voice File", Container("VOC", "soundfile", "voc")),
    (b"wvpk", Container("WavPack", "av", "wv")),
    (b"\xff\xd8\xff", _PICTURE),
    (b"\x89PNG", _PICTURE),
    (b"GIF8", _PICTURE),
    (b"%PDF", Container("a PDF file", "other")),
    (b"PK\x03\x04", Container("a packed folder", "other", instead="Unpack it and name the sound file in it")),
)
_FORMS: dict[bytes, Container] = {
    b"WAVE": Container("WAV", "soundfile", "wav", plain=True),
    b"AIFF": Container("AIFF", "soundfile", "aiff", plain=True),
    b"AIFC": Container("AIFF", "soundfile", "aiff"),
    b"AVI ": Container("AVI video", "av", "avi"),
    b"WEBP": _PICTURE,
}
_MOVIE = Container("M4A, 3GP or MP4", "av", "mov")
_STREAM = Container("MPEG stream", "av", "mpegts")
_STREAM_SYNC, _STREAM_PACKET = 0x47, 188
_MOVIE_ATOMS = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot", b"moof", b"styp")
_PICTURE_BRANDS = (b"heic", b"heix", b"mif1", b"avif", b"msf1")
_UTF16_MARKS = (b"\xff\xfe", b"\xfe\xff")
_FORM_BYTES, _FORM_BYTE_RATE, _EXTENSIBLE_CODING = 16, 8, 24
_PLAIN_CODINGS = (1, 3, 6, 7)
"""Whole numbers, floats, A-law and mu-law."""
_EXTENSIBLE = 0xFFFE
_TAG_HEAD = 10
_PLACEHOLDER = 0x7FFF0000
"""A length that a recorder writes before it knows it."""


def sniff(head: bytes) -> Container:
    """Return the kind of a file.

    Parameters
    ----------
    head : bytes
        Its first bytes, at least 16 and up to `HEAD_BYTES`.
    """
    if not head:
        return Container("an empty file", "empty")
    if head[:4] in (b"RIFF", b"RIFX", b"RF64", b"BW64", b"FORM") and head[8:12] in _FORMS:
        container = _FORMS[head[8:12]]
        return replace(container, plain=container.plain and _plainly_coded(head))
    if head[:2] in _UTF16_MARKS:
        return Container("text", "text") if _is_text(head) else Container("unknown", "unknown")
    for start, container in _AT_START:
        if head.startswith(start):
            return container
    if head[4:8] in _MOVIE_ATOMS:
        return _PICTURE if head[8:12] in _PICTURE_BRANDS else _MOVIE
    if len(head) > _STREAM_PACKET and head[0] == head[_STREAM_PACKET] == _STREAM_SYNC:
        return _STREAM
    if len(head) > 1 and head[0] == 0xFF and head[1] & _SYNC == _SYNC:
        # Raw AAC carries no layer number where an MPEG audio frame has one.
        return _MP3 if head[1] & _LAYER_BITS else _AAC
    return Container("text", "text") if _is_text(head) else Container("unknown", "unknown")


def _plainly_coded(head: bytes) -> bool:
    """Return whether the samples of a WAV or AIFF file are numbers that stand side by side, with no decoder between."""
    if head[8:12] != b"WAVE":
        return True
    form = next((place for name, _, place in _chunks(head) if name == b"fmt "), 0)
    if not form or form + _FORM_BYTES > len(head):
        return False
    coding = struct.unpack_from("<H", head, form)[0]
    if coding == _EXTENSIBLE and form + _EXTENSIBLE_CODING + 2 <= len(head):
        coding = struct.unpack_from("<H", head, form + _EXTENSIBLE_CODING)[0]
    return coding in _PLAIN_CODINGS


def _chunks(head: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield name, size and place of the content of each chunk of a WAV file, as far as its first bytes go."""
    place = 12
    while place + 8 <= len(head):
        name, size = struct.unpack_from("<4sI", head, place)
        yield name, size, place + 8
        place += 8 + size + size % 2


def _is_text(head: bytes) -> bool:
    """Return whether bytes read as text."""
    wide = head[:2] in _UTF16_MARKS
    if b"\x00" in head and not wide:
        return False
    text = head[: len(head) // 2 * 2].decode("utf-16" if wide else "utf-8", errors="replace")
    readable = sum(character.isprintable() or character in "\r\n\t" for character in text)
    return readable >= _PRINTABLE_SHARE * len(text) and text.count("�") <= 1


def after_tag(head: bytes) -> int:
    """Return where the sound begins behind an ID3 tag, 0 where there is none.

    Parameters
    ----------
    head : bytes
        The first bytes of a file.
    """
    if len(head) < _TAG_HEAD or not head.startswith(b"ID3"):
        return 0
    size = 0
    for seven_bits in head[6:_TAG_HEAD]:
        size = size << 7 | seven_bits & 0x7F
    return _TAG_HEAD + size


def promised_wav_s(head: bytes) -> float:
    """Return the length a WAV file says its sound has [s], 0 where it does not say or is none.

    Parameters
    ----------
    head : bytes
        Its first bytes, as far as its sound.
    """
    if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return 0.0
    bytes_a_second = 0
    for name, size, place in _chunks(head):
        if name == b"data":
            return size / bytes_a_second if bytes_a_second and size < _PLACEHOLDER else 0.0
        if name == b"fmt " and place + _FORM_BYTES <= len(head):
            bytes_a_second = struct.unpack_from("<I", head, place + _FORM_BYTE_RATE)[0]
    return 0.0
