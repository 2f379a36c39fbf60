"""A small knowledge and situations for the tests of the planner."""

from dataclasses import replace
from functools import cache
from pathlib import Path

from diagnose.model.observations import Answer, ClockFacts, Person
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.gates import OWNERS, Situation
from diagnose.reasoning.next_step import next_step
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import compile_base

FOLDER = Path(__file__).parent / "small_knowledge"
FLOOR = ClockFacts(family="floor", drive="weight-cable", escapement="recoil")
ABLE = Person(reaches="yes", lifts="yes", helper="yes", tools="yes", children="no")
NOBODY = Person()


@cache
def small_knowledge():
    """Return the small knowledge, with what an owner can see marked as theirs to answer."""
    knowledge = read_knowledge(FOLDER, check=False)
    findings = {
        name: entry.model_copy(update={"told": entry.who not in OWNERS}) for name, entry in knowledge.findings.items()
    }
    return replace(knowledge, findings=findings)


@cache
def small_base():
    return compile_base(small_knowledge(), FLOOR)


def ranking_after(answers, knowledge=None, base=None):
    """Return the ranking after answers, given as a mapping of finding to value."""
    given = [Answer(finding, value) for finding, value in answers.items()]
    return rank(base or small_base(), [Piece(findings_from(given, (), knowledge or small_knowledge()))])


def situation_after(answers, where="call", person=ABLE, **more):
    return Situation(where=where, person=person, closed=frozenset(answers), values=dict(answers), clock=FLOOR, **more)


def plan_after(answers, where="call", person=ABLE, knowledge=None, **more):
    """Return the plan after answers in the small knowledge, or a changed copy of it."""
    knowledge = knowledge or small_knowledge()
    ranking = ranking_after(answers, knowledge)
    return next_step(small_base(), ranking, knowledge, situation_after(answers, where, person, **more))


def with_finding(name, **changes):
    """Return the small knowledge with one finding changed."""
    knowledge = small_knowledge()
    changed = knowledge.findings[name].model_copy(update=changes)
    return replace(knowledge, findings={**knowledge.findings, name: changed})


def with_remedy(name, **changes):
    """Return the small knowledge with one remedy changed."""
    knowledge = small_knowledge()
    changed = knowledge.remedies[name].model_copy(update=changes)
    return replace(knowledge, remedies={**knowledge.remedies, name: changed})


def steps_of(plan):
    """Return every step a plan speaks of."""
    return [plan.step, *plan.others, *plan.look, *plan.homework]


def asked_in(plan):
    """Return every finding a plan would have asked."""
    names = set()
    for step in steps_of(plan):
        names |= {step.finding} if hasattr(step, "finding") else set()
        names |= set(getattr(step, "findings", ()))
    return names


def done_in(plan):
    """Return every remedy a plan would have done."""
    return {step.remedy for step in steps_of(plan) if hasattr(step, "remedy")}
