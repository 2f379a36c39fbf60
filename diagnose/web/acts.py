"""What a form does in a consultation: one function for each act, by the name it has in the address."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Literal

from diagnose import contacts, moments
from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.handing_over import value_of
from diagnose.model.observations import Source
from diagnose.model.wording import Wording
from diagnose.next_moment import look_instead
from diagnose.reports.contact_words import date_typed
from diagnose.web import noting, views
from diagnose.web.desk import chosen, number_above_zero
from diagnose.web.fitting import MEASURED_WITH, SIZES, fit_from
from diagnose.web.forms import Given

MOST_LETTERS = 5000
WHERE: tuple[Literal["call", "visit", "workshop"], ...] = ("call", "visit", "workshop")
SIDES: tuple[Literal["left", "right"], ...] = ("left", "right")
NOTHING_FOUND = "nothing-found"
EXAMPLE_BPH, EXAMPLE_MM = "5400", "0.5"

Act = Callable[[Consultation, Given, Wording], None]


def now() -> str:
    """Return the time of day as a contact keeps it."""
    return datetime.now().isoformat(timespec="minutes")


def short_text(given: Given, name: str, wording: Wording) -> str:
    """Return a text of a form, or raise where it is too long to be kept."""
    text = given.text(name)
    if len(text) > MOST_LETTERS:
        raise UsageError(wording.say("page-too-long", length=len(text), most=MOST_LETTERS))
    return text


def side_of(given: Given, name: str) -> Literal["left", "right"] | None:
    """Return a side, or None where it is not known."""
    text = given.text(name)
    return next((side for side in SIDES if side == text), None)


def say(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take in a complaint or remark; only at the very beginning it may be empty."""
    text = short_text(given, "text", wording)
    if not text and not isinstance(consultation.moment, moments.ComplaintMoment):
        raise UsageError(wording.say("page-nothing-written"))
    consultation.say(text)


