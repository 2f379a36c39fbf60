"""A page or two for a customer, and the same as messages to send: one step after the other."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from diagnose.errors import UsageError
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning.gates import OWNERS
from diagnose.reports import paper, showing, work
from diagnose.reports.pdf import pdf_of
from diagnose.reports.writing import file_name, write_files

# A message stays below this, so that no phone cuts it.
LONGEST_MESSAGE = 599
# Room for "12/34 " before the text.
NUMBER_ROOM = 6


def html_sheet(knowledge: Knowledge, remedy: str) -> str:
    """Return a remedy as a page for a customer: large type, drawings, STOP IF in a heavy frame.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    remedy : str
        Id of the remedy; steps that are not for a customer become one line that leaves them to us.

    Raises
    ------
    UsageError
        No such remedy.
    """
    wording, shown = _customer(knowledge, remedy)
    return paper.page(
        "sheet.html",
        wording,
        remedy=shown,
        facts=tuple(_facts(remedy, wording)),
        cautions=work.cautions_on_paper(knowledge.remedies[remedy].cautions, wording),
        yours=any(step is not None for step in shown.steps),
        edition=knowledge.edition,
    )


def _customer(knowledge: Knowledge, remedy: str) -> tuple[Wording, work.RemedyOnPaper]:
    if remedy not in knowledge.remedies:
        raise UsageError(f"unknown remedy '{remedy}'{near(remedy, knowledge.remedies)}")
    wording = Wording(knowledge, "customer")
    return wording, work.remedy_on_paper(remedy, wording)


def _facts(remedy: str, wording: Wording) -> Iterator[str]:
    """Yield who may do it, how long it takes and what it needs."""
    entry = wording.knowledge.remedies[remedy]
    if entry.who == "owner-on-the-phone":
        yield wording.say("sheet-phone")
    elif entry.who not in OWNERS:
        yield wording.say("sheet-technician")
    yield wording.say("sheet-time", minutes=showing.minutes_text(entry.minutes, wording))
    if entry.helper_needed:
        yield wording.say("sheet-two")
    elif entry.helper_families:
        families = ", ".join(wording.text(wording.knowledge.clocks[name].title) for name in entry.helper_families)
        yield wording.say("sheet-two-for", families=families)
    if entry.tools and entry.who in OWNERS:
        yield wording.say("report-tools", list=", ".join(entry.tools))


def messages(knowledge: Knowledge, remedy: str) -> tuple[str, ...]:
    """Return a remedy as messages to send, numbered, each short enough to arrive in one piece.

    Cautions come first. A step that is too long for one message is sent in two, and each of them says
    STOP IF.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    remedy : str
        Id of the remedy.

    Returns
    -------
    tuple of str
        Each under 600 characters, such as "1/5 ...".

    Raises
    ------
    UsageError
        No such remedy.
    """
    wording, shown = _customer(knowledge, remedy)
    cautions = work.cautions_on_paper(knowledge.remedies[remedy].cautions, wording)
    opening = [shown.title, *_facts(remedy, wording), *(_line(item.label, item.text, wording) for item in cautions)]
    if any(step is not None for step in shown.steps):
        opening.append(wording.say("sheet-rule"))
    texts = _packed(opening, "")
    for step in shown.steps:
        texts += _step(step, wording) if step is not None else [wording.say("leave-to-us")]
    proof = [wording.say("report-name-value", name=wording.say("proves"), value=shown.proof[0]), *shown.proof[1:]]
    texts += _packed([*proof, wording.say("sheet-call")], "")
    count = len(texts)
    return tuple(
        wording.say("message-number", number=number, count=count, text=text) for number, text in enumerate(texts, 1)
    )


def _line(label: str, text: str, wording: Wording) -> str:
    return wording.say("message-line", label=label, text=text)


def _step(step: work.StepOnPaper, wording: Wording) -> list[str]:
    """Return a step as one message, or two where it is long; STOP IF stands at the end of each."""
    lines = [_line(wording.say("report-step", number=step.number), step.do, wording)]
    if step.viewpoint is not None:
        lines.append(step.viewpoint)
    if step.hold is not None:
        lines.append(_line(wording.say("other-hand"), step.hold, wording))
    lines.append(_line(wording.say("right-when"), step.right_when, wording))
    if step.cannot_be_undone:
        lines.append(wording.say("cannot-be-undone"))
    stop = ""
    if step.stop_if is not None:
        stop = _line(wording.say("stop-if"), step.stop_if, wording)
    return _packed(lines, stop)


def _packed(lines: list[str], last: str) -> list[str]:
    """Put lines into as few messages as they need; `last` stands at the end of each of them."""
    room = LONGEST_MESSAGE - NUMBER_ROOM - (len(last) + 1 if last else 0)
    packed: list[str] = []
    for line in lines:
        for number, piece in enumerate(_sentences(line) if len(line) > room else [line]):
            between = " " if number else "\n"
            if packed and len(packed[-1]) + len(between) + len(piece) <= room:
                packed[-1] += between + piece
            else:
                packed.append(piece)
    return [f"{text}\n{last}" if last else text for text in packed]


def _sentences(text: str) -> list[str]:
    """Return the sentences of a text."""
    return re.split(r"(?<=[.?!]) +", text)


def write_sheet(knowledge: Knowledge, remedy: str, folder: Path, pdf: bool = False) -> tuple[Path, ...]:
    """Write the sheet of a remedy as HTML and text, and as PDF where asked; return the paths.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    remedy : str
        Id of the remedy.
    folder : Path
        Where to; made where it is missing.
    pdf : bool
        Also as PDF.

    Raises
    ------
    UsageError
        No such remedy.
    InputError
        The folder cannot be written to, or the PDF cannot be made.
    """
    sheet = html_sheet(knowledge, remedy)
    name = file_name(remedy)
    contents: dict[str, str | bytes] = {
        f"{name}.html": sheet,
        f"{name}.txt": "\n\n".join(messages(knowledge, remedy)) + "\n",
    }
    if pdf:
        contents[f"{name}.pdf"] = pdf_of(sheet)
    return write_files(folder, contents)
