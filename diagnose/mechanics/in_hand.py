"""Small sizes in things at hand: cards, coins, a pencil, turns of a screw.

References
----------
.. [1] ISO/IEC 7810, ID-1: a bank card is 0.76 mm thick.
.. [2] United States Mint, coin specifications: dime 1.35 mm, nickel 1.95 mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

PAPER_MM = 0.1
"""A sheet of printer paper; common practice, no source."""

BUSINESS_CARD_MM = 0.3
"""A business card; common practice, no source."""

BANK_CARD_MM = 0.76
DIME_MM = 1.35
NICKEL_MM = 1.95
PENCIL_MM = 7.0
"""Width of a pencil; common practice, no source."""

THINGS_MM = (
    ("the thickness of a sheet of paper", PAPER_MM),
    ("the thickness of a business card", BUSINESS_CARD_MM),
    ("the thickness of a bank card", BANK_CARD_MM),
    ("the thickness of a dime", DIME_MM),
    ("the thickness of a nickel", NICKEL_MM),
    ("the thickness of two nickels", 2 * NICKEL_MM),
    ("the width of a pencil", PENCIL_MM),
    ("the width of two pencils", 2 * PENCIL_MM),
)

ALIKE_RATIO = 1.35
HAIR_MM = 0.15
MOST_BANK_CARDS = 6
TURN_PARTS = 8
COUNTED = ("no", "one", "two", "three", "four", "five", "six")


@dataclass(frozen=True, slots=True)
class Size:
    """A size that can be made by hand.

    Parameters
    ----------
    mm : float
        What it really is [mm].
    text : str
        How it is said, such as "two bank cards".
    """

    mm: float
    text: str


def packing(mm: float) -> Size:
    """Return the packing of bank and business cards nearest to a height; at least one business card.

    Parameters
    ----------
    mm : float
        Wanted height [mm].
    """
    heights = [
        (bank * BANK_CARD_MM + business * BUSINESS_CARD_MM, bank, business)
        for bank in range(MOST_BANK_CARDS + 1)
        for business in range(3)
        if bank or business
    ]
    height, bank, business = min(heights, key=lambda each: (abs(each[0] - mm), each[1] + each[2]))
    parts = [_counted(bank, "bank card"), _counted(business, "business card")]
    return Size(round(height, 3), " and ".join(part for part in parts if part))


def _counted(count: int, thing: str) -> str:
    return "" if not count else f"{COUNTED[count]} {thing}{'s' if count > 1 else ''}"


def screw(mm: float, pitch_mm: float) -> Size:
    """Return the turn of a screw nearest to a travel, in eighths; at least one eighth.

    Parameters
    ----------
    mm : float
        Wanted travel [mm].
    pitch_mm : float
        Travel of one turn [mm].
    """
    parts = max(round(mm / pitch_mm * TURN_PARTS), 1)
    whole, rest = divmod(parts, TURN_PARTS)
    divisor = math.gcd(rest, TURN_PARTS)
    words = {(1, 8): "an eighth", (1, 4): "a quarter", (3, 8): "three eighths", (1, 2): "half",
             (5, 8): "five eighths", (3, 4): "three quarters", (7, 8): "seven eighths"}  # fmt: skip
    share = words.get((rest // divisor, TURN_PARTS // divisor), "")
    if not whole:
        text = f"{share} of a turn" if share != "half" else "half a turn"
    else:
        more = f" and {'a half' if share == 'half' else share}" if share else ""
        text = f"{COUNTED[whole] if whole < len(COUNTED) else whole}{more} turn{'s' if whole > 1 or rest else ''}"
    return Size(round(parts * pitch_mm / TURN_PARTS, 4), text)


def hand_size(mm: float, least_mm: float) -> Size:
    """Return a length that a hand can make, likened to a thing where one is near.

    Parameters
    ----------
    mm : float
        Wanted length [mm].
    least_mm : float
        Smallest step that can be made here; the length is a multiple of it [mm].
    """
    made = round(max(round(mm / least_mm), 1) * least_mm, 4)
    if made <= HAIR_MM:
        return Size(made, "a hair")
    name, size = min(THINGS_MM, key=lambda thing: abs(math.log(made / thing[1])))
    alike = max(made / size, size / made) <= ALIKE_RATIO
    return Size(made, f"about {name}" if alike else "")
