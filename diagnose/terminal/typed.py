"""What somebody types in a consultation, taken apart: answers such as `a2`, `b1?`, `c-`, or a word with the rest."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

_ANSWER = re.compile(r"^(?P<left>-?)(?P<letter>[a-m])?(?P<number>\d{1,2})?(?P<mark>[?+-]?)$")

Meaning = Literal["value", "think-so", "cannot-tell", "later", "accept", "dismiss"]


@dataclass(frozen=True, slots=True)
class TypedAnswer:
    """One answer: the finding by its place in the look, what is meant, and the value by its place.

    Parameters
    ----------
    finding : int
        Counted from 0.
    meaning : str
        What the mark says.
    value : int, optional
        Counted from 0.
    """

    finding: int
    meaning: Meaning
    value: int | None = None


@dataclass(frozen=True, slots=True)
class TypedWord:
    """A word to do something, with the rest of the line."""

    word: str
    rest: str = ""


Typed = tuple[TypedAnswer, ...] | TypedWord | None


def take_apart(line: str, findings: int) -> Typed:
    """Take a line apart.

    Parameters
    ----------
    line : str
        What was typed.
    findings : int
        How many findings are on the screen; with one, its letter may be left out.

    Returns
    -------
    tuple of TypedAnswer, TypedWord or None
        None for an empty line.
    """
    line = line.strip()
    if not line:
        return None
    parts = line.lower().replace(",", " ").split()
    answers = [_answer(part, findings) for part in parts]
    if all(answer is not None for answer in answers):
        return tuple(answer for answer in answers if answer is not None)
    word, _, rest = line.partition(" ")
    return TypedWord(word.lower(), rest.strip())


def _answer(part: str, findings: int) -> TypedAnswer | None:
    match = _ANSWER.match(part)
    if match is None or not part:
        return None
    letter, number, mark = match["letter"], match["number"], match["mark"]
    if letter is None and (findings != 1 or (number is None and mark == "?")):
        return None
    finding = ord(letter) - ord("a") if letter else 0
    if match["left"] and not letter and not number:
        return TypedAnswer(0, "cannot-tell")
    if match["left"]:
        return TypedAnswer(finding, "dismiss") if not number and not mark else None
    if mark in {"-", "+"}:
        return None if number else TypedAnswer(finding, "cannot-tell" if mark == "-" else "later")
    if number is None:
        return TypedAnswer(finding, "think-so" if mark else "accept")
    value = int(number) - 1
    if value < 0:
        return None
    return TypedAnswer(finding, "think-so" if mark else "value", value)
