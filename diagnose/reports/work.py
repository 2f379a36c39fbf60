"""What is done at the clock, as it stands on paper: remedies step by step, cautions, proof."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.model.entries import RemedyEntry, Step
from diagnose.model.wording import Wording
from diagnose.reasoning.gates import OWNERS
from diagnose.reports import paper, showing

if TYPE_CHECKING:
    from markupsafe import Markup

LEVELS = ("danger", "care", "note")


@dataclass(frozen=True, slots=True)
class StepOnPaper:
    """One step in the words of its reader; None where there is nothing to say.

    Parameters
    ----------
    number : int
        From 1, counted over the steps that are shown.
    do, right_when : str
        What to do, and what shows that it is right.
    hold : str, optional
        What the other hand carries.
    stop_if : str, optional
        What ends the work.
    stop_then : str
        For staff: where it goes then.
    viewpoint : str, optional
        Whose left and right is meant.
    cannot_be_undone : bool
        As the step says.
    not_so : tuple of str
        Ways on where it is not right.
    drawing : Markup, optional
        Its drawing, where it was not shown with an earlier step.
    drawing_of : int, optional
        The earlier step that shows its drawing.
    """

    number: int
    do: str
    right_when: str
    hold: str | None
    stop_if: str | None
    stop_then: str
    viewpoint: str | None
    cannot_be_undone: bool
    not_so: tuple[str, ...]
    drawing: Markup | None
    drawing_of: int | None


@dataclass(frozen=True, slots=True)
class RemedyOnPaper:
    """A remedy in the words of its reader; a None among the steps stands for those he leaves to us."""

    id: str
    title: str
    facts: tuple[str, ...]
    steps: tuple[StepOnPaper | None, ...]
    proof: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CautionOnPaper:
    """A caution in the words of its reader."""

    level: str
    label: str
    text: str


def remedy_on_paper(remedy: str, wording: Wording, steps: bool = True) -> RemedyOnPaper:
    """Return a remedy as it stands on paper.

    Parameters
    ----------
    remedy : str
        Its id.
    wording : Wording
        Speaks to staff or to a customer; a customer is not shown every step.
    steps : bool
        Without them only its title, what it takes and its proof.
    """
    entry = wording.knowledge.remedies[remedy]
    shown = steps_on_paper(remedy, wording) if steps else ()
    return RemedyOnPaper(remedy, wording.text(entry.title), _facts(entry, wording), shown, proof_of(entry, wording))


def _facts(entry: RemedyEntry, wording: Wording) -> tuple[str, ...]:
    """Return who, how far open, how long, with what."""
    facts = [wording.say(f"who-{entry.who}")]
    if wording.reader == "staff":
        facts.append(wording.say(f"opened-{entry.opened}"))
    facts.append(showing.minutes_text(entry.minutes, wording))
    if entry.tools and (wording.reader == "staff" or entry.who in OWNERS):
        facts.append(wording.say("report-tools", list=", ".join(entry.tools)))
    if entry.parts and wording.reader == "staff":
        parts = ", ".join(wording.text(wording.knowledge.parts[name].title) for name in entry.parts)
        facts.append(wording.say("report-parts", list=parts))
    return tuple(facts)


def steps_on_paper(remedy: str, wording: Wording) -> tuple[StepOnPaper | None, ...]:
    """Return the steps a reader is shown; one None for each run of steps that a customer leaves to us."""
    entry = wording.knowledge.remedies[remedy]
    shown: list[StepOnPaper | None] = []
    drawn: dict[str, int] = {}
    number = 0
    for step in entry.steps:
        if showing.may_show(entry, step, wording):
            number += 1
            shown.append(_step(step, number, remedy, wording, drawn))
        elif not shown or shown[-1] is not None:
            shown.append(None)
    return tuple(shown)


def _step(step: Step, number: int, remedy: str, wording: Wording, drawn: dict[str, int]) -> StepOnPaper:
    name = step.drawing or step.right_when.drawing
    earlier = drawn.get(name) if name is not None else None
    picture = None if earlier else paper.drawing(name, wording, f"{remedy}-{number}")
    if name is not None and picture is not None:
        drawn[name] = number
    stop = step.stop_if
    return StepOnPaper(
        number=number,
        do=wording.text(step.do),
        right_when=wording.text(step.right_when.text),
        hold=wording.for_reader(step.hold) if step.hold is not None else None,
        stop_if=wording.text(stop.text) if stop is not None else None,
        stop_then=wording.say("report-stop-then", where=wording.say(f"where-{stop.then}")) if stop else "",
        viewpoint=showing.viewpoint_text(step.viewed_from, wording),
        cannot_be_undone=step.cannot_be_undone,
        not_so=_ways(step, wording),
        drawing=picture,
        drawing_of=earlier,
    )


def _ways(step: Step, wording: Wording) -> tuple[str, ...]:
    """Return the ways on, for staff: a customer whose step is not right stops and calls."""
    if wording.reader == "customer":
        return ()
    return tuple(wording.say("report-not-so", text=wording.text(way.text)) for way in step.not_so)


def proof_of(entry: RemedyEntry, wording: Wording) -> tuple[str, ...]:
    """Return what proves a cure: each question with the answer hoped for."""
    return tuple(
        wording.say(
            "sheet-proof", question=wording.question(item.finding), value=wording.value(item.finding, item.value)
        )
        for item in entry.proof
    )


def cautions_on_paper(names: Iterable[str], wording: Wording) -> tuple[CautionOnPaper, ...]:
    """Return cautions, dangers first."""
    entries = [wording.knowledge.cautions[name] for name in dict.fromkeys(names)]
    return tuple(
        CautionOnPaper(
            entry.level,
            wording.say(f"level-{entry.level}"),
            wording.say("report-caution", title=wording.text(entry.title), text=wording.text(entry.text)),
        )
        for entry in sorted(entries, key=lambda item: LEVELS.index(item.level))
    )
