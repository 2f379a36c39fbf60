"""What was said, answered, heard, measured and done in a case, in the words of a reader."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from diagnose import contacts, history
from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.model.observations import Answer, Measurement
from diagnose.model.wording import Wording
from diagnose.reports import contact_words
from diagnose.reports.beat_pictures import SWING, Picture, pictures_of
from diagnose.reports.summary import beats_text


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """One finding as it was answered: asked, answered, how it is known, in which contact."""

    asked: str
    answered: str
    known: str
    contact: str
    open: bool


@dataclass(frozen=True, slots=True)
class AnswersBetween:
    """The answers between two remedies; `heading` names the remedy after them, or none."""

    heading: str | None
    rows: tuple[AnswerRow, ...]


@dataclass(frozen=True, slots=True)
class HeardOnPaper:
    """A recording or measurement with what it says, line by line, and the pictures of its beat."""

    title: str
    lines: tuple[str, ...]
    pictures: tuple[Picture, ...] = ()


def contacts_of(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return where and when one talked or worked, and who."""
    contacts = [event for event in consultation.case.events if isinstance(event, ev.Contact)]
    texts = (
        wording.say(
            "report-contact",
            where=wording.say(f"where-{contact.where}"),
            when=contact.when.replace("T", " "),
            staff=contact.staff,
        )
        for contact in contacts
    )
    return tuple(" ".join(text.split()) for text in texts)


def answers_between(consultation: Consultation, wording: Wording) -> tuple[AnswersBetween, ...]:
    """Return the answers that count, cut by the remedies that were tried to their end."""
    pieces: list[tuple[str | None, list[ev.Event]]] = [(None, [])]
    remedies = consultation.knowledge.remedies
    for event in consultation.case.events:
        if isinstance(event, ev.Tried) and history.cuts(event, consultation.knowledge):
            title = wording.text(remedies[event.remedy].title)
            pieces[-1] = (wording.say("report-before", remedy=title), pieces[-1][1])
            pieces.append((None, []))
        else:
            pieces[-1][1].append(event)
    if len(pieces) > 1:
        pieces[-1] = (wording.say("report-now"), pieces[-1][1])
    unseen = _told_and_not_seen(consultation)
    found = (AnswersBetween(heading, tuple(_rows(events, wording, unseen))) for heading, events in pieces)
    return tuple(piece for piece in found if piece.rows)


def _rows(events: Sequence[ev.Event], wording: Wording, unseen: frozenset[str]) -> Iterator[AnswerRow]:
    for answer in history.current_answers(events).values():
        if answer.finding in wording.knowledge.findings:
            asked = wording.short(answer.finding)
            answered, known = _answered(answer, wording)
            if answer.finding in unseen:
                known = wording.say("told-mark")
            yield AnswerRow(asked, answered, known, answer.contact, answer.state != "said")
    for event in events:
        if isinstance(event, ev.Weighed) and event.finding in wording.knowledge.findings:
            yield _weighed(event, wording)


def _told_and_not_seen(consultation: Consultation) -> frozenset[str]:
    """Return what was told on a call and not looked at since, once somebody has been at the clock."""
    events = consultation.case.events
    if not any(isinstance(event, ev.Contact) and event.where != "call" for event in events):
        return frozenset()
    told = contacts.told_only(events, consultation.answers, consultation.knowledge)
    return frozenset(answer.finding for answer in told)


def _answered(answer: Answer, wording: Wording) -> tuple[str, str]:
    """Return answer and how it is known; a thing left or not told is not a normal one."""
    if answer.state == "cannot-tell":
        return wording.say("cannot-tell"), ""
    if answer.state == "later" or answer.value is None:
        return wording.say("report-left"), ""
    value = wording.value(answer.finding, answer.value)
    known = wording.say(f"source-{answer.source}")
    if answer.certainty == "think-so":
        value = wording.say("report-thinks", value=value)
        think = wording.say("think-so")
        known = wording.say("report-list", one=known, two=think)
    return value, known


def _weighed(event: ev.Weighed, wording: Wording) -> AnswerRow:
    """Return a finding whose values are known with chances, the likeliest first."""
    total = sum(event.likelihood.values()) or 1.0
    likely = sorted(event.likelihood.items(), key=lambda item: -item[1])
    if wording.reader == "customer":
        likely = likely[:1]
    texts = [
        wording.say(
            "report-value-chance", value=wording.value(event.finding, name), chance=wording.in_ten(share / total)
        )
        for name, share in likely
        if share > 0
    ]
    asked = wording.short(event.finding)
    return AnswerRow(asked, "; ".join(texts), wording.say(f"source-{event.source}"), event.contact, False)


