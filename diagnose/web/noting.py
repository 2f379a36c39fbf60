"""Stop times and regulating on the page: forms of a case, and two pages that stand alone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from diagnose import moments
from diagnose.coaching import noting
from diagnose.coaching.set_the_time import next_turn
from diagnose.coaching.time_notes import notes_of, parse_note, parse_notes
from diagnose.coaching.time_sentences import time_lines
from diagnose.coaching.time_task import TimeAdvice, time_task
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.mechanics.stop_times import explain_stops
from diagnose.model.quantities import parse_length
from diagnose.model.stop_notes import parse_stops
from diagnose.model.wording import Wording
from diagnose.reports.stops_text import stop_lines
from diagnose.web import views
from diagnose.web.desk import Desk, number_above_zero
from diagnose.web.forms import Given

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

NOT_TAKEN = 422
MOST_LETTERS = 5000
EXAMPLE_BPH = "5400"
STOPS = frozenset({"stop-pattern", "repeats-with"})


# ---- in a case ---------------------------------------------------------------------------------------


def asks_for_stops(moment: moments.Moment) -> bool:
    """Return whether what is asked here is better answered by the times themselves."""
    shown = isinstance(moment, moments.LookMoment | moments.WaitMoment | moments.HomeworkMoment)
    return shown and bool(STOPS & set(moment.findings))  # type: ignore[union-attr]


def stops_so_far(consultation: Consultation, wording: Wording) -> list[str]:
    """Return what the stop times noted so far say, with the times first."""
    stops = noting.stops_noted(consultation)
    if not stops:
        return []
    times = ", ".join(noting.stop_text(stop) for stop in stops)
    return [times, *stop_lines(explain_stops(stops), wording)]


def advice(consultation: Consultation) -> TimeAdvice | None:
    """Return the next act of regulating, where the step at work sets the time."""
    return noting.time_advice_in_walk(consultation)


def lines(found: TimeAdvice, wording: Wording) -> list[str]:
    """Return that act in words."""
    return time_lines(found, wording)


def noted(consultation: Consultation) -> list[str]:
    """Return the notes of regulating so far."""
    return notes_of(noting.record_of(consultation))


def stops(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take in stop times."""
    noting.note_stops(consultation, _text(given, "stops", wording))


def compared(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take in a comparison, with the turn made before it where the form says so."""
    when, fast = given.text("when").replace("T", " ") or "now", given.text("fast")
    room, was_set = given.text("room"), " set right" if given.text("set") else ""
    note = f"{when} {fast}{was_set}{f' at {room} C' if room else ''}"
    parse_note(note, datetime.now())
    if given.text("turn_done"):
        noting.take_turn_as_done(consultation)
    noting.note_time(consultation, note, datetime.now())


def turned(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take in a turn of the nut that was not the one advised."""
    noting.note_time(consultation, f"turned {given.text('turn')}")


ACTS: dict[str, Callable[[Consultation, Given, Wording], None]] = {
    "stops": stops,
    "compared": compared,
    "turned": turned,
}


def _text(given: Given, name: str, wording: Wording) -> str:
    text = given.text(name)
    if len(text) > MOST_LETTERS:
        raise UsageError(wording.say("page-too-long", length=len(text), most=MOST_LETTERS))
    return text


# ---- pages that stand alone ----------------------------------------------------------------------------


def stops_page(desk: Desk, request: Request) -> Response:
    """Show what stop times say, without a case."""
    return _page(desk, request, "stops.html", _stops)


def time_page(desk: Desk, request: Request) -> Response:
    """Show how to turn the nut from notes, without a case."""
    return _page(desk, request, "regulate.html", lambda given, wording: _notes(given, wording, desk))


def _page(desk: Desk, request: Request, template: str, work: Callable[[Given, Wording], list[str]]) -> Response:
    wording = desk.wording(request)
    given = Given({name: [value] for name, value in request.query_params.items()})
    families = views.fact_options(desk.knowledge, wording, "family")
    try:
        said = work(given, wording) if given.fields else []
    except StoppedClockError as fault:
        return desk.page(request, template, {"said": [], "families": families}, given, fault, NOT_TAKEN)
    return desk.page(request, template, {"said": said, "families": families}, given)


def _stops(given: Given, wording: Wording) -> list[str]:
    return stop_lines(explain_stops(parse_stops(_text(given, "stops", wording))), wording)


def _notes(given: Given, wording: Wording, desk: Desk) -> list[str]:
    beats = number_above_zero(given, "bph", EXAMPLE_BPH, wording)
    pitch = given.text("pitch")
    pitch_mm = parse_length(f"{pitch} mm", "pitch").mm if pitch else None
    task = time_task(desk.knowledge.clocks.get(given.text("family")), beats, pitch_mm)
    return time_lines(next_turn(task, parse_notes(_text(given, "notes", wording), datetime.now())), wording)
