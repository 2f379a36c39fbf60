"""Sizes as they stand in the cells of a stock list: units, decimal signs, printed tolerances."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from typing import Literal

from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.mechanics.part_match import Size
from diagnose.model.lists import Dimension
from diagnose.model.near_names import near
from diagnose.model.quantities import MM_PER_UNIT, parse_length

Sign = Literal[".", ","]

G_PER_KG = 1000.0
KG_PER_POUND = 0.45359237
"""The pound in kilograms, exactly (international pound of 1959)."""
OUNCES_A_POUND = 16

SLIP = 5.0
"""A size so many times beyond the usual ones is taken for a slip of the unit or the tool."""

UNITS: dict[str, dict[str, float]] = {
    "mm": MM_PER_UNIT,
    "kg": {"kg": 1.0, "g": 1 / G_PER_KG, "lb": KG_PER_POUND, "lbs": KG_PER_POUND, "oz": KG_PER_POUND / OUNCES_A_POUND},
    "g": {
        "g": 1.0,
        "kg": G_PER_KG,
        "lb": KG_PER_POUND * G_PER_KG,
        "oz": KG_PER_POUND * G_PER_KG / OUNCES_A_POUND,
    },
    "degrees": {"degrees": 1.0, "degree": 1.0, "deg": 1.0, "°": 1.0},
}
"""For the unit of a dimension: how much of it each written unit is."""

_PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/?\s*-)\s*")
_RANGE = re.compile(r"(?<=[\d.,])\s*(?:\.\.|to|–|-)\s*(?=[\d.,])")
_NUMBER = re.compile(r"\d[\d.,]*|[.,]\d+")
_NUMBER_AND_UNIT = re.compile(r"^(?P<number>\d[\d.,]*|[.,]\d+)\s*(?P<unit>[^\d\s].*)?$")
_THOUSANDS_OR_PLACES = re.compile(r"^[1-9]\d{0,2}[.,]\d{3}$")
_SURELY_DECIMAL = re.compile(r"^(?:\d+([.,])\d{1,2}|\d+([.,])\d{4,}|0?([.,])\d+|\d{4,}([.,])\d+)$")


def decimal_sign(cells: Iterable[str], delimiter: str) -> Sign | None:
    """Return the decimal sign of a list, or None where its numbers do not tell.

    A comma cannot part both cells and decimals; otherwise a number such as 0,10 or 2.5 tells.
    """
    signs: set[str] = set()
    for cell in cells:
        for number in _NUMBER.findall(cell):
            stripped = number.rstrip(".,")
            both = {sign for sign in ".," if sign in stripped}
            if len(both) > 1:
                signs.add(max(both, key=stripped.rindex))
            elif match := _SURELY_DECIMAL.match(stripped):
                signs.add(next(sign for sign in match.groups() if sign))
    if len(signs) == 1:
        return "." if "." in signs else ","
    return "." if delimiter == "," and not signs else None


def size_of(text: str, dimension: Dimension, unit: str, sign: Sign | None, tolerance: str = "") -> Size:
    """Return the size a cell holds, in the unit of its dimension.

    Parameters
    ----------
    text : str
        Such as "0.10", "0,10 mm", "4 thou", "5/64 in", "0.10 ± 0.01" or "0.09..0.11".
    dimension : Dimension
        What it is a size of.
    unit : str
        The unit where the cell names none.
    sign : str or None
        The decimal sign of the list; None where it is not known.
    tolerance : str
        The printed tolerance where it stands in a column of its own, as a half-width.

    Returns
    -------
    Size
        Without a printed tolerance the true size lies within half a step of the last digit.

    Raises
    ------
    StoppedClockError
        If it is no size above 0 in a known unit, or its decimal sign cannot be told.
    """
    size = _size_written(text, dimension, unit, sign, tolerance)
    must_be_usual(size.value, dimension)
    return size


def _size_written(text: str, dimension: Dimension, unit: str, sign: Sign | None, tolerance: str) -> Size:
    """Return the size a cell holds, however unusual."""
    head, *after = _PLUS_MINUS.split(text.strip())
    ends = _RANGE.split(head)
    named = next((found for found in (_unit_of(part) for part in (*ends[::-1], *after)) if found), unit)
    if len(ends) > 1:
        low, high = (_measure(end, dimension, named, sign)[0] for end in (ends[0], ends[-1]))
        if low > high:
            raise InputError(f"'{text}' runs from more to less")
        return Size((low + high) / 2, (high - low) / 2)
    value, place = _measure(head, dimension, named, sign)
    printed = after[0] if after else tolerance.strip().lstrip("±+-/ ")
    if printed:
        return Size(value, _measure(printed, dimension, named, sign)[0])
    return Size(value, place / 2)


def _unit_of(text: str) -> str:
    match = _NUMBER_AND_UNIT.match(text.strip())
    return (match["unit"] or "").strip() if match and "/" not in (match["unit"] or "")[:1] else ""


def _measure(text: str, dimension: Dimension, unit: str, sign: Sign | None) -> tuple[float, float]:
    """Return value and worth of the last place, in the unit of the dimension."""
    if dimension.unit == "mm" and "/" in text:
        length = parse_length(text if _has_unit(text) else f"{text} {unit}")
        return length.mm, length.last_place_mm
    match = _NUMBER_AND_UNIT.match(text.strip())
    if match is None:
        raise InputError(f"'{text.strip()}' is no size")
    number = plain_number(match["number"], sign)
    written = (match["unit"] or unit).strip()
    scale = unit_scale(dimension, written)
    value = float(Fraction(number)) * scale
    if value <= 0:
        raise InputError(f"'{text.strip()}' is not above 0")
    return value, 10.0 ** -len(number.partition(".")[2]) * scale


def _has_unit(text: str) -> bool:
    return bool(re.search(r"[^\d\s./,]", text))


def unit_scale(dimension: Dimension, unit: str) -> float:
    """Return how much of the unit of a dimension one of a written unit is."""
    allowed = UNITS[dimension.unit]
    scale = allowed.get(unit.lower().rstrip("."))
    if scale is None:
        raise UsageError(f"'{unit}' is no unit for {dimension.name}{near(unit.lower(), allowed)}",
                         do=f"Use {', '.join(allowed)}")  # fmt: skip
    return scale


def plain_number(text: str, sign: Sign | None) -> str:
    """Return a number with a point for its decimal sign and nothing between thousands.

    Raises
    ------
    InputError
        If it may be read in two ways, such as 2,500.
    """
    text = text.rstrip(".,")
    marks = [mark for mark in ".," if mark in text]
    if len(marks) > 1:
        sign = "." if text.rindex(".") > text.rindex(",") else ","
    elif marks and text.count(marks[0]) > 1:
        sign = "," if marks[0] == "." else "."
    elif marks and sign is None and not _THOUSANDS_OR_PLACES.match(text):
        sign = "." if marks[0] == "." else ","
    if marks and sign is None:
        raise InputError(f"'{text}' may be thousands or decimals", do="Write it without the sign, or with one decimal")
    other = "," if sign == "." else "."
    return text.replace(other, "").replace(",", ".")


def must_be_usual(value: float, dimension: Dimension) -> None:
    """Refuse a size far beyond the usual ones: the unit is wrong, or another part was measured.

    Raises
    ------
    InputError
        With the usual sizes.
    """
    low, high = dimension.usual_from, dimension.usual_to
    if (low is not None and value < low / SLIP) or (high is not None and value > high * SLIP):
        usual = f"{low:g} to {high:g} {dimension.unit}" if low is not None and high is not None else dimension.unit
        raise InputError(f"{value:g} {dimension.unit} is far from the usual {usual}", do="Look at the unit again")


def size_given(text: str, dimension: Dimension) -> tuple[float, float]:
    """Return value and worth of the last place of a size somebody typed with its unit.

    Raises
    ------
    StoppedClockError
        If it is no size above 0 in a known unit.
    """
    if dimension.unit == "mm":
        length = parse_length(text, dimension.short)
        value, place = length.mm, length.last_place_mm
    try:
        if dimension.unit != "mm":
            value, place = _measure(text, dimension, dimension.unit, None)
        must_be_usual(value, dimension)
        return value, place
    except StoppedClockError as error:
        raise InputError(error.what, dimension.short, error.do) from error