def heard_on_paper(consultation: Consultation, wording: Wording) -> tuple[HeardOnPaper, ...]:
    """Return the recordings with their split and pictures, and the measurements.

    The last recording has all its pictures, those before it the swing split alone.
    """
    events = consultation.case.events
    last = last_heard(consultation)
    shown: list[HeardOnPaper] = []
    for number, event in enumerate(events):
        if isinstance(event, ev.Heard) and event.beats:
            pictures = pictures_of(event.beats, wording, f"beat-{number}")
            kept = pictures if event is last else tuple(item for item in pictures if item.name == SWING)
            shown.append(HeardOnPaper(_recording(event, wording), _beats(event, wording), kept))
        elif isinstance(event, ev.Measured):
            shown.append(_measured(event.measurement, wording))
    return tuple(shown)


def last_heard(consultation: Consultation) -> ev.Heard | None:
    """Return the last recording that was heard, or None."""
    heard = (event for event in reversed(consultation.case.events) if isinstance(event, ev.Heard) and event.beats)
    return next(heard, None)


def _recording(event: ev.Heard, wording: Wording) -> str:
    file = Path(event.file).name
    if event.within is None or event.within not in wording.knowledge.remedies:
        return wording.say("report-file", file=file)
    return wording.say(
        "report-heard-in", file=file, remedy=wording.text(wording.knowledge.remedies[event.within].title)
    )


def _beats(event: ev.Heard, wording: Wording) -> tuple[str, ...]:
    beats = event.beats
    if wording.reader == "customer":
        # The remarks on a recording are for whoever takes the next one.
        beats = {**beats, "warnings": [], "way_out": None}
    return tuple(beats_text(beats, wording))


def _measured(measurement: Measurement, wording: Wording) -> HeardOnPaper:
    findings = wording.knowledge.findings
    about = (
        name for name, entry in findings.items() if entry.measured and entry.measured.quantity == measurement.quantity
    )
    name = next(about, None)
    title = wording.short(name) if name is not None else measurement.quantity
    value = wording.say(
        "report-range", value=f"{measurement.value:g}", unsure=f"{measurement.uncertainty:.2g}", unit=measurement.unit
    )
    tool = wording.say("report-measured-with", tool=measurement.tool.replace("-", " "))
    return HeardOnPaper(title, (f"{value} {tool}".strip(),))


def done_on_paper(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return what was tried, with what came of it."""
    remedies = wording.knowledge.remedies
    return tuple(
        wording.say(
            "report-tried",
            remedy=wording.text(remedies[event.remedy].title),
            outcome=wording.say(f"report-outcome-{event.outcome}"),
        )
        for event in consultation.case.events
        if isinstance(event, ev.Tried) and event.remedy in remedies
    )


def handed_over(consultation: Consultation, wording: Wording) -> tuple[tuple[str, str], ...]:
    """Return the values with which the clock was handed over, each with its name."""
    return tuple(contact_words.handed_rows(consultation.handed_over, wording))


def homework_on_paper(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return the message with which the last contact was closed, while nobody has come back to it."""
    closed = contacts.closed_until(consultation.case.events)
    return tuple(contact_words.message_lines(closed.again, closed.homework, wording)) if closed is not None else ()


def concluded(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return what a person entered at the end."""
    ends = [event for event in consultation.case.events if isinstance(event, ev.Concluded)]
    if not ends:
        return ()
    end = ends[-1]
    lines = [wording.say("report-concluded", outcome=end.outcome)]
    if end.cause is not None and end.cause in wording.knowledge.causes:
        lines.append(wording.say("report-concluded-cause", cause=wording.cause(end.cause)))
    return (*lines, end.note) if end.note and wording.reader == "staff" else tuple(lines)


def not_looked_at(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return what was not looked at, place by place: neither asked nor told, or left for the visit."""
    assessment, knowledge = consultation.assessment, consultation.knowledge
    seen = {finding.finding for finding in assessment.findings}
    places: dict[str, list[str]] = {name: [] for name in knowledge.places}
    touched = {knowledge.findings[name].place for name in seen if name in knowledge.findings}
    for name, entry in knowledge.findings.items():
        if name not in assessment.base.tables or name in seen or entry.kind == "circumstance":
            continue
        # A customer is told of places he can look at, and where nothing at all was looked at.
        if wording.reader == "staff" or not (entry.told or entry.place in touched):
            places[entry.place].append(wording.short(name))
    if wording.reader == "customer":
        titles = [wording.text(knowledge.places[name].title) for name, left in places.items() if left]
        return (", ".join(titles),) if titles else ()
    return tuple(
        wording.say("report-where-looked", place=wording.text(knowledge.places[name].title), names=", ".join(left))
        for name, left in places.items()
        if left
    )
