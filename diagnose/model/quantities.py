"""Lengths as people write them: "2.0 mm", "0.079 in", "5/64 in", "79 thou"; and as they are shown."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from diagnose.errors import InputError, UsageError
from diagnose.model.near_names import near

MM_PER_INCH = 25.4
THOUSANDTHS = 1000

MM_PER_UNIT = {
    "mm": 1.0,
    "millimeter": 1.0,
    "millimeters": 1.0,
    "millimetre": 1.0,
    "millimetres": 1.0,
    "cm": 10.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "thou": MM_PER_INCH / THOUSANDTHS,
    "thousandths": MM_PER_INCH / THOUSANDTHS,
}
"""How many millimeters each unit is; the inch exactly (international inch of 1959)."""

ALLOWED = 'mm, cm, in, " or thou: "2.0 mm", "0.079 in", "5/64 in", "79 thou"'

_WRITTEN = re.compile(
    r"""^\s*
    (?P<sign>[-+]?)\s*
    (?:(?P<whole>\d+)\s+(?P<top>\d+)\s*/\s*(?P<bottom>\d+)      # 1 1/2
      |(?P<top_only>\d+)\s*/\s*(?P<bottom_only>\d+)             # 5/64
      |(?P<decimal>\d+(?:[.,]\d*)?|[.,]\d+))                    # 2.0
    \s*(?P<unit>[^\d\s].*?)?\s*$""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Length:
    """A length as somebody gave it.

    Parameters
    ----------
    mm : float
        The length [mm].
    given : str
        As it was written.
    last_place_mm : float
        What one step of the last digit is worth; for a fraction its denominator [mm].
    """

    mm: float
    given: str
    last_place_mm: float


def parse_length(text: str, where: str = "") -> Length:
    """Read a length with its unit.

    Parameters
    ----------
    text : str
        Such as "2.0 mm", "0.079 in", "5/64 in" or "79 thou".
    where : str, optional
        What the length is of, for the message.

    Raises
    ------
    InputError
        If the text is no length, is not above 0, or divides by zero.
    UsageError
        If the unit is missing or not known.
    """
    match = _WRITTEN.match(text)
    if match is None:
        raise InputError(f"'{text}' is not a length", where, f"Write a number and a unit, {ALLOWED}")
    number, place = _number(match, text, where)
    scale = _scale((match["unit"] or "").strip(), text, where)
    if match["sign"] == "-" or number <= 0:
        raise InputError(f"'{text}' is not above 0", where, "A size is more than nothing: measure again")
    return Length(float(number) * scale, text.strip(), float(place) * scale)


def _number(match: re.Match[str], text: str, where: str) -> tuple[Fraction, Fraction]:
    """Return the number and the worth of its last place."""
    if match["decimal"] is not None:
        written = match["decimal"].replace(",", ".")
        decimals = len(written.partition(".")[2])
        return Fraction(written), Fraction(1, 10**decimals)
    bottom = int(match["bottom"] or match["bottom_only"])
    if bottom == 0:
        raise InputError(f"'{text}' divides by 0", where, "Write the fraction as on the rule, such as 5/64 in")
    top = int(match["top"] or match["top_only"])
    return int(match["whole"] or 0) + Fraction(top, bottom), Fraction(1, bottom)


def _scale(unit: str, text: str, where: str) -> float:
    if not unit:
        raise UsageError(f"'{text}' has no unit", where, f"Add {ALLOWED}")
    scale = MM_PER_UNIT.get(unit.lower())
    if scale is None:
        raise UsageError(f"'{unit}' in '{text}' is no unit of length{near(unit.lower(), MM_PER_UNIT)}", where,
                         f"Use {ALLOWED}")  # fmt: skip
    return scale


def inches(mm: float) -> float:
    """Return a length in inches.

    Parameters
    ----------
    mm : float
        The length [mm].
    """
    return mm / MM_PER_INCH


def show_length(mm: float, decimals: int = 2) -> str:
    """Return a length in both units, such as "2.00 mm (0.079 in)".

    Parameters
    ----------
    mm : float
        The length [mm].
    decimals : int
        Digits after the point of the millimeters; inches get one more.
    """
    return f"{mm:.{decimals}f} mm ({inches(mm):.{decimals + 1}f} in)"


def show_thickness(mm: float) -> str:
    """Return the thickness of a leaf, such as "0.10 mm (3.9 thousandths of an inch)".

    Parameters
    ----------
    mm : float
        The thickness [mm].
    """
    return f"{mm:.2f} mm ({inches(mm) * THOUSANDTHS:.1f} thousandths of an inch)"
