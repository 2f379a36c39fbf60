"""What the terminal hears and measures in a consultation: recordings, acts of setting the beat, the fit of a block."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from diagnose.cases.events import Acted, Heard
from diagnose.errors import UsageError
from diagnose.measurement.figures.beats import to_dict
from diagnose.reports.summary import fit_lines
from diagnose.settings import data_folder
from diagnose.taking_in import COUNTED
from diagnose.terminal import contact_screens, telling
from diagnose.terminal.listening import progress_shown

if TYPE_CHECKING:
    from diagnose.measurement.figures.beats import Beats
    from diagnose.measurement.hearing.sides import Side
    from diagnose.terminal.talk import Talk

# Between the names of two recordings of the same clock.
BESIDE = " beside "

MEASURE = re.compile(r"(?P<what>block|slot)\s+(?P<size>[\d./]+\s*[a-z\"]*)\s+(?P<tool>[a-z -]+)", re.IGNORECASE)


def all_words(talk: Talk) -> dict[str, Callable[[str], None]]:
    """Return the words of this file, each with what it does."""
    return {
        "record": lambda rest: record(talk, rest),
        "live": lambda rest: live(talk, rest),
        "tap": lambda rest: tap(talk, rest),
        "count": lambda rest: count(talk, rest),
        "moved": lambda rest: moved(talk, rest),
    }


def record(talk: Talk, rest: str) -> None:
    """Hear a recording, or two of the same clock, and take it in; the side behind it is where the bob was drawn to."""
    files, side = _with_side(rest)
    path, _, other = files.partition(BESIDE)
    if not path.strip():
        raise UsageError(talk.wording.say("record-what"))
    made = {"beside": str(Path(other.strip()).expanduser())} if other.strip() else {}
    with progress_shown(talk.wording) as progress:
        heard = talk.consultation.listen_to(Path(path.strip()).expanduser(), side, made, progress)
    _take(talk, heard)


def live(talk: Talk, rest: str) -> None:
    """Hear the microphone of this machine until Ctrl-C and take it in; its sound is kept with the cases."""
    from diagnose.measurement.hearing.live import Listening
    from diagnose.measurement.incoming.microphone import microphone
    from diagnose.terminal.live import hear

    _, side = _with_side(rest)
    source, keep = microphone(), _kept_file(".wav")
    listening = Listening(source.rate_hz, talk.consultation.case.clock.beats_per_hour, side)
    screen = Console(stderr=True) if not talk.console.is_terminal else talk.console
    heard, _ = hear(source, listening, screen, talk.wording, None, keep)
    if heard.beats is None:
        keep.unlink(missing_ok=True)
        raise UsageError(talk.wording.say("live-nothing"))
    _take(talk, _event(talk, keep, heard.beats, side))


def tap(talk: Talk, rest: str) -> None:
    """Take taps on Enter, in time with the tick; the side behind it is that of the first one."""
    from diagnose.terminal.beating import tapped

    _, side = _with_side(rest)
    beats = tapped(talk.wording, talk.consultation.case.clock.beats_per_hour, side, iter(lambda: talk.read(""), None))
    keep = _kept_file(".txt")
    keep.write_text("\n".join(f"{time:.3f}" for time in beats.times_s) + "\n", encoding="utf-8")
    _take(talk, _event(talk, keep, beats, side))


def count(talk: Talk, rest: str) -> None:
    """Take beats counted by ear, such as `count 118/120`."""
    from diagnose.terminal.beating import counted

    beats = counted(rest, talk.consultation.case.clock.beats_per_hour)
    keep = _kept_file(COUNTED)
    keep.write_text(f"{rest.strip()}\n", encoding="utf-8")
    _take(talk, _event(talk, keep, beats, None))


def _with_side(rest: str) -> tuple[str, Side | None]:
    """Return what was typed without the side behind it, and the side."""
    words = rest.split()
    if words and words[-1] in {"left", "right"}:
        return rest.strip()[: -len(words[-1])].strip(), "left" if words[-1] == "left" else "right"
    return rest.strip(), None


def _kept_file(suffix: str) -> Path:
    """Return a new file for what was heard here."""
    folder = data_folder() / "recordings"
    folder.mkdir(parents=True, exist_ok=True)
    return folder / f"{secrets.token_hex(8)}{suffix}"


def _event(talk: Talk, file: Path, beats: Beats, side: Side | None) -> Heard:
    walk = talk.consultation.walk
    return Heard(str(file), to_dict(beats), side, walk.remedy if walk else None, talk.consultation.contact.id)


def _take(talk: Talk, heard: Heard) -> None:
    """Take in what was heard, and say what it says."""
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
