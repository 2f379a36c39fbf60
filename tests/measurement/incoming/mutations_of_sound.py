"""Sound files spoilt at random, each by a seed of its own: what a decoder must survive."""

from __future__ import annotations

import random
from collections.abc import Callable

_HEAD_BYTES = 512
_END_BYTES = 1024
_AT_END = 0.3
_EXTREMES = (0, 1, 0x7F, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)

Spoil = Callable[[random.Random, bytearray, bytes], bytearray]


def _flip(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    for _ in range(chance.randint(1, 64)):
        content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
    return content


def _flip_head(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    for _ in range(chance.randint(1, 12)):
        content[chance.randrange(min(_HEAD_BYTES, len(content)))] = chance.randrange(256)
    return content


def _extreme_field(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    """Write a number as it never should be over a field of the head, or of a list of contents at the end."""
    width = chance.choice((1, 2, 4))
    value = chance.choice(_EXTREMES) & (1 << 8 * width) - 1
    place = chance.randrange(max(min(_HEAD_BYTES, len(content)) - width, 1))
    if chance.random() < _AT_END:
        place = max(len(content) - _END_BYTES + place, 0)
    content[place : place + width] = value.to_bytes(width, chance.choice(("big", "little")))
    return content


def _cut(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    return content[: chance.randrange(len(content))]


def _left_out(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    first = chance.randrange(len(content))
    del content[first : first + chance.randint(1, len(content) // 4 + 1)]
    return content


def _doubled(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    first = chance.randrange(len(content))
    piece = content[first : first + chance.randint(1, 4096)]
    return content[:first] + piece * chance.randint(2, 8) + content[first:]


def _noise(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    first = chance.randrange(len(content))
    length = chance.randint(1, 2048)
    content[first : first + length] = chance.randbytes(length)
    return content


def _blank(chance: random.Random, content: bytearray, _: bytes) -> bytearray:
    first = chance.randrange(len(content))
    length = min(chance.randint(1, 4096), len(content) - first)
    content[first : first + length] = bytes([chance.choice((0, 255))]) * length
    return content


def _other_body(chance: random.Random, content: bytearray, other: bytes) -> bytearray:
    """Put the head of one file before the body of another."""
    return content[: chance.randint(4, _HEAD_BYTES)] + bytearray(other[chance.randrange(len(other)) :])


SPOILS: tuple[Spoil, ...] = (
    _flip,
    _flip_head,
    _flip_head,
    _extreme_field,
    _extreme_field,
    _cut,
    _left_out,
    _doubled,
    _noise,
    _blank,
    _other_body,
)


def spoilt(content: bytes, other: bytes, seed: int) -> bytes:
    """Return a file spoilt once or twice, the same for the same seed."""
    chance = random.Random(seed)
    result = bytearray(content)
    for _ in range(chance.choice((1, 1, 2))):
        result = chance.choice(SPOILS)(chance, result, other) or bytearray(b"\0")
    return bytes(result)
