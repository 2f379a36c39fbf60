"""What is said where a case spans contacts: the message to send, dates, hand-over, changes, earlier cases."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from diagnose import contacts, handing_over
from diagnose.cases import events as ev
from diagnose.cases.store import Kept
from diagnose.errors import UsageError
from diagnose.homework import PHRASE
from diagnose.model.wording import Wording
from diagnose.reasoning.changes import BEAT, RATE, SPEED, SPLIT, SWING

if TYPE_CHECKING:
    from diagnose.consultation import Consultation

DAYS_A_WEEK = 7
LEAST_LETTERS = 3
# A told answer is marked as dear from so many minutes of work at stake. [min]
DEAR_MINUTES = 1.0
# Phrases that name the hand-over values.
NAMES = {
    SPLIT: "handover-split",
    BEAT: "handover-beat",
    SPEED: "handover-bph",
    RATE: "handover-rate",
    SWING: "handover-swing",
    handing_over.ADJUSTER: "handover-adjuster",
    handing_over.NUT: "handover-nut",
    handing_over.HANGS_ON: "handover-hangs",
    handing_over.PARTS: "handover-parts",
    handing_over.RECORDING: "handover-recording",
}


def date_text(iso: str, wording: Wording) -> str:
    """Return a date with its weekday, such as "Thursday, March 20"; as it stands where it is none."""
    try:
        day = date.fromisoformat(iso)
    except ValueError:
        return iso
    weekday, month = wording.say(f"weekday-{day.weekday()}"), wording.say(f"month-{day.month}")
    return wording.say("date-long", weekday=weekday, month=month, day=day.day)


def date_typed(text: str, today: date, wording: Wording) -> str:
    """Return a date that somebody typed: ISO 8601, tomorrow, a weekday (the next one), or a number of days.

    Raises
    ------
    UsageError
        It is none of these, or lies before today.
    """
    typed = text.strip().lower()
    if typed in wording.say("until-tomorrow").split():
        return (today + timedelta(days=1)).isoformat()
    if typed.isdigit() and int(typed) < 1000:
        return (today + timedelta(days=int(typed))).isoformat()
    for ahead in range(1, DAYS_A_WEEK + 1):
        day = today + timedelta(days=ahead)
        if len(typed) >= LEAST_LETTERS and wording.say(f"weekday-{day.weekday()}").lower().startswith(typed):
            return day.isoformat()
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        day = date.min
    if day < today:
        raise UsageError(wording.say("until-which"))
    return day.isoformat()


def homework_text(finding: str, wording: Wording) -> str:
    """Return in one sentence what the owner does about a finding; its question where nothing else is written."""
    key = f"{PHRASE}{finding}"
    return wording.say(key) if key in wording.knowledge.screen else wording.question(finding)


def message_lines(again: str, homework: Sequence[str], wording: Wording) -> list[str]:
    """Return the message to send at the end of a contact: the date, and at most three plain sentences."""
    customer = Wording(wording.knowledge, "customer")
    day = date_text(again, customer)
    if not homework:
        return [customer.say("message-again", date=day)] if again else []
    lines = [
        customer.say("message-task", number=number, text=homework_text(name, customer))
        for number, name in enumerate(homework[: contacts.MOST_HOMEWORK], 1)
    ]
    return [customer.say("message-until", date=day), *lines] if again else lines


def handed_rows(values: Mapping[str, Any], wording: Wording) -> list[tuple[str, str]]:
    """Return hand-over values with their names, in the order in which they are asked."""
    order = {name: number for number, name in enumerate(handing_over.FIELDS)}
    return [
        (wording.say(NAMES[name]) if name in NAMES else str(name), value_text(value))
        for name, value in sorted(values.items(), key=lambda item: order.get(item[0], len(order)))
    ]


def value_text(value: object) -> str:
    """Return a hand-over value as it is shown."""
    return f"{value:.1f}" if isinstance(value, float) else str(value)


def changes_lines(consultation: Consultation, wording: Wording) -> list[str]:
    """Return what has changed since the hand-over of an earlier case, a line each; nothing where there was none."""
    lines = [wording.for_reader(line) for line in consultation.changes.lines]
    before = next((event for event in consultation.case.events if isinstance(event, ev.HandedBefore)), None)
    heard = any(isinstance(event, ev.Heard) for event in consultation.case.events)
    if before is not None and wording.reader == "staff" and before.values.get(SPLIT) and not heard:
        lines.append(wording.say("changed-hear", split=before.values[SPLIT]))
    return [line for line in lines if line]


def state_text(row: Kept, today: str, wording: Wording) -> str:
    """Return whether a case is open, waits, or is closed, and with what outcome."""
    if row.state == "waiting":
        return wording.say("case-due" if row.due(today) else "case-waiting", date=row.again)
    if row.state == "closed":
        outcome = end_text(row.outcome, wording)
        if row.cause is not None and row.cause in wording.knowledge.causes:
            return wording.say("case-closed-cause", outcome=outcome, cause=wording.cause(row.cause))
        return wording.say("case-closed", outcome=outcome)
    return wording.say("case-open")


def end_text(outcome: str, wording: Wording) -> str:
    """Return what a case came to, in words."""
    return wording.say(f"page-end-{outcome}") if outcome in ev.ENDS else outcome


def earlier_lines(rows: Iterable[Kept], without: str | None, today: str, wording: Wording) -> list[str]:
    """Return the other cases of a clock, a line each with what they came to."""
    return [
        wording.say("history-line", date=row.changed[:10], id=row.id, state=state_text(row, today, wording))
        for row in rows
        if row.id != without
    ]


def alarm_then(then: str, where: str, wording: Wording) -> str:
    """Return what follows an alarm; nobody is sent where one is already."""
    return wording.say("alarm-then-here") if then == where else wording.say(f"alarm-then-{then}")
