"""What the terminal hears and measures in a consultation: recordings, acts of setting the beat, the fit of a block."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.cases.events import Acted, Heard
from diagnose.errors import UsageError
from diagnose.reports.summary import fit_lines
from diagnose.terminal import contact_screens, telling

if TYPE_CHECKING:
    from diagnose.terminal.talk import Talk

MEASURE = re.compile(r"(?P<what>block|slot)\s+(?P<size>[\d./]+\s*[a-z\"]*)\s+(?P<tool>[a-z -]+)", re.IGNORECASE)


def record(talk: Talk, rest: str) -> None:
    """Hear a recording and take it in; `left` or `right` behind the file is the side the bob was drawn to."""
    path, side = rest, None
    for word in ("left", "right"):
        if rest.endswith(f" {word}"):
            path, side = rest[: -len(word)].strip(), word
    if not path:
        raise UsageError(talk.wording.say("record-what"))
    heard = talk.consultation.listen_to(Path(path).expanduser(), side)  # type: ignore[arg-type]
    _note_act(talk, heard)
    talk.consultation.take_heard(heard)
    talk.console.print(telling.beats_lines(heard.beats, talk.wording), highlight=False)
    contact_screens.show_changes(talk)


def _note_act(talk: Talk, heard: Heard) -> None:
    """Take the act that was advised as done, now that the tick is heard again after it."""
    from diagnose.coaching.in_walk import advice_in_walk, heard_beat, take_as_done

    walk = talk.consultation.walk
    if walk is None or heard_beat(heard.beats) is None or not coached(talk, walk.remedy, walk.step):
        return
    act = take_as_done(talk.consultation, advice_in_walk(talk.consultation))
    if act is not None:
        side = talk.wording.say(f"side-{act.direction}")
        text = talk.wording.say("taken-as-done", side=side, amount=f"{act.amount_mm:.2f}")
        talk.console.print(text, style="dim", highlight=False)


def coached(talk: Talk, remedy: str, step: int) -> bool:
    """Return whether this step sets the beat, or is the act just before the one that hears it."""
    steps = talk.consultation.knowledge.remedies[remedy].steps
    return any(here.act == "set-the-beat" for here in steps[step : step + 2])


def moved(talk: Talk, rest: str) -> None:
    """Note an act that was done otherwise than advised, or without advice."""
    from diagnose.coaching.in_walk import task_in_walk

    side, _, amount = rest.partition(" ")
    task = task_in_walk(talk.consultation)
    if task is None or side not in {"left", "right"} or not amount.replace(".", "", 1).isdigit():
        raise UsageError(talk.wording.say("moved-what"))
    contact = talk.consultation.contact.id
    talk.consultation.acted(Acted(task.adjuster, "left" if side == "left" else "right", float(amount), contact))


def fit(talk: Talk, line: str) -> None:
    """Say whether a block fits its slot, from what was typed of both, and let it count."""
    sizes = {match["what"].lower(): match for match in MEASURE.finditer(line)}
    if set(sizes) != {"block", "slot"}:
        raise UsageError(talk.wording.say("fit-both"))
    block, slot = sizes["block"], sizes["slot"]
    from diagnose.terminal.fitting import fit_block

    answer = fit_block(block["size"], slot["size"], block["tool"].strip(" ,"), slot["tool"].strip(" ,"))
    for text in fit_lines(answer, talk.wording):
        talk.console.print(text, highlight=False, markup=False)
    talk.consultation.take_fit(answer)
