"""What somebody typed for a question: numbers, lengths, wheels, each read or refused in one sentence."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, TypeVar

from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.mechanics.train_search import Counted
from diagnose.model.near_names import near
from diagnose.model.quantities import parse_length

Kind = Literal["number", "length", "height", "warmth", "pressure", "fast", "beats", "split", "train", "leaf", "choice"]

MOST_LETTERS = 200
MM_PER_M, M_PER_FOOT = 1000.0, 0.3048
C_PER_F = 5 / 9
HPA = {"hpa": 1.0, "mbar": 1.0, "inhg": 33.86389, "mmhg": 1.333224}
"""Hectopascals of each unit, NIST SP 811."""
SECONDS_PER_HOUR = 3600.0
LEAST_BEATS, MOST_BEATS = 1200.0, 20_000.0
"""No pendulum clock beats slower or faster [1/h]."""
LEAST_MM, MOST_MM = 0.001, 100_000.0
"""No part of a clock is smaller, and none, the pendulum of a tower among them, larger [mm]."""
MOST_TEETH = 2000
_NUMBER = r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_ONE = re.compile(rf"^\s*({_NUMBER})\s*([^\d\s].*?)?\s*$")
_PAIR = re.compile(r"^\s*(\d+|\?)\s*/\s*(\d+|\?)\s*$")
_BETWEEN = re.compile(r"\s*[x×*]\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a question asks for.

    Parameters
    ----------
    name : str
        Name of the option and of the field of the form; its words are the phrase `reckon-field-<name>`.
    kind : str
        How it is read.
    example : str
        How it is written.
    needed : bool
        Whether the question cannot be answered without it.
    least, most : float
        What is allowed, ends included, in the unit in which it is kept.
    choices : tuple of str
        What may be chosen; its words are the phrases `reckon-choice-<value>`.
    usual : str
        What is taken where nothing is given; shown on the page.
    rare : bool
        Whether it is seldom given: the page folds it away.
    """

    name: str
    kind: Kind
    example: str
    needed: bool = False
    least: float = -math.inf
    most: float = math.inf
    choices: tuple[str, ...] = ()
    usual: str = ""
    rare: bool = False


@dataclass(frozen=True, slots=True)
class LeafGiven:
    """A leaf as it was written: thickness, and width and free length where given [mm]."""

    thickness_mm: float
    width_mm: float | None
    free_mm: float | None


@dataclass(frozen=True, slots=True)
class Beats:
    """Beats per hour as given or counted.

    Parameters
    ----------
    per_hour, unsure : float
        With the standard uncertainty of a count; 0 where the number was given [1/h].
    """

    per_hour: float
    unsure: float = 0.0


@dataclass(frozen=True, slots=True)
class Fast:
    """How far a clock was fast when it was read; slow is negative.

    Parameters
    ----------
    seconds, unsure_s : float
        With the standard uncertainty of the reading [s].
    """

    seconds: float
    unsure_s: float


_Form = TypeVar("_Form")
Value = float | str | Beats | Fast | Counted | LeafGiven


