"""An exercise on a case file whose cause is known: what the case tells is what the clock answers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.errors import UsageError
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge
from diagnose.reasoning.assessment import base_for
from diagnose.reasoning.complaint import suggest
from diagnose.training import hidden_sound
from diagnose.training.exercises import Exercise, beats_of
from diagnose.training.hidden_clock import Complaint, HiddenClock, Side, always_so


def begin_from_case(case: Case, knowledge: Knowledge, seed: int = 0) -> Exercise:
    """Begin an exercise on a case whose cause is known; what the case tells is what the clock answers.

    Parameters
    ----------
    case : Case
        As its file is read.
    knowledge : Knowledge
        The base.
    seed : int
        For what the case does not tell.

    Raises
    ------
    UsageError
        If the case names no cause that fits its clock.
    """
    facts = case.clock
    base = base_for(knowledge, facts)
    causes = _causes_of(case)
    if not causes or not set(causes) <= set(base.causes):
        raise UsageError(f"case '{case.id}' names no cause to find", do="Take one with an outcome or an expected cause")
    known = {**always_so(knowledge, base), **knowledge.doors[case.door].assume, **_told(case)}
    known = {name: value for name, value in known.items() if name in base.tables}
    heard = next((event for event in _before_remedies(case) if isinstance(event, ev.Heard)), None)
    clock = HiddenClock(knowledge, facts, causes, seed, _complaints(case, knowledge, known), known)
    if heard is not None:
        clock = _as_heard(replace(clock, recording=(case.folder or Path()) / heard.file, drawn_to=heard.first_side))
    row = [event for event in case.events if isinstance(event, ev.Contact)][:1]
    row.extend(event for event in case.events if isinstance(event, ev.FactSet | ev.Said))  # type: ignore[misc]
    row.extend(clock.answer(item.finding, "call") for item in clock.complaints)  # type: ignore[misc]
    return Exercise(clock, Case(case.id, case.door, case.edition, tuple(row), title=""))


def _causes_of(case: Case) -> tuple[str, ...]:
    """Return what was wrong: as entered by a person, or else as the demo case expects."""
    ends = [event.cause for event in case.events if isinstance(event, ev.Concluded) and event.cause]
    if ends:
        return (ends[-1],)
    expected = {**case.expect.get("before", {}), **case.expect}
    if "both" in expected:
        return tuple(expected["both"])
    return tuple((expected.get("first") or expected.get("within_three") or ())[:1])


def _before_remedies(case: Case) -> Iterable[ev.Event]:
    for event in case.events:
        if isinstance(event, ev.Tried):
            return
        yield event


def _told(case: Case) -> dict[str, str]:
    answers = [event for event in _before_remedies(case) if isinstance(event, Answer)]
    return {answer.finding: answer.value for answer in answers if answer.value is not None}


def _complaints(case: Case, knowledge: Knowledge, known: dict[str, str]) -> tuple[Complaint, ...]:
    """Return what the complaint of a case means, where its answers say the same."""
    said = {
        answer.finding: Complaint(answer.finding, str(answer.value), answer.said)
        for answer in _before_remedies(case)
        if isinstance(answer, Answer) and answer.said and answer.finding in known
    }
    for event in case.events:
        for item in suggest(event.text, knowledge, case.clock) if isinstance(event, ev.Said) else ():
            if known.get(item.finding) == item.value:
                said.setdefault(item.finding, Complaint(item.finding, item.value, item.words))
    return tuple(said.values())


def _as_heard(clock: HiddenClock) -> HiddenClock:
    """Return the clock as even, and as early on one side, as its recording says, so that ear and eye agree with it."""
    beats = beats_of(clock)
    sides: dict[str, Side] = {"left": "left", "right": "right"}
    side = sides.get(beats["early_side"])
    clock = replace(clock, early=side)
    percent = beats.get("beat_error_percent")
    for name, value in clock.knowledge.findings[hidden_sound.EVENNESS].values.items():
        if percent is not None and value.band is not None and value.band.from_ <= abs(percent) < value.band.to:
            return replace(clock, known={hidden_sound.EVENNESS: name, **clock.known})
    return clock
