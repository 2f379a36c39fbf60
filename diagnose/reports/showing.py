"""What may be shown to whom: steps, remedies and causes, the same on every screen and on paper."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

from diagnose.model.entries import RemedyEntry, Step
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.gates import OWNERS, PROVED, may_do

if TYPE_CHECKING:
    from diagnose.consultation import Consultation

# A customer is told of the first causes only, and of none that is hardly likely.
CUSTOMER_CAUSES, CUSTOMER_LEAST = 4, 0.05
FEW_MINUTES = 1.5


def may_show(entry: RemedyEntry, step: Step, wording: Wording) -> bool:
    """Return whether a reader may be shown a step.

    A customer sees only what is written for a customer and what an owner may do; nothing risky from an
    entry that nobody has reviewed.
    """
    if wording.reader == "staff":
        return True
    risky = step.under_load or step.cannot_be_undone
    mine = (step.who or entry.who) in OWNERS
    return mine and step.do.customer is not None and (entry.status in PROVED or not risky)


def best_remedy(consultation: Consultation) -> str | None:
    """Return the remedy to walk now: what the plan does, or else what it would do for the first place."""
    plan = consultation.plan
    if isinstance(plan.step, steps.Do):
        return plan.step.remedy
    causes = consultation.assessment.ranking.causes
    if not causes:
        return None
    remedies = consultation.knowledge.causes[causes[0].cause].remedies
    planned = (step.remedy for step in plan.others if isinstance(step, steps.Do) and step.remedy in remedies)
    return next(planned, remedies[0])


def owner_may_do(consultation: Consultation, remedy: str) -> bool:
    """Return whether the one at the clock may do a remedy alone or led by phone, as far as is known."""
    on_a_call = dataclasses.replace(consultation.situation, where="call")
    return may_do(consultation.knowledge.remedies[remedy], on_a_call)


def advised(consultation: Consultation, remedy: str) -> bool:
    """Return whether the time for a remedy has come: it is the next step, or is being walked."""
    step, walk = consultation.plan.step, consultation.walk
    now = isinstance(step, steps.Do) and step.remedy == remedy
    return now or (walk is not None and walk.remedy == remedy)


def causes_for(result: dict[str, Any], wording: Wording) -> list[dict[str, Any]]:
    """Return the causes of a result that this reader is shown, best first."""
    causes: list[dict[str, Any]] = result["causes"]
    if wording.reader == "staff":
        return causes
    likely = [cause for cause in causes if cause["probability"] >= CUSTOMER_LEAST]
    return (likely or causes[:1])[:CUSTOMER_CAUSES]


def chance_text(probability: float, wording: Wording) -> str:
    """Return number and word of a probability for staff, the word for a customer."""
    return wording.say("report-chance", number=wording.in_ten(probability), word=wording.likely(probability))


def answer_text(finding: str, value: str, wording: Wording) -> str:
    """Return a finding with one of its values, such as "Beat: limping"."""
    said = wording.value(finding, value)
    return wording.say("report-name-value", name=wording.short(finding), value=said)


def reason_text(reason: dict[str, Any], wording: Wording) -> str | None:
    """Return one answer of an explanation; None where there is nothing this reader can follow."""
    if reason["finding"] is None:
        return reason["text"] if wording.reader == "staff" else None
    if reason["value"] is None:
        name, known = wording.short(reason["finding"]), f"source-{reason['known']}"
        said = known in wording.knowledge.screen
        return wording.say("report-name-value", name=name, value=wording.say(known)) if said else name
    return answer_text(reason["finding"], reason["value"], wording)


def minutes_text(minutes: float, wording: Wording) -> str:
    """Return a time in words."""
    if minutes < FEW_MINUTES:
        return wording.say("minute")
    return wording.say("minutes", minutes=f"{minutes:.0f}")


def viewpoint_text(viewed_from: str | None, wording: Wording) -> str | None:
    """Return whose left and right is meant."""
    if viewed_from is None:
        return None
    return wording.say("facing-dial" if viewed_from == "dial" else f"viewed-{viewed_from}")


def clock_titles(consultation: Consultation, wording: Wording) -> list[str]:
    """Return what is known of which clock it is."""
    clock, known = consultation.case.clock, consultation.knowledge.clocks
    ids = (clock.family, clock.drive, clock.escapement, clock.strike, clock.chime)
    titles = [wording.text(known[name].title) for name in ids if name in known]
    if clock.beats_per_hour is not None:
        titles.append(wording.say("beats-per-hour", bph=f"{clock.beats_per_hour:g}"))
    return titles


def out_of_scope(consultation: Consultation, wording: Wording) -> str | None:
    """Return why this clock is of a kind the knowledge is not made for, or None."""
    family = consultation.knowledge.clocks.get(consultation.case.clock.family)
    if family is not None and not family.in_scope and family.why_not is not None:
        return wording.text(family.why_not)
    return consultation.assessment.conclusions.out_of_scope


def cause_title(cause: str, wording: Wording) -> str:
    """Return the title of a cause; where the clock behaves as it is meant to, with the word that says so."""
    title = wording.cause(cause)
    if not wording.knowledge.causes[cause].no_fault:
        return title
    return wording.say("report-name-value", name=title, value=wording.say("no-fault"))


def part_title(knowledge: Knowledge, subsystem: str, wording: Wording) -> str:
    """Return the title of a part of the clock."""
    return wording.text(knowledge.subsystems[subsystem].title)


def offered_value(item: Suggestion, wording: Wording) -> str:
    """Return the value that is offered from words said, with its chance where others are possible as well."""
    value = wording.value(item.finding, item.value)
    chance = dict(item.chances).get(item.value)
    return value if chance is None else f"{value} ({wording.in_ten(chance)})"