class Given:
    """The values of a question's fields, read.

    Parameters
    ----------
    fields : tuple of Field
        What the question asks for.
    texts : mapping of str to str
        What was typed, by the name of its field; empty where nothing was.

    Raises
    ------
    InputError
        If a text cannot be read.
    UsageError
        If something needed is missing, out of range or no such choice.
    """

    def __init__(self, fields: tuple[Field, ...], texts: Mapping[str, str]) -> None:
        self._fields = {field.name: field for field in fields}
        self._values: dict[str, Value] = {}
        for field in fields:
            text = texts.get(field.name, "").strip() or field.usual
            if text:
                self._values[field.name] = read(field, text)
            elif field.needed:
                raise UsageError("is missing", field.name, f"Write it like {field.example}")

    def has(self, *names: str) -> bool:
        """Return whether all of these were given."""
        return all(name in self._values for name in names)

    def need(self, *names: str) -> None:
        """Refuse the question where none of these was given."""
        if not any(name in self._values for name in names):
            example = self._fields[names[0]].example
            raise UsageError("is missing", " or ".join(names), f"Give one of them, such as {names[0]} {example}")

    def number(self, name: str, otherwise: float | None = None) -> float:
        """Return a number, length [mm], height [m], warmth [deg C] or pressure [hPa]."""
        value = self._values.get(name, otherwise)
        if not isinstance(value, float | int):
            raise UsageError("is missing", name, f"Write it like {self._fields[name].example}")
        return float(value)

    def text(self, name: str) -> str:
        """Return a choice."""
        return str(self._values[name])

    def beats(self, name: str = "beats") -> Beats:
        """Return beats per hour."""
        return self._of(name, Beats)

    def fast(self, name: str) -> Fast:
        """Return how far a clock was fast."""
        return self._of(name, Fast)

    def train(self, name: str) -> Counted:
        """Return wheels over pinions; None where a count was a question mark."""
        return self._of(name, Counted)

    def leaf(self, name: str) -> LeafGiven:
        """Return a leaf."""
        return self._of(name, LeafGiven)

    def _of(self, name: str, form: type[_Form]) -> _Form:
        value = self._values.get(name)
        if not isinstance(value, form):
            raise UsageError("is missing", name, f"Write it like {self._fields[name].example}")
        return value


def read(field: Field, text: str) -> Value:
    """Return what a text says for a field, in the unit in which it is kept.

    Parameters
    ----------
    field : Field
        What is asked for.
    text : str
        What was typed.
    """
    if len(text) > MOST_LETTERS:
        raise InputError(f"{len(text)} letters are too many", field.name, f"Write it like {field.example}")
    value = _READERS[field.kind](field, text)
    if isinstance(value, float) and not field.least <= value <= field.most:
        raise UsageError(f"'{text}' is out of range", field.name, _allowed(field))
    return value


def _allowed(field: Field) -> str:
    ends = [("at least", field.least), ("at most", field.most)]
    limits = " and ".join(f"{word} {end:g}" for word, end in ends if math.isfinite(end))
    unit = {"length": " mm", "height": " m", "warmth": " C", "pressure": " hPa"}.get(field.kind, "")
    return f"It is {limits}{unit}; write it like {field.example}"


def _parts(field: Field, text: str) -> tuple[float, str]:
    match = _ONE.match(text)
    if match is None:
        raise InputError(f"'{text}' is not a number", field.name, f"Write it like {field.example}")
    return float(match[1].replace(",", ".")), (match[2] or "").strip().lower()


def _number(field: Field, text: str) -> float:
    number, unit = _parts(field, text)
    if unit and unit not in field.example.lower().split():
        raise InputError(f"'{text}' has a unit that is not asked for", field.name, f"Write it like {field.example}")
    return number


def _length(field: Field, text: str) -> float:
    mm = parse_length(text, field.name).mm
    if not LEAST_MM <= mm <= MOST_MM:
        raise UsageError(f"'{text}' is no size of a clock", field.name, f"Write it like {field.example}")
    return mm


def _height(field: Field, text: str) -> float:
    number, unit = _parts(field, text)
    return number * _unit(field, text, unit, {"m": 1.0, "ft": M_PER_FOOT, "feet": M_PER_FOOT, "km": MM_PER_M})


def _warmth(field: Field, text: str) -> float:
    number, unit = _parts(field, text.replace("°", ""))
    return number * _unit(field, text, unit.removeprefix("degrees").strip(), {"c": 1.0, "f": C_PER_F})


def _pressure(field: Field, text: str) -> float:
    number, unit = _parts(field, text)
    return number * _unit(field, text, unit.replace(" ", ""), HPA)


def _unit(field: Field, text: str, unit: str, known: Mapping[str, float]) -> float:
    scale = known.get(unit)
    if scale is None:
        what = f"'{text}' has no unit" if not unit else f"'{unit}' in '{text}' is no unit for it"
        raise UsageError(what, field.name, f"Use one of {', '.join(known)}; write it like {field.example}")
    return scale


