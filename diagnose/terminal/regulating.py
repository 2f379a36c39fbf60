"""`diagnose regulate`: from comparisons with the right time and turns of the nut to the one next act."""

from __future__ import annotations

import dataclasses
import json
from datetime import datetime
from pathlib import Path

from diagnose.coaching.noting import rate_since_turn
from diagnose.coaching.set_the_time import next_turn
from diagnose.coaching.time_notes import EXAMPLES, parse_notes
from diagnose.coaching.time_sentences import time_lines
from diagnose.coaching.time_task import TimeAdvice, time_task
from diagnose.errors import InputError, UsageError
from diagnose.mechanics.pendulum import EXPANSION_PER_C
from diagnose.model.near_names import near
from diagnose.model.quantities import parse_length
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal import doing, screens


def regulate(
    notes: tuple[str, ...],
    file: Path | None,
    family: str,
    beats: float | None,
    pitch: str | None,
    rod: str,
    as_json: bool,
    customer: bool,
) -> int:
    """Print the rate and the one next act; 1 where no rate can be told yet."""
    if rod not in EXPANSION_PER_C:
        raise UsageError(f"no rod of '{rod}'{near(rod, EXPANSION_PER_C)}", do=f"One of {', '.join(EXPANSION_PER_C)}")
    record = parse_notes(_text(notes, file), datetime.now())
    if not record:
        raise UsageError("nothing was noted", do=f"Give notes such as {EXAMPLES}")
    knowledge = read_knowledge()
    pitch_mm = parse_length(pitch, "pitch").mm if pitch else None
    advice = next_turn(time_task(knowledge.clocks.get(family), beats, pitch_mm, rod), record)
    if as_json:
        print(json.dumps(advice_dict(advice), indent=2))
    else:
        wording = Wording(knowledge, "customer" if customer else "staff")
        screen = doing.console()
        if advice.turns is not None:
            screen.print(*screens.cautions_of(knowledge, wording, advice.cautions))
        for line in time_lines(advice, wording):
            screen.print(line, highlight=False, markup=False)
        for name in advice.look_at:
            if name in knowledge.findings:
                screen.print(f"   {wording.question(name)}", highlight=False, markup=False)
    return doing.DONE if rate_since_turn(record) is not None else doing.NO


def _text(notes: tuple[str, ...], file: Path | None) -> str:
    if file is None:
        return "\n".join(notes)
    try:
        return "\n".join([file.read_text(encoding="utf-8"), *notes])
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"'{file}' cannot be read: {error}", do="Give a text file with one note a line") from None


def advice_dict(advice: TimeAdvice) -> dict[str, object]:
    """Return advice as plain values; rates in s/day, + gains."""
    body = dataclasses.asdict(advice)
    body["again_at"] = advice.again_at.isoformat(timespec="minutes") if advice.again_at else None
    return {name: round(value, 4) if isinstance(value, float) else value for name, value in body.items()}
