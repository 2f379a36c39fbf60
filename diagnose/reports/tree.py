"""The ranked cause tree as plain values: complaint, parts of the clock, causes, answers, what to do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.model.wording import Wording
from diagnose.reports import showing
from diagnose.reports.contract import ranked

Column = Literal["said", "part", "cause", "answers", "remedy"]
COLUMNS: tuple[Column, ...] = ("said", "part", "cause", "answers", "remedy")
# How many answers stand beside a cause, and how much they must weigh to stand there. [dB]
FIRST_PLACES, MOST_ANSWERS, FEWER_ANSWERS, LEAST_WEIGHT = 3, 5, 2, 0.5
LONGEST_SAID = 150


@dataclass(frozen=True, slots=True)
class Node:
    """One place of the tree.

    Parameters
    ----------
    id : str
        Such as "cause-block-thin"; letters, digits and hyphens.
    column : str
        Where it stands, from the complaint to what to do.
    parent : str, optional
        Id of the node it hangs on; None for the complaint.
    title : str
        Its main text.
    notes : tuple of str
        Smaller lines below it.
    rows : tuple of (bool, str)
        Answers: True where one speaks for the cause above.
    share : float, optional
        Probability, drawn as a bar; None where there is none to draw.
    first : bool
        It belongs to the most likely cause.
    """

    id: str
    column: Column
    parent: str | None
    title: str
    notes: tuple[str, ...] = ()
    rows: tuple[tuple[bool, str], ...] = ()
    share: float | None = None
    first: bool = False


def tree_of(consultation: Consultation, wording: Wording, result: dict[str, Any] | None = None) -> tuple[Node, ...]:
    """Return the nodes of the tree, each after its parent, likelier ones first.

    Parameters
    ----------
    consultation : Consultation
        The case.
    wording : Wording
        Speaks to staff or to a customer; a customer sees fewer causes, no numbers and no bars.
    result : dict, optional
        What `ranked` gives, where it is at hand.
    """
    result = ranked(consultation) if result is None else result
    causes = showing.causes_for(result, wording)
    best = max((cause["probability"] for cause in causes), default=0.0)
    others = list(_others(result, wording, best))
    ahead = [node for node in others if node.first]
    nodes = [_root(consultation, wording), *ahead]
    places = {cause["id"]: place + len(ahead) for place, cause in enumerate(causes)}
    by_part: dict[str, list[dict[str, Any]]] = {}
    for cause in causes:
        by_part.setdefault(cause["subsystem"], []).append(cause)
    for subsystem, group in by_part.items():
        title = showing.part_title(consultation.knowledge, subsystem, wording)
        nodes.append(Node(f"part-{subsystem}", "part", "said", title, first=places[group[0]["id"]] == 0))
        for cause in group:
            nodes.extend(_cause_branch(cause, places[cause["id"]], wording))
    return (*nodes, *(node for node in others if not node.first))


def said_texts(consultation: Consultation) -> list[str]:
    """Return what was said, in the order it was said."""
    return [event.text for event in consultation.case.events if isinstance(event, ev.Said) and event.text]


def _root(consultation: Consultation, wording: Wording) -> Node:
    said = said_texts(consultation)
    text = f"“{said[0]}”" if said else wording.say("chart-nothing-said")
    if len(text) > LONGEST_SAID:
        text = text[:LONGEST_SAID].rsplit(" ", 1)[0] + " …”"
    return Node("said", "said", None, text, tuple(showing.clock_titles(consultation, wording)), first=True)


def _cause_branch(cause: dict[str, Any], place: int, wording: Wording) -> Iterator[Node]:
    name, first = cause["id"], place == 0
    chance = showing.chance_text(cause["probability"], wording)
    share = cause["probability"] if wording.reader == "staff" else None
    parent = f"part-{cause['subsystem']}"
    yield Node(f"cause-{name}", "cause", parent, wording.cause(name), (chance,), share=share, first=first)
    rows = _answers(cause, MOST_ANSWERS if place < FIRST_PLACES else FEWER_ANSWERS, wording)
    nothing = () if rows else (wording.say("chart-no-answers"),)
    yield Node(f"answers-{name}", "answers", f"cause-{name}", "", nothing, rows, first=first)
    remedy = cause["remedies"][0]
    entry = wording.knowledge.remedies[remedy["id"]]
    who = wording.say(f"who-{entry.who}")
    time = showing.minutes_text(entry.minutes, wording)
    notes = (who, time) if wording.reader == "staff" else (who,)
    yield Node(f"remedy-{name}", "remedy", f"answers-{name}", wording.text(entry.title), notes, first=first)


def _answers(cause: dict[str, Any], most: int, wording: Wording) -> tuple[tuple[bool, str], ...]:
    """Return the weightiest answers: those for the cause first, and at least one against it where there is one."""
    weighty = [reason for reason in cause["because"] if abs(reason["decibans"]) >= LEAST_WEIGHT]
    told = [(reason["decibans"] > 0, showing.reason_text(reason, wording)) for reason in weighty]
    rows = [(speaks_for, text) for speaks_for, text in told if text is not None]
    speaks_for = [row for row in rows if row[0]]
    against = [row for row in rows if not row[0]]
    kept = min(len(against), max(1, most - len(speaks_for)))
    return tuple(speaks_for[: most - kept] + against[:kept])


def _others(result: dict[str, Any], wording: Wording, best: float) -> Iterator[Node]:
    """Yield what is no cause of the list: nothing wrong, and a fault that is not on it; first where likeliest."""
    likeliest = max(best, result["nothing_wrong"], result["none_of_these"])
    for name, title in (("nothing_wrong", "nothing-wrong"), ("none_of_these", "not-on-list")):
        probability = result[name]
        if wording.reader == "customer" and probability < showing.CUSTOMER_LEAST:
            continue
        chance = showing.chance_text(probability, wording)
        share = probability if wording.reader == "staff" else None
        first = best < probability == likeliest
        yield Node(title, "part", "said", wording.say(title), (chance,), share=share, first=first)
