"""What the templates show, worked out from a consultation: plain values, in the order of the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from diagnose import contacts, handing_over, history, moments
from diagnose.cases import events as ev
from diagnose.cases.facts import FACT_FIELDS, SOUNDS, fact_values
from diagnose.consultation import Consultation
from diagnose.model.entries import CautionEntry
from diagnose.model.observations import Answer, Source
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.asking_again import worth_asking_again
from diagnose.reasoning.changes import NUMBERS as NUMBERS
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.explanation import doubtful_answers
from diagnose.reasoning.gates import fitting_cautions, step_cautions
from diagnose.reports import contact_words, showing
from diagnose.reports.beat_pictures import pictures_of
from diagnose.reports.paper import inline
from diagnose.reports.showing import offered_value as offered_value
from diagnose.reports.summary import beats_text

if TYPE_CHECKING:
    from markupsafe import Markup

SHOWN_CAUSES = 5
# A fact with at most so many answers is answered by one press.
MOST_BUTTONS = 3
# Causes rarer than this are left out where likelier ones are shown.
LEAST_SHOWN, ALWAYS_SHOWN = 0.01, 2
SIDES_CAUTION = "left-and-right"
LEVELS = ("danger", "care", "note")
PERCENT = 100
HOURS_A_DAY = 24
CANNOT_TELL, LATER = "cannot-tell", "later"
OUTCOMES = ("done", "better", "no-change", "worse", "cured", "not-done")
ENDS = ev.ENDS
# How an answer is known, where somebody says so; a recording speaks for itself.
SOURCES: tuple[Source, ...] = ("told", "seen", "photo")
# Names of the hand-over values as the case file keeps them, with the phrase that asks for each.
HANDOVER = {name: contact_words.NAMES[name] for name in handing_over.FIELDS}
# Moments in which somebody may rather ask on.
MAY_ASK_ON = (moments.AdviceMoment, moments.ReferMoment, moments.WaitMoment, moments.EnoughMoment)


def template_of(moment: moments.Moment) -> str:
    """Return the file of the template for a kind of moment, such as "pick_alarm.html"."""
    name = type(moment).__name__.removesuffix("Moment")
    words = "".join(f"_{letter.lower()}" if letter.isupper() else letter for letter in name).strip("_")
    return f"moments/{words}.html"


def wait_text(wording: Wording, hours: float) -> str:
    """Return how long to wait."""
    if hours < 2 * HOURS_A_DAY:
        return wording.say("hours-wait", hours=f"{hours:.0f}")
    return wording.say("days-wait", days=f"{hours / HOURS_A_DAY:.0f}")


def cautions(knowledge: Knowledge, ids: Iterable[str]) -> list[CautionEntry]:
    """Return cautions, dangers first, each once."""
    entries = [knowledge.cautions[name] for name in dict.fromkeys(ids) if name in knowledge.cautions]
    return sorted(entries, key=lambda entry: LEVELS.index(entry.level))


def cautions_here(consultation: Consultation, ids: Iterable[str]) -> list[CautionEntry]:
    """Return the cautions that concern this clock and the person at it, dangers first, each once."""
    case = consultation.case
    return cautions(consultation.knowledge, fitting_cautions(ids, consultation.knowledge, case.clock, case.person))


def cautions_at_step(consultation: Consultation, moment: moments.StepMoment) -> list[CautionEntry]:
    """Return the cautions at a step: all at the first, unless they stood with the advice; else those of the step."""
    entry, walk = consultation.knowledge.remedies[moment.remedy], consultation.walk
    if moment.step == 0 and not (walk is not None and walk.warned):
        return cautions_here(consultation, entry.cautions)
    return cautions_here(consultation, step_cautions(entry, entry.steps[moment.step], consultation.knowledge))


def shares(consultation: Consultation, wording: Wording, most: int = SHOWN_CAUSES) -> list[dict[str, Any]]:
    """Return the likely causes, best first, each with its share, number and word."""
    ranking = consultation.assessment.ranking
    rows: list[tuple[float, str, str | None]] = [
        (item.probability, showing.cause_title(item.cause, wording), item.cause)
        for place, item in enumerate(ranking.causes[:most])
        if place < ALWAYS_SHOWN or item.probability >= LEAST_SHOWN
    ]
    rows.append((ranking.none_of_these, wording.say("not-on-list"), None))
    if ranking.nothing_wrong > ranking.none_of_these:
        rows.append((ranking.nothing_wrong, wording.say("nothing-wrong"), None))
    return [share(wording, *row) for row in sorted(rows, key=lambda row: -row[0])]


def share(wording: Wording, probability: float, title: str, cause: str | None) -> dict[str, Any]:
    """Return one cause with its share in percent, number and word."""
    return {
        "title": title,
        "cause": cause,
        "percent": round(PERCENT * probability, 1),
        "number": wording.in_ten(probability),
        "word": wording.likely(probability),
    }


def fact_options(knowledge: Knowledge, wording: Wording, field: str) -> list[tuple[str, str]]:
    """Return the values a fact can have, with their titles; "not known" comes first."""
    clocks = [(name, wording.text(entry.title)) for name, entry in knowledge.clocks.items() if entry.kind == field]
    options = clocks or [(word, wording.say(f"answer-{word}")) for word in ("yes", "no")]
    if field == SOUNDS:
        options = [(word, wording.say(f"sounds-{word}")) for word in fact_values(knowledge, field)]
    return [("unknown", wording.say("not-known")), *options]


def facts_known(consultation: Consultation, wording: Wording) -> list[dict[str, Any]]:
    """Return clock and person as far as they can be changed on the page."""
    rows = []
    case = consultation.case
    for about, fields in (("clock", ("family", "drive", SOUNDS)), ("person", FACT_FIELDS["person"])):
        values: Any = case.clock if about == "clock" else case.person
        for field in fields:
            options = fact_options(consultation.knowledge, wording, field)
            value = case.sounds if field == SOUNDS else getattr(values, field)
            shown = dict(options).get(value, value)
            rows.append({"about": about, "field": field, "value": value, "shown": shown, "options": options})
    return rows


def answer_text(answer: Answer, wording: Wording) -> str:
    """Return an answer in words, with how it is known."""
    if answer.state == CANNOT_TELL:
        return wording.say("cannot-tell")
    if answer.state == LATER or answer.value is None:
        return wording.say("cannot-look-now")
    words = wording.value(answer.finding, answer.value)
    if wording.reader == "customer":
        return words
    known = wording.say(f"source-{answer.source}")
    think = f", {wording.say('think-so')}" if answer.certainty == "think-so" else ""
    return f"{words} ({known}{think})"


def answers_known(consultation: Consultation, wording: Wording) -> list[dict[str, Any]]:
    """Return the answers that count now, without those left for the visit."""
    assessment = consultation.assessment
    worth = worth_asking_again(assessment.base, assessment.pieces, assessment.ranking, consultation.parameters)
    doubts = {
        item.finding: wording.say(
            "not-sure-answer" if item in worth else "not-sure-idle", chance=wording.in_ten(item.wrong)
        )
        for item in doubtful_answers(assessment.ranking, consultation.parameters)
    }
    # On a call everything is told; at the clock what was only told is marked until somebody has looked.
    only = contacts.told_only(consultation.case.events, consultation.answers, consultation.knowledge)
    told = {answer.finding for answer in only} if consultation.contact.where != "call" else set()
    return [
        {
            "finding": name,
            "name": wording.short(name),
            "text": answer_text(answer, wording),
            "doubt": doubts.get(name),
            "told": name in told,
        }
        for name, answer in consultation.answers.items()
        if answer.state != LATER
    ]


def left_for_later(consultation: Consultation, wording: Wording) -> list[tuple[str, str]]:
    """Return the findings on the list for the visit with their questions."""
    # What is watched at home is asked for when it comes back; it does not wait for the visit.
    closed = contacts.closed_until(consultation.case.events)
    watched = closed.homework if closed else contacts.open_homework(consultation.case.events, consultation.knowledge)
    later = (name for name, item in consultation.answers.items() if item.state == LATER)
    return [(name, wording.question(name)) for name in later if name not in watched]


def heard_now(consultation: Consultation, wording: Wording) -> list[dict[str, Any]]:
    """Return the recordings heard since the last remedy, with what can be taken back of each."""
    findings = consultation.knowledge.findings
    rows = []
    for event in history.since_last_tried(consultation.case.events, consultation.knowledge):
        if isinstance(event, ev.Heard) and event.beats:
            quantities = {item.quantity for item in history.measurements_of(event)}
            measured = [
                name for name, entry in findings.items() if entry.measured and entry.measured.quantity in quantities
            ]
            rows.append({"lines": beats_text(event.beats, wording), "findings": measured, "counts": not event.within})
    return rows


def tried_rows(consultation: Consultation, wording: Wording) -> list[tuple[str, str]]:
    """Return the remedies tried so far with what came of each."""
    remedies = consultation.knowledge.remedies
    return [
        (wording.text(remedies[event.remedy].title), wording.say(f"page-outcome-{event.outcome}"))
        for event in consultation.case.events
        if isinstance(event, ev.Tried) and event.remedy in remedies
    ]


def weighed_now(consultation: Consultation) -> list[ev.Weighed]:
    """Return the fits that count now."""
    rows: dict[str, ev.Weighed] = {}
    for event in history.since_last_tried(consultation.case.events, consultation.knowledge):
        if isinstance(event, ev.Weighed):
            rows[event.finding] = event
        elif isinstance(event, Answer | ev.TakenBack):
            rows.pop(event.finding, None)
    return list(rows.values())


def pictures(beats: Mapping[str, Any], wording: Wording, place: str = "beat") -> list[Markup]:
    """Return the pictures of a beat as they stand inside a page; a customer sees the swing split alone."""
    return [inline(picture.svg) for picture in pictures_of(beats, wording, place)]


def pictures_now(consultation: Consultation, wording: Wording) -> list[Markup]:
    """Return the pictures of what was heard just now; none where the last event is another."""
    last = consultation.case.events[-1]
    return pictures(last.beats, wording) if isinstance(last, ev.Heard) and last.beats else []


def news(consultation: Consultation, wording: Wording) -> list[str]:
    """Return what the last event has to tell before the next question."""
    last = consultation.case.events[-1]
    if isinstance(last, ev.Heard) and last.beats:
        return beats_text(last.beats, wording)
    if isinstance(last, ev.TakenBack):
        return [wording.say("taken-back", what=wording.short(last.finding))]
    if isinstance(last, ev.HandedOver):
        return [wording.say("page-values-kept" if last.values else "page-values-none", count=len(last.values))]
    if isinstance(last, ev.Said) and last.text:
        return [wording.say("page-just-said", text=last.text)]
    return []


def confirm_text(item: Suggestion, wording: Wording) -> str:
    """Return the answer that says that a meaning is right; a value that is a yes itself needs no other."""
    value = offered_value(item, wording)
    yes = wording.say("answer-yes")
    return value if value.lower().startswith(yes.lower()) else wording.say("page-confirm-yes", value=value)


def drawn_first(knowledge: Knowledge, findings: Sequence[str], place: int) -> bool:
    """Return whether no question before this one in a look shows the same drawing."""
    drawings = [knowledge.findings[name].drawing for name in findings]
    return drawings[place] not in drawings[:place]


def nothing_wrong_leads(consultation: Consultation) -> bool:
    """Return whether nothing wrong is likelier than any cause."""
    ranking = consultation.assessment.ranking
    others = [item.probability for item in ranking.causes[:1]]
    return ranking.nothing_wrong > max((*others, ranking.none_of_these))


def remedies_instead(plan: steps.Plan, without: str) -> list[str]:
    """Return other remedies of the plan, best first."""
    others = [step.remedy for step in plan.others if isinstance(step, steps.Do)]
    return [name for name in dict.fromkeys(others) if name != without]


def reasons(rows: Iterable[Any], wording: Wording) -> Iterator[dict[str, Any]]:
    """Yield what speaks for or against a cause, in words, with the length of its bar."""
    longest = 0.0
    items = list(rows)
    for item in items:
        longest = max(longest, abs(item.decibans))
    for item in items:
        said = showing.answer_text(item.finding, item.value, wording) if item.finding and item.value else ""
        yield {
            "said": said,
            "text": item.text,
            "decibans": f"{item.decibans:+.1f}",
            "for": item.decibans >= 0,
            "percent": round(PERCENT * abs(item.decibans) / longest) if longest else 0,
        }


def titles(knowledge: Knowledge, wording: Wording) -> Mapping[str, str]:
    """Return the causes with their titles, by title."""
    return dict(sorted(((name, wording.cause(name)) for name in knowledge.causes), key=lambda item: item[1].lower()))


def cautions_of_findings(consultation: Consultation, findings: Iterable[str]) -> list[CautionEntry]:
    """Return the cautions of a look, dangers first."""
    entries = [consultation.knowledge.findings[name] for name in findings]
    # Whose left and right is meant stands beside the question itself.
    return cautions_here(
        consultation,
        (name for entry in entries for name in entry.cautions if not (name == SIDES_CAUTION and entry.viewed_from)),
    )


def minutes_of(knowledge: Knowledge, findings: Iterable[str]) -> float:
    """Return how long a look keeps hands busy [min]."""
    return sum(knowledge.findings[name].minutes for name in findings)


def handover_values(consultation: Consultation) -> dict[str, str]:
    """Return what is known for the hand-over, as it stands in the fields; what was handed over before comes first."""
    known = consultation.handed_over or consultation.handover_defaults
    return {name: contact_words.value_text(value) for name, value in known.items()}


def handed_before(consultation: Consultation) -> dict[str, str]:
    """Return the values of the hand-over before this case, as they are shown."""
    before = next((event for event in consultation.case.events if isinstance(event, ev.HandedBefore)), None)
    return {name: contact_words.value_text(value) for name, value in before.values.items()} if before else {}


def alarm_then(consultation: Consultation, then: str, wording: Wording) -> str:
    """Return what follows an alarm where one is now."""
    return contact_words.alarm_then(then, consultation.contact.where, wording)


def date_again(consultation: Consultation, homework: Iterable[str]) -> str:
    """Return the day of the next contact, as long as the homework takes."""
    findings = consultation.knowledge.findings
    hours = max((findings[name].wait_hours for name in homework), default=0.0)
    return contacts.date_after(consultation.contact.when, hours)


def earlier_cases(consultation: Consultation, wording: Wording) -> list[tuple[str, str, str]]:
    """Return the other cases of this clock: id, day, and what it came to."""
    today = contacts.date_of("").isoformat()
    return [
        (row.id, row.changed[:10], contact_words.state_text(row, today, wording))
        for row in consultation.earlier
        if row.id != consultation.kept_as
    ]


def frame_of(consultation: Consultation) -> dict[str, Any]:
    """Return what the frame of each page of a case shows."""
    return {"consultation": consultation, "case": consultation.case, "case_name": consultation.kept_as}
