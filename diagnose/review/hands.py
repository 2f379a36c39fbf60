"""Checks on who does what: questions nobody can answer, dangers nobody names, grave steps for a customer."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.model.entries import OPENED, FindingEntry, RemedyEntry, Step, Where
from diagnose.model.observations import Person
from diagnose.model.reading import Knowledge
from diagnose.reasoning.gates import OWNERS, PROVED, Situation, may_do, may_find_out

Found = Iterator[tuple[str, str, str]]
# The most that can be hoped for at each place.
ABLE = Person(reaches="yes", lifts="yes", helper="yes", tools="yes", children="no")
PLACES: tuple[Where, ...] = ("call", "visit", "workshop")
BEST = {where: Situation(where=where, person=ABLE) for where in PLACES}
# On a visit the movement stays in the clock.
VISIT_OPENS = OPENED.index("dial")


def nobody_can_answer(knowledge: Knowledge) -> Found:
    """A question that no place and no person can answer, or that says two things of who may."""
    for key, entry in knowledge.findings.items():
        if not any(may_find_out(entry, BEST[where]) for where in PLACES):
            yield "findings", key, "nobody is ever asked it: no place and no person may look"
        if entry.told and entry.who in OWNERS:
            yield "findings", key, "is for an owner, yet `told` says that an owner is only told about it"
        for gate, allowed in entry.needs.items():
            if not any(may_find_out(knowledge.findings[gate], BEST[where]) for where in PLACES):
                yield "findings", key, f"waits for '{gate}' to be {' or '.join(allowed)}, which nobody is ever asked"


def nothing_to_look_at(knowledge: Knowledge) -> Found:
    """A cause of which nothing can be told or seen before the movement is out."""
    for key, cause in knowledge.causes.items():
        if not any(_on_a_visit(knowledge.findings[link.finding]) for link in cause.shows):
            yield "causes", key, "nothing of it can be looked at on a visit"


def _on_a_visit(entry: FindingEntry) -> bool:
    return may_find_out(entry, BEST["visit"]) and OPENED.index(entry.opened) <= VISIT_OPENS


def proof_out_of_reach(knowledge: Knowledge) -> Found:
    """A remedy that may be done on a call, and whose proof nobody on a call can look at."""
    for key, remedy in knowledge.remedies.items():
        if not may_do(remedy, BEST["call"]):
            continue
        for proof in remedy.proof:
            if not may_find_out(knowledge.findings[proof.finding], BEST["call"]):
                yield "remedies", key, f"may be done on a call, yet its proof '{proof.finding}' cannot be seen there"


def load_without_caution(knowledge: Knowledge) -> Found:
    """A remedy with a part under load that names no danger."""
    for key, remedy in knowledge.remedies.items():
        levels = {knowledge.cautions[name].level for name in remedy.cautions}
        if any(step.under_load for step in remedy.steps) and "danger" not in levels:
            yield "remedies", key, "has a part under load and names no caution of danger"


def draft_for_a_customer(knowledge: Knowledge) -> Found:
    """A step under load, or that cannot be undone, offered to a customer from an entry read only once."""
    for key, remedy in knowledge.remedies.items():
        for number, step in enumerate(remedy.steps, 1):
            if _for_an_owner(step, remedy) and _grave(step) and remedy.status not in PROVED:
                yield "remedies", key, f"step {number} is grave, for an owner, and the entry is a draft"


def _for_an_owner(step: Step, remedy: RemedyEntry) -> bool:
    return (step.who or remedy.who) in OWNERS


def _grave(step: Step) -> bool:
    return step.under_load or step.cannot_be_undone


def caution_not_said(knowledge: Knowledge) -> Found:
    """A danger that a cause names and the remedy that works on it does not."""
    for key, cause in knowledge.causes.items():
        dangers = {name for name in cause.cautions if knowledge.cautions[name].level == "danger"}
        for name in cause.remedies[:1]:
            missing = dangers - set(knowledge.remedies[name].cautions)
            if missing:
                yield "causes", key, f"names {', '.join(sorted(missing))}, its remedy '{name}' does not"


def nothing_to_reckon(knowledge: Knowledge) -> Found:
    """A step that names a number nobody can ask for."""
    from diagnose.reckoning.questions import QUESTIONS

    for key, entry in knowledge.remedies.items():
        for number, step in enumerate(entry.steps, 1):
            for name in step.reckon:
                if name not in QUESTIONS:
                    what = f"step {number} names no question of reckoning: '{name}'. There are {', '.join(QUESTIONS)}"
                    yield "remedies", key, what
