"""The planner's way through an exercise: the worked solution, on the same clock with the same answers."""

from __future__ import annotations

from collections import deque
from dataclasses import replace

from diagnose.history import SYMPTOM_PLACES
from diagnose.model.observations import Answer
from diagnose.reasoning import next_step as steps
from diagnose.training.exercises import (
    ONWARD,
    Exercise,
    ask,
    consultation_of,
    give_up,
    go_on,
    name,
    proofs_of,
    try_remedy,
)

MOST_ACTS = 30
"""After so many acts the planner names what is likeliest: a longer way teaches nothing."""


def start_of(exercise: Exercise) -> Exercise:
    """Return the exercise as it was before the first act."""
    first = exercise.acts[0].before if exercise.acts else len(exercise.case.events)
    case = replace(exercise.case, events=exercise.case.events[:first])
    return Exercise(replace(exercise.clock, tried=()), case)


def planners_way(exercise: Exercise) -> Exercise:
    """Return the same exercise done by the planner from its start, on the same clock with the same answers."""
    start = start_of(exercise)
    for begun, done in _done:
        if begun == start:
            return done
    way = _way(start)
    _done.append((start, way))
    return way


# The last ways, so that the same one is not gone twice.
_done: deque[tuple[Exercise, Exercise]] = deque(maxlen=64)


def _way(done: Exercise) -> Exercise:
    found: list[str] = []
    last: list[str] = []
    while len(done.acts) < MOST_ACTS:
        consultation = consultation_of(done)
        step = consultation.plan.step
        if isinstance(step, steps.Do):
            before, last = dict(consultation.answers), [step.causes[0]]
            done = try_remedy(done, step.remedy)
            proved, put_right = _proof(done, step.remedy, before)
            if proved or put_right:
                found.append(step.causes[0])
            if proved:
                return name(done, found)
        elif isinstance(step, steps.Ask):
            done = ask(done, step.finding)
        elif isinstance(step, steps.Wait):
            for finding in step.findings:
                done = ask(done, finding)
        elif isinstance(step, steps.Refer) and step.to in ONWARD[done.where]:
            done = go_on(done, "visit" if step.to == "visit" else "workshop")
        elif isinstance(step, steps.Enough):
            # Nothing is wrong any more: what the last remedy was for was the cause.
            return name(done, found or last) if found or last else give_up(done)
        else:
            break
    likely = consultation_of(done).assessment.ranking.causes[0].cause
    return name(done, found or [likely])


def _proof(exercise: Exercise, remedy: str, before: dict[str, Answer]) -> tuple[bool, bool]:
    """Return whether all that can be told proves a remedy, and whether a look that was wrong is right now.

    What was known to be right before proves nothing.
    """
    findings, wanted = exercise.knowledge.findings, proofs_of(exercise, remedy)
    now = consultation_of(exercise).answers
    told = {name: now[name].value for name in wanted if name in now and now[name].value is not None}
    right = {name for name, value in told.items() if value == wanted[name]}
    was_right = {name for name in right if name in before and before[name].value == wanted[name]}
    looks = {name for name in right if name in before and findings[name].place not in SYMPTOM_PLACES}
    put_right = any(before[name].value not in {None, wanted[name]} for name in looks)
    return len(right) == len(told) and bool(right - was_right), put_right
