"""Stop times as people note them: "9:47", "2:14 pm", "Tue 8:40", "2031-03-12 09:47", "ten to one", "after 3 h"."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from diagnose.errors import InputError, UsageError

MINUTES_PER_HOUR = 60
HALF_DAY_MIN = 12 * MINUTES_PER_HOUR
DAY_MIN = 2 * HALF_DAY_MIN
NOON = 12
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
EXAMPLES = '"9:47", "2:14 pm", "Tue 8:40", "2031-03-12 09:47", "ten to one" or "after 3 h 20 min"'

_HOURS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_NUMBERS = {word: number for number, word in enumerate(_HOURS, 1)} | {
    "quarter": 15, "twenty": 20, "twenty-five": 25, "twenty five": 25, "half": 30,
}  # fmt: skip
_NUMBER = r"\d{1,2}|" + "|".join(sorted(_NUMBERS, key=len, reverse=True))
_DATE = re.compile(r"\b(\d{4})-(\d{2})-(\d{2})(?:t|\b)", re.IGNORECASE)
_WEEKDAY = re.compile(r"\b(mon|tue|wed|thu|fri|sat|sun)(?:s|nes|rs|ur)?(?:day)?s?\b", re.IGNORECASE)
_ELAPSED = re.compile(
    r"(?:(?P<d>\d+(?:\.\d+)?)\s*d(?:ays?)?)?\s*(?:(?P<h>\d+(?:\.\d+)?)\s*h(?:ours?|rs?)?)?\s*"
    r"(?:(?P<m>\d+(?:\.\d+)?)\s*m(?:in(?:utes?|s)?)?|(?<=h)\s*(?P<rest>\d{2}))?\b(?!\s*(?:to|past|before|after)\b)",
    re.IGNORECASE,
)
_DIGITS = re.compile(r"\b(\d{1,2})\s*[:.]\s*(\d{2})(?::\d{2})?(?!\d)")
_WORDS = re.compile(
    rf"\b(?:a\s+)?({_NUMBER})\s+(?:min(?:ute)?s?\s+)?(past|after|to|before)\s+({_NUMBER}|noon|midnight)\b",
    re.IGNORECASE,
)
_WHOLE = re.compile(rf"\b({_NUMBER})\s*(?:o\s?'?clock|(?=\s*[ap]\.?m\b))", re.IGNORECASE)
_HALF_OF_DAY: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), half)
    for pattern, half in (
        (r"(?<![a-z])p\.?\s?m\b|afternoon|evening", "pm"),
        (r"(?<![a-z])a\.?\s?m\b|morning", "am"),
        (r"\bnight\b", "night"),
    )
)
_STOPPING = re.compile(r"\b(?:stop(?:s|ped)?|died|dies|stood still)\b", re.IGNORECASE)
_STARTING = re.compile(
    r"\b(?:wound|wind|(?:re)?start(?:s|ed)?|set|came|call(?:ed)?|open|before|after|between|until)\b",
    re.IGNORECASE,
)
_LIST_OF_STOPS = 2
_NIGHT_FROM_HOUR = 6
"""An hour "at night" from this one on is before midnight, an earlier one after it."""


@dataclass(frozen=True, slots=True)
class StopTime:
    """One time at which a clock stopped, as far as it was told.

    Parameters
    ----------
    given : str
        As it was written.
    dial_min : int, optional
        What the hands show, after twelve o'clock: 0 to 719 [min].
    day_min : int, optional
        The same in the day, where morning and afternoon are told apart: 0 to 1439 [min].
    weekday : int, optional
        Monday is 0.
    on : date, optional
        The day.
    ran_min : float, optional
        How long it had run since it was started [min].
    """

    given: str
    dial_min: int | None = None
    day_min: int | None = None
    weekday: int | None = None
    on: date | None = None
    ran_min: float | None = None


def parse_stops(text: str, ran: bool = False) -> tuple[StopTime, ...]:
    """Read times that stand in a row: with commas, semicolons or new lines between; `#` begins a remark.

    Parameters
    ----------
    text : str
        The times.
    ran : bool
        Times without a unit, such as "1:35", say how long it ran.

    Raises
    ------
    InputError
        A piece that is no time.
    """
    lines = [line.split("#", 1)[0] for line in text.splitlines()]
    pieces = [piece.strip() for line in lines for piece in re.split(r"[,;]|\band\b", line)]
    joined: list[str] = []
    for piece in pieces:
        # "Tue, 8:40" is one time; a day alone belongs to what follows.
        if joined and piece and (_WEEKDAY.fullmatch(joined[-1]) or _DATE.fullmatch(joined[-1])):
            joined[-1] = f"{joined[-1]} {piece}"
        elif piece:
            joined.append(piece)
    if not joined:
        raise UsageError("no stop times were given", do=f"Write them with commas between: {EXAMPLES}")
    return tuple(parse_stop(piece, ran) for piece in joined)


def stops_told(text: str) -> tuple[str, ...]:
    """Return the times at which it stopped that stand in free speech, where there are at least two.

    One time alone may be anything ("it began at half past nine"); two after a word of stopping are a list.
    Pieces that speak of winding, starting or setting are left out.

    Parameters
    ----------
    text : str
        What somebody said.

    Examples
    --------
    >>> stops_told("it stopped at 4:10 pm, 4:12 pm and then at ten past four")
    ('it stopped at 4:10 pm', '4:12 pm', 'then at ten past four')
    >>> stops_told("I wound it at 8:30 and it stopped at 9:10")
    ()
    """
    if not _STOPPING.search(text):
        return ()
    pieces = [piece.strip() for piece in re.split(r"[,;]|\band\b|(?<=\w)\. ", text)]
    timed = (piece for piece in pieces if any(pattern.search(piece) for pattern in (_DIGITS, _WORDS, _WHOLE)))
    told = tuple(piece for piece in timed if not _STARTING.search(piece))
    return told if len(told) >= _LIST_OF_STOPS else ()


def parse_stop(text: str, ran: bool = False) -> StopTime:
    """Read one time; see `parse_stops`."""
    rest = text.strip()
    day = _DATE.search(rest)
    on = _day(day, text) if day else None
    rest = _DATE.sub(" ", rest)
    named = _WEEKDAY.search(rest)
    weekday = on.weekday() if on else WEEKDAYS.index(named[1].lower()) if named else None
    ran_min, rest = _ran(rest, ran)
    minutes, half = (None, "") if ran else _clock_time(rest, text)
    if minutes is None and ran_min is None:
        raise InputError(f"'{text.strip()}' is no stop time", do=f"Write it like {EXAMPLES}")
    if minutes is None:
        return StopTime(text.strip(), None, None, weekday, on, ran_min)
    # With a date a time is written in 24 hours, unless it says am or pm.
    digits = _DIGITS.search(rest)
    whole_day = not half and (on is not None or (digits is not None and not 0 < int(digits[1]) <= NOON))
    day_min = minutes if whole_day else _in_the_day(minutes, half)
    return StopTime(text.strip(), minutes % HALF_DAY_MIN, day_min, weekday, on, ran_min)


def _day(match: re.Match[str], text: str) -> date:
    try:
        return date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        raise InputError(f"'{text.strip()}' has no such day", do="Write a day as year-month-day") from None


def _ran(text: str, ran: bool) -> tuple[float | None, str]:
    """Return a running time and what is left of the text."""
    if ran and (match := _DIGITS.search(text)):
        return float(match[1]) * MINUTES_PER_HOUR + float(match[2]), ""
    for match in _ELAPSED.finditer(text):
        if match["d"] or match["h"] or match["m"]:
            days, hours = float(match["d"] or 0), float(match["h"] or 0)
            minutes = float(match["m"] or match["rest"] or 0)
            total = days * DAY_MIN + hours * MINUTES_PER_HOUR + minutes
            return total, text[: match.start()] + " " + text[match.end() :]
    return None, text


def _clock_time(text: str, given: str) -> tuple[int | None, str]:
    """Return minutes after midnight or noon, as written, and which half of the day."""
    half = next((name for pattern, name in _HALF_OF_DAY if pattern.search(text)), "")
    finders: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], tuple[int, int]]], ...] = (
        (_DIGITS, lambda match: (int(match[1]), int(match[2]))),
        (_WORDS, _spoken),
        (_WHOLE, lambda match: (_number(match[1]), 0)),
    )
    for pattern, read in finders:
        if match := pattern.search(text):
            hour, minute = read(match)
            if hour > DAY_MIN // MINUTES_PER_HOUR or not -MINUTES_PER_HOUR < minute < MINUTES_PER_HOUR:
                raise InputError(f"'{given.strip()}' is on no dial", do=f"Write it like {EXAMPLES}")
            return (hour * MINUTES_PER_HOUR + minute) % DAY_MIN, half
    if re.search(r"\bmidnight\b", text, re.IGNORECASE):
        return 0, "am"
    return (HALF_DAY_MIN, "pm") if re.search(r"\bnoon\b", text, re.IGNORECASE) else (None, half)


def _spoken(match: re.Match[str]) -> tuple[int, int]:
    hour = NOON if match[3].lower() in {"noon", "midnight"} else _number(match[3])
    minutes = _number(match[1])
    return hour, minutes if match[2].lower() in {"past", "after"} else -minutes


def _number(text: str) -> int:
    return int(text) if text.isdigit() else _NUMBERS[text.lower()]


def _in_the_day(minutes: int, half: str) -> int | None:
    """Return minutes after midnight, or None where morning and afternoon are not told apart."""
    on_dial = minutes % HALF_DAY_MIN
    if half == "night":
        half = "pm" if on_dial // MINUTES_PER_HOUR >= _NIGHT_FROM_HOUR else "am"
    return {"am": on_dial, "pm": on_dial + HALF_DAY_MIN}.get(half)
