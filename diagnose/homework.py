"""What the owner watches until the next contact: waits that run side by side, and what could not be told."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from diagnose import contacts, history, moments
from diagnose.model.observations import Answer
from diagnose.reasoning.gates import OWNERS, may_find_out

if TYPE_CHECKING:
    from diagnose.consultation import Consultation

# A phrase of this name says what the owner does about a finding: those that have one can be watched at home.
PHRASE = "homework-"


def homework_now(consultation: Consultation) -> tuple[str, ...]:
    """Return what the owner can watch until the next contact, at most three, what tells most first.

    What proves a remedy that was done comes first, then what the plan waits for, then what was put off or
    could not be told in this contact and can be watched.
    """
    found = dict.fromkeys(name for name in _wanted(consultation) if _at_home(name, consultation))
    return tuple(found)[: contacts.MOST_HOMEWORK]


def _wanted(consultation: Consultation) -> Iterator[str]:
    moment = consultation.moment
    if isinstance(moment, moments.AwayMoment):
        yield from moment.homework
        return
    if isinstance(moment, moments.ProofMoment):
        yield from moment.findings
    tried = history.last_tried(consultation.case.events, consultation.knowledge)
    if isinstance(moment, moments.CuredMoment) and tried is not None:
        yield from (proof.finding for proof in consultation.knowledge.remedies[tried.remedy].proof)
    if isinstance(moment, moments.WaitMoment):
        yield from moment.findings
    yield from (ask.finding for ask in consultation.plan.homework)
    yield from _left_open(consultation)


def _left_open(consultation: Consultation) -> Iterator[str]:
    """Yield what was put off or could not be told in this contact and that can be watched, in the order given."""
    for name, answer in consultation.answers.items():
        left = isinstance(answer, Answer) and answer.state != "said" and answer.contact == consultation.contact.id
        if left and f"{PHRASE}{name}" in consultation.knowledge.screen:
            yield name


def _at_home(name: str, consultation: Consultation) -> bool:
    entry = consultation.knowledge.findings[name]
    on_a_call = consultation.contact.where == "call"
    return entry.who in OWNERS and (not on_a_call or may_find_out(entry, consultation.situation))