def facts(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note what the form says about clock and person."""
    known = {(row["about"], row["field"]): row for row in views.facts_known(consultation, wording)}
    for name in given.texts("fields"):
        about, _, field = name.partition(".")
        row = known.get((about, field))
        if row is None:
            raise UsageError(wording.say("page-choose-other", text=name[:40]))
        value = chosen(given, name, dict(row["options"]), wording) if given.text(name) else "unknown"
        consultation.set_fact("clock" if about == "clock" else "person", field, value)


def look(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Answer what was marked of a look; the rest stays open, or is left for later where the form says so."""
    findings = [name for name in given.texts("findings") if name in consultation.knowledge.findings]
    if given.text("leave"):
        for finding in findings:
            consultation.later(finding)
        return
    marked = {name: given.text(f"value.{name}") for name in findings if given.text(f"value.{name}")}
    if not marked:
        raise UsageError(wording.say("page-nothing-marked"))
    for finding, value in marked.items():
        if (
            value not in {views.CANNOT_TELL, views.LATER}
            and value not in consultation.knowledge.findings[finding].values
        ):
            raise UsageError(wording.say("page-choose-other", text=value[:40]))
    source = source_of(given)
    for finding, value in marked.items():
        _answer(consultation, finding, value, bool(given.text(f"think.{finding}")), source)


def source_of(given: Given) -> Source | None:
    """Return how the answers of a form are known; None where it leaves that to where one is."""
    return next((source for source in views.SOURCES if source == given.text("source")), None)


def _answer(consultation: Consultation, finding: str, value: str, thinks: bool, source: Source | None = None) -> None:
    if value == views.CANNOT_TELL:
        consultation.cannot_tell(finding)
    elif value == views.LATER:
        consultation.later(finding)
    else:
        consultation.answer(finding, value, "think-so" if thinks else "sure", source)


def confirm(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take what the words were said to mean; what is not marked does not count."""
    shown = set(given.texts("findings"))
    for item in consultation.suggestions:
        meant = given.text(f"meant.{item.finding}") or ("yes" if given.text("all") else "")
        if item.finding not in shown:
            continue
        if meant in {"yes", "think"}:
            consultation.confirm(item, "sure" if meant == "yes" else "think-so")
        else:
            consultation.dismiss(item.finding)


def fit(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Say whether a block fits, or leave it."""
    if given.text("leave"):
        for name in consultation.knowledge.doors[consultation.case.door].looks[:1]:
            consultation.later(name)
        return
    consultation.take_fit(fit_from(fit_fields(given), wording))


def fit_fields(given: Given) -> dict[str, str]:
    """Return the sizes of a form and what they were taken with, without those left empty."""
    return {name: given.text(name) for name in (*SIZES, *MEASURED_WITH) if given.text(name)}


def walk(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Begin to walk a remedy, unless one is being walked (a second click)."""
    if consultation.walk is None:
        consultation.begin_walk(given.text("remedy"))


def step(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Say how the step shown went; a page that shows another step than the one at work changes nothing."""
    at = consultation.walk
    if at is None or (given.text("remedy"), given.text("step")) != (at.remedy, str(at.step)):
        return
    how = given.text("how")
    if how == "right":
        consultation.step_right()
    elif how == "stop":
        consultation.stop_walk()
    elif how == "back":
        consultation.back()
    elif how.startswith("not-so-") and how.removeprefix("not-so-").isdigit():
        consultation.step_not_so(int(how.removeprefix("not-so-")))
    else:
        raise UsageError(wording.say("page-choose-other", text=how[:40]))


def moved(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note an act of setting the beat that was not the one advised."""
    from diagnose.coaching.in_walk import task_in_walk

    task, side = task_in_walk(consultation), side_of(given, "side")
    amount_mm = number_above_zero(given, "amount", EXAMPLE_MM, wording)
    if task is None or side is None or amount_mm is None:
        raise UsageError(wording.say("page-act-both"))
    consultation.acted(ev.Acted(task.adjuster, side, amount_mm, consultation.contact.id))


def tried(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note a remedy that was tried, or that cannot be done, without being walked."""
    outcome = chosen(given, "outcome", views.OUTCOMES, wording)
    consultation.tried(given.text("remedy"), outcome)  # type: ignore[arg-type]


def back(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take the last answer back, or the last step."""
    if consultation.back() is None:
        raise UsageError(wording.say("nothing-to-take-back"))


def take_back(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Let answers no longer count."""
    for finding in given.texts("finding"):
        consultation.take_back(finding)


def alarm(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note what alarming thing happened, or that it was none of those listed."""
    name = given.text("alarm")
    if name == "none":
        for first in tuple(consultation.knowledge.alarms)[:1]:
            consultation.clear_alarm(first)
        return
    consultation.raise_alarm(name)


def clear(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note that a person has dealt with the alarms that were shown."""
    for name in given.texts("alarm"):
        if name in consultation.alarms:
            consultation.clear_alarm(name)


def contact(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Go on in another call, on a visit or in the workshop."""
    where = chosen(given, "where", WHERE, wording)
    count = sum(isinstance(event, ev.Contact) for event in consultation.case.events)
    staff = consultation.contact.staff
    consultation.new_contact(ev.Contact(f"c{count + 1}", where, now(), staff))  # type: ignore[arg-type]


def hand_over(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note the hand-over values and close the case as cured."""
    cause = _cause(consultation, given, wording)
    hand_over_values(consultation, given, wording)
    consultation.conclude("cured", cause, short_text(given, "note", wording))


def hand_over_values(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Note the hand-over values; the case stays as open as it is, unless the form closes it with nothing found."""
    texts = {name: short_text(given, name, wording) for name in views.HANDOVER}
    consultation.hand_over({name: value_of(name, text) for name, text in texts.items()})
    if given.text("nothing_found"):
        consultation.conclude(NOTHING_FOUND)


def until(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Close the contact until a date, with what is marked as homework."""
    marked = [name for name in given.texts("homework") if name in consultation.knowledge.findings]
    day = contacts.date_of(consultation.contact.when)
    again = date_typed(given.text("again"), day, wording) if given.text("again") else ""
    consultation.close_contact(again, marked if given.text("chosen") else None)


def told(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Let what was told count as seen, or put it right; the rest stays as told."""
    rows = {row.finding: row.value for row in consultation.told_only}
    for finding in given.texts("findings"):
        value = given.text(f"value.{finding}")
        if finding in rows and value:
            if value not in consultation.knowledge.findings[finding].values:
                raise UsageError(wording.say("page-choose-other", text=value[:40]))
            consultation.answer(finding, value, "sure", "seen")
    consultation.told_was_checked()


def same_clock(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Say whether the last recording is of this clock."""
    consultation.same_clock(chosen(given, "same", ("yes", "no"), wording) == "yes")


def again(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Take values of the hand-over that were measured again."""
    for name in sorted(views.NUMBERS):
        value = value_of(name, short_text(given, name, wording))
        if isinstance(value, float):
            consultation.measured_again(name, value)
        elif value:
            raise UsageError(wording.say("page-part-of-number", text=value[:40], example=EXAMPLE_MM))


def close(consultation: Consultation, given: Given, wording: Wording) -> None:
    """Enter what it came to."""
    outcome = chosen(given, "outcome", views.ENDS, wording)
    consultation.conclude(outcome, _cause(consultation, given, wording), short_text(given, "note", wording))


def _cause(consultation: Consultation, given: Given, wording: Wording) -> str | None:
    cause = given.text("cause")
    if cause and cause not in consultation.knowledge.causes:
        raise UsageError(wording.say("page-choose-other", text=cause[:40]))
    return cause or None


def ask_on(consultation: Consultation) -> moments.Moment:
    """Return the moment of somebody who would rather ask on than do what is advised."""
    moment = consultation.moment
    if isinstance(moment, views.MAY_ASK_ON):
        return look_instead(consultation) or moment
    return moment


ACTS: dict[str, Act] = {
    "say": say,
    "facts": facts,
    "look": look,
    "confirm": confirm,
    "fit": fit,
    "walk": walk,
    "step": step,
    "moved": moved,
    "tried": tried,
    "back": back,
    "take-back": take_back,
    "alarm": alarm,
    "clear": clear,
    "contact": contact,
    "hand-over": hand_over,
    "hand-over-values": hand_over_values,
    "until": until,
    "told": told,
    "same-clock": same_clock,
    "again": again,
    "close": close,
    **noting.ACTS,
}
