"""What people note when they regulate: "2031-03-08 09:00 3 min fast", "now +2:30", "turned 1/2 down"; `#` remarks."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import datetime
from fractions import Fraction

from diagnose.coaching.time_task import MINUTES_ON_A_DIAL, Noted, NutTurn
from diagnose.errors import InputError
from diagnose.mechanics.comparing import Comparison
from diagnose.mechanics.regulation import SECONDS_PER_MINUTE

EXAMPLES = (
    '"2031-03-01 09:00 set right", "2031-03-08 09:00 3 min fast", "2031-03-08 09:00 -2:30 at 19 C", '
    '"turned 1/2 down" or "turned 20 minutes up"'
)
HAND_UNSURE_S = 5.0
"""Standard deviation of a minute hand held against the right time; common practice, no source [s]."""
COARSE_S, FINE_S = 12.0, 6.0
"""Readings to the minute are less sure than the first, those to half a minute than the second [s]."""
MOST_FAST_S = 12 * 3600.0
MOST_TURNS = 100.0

_WHEN = re.compile(r"^\s*(?:(?P<day>\d{4}-\d{2}-\d{2})[ t]+(?P<hour>\d{1,2}):(?P<minute>\d{2})|(?P<now>now\b))", re.I)
_ROOM = re.compile(r"(?:\bat\s+)?(?P<room>-?\d+(?:\.\d+)?)\s*(?:deg|°)?\s*(?P<unit>[cf])\b", re.I)
_SET = re.compile(r"\b(?:set|right)\b", re.I)
_WAY = re.compile(r"\b(?P<fast>fast|ahead|gained)\b|\b(?P<slow>slow|behind|lost)\b", re.I)
_COLON = re.compile(r"(?P<sign>[-+])?\s*(?P<minutes>\d{1,3}):(?P<seconds>\d{2})(?!\d)")
_UNIT = re.compile(r"(?P<sign>[-+])?\s*(?P<size>\d+(?:\.(?P<places>\d+))?)\s*(?P<unit>s(?:ec\w*)?|m(?:in\w*)?)\b", re.I)
_TURNED = re.compile(r"^\s*turn(?:ed)?\s+(?P<size>.*?)\s*(?:turns?)?\s*\b(?P<way>up|down)\b\s*$", re.I)
_PARTS = {"half": Fraction(1, 2), "quarter": Fraction(1, 4), "eighth": Fraction(1, 8), "one": Fraction(1)}
_F_FREEZING, _C_PER_F = 32.0, 5 / 9


def parse_notes(text: str, now: datetime | None = None) -> tuple[Noted, ...]:
    """Read a record, one note a line or with semicolons between; see `EXAMPLES`.

    Parameters
    ----------
    text : str
        The notes.
    now : datetime, optional
        What "now" means.

    Raises
    ------
    InputError
        A note that is neither a comparison nor a turn of the nut.
    """
    lines = [line.split("#", 1)[0] for line in text.splitlines()]
    return tuple(parse_note(piece, now) for line in lines for piece in line.split(";") if piece.strip())


def parse_note(text: str, now: datetime | None = None) -> Noted:
    """Read one note."""
    turned = _TURNED.match(text)
    return NutTurn(_turns(turned, text)) if turned else _comparison(text, now)


def notes_of(record: Sequence[Noted]) -> list[str]:
    """Return a record as notes that `parse_notes` reads again; rates that were heard are left out."""
    lines = []
    for item in record:
        if isinstance(item, NutTurn):
            lines.append(f"turned {abs(item.turns):.4g} {'up' if item.turns > 0 else 'down'}")
        elif isinstance(item, Comparison):
            room = "" if item.room_c is None else f" at {item.room_c:.3g} C"
            lines.append(f"{item.at:%Y-%m-%d %H:%M} {_size(item)}{' set right' if item.set_right else ''}{room}")
    return lines


def _size(item: Comparison) -> str:
    """Return how far it is fast, written as surely as it was read."""
    fast = round(item.fast_s)
    way = "slow" if fast < 0 else "fast"
    if item.unsure_s > COARSE_S:
        return f"{abs(item.fast_s) / SECONDS_PER_MINUTE:.0f} min {way}"
    if item.unsure_s > FINE_S:
        return f"{abs(item.fast_s) / SECONDS_PER_MINUTE:.1f} min {way}"
    whole, seconds = divmod(abs(fast), round(SECONDS_PER_MINUTE))
    return f"{'-' if fast < 0 else '+'}{whole}:{seconds:02d}"


def _turns(match: re.Match[str], text: str) -> float:
    parts = [part for part in match["size"].lower().split() if part not in {"a", "of", "and"}]
    try:
        if parts and parts[-1].startswith("minute"):
            size = Fraction(parts[0]) / MINUTES_ON_A_DIAL
        else:
            size = sum((_PARTS.get(part) or Fraction(part) for part in parts), Fraction(0))
    except (ValueError, ZeroDivisionError):
        size = Fraction(0)
    if not 0 < size <= MOST_TURNS:
        raise InputError(f"'{text.strip()}' is no turn of the nut", do=f"Write it like {EXAMPLES}")
    return float(size if match["way"].lower() == "up" else -size)


def _comparison(text: str, now: datetime | None) -> Comparison:
    when = _WHEN.match(text)
    if when is None or (when["now"] and now is None):
        raise InputError(f"'{text.strip()}' does not begin with a day and an hour", do=f"Write it like {EXAMPLES}")
    at = now.replace(second=0, microsecond=0) if when["now"] and now is not None else _moment(when, text)
    rest = text[when.end() :]
    room = _ROOM.search(rest)
    room_c = _celsius(room) if room else None
    rest = _ROOM.sub(" ", rest)
    fast_s, unsure_s = _fast(rest, text)
    return Comparison(at, fast_s, unsure_s, bool(_SET.search(rest)), room_c)


def _moment(when: re.Match[str], text: str) -> datetime:
    try:
        return datetime.fromisoformat(f"{when['day']}T{int(when['hour']):02d}:{when['minute']}")
    except ValueError:
        raise InputError(f"'{text.strip()}' has no such day or hour", do=f"Write it like {EXAMPLES}") from None


def _celsius(room: re.Match[str]) -> float:
    degrees = float(room["room"])
    return degrees if room["unit"].lower() == "c" else (degrees - _F_FREEZING) * _C_PER_F


def _fast(rest: str, text: str) -> tuple[float, float]:
    """Return how far it is fast and how surely that was read [s]; the last digit that was written tells."""
    way = _WAY.search(rest)
    if colon := _COLON.search(rest):
        size, step, sign = float(colon["minutes"]) * SECONDS_PER_MINUTE + float(colon["seconds"]), 1.0, colon["sign"]
    elif unit := _UNIT.search(rest):
        factor = SECONDS_PER_MINUTE if unit["unit"].lower().startswith("m") else 1.0
        size, sign = float(unit["size"]) * factor, unit["sign"]
        step = factor / 2 if unit["places"] else factor
    elif _SET.search(rest):
        return 0.0, HAND_UNSURE_S
    else:
        raise InputError(f"'{text.strip()}' does not say how far it is fast or slow", do=f"Write it like {EXAMPLES}")
    if size > MOST_FAST_S or (way is None and sign is None and size):
        what = "is more than half a day" if size > MOST_FAST_S else "does not say whether it is fast or slow"
        raise InputError(f"'{text.strip()}' {what}", do=f"Write it like {EXAMPLES}")
    slow = way["slow"] is not None if way else sign == "-"
    return (-size if slow else size), math.hypot(step / math.sqrt(12), HAND_UNSURE_S)
