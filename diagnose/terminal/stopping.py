"""`diagnose stops`: from logged stop times to the wheel or the meeting of hands that has their period."""

from __future__ import annotations

import json
import re
from pathlib import Path

from diagnose.errors import InputError, UsageError
from diagnose.mechanics.stop_patterns import USUAL_COUNTS, Counts
from diagnose.mechanics.stop_times import explain_stops
from diagnose.model.reading import read_knowledge
from diagnose.model.stop_notes import parse_stops
from diagnose.model.wording import Wording
from diagnose.reports.stops_text import stop_dict, stop_lines
from diagnose.terminal import doing

_PAIR = re.compile(r"(\d+)\s*/\s*(\d+)")


def stops(
    times: tuple[str, ...],
    file: Path | None,
    ran: bool,
    wheels: str | None,
    great: str | None,
    read_to: float | None,
    hands_set: bool,
    as_json: bool,
    customer: bool,
) -> int:
    """Print what stop times say; 1 where they cannot tell, or have no pattern."""
    answer = explain_stops(parse_stops(_text(times, file), ran), _counts(wheels, great), read_to, hands_set)
    if as_json:
        print(json.dumps(stop_dict(answer), indent=2))
    else:
        wording = Wording(read_knowledge(), "customer" if customer else "staff")
        for line in stop_lines(answer, wording):
            doing.console().print(line, highlight=False, markup=False)
    return doing.DONE if answer.verdict == "pattern" else doing.NO


def _text(times: tuple[str, ...], file: Path | None) -> str:
    if file is None:
        return "\n".join(times)
    try:
        return "\n".join([*times, file.read_text(encoding="utf-8")])
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"'{file}' cannot be read: {error}", do="Give a text file with one stop time a line") from None


def _counts(wheels: str | None, great: str | None) -> tuple[Counts, ...]:
    if wheels is None and great is None:
        return USUAL_COUNTS
    usual = USUAL_COUNTS[0]
    pairs = _pairs(wheels, "--wheels 64/8,60/8") if wheels else tuple(zip(usual.wheels, usual.pinions, strict=True))
    turned = _pairs(great, "--great 96/8") if great else (usual.great,)
    return (Counts(tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs), turned[0]),)


def _pairs(text: str, example: str) -> tuple[tuple[int, int], ...]:
    pairs = tuple((int(match[1]), int(match[2])) for match in _PAIR.finditer(text))
    if not pairs or any(min(pair) < 1 for pair in pairs):
        raise UsageError(f"'{text}' is no train", do=f"Write each wheel over the pinion it drives, such as {example}")
    return pairs
