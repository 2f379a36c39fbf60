"""The case document: what happened with one clock, readable and writable by hand."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from diagnose.cases import events as ev
from diagnose.cases.facts import IMPLIED, SOUNDS
from diagnose.errors import Fault, KnowledgeError
from diagnose.model.entries import Id, Where
from diagnose.model.near_names import near
from diagnose.model.observations import Answer, ClockFacts, Measurement, Person
from diagnose.model.reading import Knowledge, sentence_of
from diagnose.model.yaml_nodes import Document, Path_, read_document

STATES = ("cannot-tell", "later")


@dataclass(frozen=True, slots=True)
class Case:
    """A case: how it came in, and the row of what happened.

    Parameters
    ----------
    id : str
        Its name.
    door : str
        The door it came in by.
    edition : str
        Edition of the knowledge it began with.
    events : tuple of Event
        What happened, in order.
    folder : Path, optional
        Where its recordings lie.
    title : str
        One line for lists.
    expect : mapping
        What a demo case must come to (for tests and exercises).
    """

    id: str
    door: str
    edition: str
    events: tuple[ev.Event, ...] = ()
    folder: Path | None = None
    title: str = ""
    expect: Mapping[str, Any] = field(default_factory=dict)

    @property
    def clock(self) -> ClockFacts:
        """Which clock it is, as far as said."""
        return dataclasses.replace(ClockFacts(id=self.id), **self._facts("clock"))

    @property
    def person(self) -> Person:
        """What the one at the clock can do, as far as said."""
        return Person(**self._facts("person"))

    @property
    def contact(self) -> ev.Contact:
        """The latest contact."""
        contacts = [event for event in self.events if isinstance(event, ev.Contact)]
        return contacts[-1] if contacts else ev.Contact()

    @property
    def sounds(self) -> str:
        """What it sounds, as far as said: nothing, hours, tune or unknown."""
        given = [event.value for event in self.events if isinstance(event, ev.FactSet) and event.field == SOUNDS]
        return given[-1] if given else "unknown"

    def _facts(self, about: str) -> dict[str, Any]:
        facts: dict[str, Any] = {}
        for event in self.events:
            if isinstance(event, ev.FactSet) and event.about == about and event.field != SOUNDS:
                number = event.field == "beats_per_hour"
                facts[event.field] = float(event.value) if number and event.value else (None if number else event.value)
        if about == "clock":
            # What it sounds settles strike and chime, unless one of them was said by its kind.
            told = {field for field, value in facts.items() if value != "unknown"}
            facts |= {field: value for field, value in IMPLIED[self.sounds].items() if field not in told}
        return facts

    def with_event(self, event: ev.Event) -> Case:
        """Return the case with one more event."""
        return dataclasses.replace(self, events=(*self.events, event))


class _Form(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


YesNoText = Literal["yes", "no", "unknown"]


class _ClockForm(_Form):
    id: Id | None = None
    family: Id = "unknown"
    drive: Id = "unknown"
    escapement: Id = "unknown"
    strike: Id = "unknown"
    chime: Id = "unknown"
    sounds: Literal["nothing", "hours", "tune", "unknown"] = "unknown"
    beats_per_hour: float | None = Field(default=None, gt=0, lt=40_000)


class _PersonForm(_Form):
    reaches: YesNoText = "unknown"
    lifts: YesNoText = "unknown"
    helper: YesNoText = "unknown"
    tools: YesNoText = "unknown"
    children: YesNoText = "unknown"


class _ContactForm(_Form):
    id: Id
    where: Where
    when: str = ""
    staff: str = ""
    told_checked: bool = False
    until: str | None = None
    homework: tuple[Id, ...] = Field(default=(), max_length=3)

    def begun(self) -> ev.Contact:
        return ev.Contact(self.id, self.where, self.when, self.staff)

    def closed(self) -> Iterable[ev.Event]:
        if self.until is not None:
            yield ev.Closed(self.id, self.until, self.homework)


class _AnswerForm(_Form):
    value: Id | None = None
    certainty: Literal["sure", "think-so"] = "sure"
    source: Literal["told", "seen", "photo", "recording", "measured"] = "told"
    contact: Id = "c1"
    said: str | None = None


class _MadeForm(_Form):
    beside: str | None = None
    ppm: float = Field(default=0.0, gt=-1000, lt=1000)
    sigma_ppm: float | None = Field(default=None, gt=0)
    noise_suppression: bool | None = None
    echo_cancellation: bool | None = None
    gain_control: bool | None = None


class _RecordingForm(_Form):
    file: str
    contact: Id = "c1"
    drawn_to: Literal["left", "right"] | None = None
    same_clock: Literal["yes", "no"] | None = None
    made: _MadeForm = _MadeForm()


class _MeasuredForm(_Form):
    quantity: Id
    value: float
    uncertainty: float = Field(gt=0)
    unit: str
    tool: str = "recording"
    contact: Id = "c1"


class _TriedForm(_Form):
    remedy: Id
    outcome: Literal["done", "cured", "better", "no-change", "worse", "not-done", "not-so", "stopped"] = "done"
    contact: Id = "c1"
    answers: dict[Id, _AnswerForm | Id] = {}
    recordings: tuple[_RecordingForm, ...] = ()


class _NotedForm(_Form):
    about: Literal["stops", "rate"]
    text: str
    within: Id | None = None
    rate: tuple[float, float] | None = None
    contact: Id = "c1"


class _BeforeForm(_Form):
    case: Id
    when: str
    values: dict[str, Any]
    outcome: str = ""
    cause: Id | None = None


class _CaseForm(_Form):
    case: Id
    title: str = ""
    door: Id = "stops"
    edition: str | None = None
    clock: _ClockForm = _ClockForm()
    person: _PersonForm = _PersonForm()
    said: str | tuple[str, ...] = ()
    before: _BeforeForm | None = None
    contacts: tuple[_ContactForm, ...] = ()
    answers: dict[Id, _AnswerForm | Id] = {}
    recordings: tuple[_RecordingForm, ...] = ()
    measured: tuple[_MeasuredForm, ...] = ()
    again: dict[str, float] = {}
    noted: tuple[_NotedForm, ...] = ()
    tried: tuple[_TriedForm, ...] = ()
    handover: dict[str, Any] | None = None
    outcome: dict[str, str] | str | None = None
    expect: dict[str, Any] = {}


def read_case(path: Path, knowledge: Knowledge) -> Case:
    """Read a case file; its recordings are heard by the consultation, not here.

    Parameters
    ----------
    path : Path
        The YAML file.
    knowledge : Knowledge
        Its ids must be in this knowledge.

    Returns
    -------
    Case
        With a `Heard` event without beats for each recording.

    Raises
    ------
    KnowledgeError
        With every fault: file, line, column, what is allowed, near names.
    """
    document = read_document(path)
    faults = list(document.faults)
    if faults or not isinstance(document.content, dict):
        raise KnowledgeError(faults or [document.fault((), "is no case: it must begin with `case: name`")])
    try:
        form = _CaseForm.model_validate(document.content)
    except ValidationError as error:
        raise KnowledgeError(_form_faults(document, error)) from None
    faults.extend(_unknown_ids(form, document, knowledge))
    if faults:
        if form.edition and form.edition != knowledge.edition:
            faults.append(document.fault(("edition",), _edition_sentence(form.edition, knowledge.edition)))
        raise KnowledgeError(faults)
    return Case(
        id=form.case,
        door=form.door,
        edition=form.edition or knowledge.edition,
        events=tuple(_events(form)),
        folder=path.parent,
        title=form.title,
        expect=form.expect,
    )


def _edition_sentence(old: str, new: str) -> str:
    return f"the case was made with edition {old} of the knowledge, this is {new}: put the new ids in, the rest stays"


def _form_faults(document: Document, error: ValidationError) -> list[Fault]:
    faults = []
    for problem in error.errors():
        loc = tuple(part for part in problem["loc"] if part not in {"_AnswerForm", "constrained-str"})
        faults.append(document.fault(loc, sentence_of(problem, _CaseForm)))
    return list(dict.fromkeys(faults))


def _unknown_ids(form: _CaseForm, document: Document, knowledge: Knowledge) -> list[Fault]:
    """Return a fault for each id of a door, clock, finding, value or remedy that is not known."""
    faults: list[Fault] = []

    def known(path: Path_, name: str, names: Iterable[str], what: str) -> bool:
        names = list(names)
        if name in names:
            return True
        allowed = f" (one of {', '.join(names)})" if len(names) <= 12 else ""
        faults.append(document.fault(path, f"unknown {what} '{name}'{near(name, names)}{allowed}"))
        return False

    known(("door",), form.door, knowledge.doors, "door")
    for kind in ("family", "drive", "escapement", "strike", "chime"):
        names = [name for name, entry in knowledge.clocks.items() if entry.kind == kind]
        known(("clock", kind), getattr(form.clock, kind), [*names, "unknown"], kind)
    pieces: list[tuple[Path_, Mapping[str, _AnswerForm | str]]] = [(("answers",), form.answers)]
    for number, tried in enumerate(form.tried):
        known(("tried", number, "remedy"), tried.remedy, knowledge.remedies, "remedy")
        pieces.append((("tried", number, "answers"), tried.answers))
    for path, answers in pieces:
        for finding, answer in answers.items():
            value = answer if isinstance(answer, str) else answer.value
            if known((*path, finding), finding, knowledge.findings, "finding") and value is not None:
                names = [*knowledge.findings[finding].values, *STATES]
                known((*path, finding), value, names, f"value of {finding}")
    for number, contact in enumerate(form.contacts):
        for place, name in enumerate(contact.homework):
            known(("contacts", number, "homework", place), name, knowledge.findings, "finding")
    contacts = {contact.id for contact in form.contacts} or {"c1"}
    for number, recording in enumerate(form.recordings):
        known(("recordings", number, "contact"), recording.contact, contacts, "contact")
    return faults


def _events(form: _CaseForm) -> Iterable[ev.Event]:
    contacts = form.contacts or (_ContactForm(id="c1", where="call"),)
    yield contacts[0].begun()
    if form.before is not None:
        yield ev.HandedBefore(**form.before.model_dump())
    for about, part in (("clock", form.clock), ("person", form.person)):
        for name, value in part.model_dump().items():
            if value not in {"unknown", None}:
                yield ev.FactSet(about, name, str(value))  # type: ignore[arg-type]
    for text in (form.said,) if isinstance(form.said, str) else form.said:
        yield ev.Said(text, contacts[0].id)
    later = list(contacts)
    seen = {contacts[0].id}
    if contacts[0].told_checked:
        yield ev.ToldChecked(contacts[0].id)
    yield from _piece(form.answers, form.recordings, later, seen)
    for item in form.measured:
        yield ev.Measured(Measurement(**item.model_dump()))
    for name, value in form.again.items():
        yield ev.Again(name, value, contacts[0].id)
    for noted in form.noted:
        yield ev.Noted(**noted.model_dump())
    for tried in form.tried:
        yield from _contact(tried.contact, later, seen)
        yield ev.Tried(tried.remedy, tried.outcome, tried.contact)
        yield from _piece(tried.answers, tried.recordings, later, seen)
    for contact in later:
        yield from _contact(contact.id, later, seen)
    yield from later[-1].closed()
    if form.handover is not None:
        yield ev.HandedOver(form.handover)
    if form.outcome is not None:
        outcome = form.outcome if isinstance(form.outcome, dict) else {"outcome": form.outcome}
        yield ev.Concluded(outcome.get("outcome", "unknown"), outcome.get("cause"), outcome.get("note", ""))


def _contact(name: str, contacts: list[_ContactForm], seen: set[str]) -> Iterable[ev.Event]:
    """Yield the beginning of a contact that comes up, after the end of the one before it."""
    for number, contact in enumerate(contacts):
        if contact.id == name and name not in seen:
            seen.add(name)
            yield from contacts[number - 1].closed()
            yield contact.begun()
            if contact.told_checked:
                yield ev.ToldChecked(contact.id)


def _piece(
    answers: Mapping[str, _AnswerForm | str],
    recordings: Iterable[_RecordingForm],
    contacts: list[_ContactForm],
    seen: set[str],
) -> Iterable[ev.Event]:
    """Yield the answers and recordings between two remedies, contact by contact as they come up."""
    for finding, answer in answers.items():
        form = _AnswerForm(value=answer) if isinstance(answer, str) else answer
        yield from _contact(form.contact, contacts, seen)
        state = form.value if form.value in STATES else "said"
        value = None if state != "said" else form.value
        yield Answer(finding, value, form.certainty, form.source, state, form.contact, form.said)  # type: ignore[arg-type]
    for recording in recordings:
        yield from _contact(recording.contact, contacts, seen)
        made = recording.made.model_dump(exclude_unset=True)
        yield ev.Heard(recording.file, {}, recording.drawn_to, None, recording.contact, made)
        if recording.same_clock is not None:
            yield ev.SameClock(recording.file, recording.same_clock == "yes")
