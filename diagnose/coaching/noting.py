"""Stop times and notes of regulating inside a consultation: what was noted so far, and what it says together."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from diagnose import history
from diagnose.cases import events as ev
from diagnose.coaching.set_the_time import next_turn
from diagnose.coaching.time_notes import notes_of, parse_note, parse_notes
from diagnose.coaching.time_task import Noted, NutTurn, TimeAdvice, TimeTask, best_of, in_pieces, time_task
from diagnose.consultation import Consultation
from diagnose.mechanics.comparing import Rate
from diagnose.mechanics.stop_times import StopAnswer, explain_stops
from diagnose.model.entries import RemedyEntry
from diagnose.model.observations import Measurement
from diagnose.model.stop_notes import StopTime, parse_stops

HEARD_DAYS = 0.01


# ---- when it stops -----------------------------------------------------------------------------------


def stops_noted(consultation: Consultation) -> tuple[StopTime, ...]:
    """Return the stop times noted since the last remedy."""
    return tuple(stop for text in _texts(consultation, "stops") for stop in parse_stops(text))


def note_stops(consultation: Consultation, text: str, ran: bool = False) -> StopAnswer:
    """Take in times at which it stopped; with those noted before they answer the stop pattern where they can.

    Parameters
    ----------
    consultation : Consultation
        The case.
    text : str
        Times as people write them.
    ran : bool
        Times without a unit say how long it ran.
    """
    added = parse_stops(text, ran)
    answer = explain_stops((*stops_noted(consultation), *added))
    kept = "; ".join(stop_text(stop) for stop in added)
    consultation.note(ev.Noted("stops", kept, contact=consultation.contact.id))
    for finding, likelihood in answer.likelihoods.items():
        if finding in consultation.knowledge.findings:
            consultation.weigh(finding, likelihood, ", ".join(stop_text(stop) for stop in answer.stops))
    return answer


def stop_text(stop: StopTime) -> str:
    """Return a stop time as `parse_stops` reads it again, whether or not it was typed as a running time."""
    return stop.given if stop.dial_min is not None or stop.ran_min is None else f"ran {stop.ran_min:g} min"


def _texts(consultation: Consultation, about: str) -> list[str]:
    events = history.since_last_tried(consultation.case.events, consultation.knowledge)
    return [event.text for event in events if isinstance(event, ev.Noted) and event.about == about]


# ---- regulating --------------------------------------------------------------------------------------


def sets_the_time(entry: RemedyEntry) -> bool:
    """Return whether a step of a remedy sets the time."""
    return any(step.act == "set-the-time" for step in entry.steps)


def time_task_of(consultation: Consultation) -> TimeTask:
    """Return the clock that is regulated, as far as it is known."""
    clock = consultation.case.clock
    return time_task(consultation.knowledge.clocks.get(clock.family), clock.beats_per_hour)


def record_of(consultation: Consultation) -> tuple[Noted, ...]:
    """Return comparisons, rates heard and turns since the last remedy, in order."""
    record: list[Noted] = []
    for event in history.since_last_tried(consultation.case.events, consultation.knowledge):
        if isinstance(event, ev.Noted) and event.about == "rate":
            record.extend(parse_notes(event.text))
        elif isinstance(event, ev.Heard):
            record.extend(
                Rate(item.value, item.uncertainty, HEARD_DAYS)
                for item in history.measurements_of(event)
                if item.quantity == "rate"
            )
    return tuple(record)


def time_advice(consultation: Consultation) -> TimeAdvice:
    """Return the one next act that regulates this clock."""
    return next_turn(time_task_of(consultation), record_of(consultation))


def time_advice_in_walk(consultation: Consultation) -> TimeAdvice | None:
    """Return the next act where the step at work sets the time, or None."""
    walk = consultation.walk
    if walk is None:
        return None
    steps = consultation.knowledge.remedies[walk.remedy].steps
    return time_advice(consultation) if steps[walk.step].act == "set-the-time" else None


def note_time(consultation: Consultation, text: str, now: datetime | None = None) -> TimeAdvice:
    """Take in a comparison or a turn of the nut; return the next act.

    Outside a remedy the rate counts at once as what the clock does; inside one when it ends.

    Parameters
    ----------
    consultation : Consultation
        The case.
    text : str
        One note, such as "now 3 min fast" or "turned 1/2 down".
    now : datetime, optional
        What "now" means.
    """
    note = parse_note(text, now)
    record = (*record_of(consultation), note)
    rate = rate_since_turn(record)
    walk = consultation.walk
    kept = ev.Noted(
        "rate",
        notes_of((note,))[0],
        walk.remedy if walk else None,
        None if rate is None else (rate.s_per_day, rate.uncertainty),
        consultation.contact.id,
    )
    consultation.note(kept)
    if walk is None and rate is not None:
        contact = consultation.contact.id
        consultation.measure(Measurement("rate", rate.s_per_day, rate.uncertainty, "s/day", "hands", contact))
    return time_advice(consultation)


def take_turn_as_done(consultation: Consultation) -> NutTurn | None:
    """Note the turn that was advised as made, once the clock is compared again after it; return it."""
    advice = time_advice_in_walk(consultation)
    if advice is None or advice.turns is None or advice.kind != "turn":
        return None
    note_time(consultation, notes_of((NutTurn(advice.turns),))[0])
    return NutTurn(advice.turns)


def rate_since_turn(record: Sequence[Noted]) -> Rate | None:
    """Return the rate since the last turn of the nut; None where nothing is known since."""
    stages, turns, _ = in_pieces(record)
    return best_of(stages[-1]) if stages and len(turns) < len(stages) else None
