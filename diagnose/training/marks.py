"""The marks of an exercise: right or not, at what price, what told little, what was left out, what was dangerous."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from diagnose.model.entries import Link, RemedyEntry
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge
from diagnose.reasoning.assessment import Assessment
from diagnose.reasoning.explanation import explain, why_not, why_this_question
from diagnose.reasoning.next_step import LOOK_NATS, NEARLY_ALWAYS
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.reasons import Reason
from diagnose.reasoning.tables import Base
from diagnose.reasoning.weighing import gather
from diagnose.training.exercises import Act, Exercise, consultation_of
from diagnose.training.planners_way import planners_way

Verdict = Literal["right", "part", "extra", "alike", "wrong", "gave-up"]
Fault = Literal["not-here", "beat-before-hanging", "no-look"]

HANGING = frozenset({"suspension", "leader"})
"""Parts of the clock that are put right before the beat is set."""
HANGING_OPEN = 0.5
"""From this probability of a fault in the hanging the beat is not to be set yet."""
FOUNDED = 0.7
"""From this probability, by the answers gathered, a cause was found and not guessed."""
WORTH_SAYING_DB = 1.0
"""What tells two causes apart by less is not worth a sentence. [dB]"""
LEAST_CHANCE = 1e-6
MOST_LEFT_OUT = 3
MOST_REASONS = 3


@dataclass(frozen=True, slots=True)
class Wrongdoing:
    """A remedy that was tried too early, or by the wrong hands.

    Parameters
    ----------
    fault : str
        "not-here" (above who may do it there), "beat-before-hanging" or "no-look" (what cannot be undone
        was begun before its look).
    remedy : str
        Which.
    look : str, optional
        The finding that should have been looked at first.
    """

    fault: Fault
    remedy: str
    look: str | None = None


@dataclass(frozen=True, slots=True)
class SolutionStep:
    """One act of the planner, what came of it and why it was done.

    Parameters
    ----------
    kind : str
        As of the act.
    what : str
        Finding, remedy or place of work.
    answers : tuple of Answer
        What it brought.
    why : str
        In one sentence; empty where nothing is to be said.
    minutes : float
        What it took. [min]
    """

    kind: str
    what: str
    answers: tuple[Answer, ...]
    why: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Marks:
    """How somebody worked through an exercise.

    Parameters
    ----------
    verdict : str
        "right"; "part" of two causes; "extra", with a cause that is not there; "alike", a cause that is
        mistaken for the true one; "wrong"; "gave-up".
    named, hidden : tuple of str
        The causes named, and those that were there.
    chance : float
        How probable the first named cause was by the answers gathered [1].
    first : bool
        Whether that made it the most probable cause.
    proved : bool
        Whether a remedy cured it before it was named.
    minutes, planner_minutes : float
        What it took to find the cause, without the remedies that cured. [min]
    planner_named : tuple of str
        What the planner names on the same clock; empty where it finds nothing.
    planner_near : bool
        Whether that is at least mistaken for what was there.
    told_little : tuple of str
        Findings that could hardly tell anything when they were asked.
    left_out : tuple of str
        The first questions of the planner that were never asked, where too little was known.
    wrongdoings : tuple of Wrongdoing
        Dangerous or out of order.
    speaks_for, speaks_against : tuple of Reason
        The weightiest answers about the named cause (the hidden one where none was named).
    apart : tuple of Reason
        Where the wrong cause was named: the answers that fit the hidden one better.
    tell : str, optional
        How to tell the named cause from the hidden one, where it is mistaken for it.
    hints : int
        How often help was taken.
    best_sign : Link
        What shows the (first) hidden cause best.
    solution : tuple of SolutionStep
        The planner's way, whether it leads there or not.
    """

    verdict: Verdict
    named: tuple[str, ...]
    hidden: tuple[str, ...]
    chance: float
    first: bool
    proved: bool
    minutes: float
    planner_minutes: float
    planner_named: tuple[str, ...]
    planner_near: bool
    told_little: tuple[str, ...]
    left_out: tuple[str, ...]
    wrongdoings: tuple[Wrongdoing, ...]
    speaks_for: tuple[Reason, ...]
    speaks_against: tuple[Reason, ...]
    apart: tuple[Reason, ...]
    tell: str | None
    hints: int
    best_sign: Link
    solution: tuple[SolutionStep, ...]

    @property
    def founded(self) -> bool:
        """Whether the cause was found rather than guessed."""
        return self.proved or self.chance >= FOUNDED

    @property
    def planner_finds(self) -> bool:
        """Whether the planner names a cause that was there."""
        return bool(set(self.planner_named) & set(self.hidden))

    @property
    def without_reproach(self) -> bool:
        """Whether there is nothing to say about how it was done."""
        return not (self.told_little or self.left_out or self.wrongdoings)


def marks(exercise: Exercise) -> Marks:
    """Return the marks of an exercise that has ended.

    Parameters
    ----------
    exercise : Exercise
        Each act with the row as it was then.
    """
    planner = planners_way(exercise)
    hidden, named = exercise.clock.causes, exercise.named
    verdict = _verdict(named, hidden, exercise.knowledge)
    about = named[0] if named else hidden[0]
    known = consultation_of(exercise, _row_for(exercise, about)).assessment
    chance = next(item.probability for item in known.ranking.causes if item.cause == about)
    proved = bool(named) and named[0] in _cured(exercise)
    too_little = verdict != "right" or not (proved or chance >= FOUNDED)
    planned = [act.what for act in planner.acts if act.kind == "ask"]
    asked = _known(exercise)
    missed = [item for item in dict.fromkeys(planned) if item not in asked]
    reasons = _reasons(about, known, exercise.knowledge)
    return Marks(
        verdict=verdict,
        named=named,
        hidden=hidden,
        chance=chance,
        first=known.ranking.causes[0].cause == about,
        proved=proved,
        minutes=_finding_minutes(exercise),
        planner_minutes=_finding_minutes(planner),
        planner_named=planner.named,
        planner_near=_tell(planner.named, hidden, exercise.knowledge) is not None,
        told_little=_told_little(exercise, frozenset(planned)),
        left_out=tuple(missed)[:MOST_LEFT_OUT] if too_little else (),
        wrongdoings=tuple(item for act in exercise.acts for item in _wrongdoings(exercise, act)),
        speaks_for=tuple(item for item in reasons if item.decibans >= WORTH_SAYING_DB)[:MOST_REASONS],
        speaks_against=tuple(item for item in reasons if item.decibans <= -WORTH_SAYING_DB)[:MOST_REASONS],
        apart=_apart(hidden[0], about, known, exercise.knowledge) if verdict in {"wrong", "alike"} else (),
        tell=_tell(named, hidden, exercise.knowledge) if verdict == "alike" else None,
        hints=sum(act.kind == "hint" for act in exercise.acts),
        best_sign=best_sign(hidden[0], exercise),
        solution=solution(planner),
    )


def _verdict(named: tuple[str, ...], hidden: tuple[str, ...], knowledge: Knowledge) -> Verdict:
    right, there = set(named) & set(hidden), set(hidden)
    if not named:
        return "gave-up"
    if right == there:
        return "right" if len(named) == len(there) else "extra"
    if right:
        return "part"
    return "alike" if _tell(named, hidden, knowledge) is not None else "wrong"


def _tell(named: tuple[str, ...], hidden: tuple[str, ...], knowledge: Knowledge) -> str | None:
    """Return how to tell a named cause from a hidden one, if one is known to be mistaken for the other."""
    for cause in named:
        for other in hidden:
            for one, two in ((other, cause), (cause, other)):
                for item in knowledge.causes[one].mistaken_for:
                    if item.cause == two:
                        return item.tell
    return None


# ---- what was known, and when ------------------------------------------------------------------------------


def _row_for(exercise: Exercise, cause: str) -> int:
    """Return how many events speak about a cause: those before the first remedy that is for it."""
    for act in exercise.acts:
        if act.kind == "try" and cause in _meant(exercise, act.what):
            return act.before
    return len(exercise.case.events)


def _meant(exercise: Exercise, remedy: str) -> set[str]:
    base = exercise.clock.base
    return {base.causes[place] for place in base.remedies[remedy].causes}


def _cured(exercise: Exercise) -> set[str]:
    """Return the causes that remedies took away."""
    return set(exercise.clock.causes) - set(exercise.clock.causes_now)


def _known(exercise: Exercise) -> set[str]:
    """Return the findings that were asked, told or heard at any time."""
    answered = {event.finding for event in exercise.case.events if isinstance(event, Answer)}
    return answered | {act.what for act in exercise.acts if act.kind == "listen"}


def _finding_minutes(exercise: Exercise) -> float:
    """Return what it took until the cause was known: remedies that cured are not counted. [min]"""
    total, tried = 0.0, 0
    for act in exercise.acts:
        tried += act.kind == "try"
        total += 0.0 if act.kind == "try" and _did_cure(exercise, tried) else act.minutes
    return total


def _did_cure(exercise: Exercise, number: int) -> bool:
    """Return whether the remedy that was tried as the `number`-th cured anything."""
    return bool(replace(exercise.clock, tried=exercise.clock.tried[:number]).cured_by_last())


def _reasons(cause: str, known: Assessment, knowledge: Knowledge) -> tuple[Reason, ...]:
    (found,) = explain((cause,), known.base, known.pieces, known.ranking, knowledge, known.conclusions)
    return _once_each(found.reasons)


def _once_each(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    """Return the weightiest reason of each finding, which may have been answered before and after a remedy."""
    first: dict[str, Reason] = {}
    for item in reasons:
        if item.finding is not None:
            first.setdefault(item.finding, item)
    return tuple(first.values())


def _apart(hidden: str, named: str, known: Assessment, knowledge: Knowledge) -> tuple[Reason, ...]:
    found = why_not(hidden, named, known.base, known.pieces, known.ranking, knowledge, known.conclusions)
    return tuple(item for item in _once_each(found.reasons) if item.decibans >= WORTH_SAYING_DB)[:MOST_REASONS]


# ---- questions and remedies ------------------------------------------------------------------------------------


def _told_little(exercise: Exercise, planned: frozenset[str]) -> tuple[str, ...]:
    """Return the findings asked that could hardly tell anything; what the planner asks too is not held against."""
    found: dict[str, None] = {}
    for act in exercise.acts:
        if act.kind == "ask" and act.what not in planned and information_nats(exercise, act) < LOOK_NATS:
            found[act.what] = None
    return tuple(found)


def information_nats(exercise: Exercise, act: Act) -> float:
    """Return what the answer to a question was expected to tell when it was asked; 0 where it made no sense. [nat]"""
    consultation = consultation_of(exercise, act.before)
    known, situation = consultation.assessment, consultation.situation
    state = gather(known.base, known.ranking, exercise.knowledge, situation, exercise.clock.parameters)
    for number in range(len(state.which)):
        if state.finding(number) == act.what:
            return float(state.nats[number])
    return 0.0


def _wrongdoings(exercise: Exercise, act: Act) -> list[Wrongdoing]:
    if act.kind == "refused":
        return [Wrongdoing("not-here", act.what)]
    if act.kind != "try":
        return []
    found = []
    entry = exercise.knowledge.remedies[act.what]
    known = consultation_of(exercise, act.before).assessment
    parts = {exercise.knowledge.causes[cause].subsystem for cause in _meant(exercise, act.what)}
    only_beat = any(step.act == "set-the-beat" for step in entry.steps) and not parts & HANGING
    if only_beat and chance_of_hanging(known.base, known.ranking, exercise.knowledge) >= HANGING_OPEN:
        found.append(Wrongdoing("beat-before-hanging", act.what))
    if any(step.cannot_be_undone for step in entry.steps):
        look = _look_left_out(exercise, act, entry)
        if look is not None:
            found.append(Wrongdoing("no-look", act.what, look))
    return found


def chance_of_hanging(base: Base, ranking: Ranking, knowledge: Knowledge) -> float:
    """Return how probable a fault of post, spring, leader or hook is [1]."""
    hanging = {place for place, cause in enumerate(base.causes) if knowledge.causes[cause].subsystem in HANGING}
    held = [not hanging.isdisjoint(causes) for causes in ranking.sets]
    return float(ranking.weights[held].sum()) if held else 0.0


def _look_left_out(exercise: Exercise, act: Act, entry: RemedyEntry) -> str | None:
    """Return the look that comes before a step that cannot be undone, where nothing of the kind was seen."""
    knowledge, tables = exercise.knowledge, exercise.clock.base.tables
    shown = [
        link.finding
        for cause in sorted(_meant(exercise, act.what))
        for link in knowledge.causes[cause].shows
        if knowledge.probabilities[link.often].probability >= NEARLY_ALWAYS
    ]
    looks = [*(proof.finding for proof in entry.proof), *shown]
    looks = [name for name in looks if name in tables and knowledge.findings[name].place not in {"told", "sound"}]
    answers = [event for event in exercise.case.events[: act.before] if isinstance(event, Answer)]
    seen = {answer.finding for answer in answers if answer.value is not None}
    return looks[0] if looks and not seen & set(looks) else None


def best_sign(cause: str, exercise: Exercise) -> Link:
    """Return what shows a cause best: often seen with it, seldom with other faults and those it is mistaken for."""
    knowledge, base = exercise.knowledge, exercise.clock.base
    tables = base.tables
    alike = [base.index[item.cause] for item in knowledge.causes[cause].mistaken_for if item.cause in base.index]

    def tells(link: Link) -> float:
        table = tables[link.finding]
        place = table.values.index(link.value)
        often = knowledge.probabilities[link.often].probability
        elsewhere = float(table.other[place])
        if alike:
            elsewhere = max(elsewhere, sum(float(table.given([other])[place]) for other in alike) / len(alike))
        return often * math.log(often / max(elsewhere, LEAST_CHANCE))

    return max((link for link in knowledge.causes[cause].shows if link.finding in tables), key=tells)


# ---- the worked solution -------------------------------------------------------------------------------------------


def solution(planner: Exercise) -> tuple[SolutionStep, ...]:
    """Return the planner's way, act by act, each with the reason it had then."""
    steps = []
    rows = [act.before for act in planner.acts[1:]] + [len(planner.case.events)]
    for act, end in zip(planner.acts, rows, strict=False):
        brought = [event for event in planner.case.events[act.before : end] if isinstance(event, Answer)]
        steps.append(SolutionStep(act.kind, act.what, tuple(brought), _why(planner, act), act.minutes))
    return tuple(steps)


def _why(planner: Exercise, act: Act) -> str:
    if act.kind != "ask":
        return ""
    known = consultation_of(planner, act.before).assessment
    return why_this_question(act.what, known.base, known.ranking, planner.knowledge, customer=False)
