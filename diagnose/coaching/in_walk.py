"""The closed loop inside a consultation: which act comes next in the remedy that is being walked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from diagnose import history
from diagnose.cases import events as ev
from diagnose.coaching.set_the_beat import next_act
from diagnose.coaching.task import Act, Advice, BeatTask, HeardBeat, beat_task
from diagnose.consultation import Consultation
from diagnose.model.entries import Adjuster, RemedyEntry

# Where a remedy ends with setting the beat but names no adjuster: the case is the gentlest.
AT_THE_CASE: dict[str, Adjuster] = {"default": "case-feet", "wall": "case-hook"}
UNSURE_PERCENT = 0.5


def sets_the_beat(entry: RemedyEntry) -> bool:
    """Return whether a step of a remedy sets the beat."""
    return any(step.act == "set-the-beat" for step in entry.steps)


def adjuster_of(entry: RemedyEntry, family: str) -> Adjuster:
    """Return what is moved when a remedy sets the beat of a clock of this family."""
    adjusters = entry.adjusters or AT_THE_CASE
    return adjusters.get(family, adjusters["default"])


def task_in_walk(consultation: Consultation) -> BeatTask | None:
    """Return the beat that the remedy being walked sets, or None."""
    walk = consultation.walk
    if walk is None:
        return None
    entry = consultation.knowledge.remedies[walk.remedy]
    if not sets_the_beat(entry):
        return None
    family = consultation.case.clock.family
    return beat_task(adjuster_of(entry, family), consultation.knowledge.clocks.get(family))


def advice_in_walk(consultation: Consultation) -> Advice | None:
    """Return the next act of the remedy being walked, or None where it does not set the beat."""
    task, walk = task_in_walk(consultation), consultation.walk
    if task is None or walk is None:
        return None
    heard, acts = _record(consultation, walk.remedy, task)
    return next_act(task, heard or _heard_before(consultation), acts)


def _record(consultation: Consultation, remedy: str, task: BeatTask) -> tuple[tuple[HeardBeat, ...], tuple[Act, ...]]:
    """Return what was heard and done since the walk of a remedy began; each beat says after how many acts."""
    heard: tuple[HeardBeat, ...] = ()
    acts: tuple[Act, ...] = ()
    for event in consultation.case.events:
        if isinstance(event, ev.WalkBegun | ev.Tried):
            heard, acts = (), ()
        elif isinstance(event, ev.Heard) and event.within == remedy:
            beat = heard_beat(event.beats)
            heard += () if beat is None else (replace(beat, after=len(acts)),)
        elif isinstance(event, ev.Acted):
            act = Act(event.direction, event.amount_mm)
            before = heard or _heard_before(consultation)
            looked = bool(acts) and _tells_of_the_last(next_act(task, before, acts), act, acts[-1])
            acts = (*acts[:-1], replace(act, looked_at=True)) if looked else (*acts, act)
    return heard, acts


def _tells_of_the_last(advice: Advice, act: Act, last: Act) -> bool:
    """Return whether an act that is told says which way the last one went, and is not a further one."""
    if advice.kind == "which-way":
        return True
    advised = Act(advice.direction, advice.amount_mm) if advice.direction and advice.amount_mm else None
    return advice.told.wrong == "went-wrong" and act == replace(last, looked_at=False) != advised


def _heard_before(consultation: Consultation) -> tuple[HeardBeat, ...]:
    """Return the last beat heard since the last remedy: it need not be recorded again before the first act."""
    for event in reversed(history.since_last_tried(consultation.case.events, consultation.knowledge)):
        if isinstance(event, ev.Heard) and (beat := heard_beat(event.beats)) is not None:
            return (replace(beat, after=0),)
    return ()


def heard_beat(beats: Mapping[str, Any]) -> HeardBeat | None:
    """Return what a recording says of the beat, or None where it was refused.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it; empty before anything was heard.
    """
    percent = beats.get("beat_error_percent") if beats and not beats.get("refused") else None
    if percent is None:
        return None
    unsure = (beats.get("uncertainty") or {}).get("beat_error_percent") or UNSURE_PERCENT
    return HeardBeat(abs(percent), unsure, beats.get("early_side", "unknown"))


def take_as_done(consultation: Consultation, advice: Advice | None) -> ev.Acted | None:
    """Note the act that was advised as done, once the tick is heard again after it; return it.

    A person who did something else says so before (`Consultation.acted`).
    """
    task = task_in_walk(consultation)
    if advice is None or task is None or advice.direction is None or advice.amount_mm is None:
        return None
    act = ev.Acted(task.adjuster, advice.direction, advice.amount_mm, consultation.contact.id)
    consultation.acted(act)
    return act