def _beats(field: Field, text: str) -> Beats:
    """Return beats per hour: "3600", "3599 +- 1", or counted beats in seconds, "118/120 s"."""
    from diagnose.measurement.incoming.taps import beats_from_count

    counted, _, seconds = text.lower().removesuffix("s").partition("/")
    if seconds:
        try:
            heard = beats_from_count(float(counted), float(seconds))
        except StoppedClockError as fault:
            raise InputError(fault.what, field.name, f"{fault.do}; write it like {field.example}") from None
        except ValueError:
            raise InputError(f"'{text}' is not a count", field.name, f"Write it like {field.example}") from None
        return Beats(heard.beats_per_hour or 0.0, heard.uncertainty["beats_per_hour"] or 0.0)
    middle, _, around = text.partition("+-")
    number, unit = _parts(field, middle)
    unsure = abs(_parts(field, around)[0]) if around else 0.0
    if unit not in {"", "an hour", "per hour", "/h"} or unsure > number or not LEAST_BEATS <= number <= MOST_BEATS:
        raise UsageError(
            f"'{text}' is no pendulum's beats an hour",
            field.name,
            f"From {LEAST_BEATS:g} to {MOST_BEATS:g}; write it like {field.example}",
        )
    return Beats(number, unsure)


def _fast(field: Field, text: str) -> Fast:
    from datetime import datetime

    from diagnose.coaching.time_notes import parse_note
    from diagnose.mechanics.comparing import Comparison

    try:
        note = parse_note(f"now {text}", datetime.now())
    except StoppedClockError:
        note = None
    if not isinstance(note, Comparison):
        raise InputError(f"'{text}' does not say how far fast or slow", field.name, f"Write it like {field.example}")
    return Fast(note.fast_s, note.unsure_s)


def _split(field: Field, text: str) -> float:
    """Return a beat error in percent of the swing, from "56.4 : 43.6" or "12.8" [percent]."""
    longer, colon, shorter = text.replace("%", "").replace(" ", "").partition(":")
    if not colon:
        return abs(_parts(field, longer)[0])
    one, other = _parts(field, longer)[0], _parts(field, shorter)[0]
    if min(one, other) <= 0:
        raise InputError(f"'{text}' is not a split", field.name, f"Write it like {field.example}")
    return 100 * abs(one - other) / (one + other)


def _train(field: Field, text: str) -> Counted:
    pairs = [_PAIR.match(part) for part in text.split(",")]
    if not all(pairs):
        raise InputError(
            f"'{text}' is no row of wheels", field.name, f"Write each wheel over its pinion, like {field.example}"
        )
    wheels, pinions = ([_count(pair[side]) for pair in pairs if pair] for side in (1, 2))
    known = [count for count in (*wheels, *pinions) if count is not None]
    if known and not 1 <= min(known) <= max(known) <= MOST_TEETH:
        raise UsageError(f"'{text}' has a count that cannot be", field.name, f"Every count is from 1 to {MOST_TEETH}")
    return Counted(tuple(wheels), tuple(pinions))


def _count(text: str) -> int | None:
    return None if text == "?" else int(text)


def _leaf(field: Field, text: str) -> LeafGiven:
    """Return a leaf from "0.10 x 10 x 25 mm" or "0.15 mm"; the unit of the last size is that of all."""
    sizes = _BETWEEN.split(text.strip())
    most = 3
    unit = "".join(character for character in sizes[-1] if not character.isdigit() and character not in ".,/ ")
    if len(sizes) > most or not unit:
        raise UsageError(
            f"'{text}' is no leaf", field.name, f"Write thickness x width x free length and the unit, {field.example}"
        )
    read_mm = [_length(field, size if size.rstrip()[-1:].isalpha() else f"{size} {unit}") for size in sizes]
    read_mm += [0.0] * (most - len(read_mm))
    return LeafGiven(read_mm[0], read_mm[1] or None, read_mm[2] or None)


def _choice(field: Field, text: str) -> str:
    if text not in field.choices:
        raise UsageError(f"no '{text}'{near(text, field.choices)}", field.name, f"One of {', '.join(field.choices)}")
    return text


_READERS: dict[Kind, Callable[[Field, str], Value]] = {
    "number": _number,
    "length": _length,
    "height": _height,
    "warmth": _warmth,
    "pressure": _pressure,
    "beats": _beats,
    "fast": _fast,
    "split": _split,
    "train": _train,
    "leaf": _leaf,
    "choice": _choice,
}
