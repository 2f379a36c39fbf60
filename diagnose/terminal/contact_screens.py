"""What the terminal shows where one case spans several contacts (rich)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose import contacts, moments
from diagnose.model.wording import Wording
from diagnose.reports import contact_words as words
from diagnose.terminal import screens
from diagnose.terminal.choices import choices

if TYPE_CHECKING:
    from diagnose.consultation import Consultation
    from diagnose.terminal.talk import Talk


def away(consultation: Consultation, wording: Wording, moment: moments.AwayMoment) -> list[RenderableType]:
    """Return the end of a contact: the message to send, as it can be copied."""
    day = words.date_text(moment.again, wording)
    title = wording.say("until-title", date=day) if moment.again else wording.say("until-no-date")
    lines: list[RenderableType] = [screens.heading(title)]
    message = words.message_lines(moment.again, moment.homework, wording)
    if message:
        lines.append(Text(wording.say("until-send"), style="bold"))
        lines.extend(Text(line) for line in message)
    if consultation.kept_as:
        lines.append(Text(wording.say("until-hint", name=consultation.kept_as), style="dim"))
    return lines


def homework(consultation: Consultation, wording: Wording, moment: moments.HomeworkMoment) -> list[RenderableType]:
    """Return the questions about the homework, before anything else."""
    lines: list[RenderableType] = [screens.heading(wording.say("homework-title"))]
    for letter, finding in zip(screens.LETTERS, moment.findings, strict=False):
        lines.extend(screens.question(consultation, wording, letter, finding))
    return [*lines, Text(wording.say("homework-hint"), style="dim")]


def told(consultation: Consultation, wording: Wording, moment: moments.ToldMoment) -> list[RenderableType]:
    """Return what was only told, dearest first, each with its other values."""
    lines: list[RenderableType] = [screens.heading(wording.say("told-title"))]
    for letter, row in zip(screens.LETTERS, moment.rows, strict=False):
        name, value = wording.short(row.finding), wording.value(row.finding, row.value)
        text = wording.say("told-line", name=name, value=value)
        dear = row.minutes >= words.DEAR_MINUTES and wording.reader == "staff"
        lines.append(screens.indented(f"{letter}  {text}", by=1, style="bold" if dear else ""))
        if dear:
            lines.append(screens.indented(wording.say("told-dear"), by=4, style="yellow"))
        values = consultation.knowledge.findings[row.finding].values
        lines.append(choices((wording.value(row.finding, value) for value in values), by=4))
    return [*lines, Text(wording.say("told-hint"), style="dim")]


def same_clock(consultation: Consultation, wording: Wording, moment: moments.SameClockMoment) -> list[RenderableType]:
    """Return the question whether two recordings are of one clock."""
    speeds = moment.speeds
    line = wording.say("same-clock-line", before=f"{speeds.before:.0f}", now=f"{speeds.now:.0f}")
    answers = (wording.say("same-clock-yes"), wording.say("same-clock-no"))
    numbered = [screens.indented(f"{number}  {text}") for number, text in enumerate(answers, 1)]
    return [screens.heading(wording.say("same-clock-title")), screens.indented(line), *numbered]


def wait(consultation: Consultation, wording: Wording, moment: moments.WaitMoment) -> list[RenderableType]:
    """Return what the owner watches, until when, and how to close the contact with it."""
    lines: list[RenderableType] = [screens.heading(wording.say("wait-title"))]
    day = contacts.date_after(consultation.contact.when, moment.hours)
    lines.extend(screens.numbered(words.homework_text(name, wording) for name in consultation.homework))
    lines.append(screens.indented(screens.wait_text(wording, moment.hours)))
    lines.append(Text(wording.say("until-offer", date=words.date_text(day, wording)), style="dim"))
    return lines


def show_changes(talk: Talk) -> None:
    """Print what has changed since hand-over, where the clock was here before."""
    lines = words.changes_lines(talk.consultation, talk.wording)
    if lines:
        title = Text(talk.wording.say("changed-title"), style="bold")
        talk.console.print(Group(title, *(screens.indented(line) for line in lines)), highlight=False)
