"""Words of the terminal that end, open and compare contacts: until, call, photo, handover, history, done."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Literal

from rich.text import Text

from diagnose import contacts, handing_over, moments
from diagnose.cases.events import ENDS, Contact
from diagnose.errors import UsageError
from diagnose.model.observations import Source
from diagnose.reasoning.changes import NUMBERS, RATE
from diagnose.reports import contact_words as words
from diagnose.terminal import contact_screens, screens, telling
from diagnose.terminal.typed import take_apart

if TYPE_CHECKING:
    from diagnose.terminal.talk import Talk

SHOWN_CAUSES = 5


def all_words(talk: Talk) -> dict[str, Callable[[str], None]]:
    """Return the words of this file, each with what it does."""
    return {
        "until": lambda rest: until(talk, rest),
        "call": lambda _: go_on(talk, "call"),
        "visit": lambda _: go_on(talk, "visit"),
        "workshop": lambda _: go_on(talk, "workshop"),
        "told": lambda rest: known_by(talk, "told", rest),
        "seen": lambda rest: known_by(talk, "seen", rest),
        "photo": lambda rest: known_by(talk, "photo", rest),
        "handover": lambda rest: hand_over(talk, rest),
        "again": lambda rest: again(talk, rest),
        "history": lambda _: history_of(talk),
        "done": lambda rest: done(talk, rest),
    }


def until(talk: Talk, rest: str) -> None:
    """Close the contact until a date, with what is to be watched meanwhile."""
    today = contacts.date_of(talk.consultation.contact.when)
    talk.consultation.close_contact(words.date_typed(rest, today, talk.wording) if rest else "")


def go_on(talk: Talk, where: Literal["call", "visit", "workshop"]) -> None:
    """Go on in another call, at the clock or at the bench."""
    count = sum(isinstance(event, Contact) for event in talk.consultation.case.events)
    staff = talk.consultation.contact.staff
    talk.consultation.new_contact(Contact(f"c{count + 1}", where, telling.now(), staff))


def known_by(talk: Talk, source: Source, rest: str) -> None:
    """Take answers that are known otherwise than the contact says, such as from a photo."""
    moment = talk.moment()
    shown = isinstance(moment, moments.LookMoment | moments.ProofMoment | moments.HomeworkMoment)
    findings = moment.findings if shown else ()  # type: ignore[union-attr]
    typed = take_apart(rest, len(findings))
    if not findings or not isinstance(typed, tuple):
        raise UsageError(talk.wording.say("source-word-what"))
    talk.answer_look(findings, typed, source)


def hand_over(talk: Talk, rest: str) -> None:
    """Hand the clock over with what is known and what was typed, `name value` parted by semicolons."""
    values = dict(talk.consultation.handover_defaults)
    for piece in filter(None, (part.strip() for part in rest.split(";"))):
        name = next((field for field in _by_length() if piece.lower().startswith(field.split(" ")[0])), None)
        if name is None:
            names = ", ".join(handing_over.FIELDS)
            raise UsageError(talk.wording.say("handover-what", names=names))
        head = name if piece.lower().startswith(name) else name.split(" ")[0]
        values[name] = handing_over.value_of(name, piece[len(head) :].strip(" :="))
    talk.consultation.hand_over(values)
    talk.console.print(Text(talk.wording.say("handover-done"), style="bold"))
    for name, value in words.handed_rows(values, talk.wording):
        talk.console.print(screens.indented(f"{name}: {value}"), highlight=False)


def _by_length() -> list[str]:
    """Return the names of the hand-over values, longer first words first: `beats` before `beat`."""
    return sorted(handing_over.FIELDS, key=lambda field: -len(field.split(" ")[0]))


def again(talk: Talk, rest: str) -> None:
    """Take a value of the hand-over that was measured again, such as `swing 31`."""
    name, _, text = rest.rpartition(" ")
    field = next((each for each in NUMBERS if name and each.startswith(name.lower())), RATE)
    value = handing_over.value_of(field, text)
    if not name or not isinstance(value, float):
        raise UsageError(talk.wording.say("again-what"))
    talk.consultation.measured_again(field, value)
    contact_screens.show_changes(talk)


def history_of(talk: Talk) -> None:
    """Print the earlier cases of this clock."""
    lines = words.earlier_lines(
        talk.consultation.earlier, talk.consultation.kept_as, contacts.date_of("").isoformat(), talk.wording
    )
    talk.console.print(Text(talk.wording.say("history-title"), style="bold"))
    for line in lines or [talk.wording.say("history-none")]:
        talk.console.print(line, highlight=False, markup=False)


def done(talk: Talk, rest: str) -> None:
    """Close the case: what it came to, and the cause where it is known."""
    typed = rest.strip()
    outcome = next((end for end in sorted(ENDS, key=len, reverse=True) if typed.startswith(end)), None)
    if outcome is None:
        talk.consultation.conclude(typed or "unknown")
        return
    named = typed[len(outcome) :].strip(" :,;")
    cause = _cause_named(talk, named) if named else _cause_asked(talk) if outcome == "cured" else None
    talk.consultation.conclude(outcome, cause)


def _cause_named(talk: Talk, named: str) -> str:
    causes = [item.cause for item in talk.consultation.assessment.ranking.causes[:SHOWN_CAUSES]]
    if named.isdigit() and 1 <= int(named) <= len(causes):
        return causes[int(named) - 1]
    return telling.find_cause(talk.consultation.knowledge, named)


def _cause_asked(talk: Talk) -> str | None:
    """Ask which cause it was: only a person can say so."""
    causes = [item.cause for item in talk.consultation.assessment.ranking.causes[:SHOWN_CAUSES]]
    talk.console.print(Text(talk.wording.say("which-cause"), style="bold"))
    for line in screens.numbered(talk.wording.cause(cause) for cause in causes):
        talk.console.print(line, highlight=False)
    typed = (talk.read(talk.wording.say("prompt")) or "").strip()
    return _cause_named(talk, typed) if typed else None
