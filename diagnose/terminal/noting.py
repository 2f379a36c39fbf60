"""Words of the terminal for what is noted over days: times at which it stopped, comparisons, turns of the nut."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from diagnose import moments
from diagnose.coaching import noting
from diagnose.coaching.time_notes import notes_of, parse_note
from diagnose.coaching.time_sentences import time_lines
from diagnose.coaching.time_task import NutTurn
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.stop_notes import parse_stops, stops_told
from diagnose.reports.stops_text import stop_lines

if TYPE_CHECKING:
    from diagnose.terminal.talk import Talk

UNTOUCHED = "untouched"
STOPS = frozenset({"stop-pattern", "repeats-with"})


def all_words(talk: Talk) -> dict[str, Callable[[str], None]]:
    """Return the words of this file, each with what it does."""
    return {
        "times": lambda rest: times(talk, rest),
        "compare": lambda rest: compare(talk, rest),
        "turned": lambda rest: turned(talk, rest),
    }


def show(talk: Talk, moment: moments.Moment) -> None:
    """Say what can be typed here, and what comes next where a step sets the time."""
    if isinstance(moment, moments.LookMoment | moments.WaitMoment) and STOPS & set(moment.findings):
        talk.console.print(talk.wording.say("times-type"), style="dim", highlight=False, markup=False)
    advice = noting.time_advice_in_walk(talk.consultation) if isinstance(moment, moments.StepMoment) else None
    if advice is not None:
        for line in time_lines(advice, talk.wording):
            talk.console.print(line, style="bold green", highlight=False, markup=False)
        talk.console.print(talk.wording.say("time-type"), style="dim", highlight=False, markup=False)


def times(talk: Talk, rest: str) -> None:
    """Take in stop times and say what they tell."""
    if not rest:
        raise UsageError(talk.wording.say("times-type"))
    answer = noting.note_stops(talk.consultation, rest)
    for line in stop_lines(answer, talk.wording):
        talk.console.print(line, highlight=False, markup=False)
    if answer.likelihoods:
        talk.console.print(talk.wording.say("stops-taken"), style="dim", highlight=False)


def times_in_words(talk: Talk, text: str) -> None:
    """Take in the stop times that stand in what somebody said; words in which there are none say nothing here."""
    told = stops_told(text)
    try:
        parse_stops("; ".join(told) or "noon")
    except StoppedClockError:
        # Numbers that are on no dial were no stop times.
        return
    if told:
        times(talk, "; ".join(told))


def compare(talk: Talk, rest: str) -> None:
    """Take in a comparison with the right time; the turn that was advised before it is taken as made."""
    if not rest:
        raise UsageError(talk.wording.say("time-type"))
    untouched = rest.endswith(UNTOUCHED)
    rest = rest.removesuffix(UNTOUCHED).strip()
    begun = rest if rest[:1].isdigit() and rest[4:5] == "-" else f"now {rest.removeprefix('now').strip()}"
    now = datetime.now()
    parse_note(begun, now)
    done = None if untouched else noting.take_turn_as_done(talk.consultation)
    if done is not None:
        text = talk.wording.say("time-taken-as-done", turn=notes_of((done,))[0])
        talk.console.print(text, style="dim", highlight=False)
    _told(talk, begun, now)


def turned(talk: Talk, rest: str) -> None:
    """Take in a turn of the nut."""
    note = parse_note(f"turned {rest}")
    if isinstance(note, NutTurn):
        _told(talk, f"turned {rest}", datetime.now())


def _told(talk: Talk, note: str, now: datetime) -> None:
    """Note it; inside a walk the step itself shows what comes next."""
    advice = noting.note_time(talk.consultation, note, now)
    talk.console.print(talk.wording.say("time-compared"), style="dim", highlight=False)
    if noting.time_advice_in_walk(talk.consultation) is None:
        for line in time_lines(advice, talk.wording):
            talk.console.print(line, highlight=False, markup=False)
