"""Decides what stands before the person: danger first, then the open ends, then the next step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose import contacts, history, moments
from diagnose.cases import events as ev
from diagnose.cases.facts import SOUNDS
from diagnose.model.entries import Words
from diagnose.model.observations import Answer
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.explanation import why_this_question
from diagnose.reasoning.facts_said import lists_facts
from diagnose.reasoning.gates import may_find_out

if TYPE_CHECKING:
    from diagnose.consultation import Consultation

# What is asked about clock and person before anything else; each may be left unknown.
CLOCK_FIELDS = ("family", "drive", SOUNDS)
# From this probability of the first place on, the plan knows better than the first look of the door.
CLEAR_ALREADY = 0.6
# So much of what was told is gone through at once; the rest stays shown as told.
MOST_TOLD = 9
PERSON_FIELDS = ("reaches", "lifts", "helper", "tools", "children")


def moment_of(consultation: Consultation) -> moments.Moment:
    """Return what stands before the person now."""
    finders = (
        _danger, _ended, _homework, _two_speeds, _complaint, _facts, _told, _walking, _proving, _words, _door, _planned,
    )  # fmt: skip
    for finder in finders:
        moment = finder(consultation)
        if moment is not None:
            return moment
    return moments.ComplaintMoment()


def _danger(consultation: Consultation) -> moments.Moment | None:
    alarms = consultation.alarms
    return moments.AlarmMoment(alarms[0]) if alarms else None


def _ended(consultation: Consultation) -> moments.Moment | None:
    events = consultation.case.events
    ends = [event for event in events if isinstance(event, ev.Concluded)]
    if ends:
        return moments.ClosedMoment(ends[-1].outcome)
    closed = contacts.closed_until(events)
    if closed is not None:
        return moments.AwayMoment(closed.again, closed.homework)
    family = consultation.knowledge.clocks.get(consultation.case.clock.family)
    if family is not None and not family.in_scope and family.why_not is not None:
        return moments.ScopeMoment(family.why_not.customer or family.why_not.staff)
    if not any(isinstance(event, Answer | ev.Weighed | ev.Heard | ev.Measured) for event in events):
        return None
    reason = consultation.assessment.conclusions.out_of_scope
    return moments.ScopeMoment(reason) if reason else None


def _homework(consultation: Consultation) -> moments.Moment | None:
    """Ask first what came of the homework."""
    findings = contacts.open_homework(consultation.case.events, consultation.knowledge)
    return moments.HomeworkMoment(findings) if findings else None


def _two_speeds(consultation: Consultation) -> moments.Moment | None:
    speeds = contacts.two_speeds(consultation.case.events)
    return moments.SameClockMoment(speeds) if speeds is not None else None


def _told(consultation: Consultation) -> moments.Moment | None:
    """At the clock, go once through what was only told, unless a remedy is being walked."""
    if consultation.contact.where == "call" or consultation.walk is not None:
        return None
    if contacts.told_checked(consultation.case.events):
        return None
    rows = consultation.told_only
    return moments.ToldMoment(rows[:MOST_TOLD]) if rows else None


def _complaint(consultation: Consultation) -> moments.Moment | None:
    """Let somebody speak first: the complaint comes before any question."""
    door = consultation.knowledge.doors[consultation.case.door]
    events = consultation.case.events
    nothing_yet = not any(isinstance(event, ev.Said | Answer | ev.Heard | ev.Weighed) for event in events)
    return moments.ComplaintMoment() if door.first == "complaint" and nothing_yet else None


def _facts(consultation: Consultation) -> moments.Moment | None:
    """Ask which clock, and on a call who is at it, once; an "unknown" that was given is an answer."""
    given = {(event.about, event.field) for event in consultation.case.events if isinstance(event, ev.FactSet)}
    door = consultation.knowledge.doors[consultation.case.door]
    if door.first == "alarm" and not any(isinstance(event, ev.AlarmSeen) for event in consultation.case.events):
        return moments.PickAlarmMoment(tuple(consultation.knowledge.alarms))
    missing = tuple(field for field in CLOCK_FIELDS if ("clock", field) not in given)
    if set(missing) - {SOUNDS} and not _listed(consultation):
        return moments.FactsMoment("clock", missing)
    if consultation.contact.where != "call":
        return None
    missing = tuple(field for field in PERSON_FIELDS if ("person", field) not in given)
    return moments.FactsMoment("person", missing) if missing else None


def _listed(consultation: Consultation) -> bool:
    """Tell whether somebody at the clock listed facts: who does wants them confirmed, not questions of the clock."""
    if consultation.contact.where == "call":
        return False
    texts = [event.text for event in consultation.case.events if isinstance(event, ev.Said)]
    return any(lists_facts(text, consultation.knowledge) for text in texts)


def _walking(consultation: Consultation) -> moments.Moment | None:
    walk = consultation.walk
    return moments.StepMoment(walk.remedy, walk.step) if walk else None


def _proving(consultation: Consultation) -> moments.Moment | None:
    """Ask for what proves the cure after a remedy, and see whether it does."""
    tried = history.last_tried(consultation.case.events, consultation.knowledge)
    if tried is None:
        return None
    proofs = consultation.knowledge.remedies[tried.remedy].proof
    now = {finding.finding: finding.said for finding in consultation.assessment.findings}
    fresh = _told_since(consultation)
    open_ = tuple(proof.finding for proof in proofs if proof.finding not in fresh)
    if open_:
        return moments.ProofMoment(tried.remedy, open_)
    if all(now.get(proof.finding) == proof.value for proof in proofs):
        return moments.CuredMoment(tried.remedy)
    return None


def _told_since(consultation: Consultation) -> set[str]:
    """Return the findings that were answered or measured since the last remedy."""
    events = contacts.counted(history.since_last_tried(consultation.case.events, consultation.knowledge))
    told = {event.finding for event in events if isinstance(event, Answer)}
    quantities = {
        measurement.quantity
        for event in events
        if isinstance(event, ev.Heard)
        for measurement in history.measurements_of(event)
    }
    quantities |= {event.measurement.quantity for event in events if isinstance(event, ev.Measured)}
    for name, entry in consultation.knowledge.findings.items():
        if entry.measured is not None and entry.measured.quantity in quantities:
            told.add(name)
    return told


def _words(consultation: Consultation) -> moments.Moment | None:
    suggestions = consultation.suggestions
    return moments.ConfirmMoment(suggestions) if suggestions else None


def _door(consultation: Consultation) -> moments.Moment | None:
    """Show the first look of the door, as far as it can be done here, until it was answered or left."""
    door = consultation.knowledge.doors[consultation.case.door]
    events = consultation.case.events
    if door.first == "fit" and not any(isinstance(event, ev.Weighed | Answer) for event in events):
        return moments.FitMoment()
    begun = {event.finding for event in events if isinstance(event, Answer)} & set(door.looks)
    if begun or any(isinstance(event, ev.Weighed | ev.Tried) for event in events):
        return None
    if consultation.assessment.ranking.causes[0].probability >= CLEAR_ALREADY:
        return None
    base, situation = consultation.assessment.base, consultation.situation
    entries = consultation.knowledge.findings
    looks = tuple(name for name in door.looks if name in base.tables and may_find_out(entries[name], situation))
    return _look(consultation, looks, None, first=True) if looks else None


def _look(
    consultation: Consultation, findings: tuple[str, ...], plan: steps.Plan | None, first: bool = False
) -> moments.LookMoment:
    place = consultation.knowledge.findings[findings[0]].place
    why = tuple(_why(consultation, name) for name in findings)
    return moments.LookMoment(place, findings, why, plan, first)


def _why(consultation: Consultation, finding: str) -> Words:
    """Return what a question is good for, for staff and for a customer."""
    base, ranking = consultation.assessment.base, consultation.assessment.ranking
    staff, customer = (
        why_this_question(finding, base, ranking, consultation.knowledge, customer=for_customer)
        for for_customer in (False, True)
    )
    return Words(staff=staff, customer=customer)


def _planned(consultation: Consultation) -> moments.Moment | None:
    plan = consultation.plan
    step = plan.step
    if isinstance(step, steps.Ask):
        findings = tuple(ask.finding for ask in plan.look) or (step.finding,)
        return _look(consultation, findings, plan)
    if isinstance(step, steps.Do):
        return moments.AdviceMoment(step.remedy, plan)
    if isinstance(step, steps.Wait):
        return moments.WaitMoment(step.findings, step.hours, plan)
    if isinstance(step, steps.Refer):
        return moments.ReferMoment(step.to, plan)
    if isinstance(step, steps.Enough):
        return moments.EnoughMoment(plan)
    return None


def look_instead(consultation: Consultation) -> moments.LookMoment | None:
    """Return the best look where the plan is to do something, for somebody who would rather ask on."""
    plan = consultation.plan
    ask = next((step for step in (plan.step, *plan.others) if isinstance(step, steps.Ask)), None)
    return _look(consultation, (ask.finding,), plan) if ask is not None else None
