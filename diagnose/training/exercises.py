"""An exercise: a hidden clock and the row of what a trainee asks, tries and names; and the planner's way with it.

Trainee and planner do the same acts on the same clock, get the same answers and pay the same minutes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.entries import Where
from diagnose.model.near_names import near
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.costs import finding_minutes, level_of, remedy_minutes, shop_ladder
from diagnose.reasoning.gates import Situation, may_do, may_find_out
from diagnose.training import hidden_sound
from diagnose.training.hidden_clock import HiddenClock, draw_clock

Kind = Literal["ask", "listen", "try", "refused", "go", "hint", "name", "give-up"]
# Where one may go on from.
ONWARD: dict[Where, tuple[Where, ...]] = {"call": ("visit", "workshop"), "visit": ("workshop",), "workshop": ()}
# The one at the clock in an exercise is handy and has help: the trainee learns about clocks, not about gates.
ABLE = (("reaches", "yes"), ("lifts", "yes"), ("helper", "yes"), ("tools", "yes"), ("children", "no"))


@dataclass(frozen=True, slots=True)
class Act:
    """One thing done in an exercise.

    Parameters
    ----------
    kind : str
        "ask", "listen", "try", "refused" (a remedy that may not be done here), "go" (on at a visit or in
        the workshop), "hint", "name" or "give-up".
    what : str
        Finding, remedy, place of work, or the causes named with a space between.
    minutes : float
        What it took. [min]
    before : int
        How many events the row had before it.
    """

    kind: Kind
    what: str
    minutes: float
    before: int


@dataclass(frozen=True, slots=True)
class Exercise:
    """A hidden clock and what was done with it so far.

    Parameters
    ----------
    clock : HiddenClock
        The clock as it is now.
    case : Case
        What a consultation would know: the row of answers, recordings and remedies.
    acts : tuple of Act
        What was done, in order.
    """

    clock: HiddenClock
    case: Case
    acts: tuple[Act, ...] = ()

    @property
    def knowledge(self) -> Knowledge:
        """The base."""
        return self.clock.knowledge

    @property
    def where(self) -> Where:
        """Where the work is done now."""
        return self.case.contact.where

    @property
    def minutes(self) -> float:
        """What all acts took. [min]"""
        return sum(act.minutes for act in self.acts)

    @property
    def ended(self) -> bool:
        """Whether causes were named, or it was given up."""
        return bool(self.acts) and self.acts[-1].kind in {"name", "give-up"}

    @property
    def named(self) -> tuple[str, ...]:
        """The causes named at the end."""
        return tuple(self.acts[-1].what.split()) if self.acts and self.acts[-1].kind == "name" else ()

    @property
    def said(self) -> tuple[str, ...]:
        """What the owner said at the start."""
        return tuple(event.text for event in self.case.events if isinstance(event, ev.Said))

    def asked(self, finding: str) -> Answer | None:
        """Return the answer that was given to a finding here, if it still holds."""
        answer = consultation_of(self).answers.get(finding)
        return answer if answer is not None and answer.contact == self.case.contact.id else None


# ---- beginning ------------------------------------------------------------------------------------


def begin(knowledge: Knowledge, seed: int, where: Where | None = None) -> Exercise:
    """Begin an exercise with a drawn clock.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    seed : int
        Which exercise; at least 0.
    where : str, optional
        On a call or at a visit; by the seed where None, which tells nothing about the cause.
    """
    if seed < 0:
        raise UsageError(f"exercise {seed}", do="Give 0 or more")
    return begin_with(draw_clock(knowledge, seed), where or ("call" if seed % 2 else "visit"))


def begin_with(clock: HiddenClock, where: Where) -> Exercise:
    """Begin an exercise with a clock that is given."""
    facts = {name: getattr(clock.facts, name) for name in ("family", "drive", "escapement", "strike", "chime")}
    if clock.facts.beats_per_hour is not None:
        facts["beats_per_hour"] = f"{clock.facts.beats_per_hour:.0f}"
    row: list[ev.Event] = [ev.Contact("c1", where)]
    row.extend(ev.FactSet("clock", name, value) for name, value in facts.items())
    row.extend(ev.FactSet("person", name, value) for name, value in ABLE)
    row.extend(ev.Said(item.words) for item in clock.complaints)
    row.extend(clock.answer(item.finding, "call") for item in clock.complaints)
    return Exercise(clock, Case(f"exercise-{clock.seed}", "stops", clock.knowledge.edition, tuple(row)))


# ---- acts ---------------------------------------------------------------------------------------------


# What is worked out from a row is worked out once.
_consultations: dict[int, tuple[tuple[ev.Event, ...], Consultation]] = {}
_MOST_KEPT = 64


def consultation_of(exercise: Exercise, events: int | None = None) -> Consultation:
    """Return the consultation that knows what the trainee knows, now or after the first `events` events."""
    row = exercise.case.events
    if events is not None and events < len(row):
        return Consultation(
            replace(exercise.case, events=row[:events]), exercise.knowledge, parameters=exercise.clock.parameters
        )
    if id(row) not in _consultations:
        if len(_consultations) >= _MOST_KEPT:
            _consultations.clear()
        consultation = Consultation(exercise.case, exercise.knowledge, parameters=exercise.clock.parameters)
        # The row is kept beside it, so that its id cannot be given to another meanwhile.
        _consultations[id(row)] = (row, consultation)
    return _consultations[id(row)][1]


def may_ask(exercise: Exercise, finding: str, situation: Situation | None = None) -> bool:
    """Return whether a finding can be found out where the work is done now."""
    situation = situation or consultation_of(exercise).situation
    return finding in exercise.clock.base.tables and may_find_out(exercise.knowledge.findings[finding], situation)


def ask(exercise: Exercise, finding: str) -> Exercise:
    """Ask or look for a finding; asking again gets the same answer and costs the same.

    Raises
    ------
    UsageError
        If it is unknown, or cannot be found out here.
    """
    tables = exercise.clock.base.tables
    if finding not in tables:
        raise UsageError(f"this clock has no finding '{finding}'{near(finding, tables)}")
    situation = consultation_of(exercise).situation
    if not may_ask(exercise, finding, situation):
        do = "Go on at a visit or in the workshop"
        raise UsageError(f"'{finding}' cannot be found out on a {exercise.where}", do=do)
    answer = exercise.clock.answer(finding, exercise.where, exercise.case.contact.id)
    return _add(exercise, "ask", finding, minutes_to_ask(exercise, finding, situation), (answer,))


def listen(exercise: Exercise) -> Exercise:
    """Hear a recording of the clock as it is now.

    Raises
    ------
    UsageError
        If there is no tick to record.
    """
    if not hidden_sound.ticks(exercise.clock):
        raise UsageError("there is no steady tick to record", do="Ask what it does, or look")
    minutes = minutes_to_ask(exercise, hidden_sound.EVENNESS, consultation_of(exercise).situation)
    heard = ev.Heard("recording", beats_of(exercise.clock), _drawn_to(exercise.clock), None, exercise.case.contact.id)
    return _add(exercise, "listen", hidden_sound.EVENNESS, minutes, (heard,))


def try_remedy(exercise: Exercise, remedy: str) -> Exercise:
    """Try a remedy and look at what proves it; one that may not be done here is not done, but noted.

    Raises
    ------
    UsageError
        If it is unknown, or not for this clock.
    """
    clock, knowledge = exercise.clock, exercise.knowledge
    entry = knowledge.remedies.get(remedy)
    if entry is None or not clock.base.remedies[remedy].causes:
        raise UsageError(f"no remedy '{remedy}' for this clock{near(remedy, knowledge.remedies)}")
    situation = consultation_of(exercise).situation
    if not may_do(entry, situation):
        return _add(exercise, "refused", remedy, 0.0, ())
    ladder = shop_ladder(knowledge, exercise.where, clock.facts.family)
    opening = ladder.minutes[level_of(situation.opened), level_of(entry.opened)]
    minutes = remedy_minutes(entry, knowledge, exercise.where) + float(opening)
    contact = exercise.case.contact.id
    after = clock.after(remedy)
    answers = [after.answer(name, exercise.where, contact) for name in proofs_of(exercise, remedy)]
    row: tuple[ev.Event, ...] = (ev.Tried(remedy, "done", contact), *answers)
    return replace(_add(exercise, "try", remedy, minutes, row), clock=after)


def proofs_of(exercise: Exercise, remedy: str) -> dict[str, str]:
    """Return what proves a cure, and the value it must have: the proof of the remedy, and that nobody complains."""
    findings, tables = exercise.knowledge.findings, exercise.clock.base.tables
    wanted = {proof.finding: proof.value for proof in exercise.knowledge.remedies[remedy].proof}
    for item in exercise.clock.complaints:
        normal = findings[item.finding].normal
        if normal is not None:
            wanted.setdefault(item.finding, normal)
    return {finding: value for finding, value in wanted.items() if finding in tables}


def go_on(exercise: Exercise, where: Where) -> Exercise:
    """Go on at a visit or in the workshop; the way there costs.

    Raises
    ------
    UsageError
        If the work is already there, or further on.
    """
    if where not in ONWARD[exercise.where]:
        raise UsageError(f"from a {exercise.where} to a {where}", do="One goes from call to visit to workshop")
    prices = exercise.knowledge.shop.refer_minutes
    here = exercise.where
    ways: tuple[Where, ...] = ("call", "visit") if (here, where) == ("call", "workshop") else (here,)
    number = 1 + sum(isinstance(event, ev.Contact) for event in exercise.case.events)
    minutes = sum(prices[way] for way in ways)
    return _add(exercise, "go", where, minutes, (ev.Contact(f"c{number}", where),))


def name(exercise: Exercise, causes: Iterable[str]) -> Exercise:
    """Name what is wrong; that ends the exercise.

    Raises
    ------
    UsageError
        If no cause is named, or one that does not fit this clock.
    """
    causes = tuple(dict.fromkeys(causes))
    index = exercise.clock.base.index
    for cause in causes:
        if cause not in index:
            raise UsageError(f"this clock has no cause '{cause}'{near(cause, index)}")
    if not causes:
        raise UsageError("no cause was named")
    return _add(exercise, "name", " ".join(causes), 0.0, ())


def give_up(exercise: Exercise) -> Exercise:
    """End the exercise without naming anything."""
    return _add(exercise, "give-up", "", 0.0, ())


def hint(exercise: Exercise) -> tuple[Exercise, steps.Plan]:
    """Return what the planner would do now, and the exercise with the hint noted."""
    return _add(exercise, "hint", "", 0.0, ()), consultation_of(exercise).plan


def _add(exercise: Exercise, kind: Kind, what: str, minutes: float, events: tuple[ev.Event, ...]) -> Exercise:
    if exercise.ended:
        raise UsageError("this exercise has ended")
    act = Act(kind, what, minutes, len(exercise.case.events))
    case = replace(exercise.case, events=(*exercise.case.events, *events))
    return replace(exercise, case=case, acts=(*exercise.acts, act))


def minutes_to_ask(exercise: Exercise, finding: str, situation: Situation) -> float:
    """Return what a finding costs from where one is looking now, opening counted in. [min]"""
    knowledge = exercise.knowledge
    entry = knowledge.findings[finding]
    ladder = shop_ladder(knowledge, exercise.where, exercise.clock.facts.family)
    opening = ladder.minutes[level_of(situation.opened), level_of(entry.opened)]
    return finding_minutes(entry, knowledge.shop, situation.place) + float(opening)


def _drawn_to(clock: HiddenClock) -> Literal["left", "right"] | None:
    return clock.drawn_to if _case_recording(clock) else hidden_sound.DRAWN_TO


def _case_recording(clock: HiddenClock) -> Path | None:
    return clock.recording if not clock.tried else None


def beats_of(clock: HiddenClock) -> dict[str, Any]:
    """Return what listening measures, with the real ears of the program."""
    from diagnose.measurement import listen as hear
    from diagnose.measurement.figures.beats import to_dict

    given = _case_recording(clock)
    if given is not None:
        return to_dict(hear(given, clock.facts.beats_per_hour, clock.drawn_to))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "recording.flac"
        hidden_sound.record(clock, path)
        return to_dict(hear(path, clock.facts.beats_per_hour, _drawn_to(clock)))
