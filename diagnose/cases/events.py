"""What happens in a consultation, one thing after another; the list is only ever added to."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Literal

from diagnose.errors import InputError
from diagnose.model.entries import Where
from diagnose.model.near_names import near
from diagnose.model.observations import Answer, Measurement

# What a case may come to, as a person enters it.
ENDS = (
    "cured", "not-cured", "part-faulty", "spoiled", "wrong-part", "part-not-cause", "nothing-found", "unknown",
)  # fmt: skip
Outcome = Literal["done", "cured", "better", "no-change", "worse", "not-done", "not-so", "stopped"]


@dataclass(frozen=True, slots=True)
class Contact:
    """One call, visit or spell in the workshop.

    Parameters
    ----------
    id : str
        Such as "c1".
    where : str
        "call", "visit" or "workshop".
    when : str
        Date and time, ISO 8601.
    staff : str
        Initials of whoever works.
    """

    id: str = "c1"
    where: Where = "call"
    when: str = ""
    staff: str = ""


@dataclass(frozen=True, slots=True)
class FactSet:
    """Something about the clock or the person became known (`about` is "clock" or "person")."""

    about: Literal["clock", "person"]
    field: str
    value: str


@dataclass(frozen=True, slots=True)
class Said:
    """A complaint or remark in somebody's own words."""

    text: str
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class Dismissed:
    """A finding that was offered from somebody's words and is not what was meant."""

    finding: str


@dataclass(frozen=True, slots=True)
class TakenBack:
    """The answer to a finding no longer counts."""

    finding: str


@dataclass(frozen=True, slots=True)
class Heard:
    """A recording that was heard, with its result as `diagnose listen --json` gives it.

    `within` is the remedy in which it was taken; such a recording tells how the remedy goes and counts
    as evidence only once the remedy has ended. `made` says how it was made, as far as that is known: "beside" is the
    file of a second recording from another place, "ppm" and "sigma_ppm" are what the phone counts too many, and
    "noise_suppression", "echo_cancellation" and "gain_control" whether a browser did so to the sound.
    """

    file: str
    beats: dict[str, Any]
    first_side: Literal["left", "right"] | None = None
    within: str | None = None
    contact: str = "c1"
    made: dict[str, Any] = dataclasses.field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured quantity."""

    measurement: Measurement


@dataclass(frozen=True, slots=True)
class Weighed:
    """A finding whose values are known with chances, such as a block measured against its slot."""

    finding: str
    likelihood: dict[str, float]
    because: str
    source: str = "measured"
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class Acted:
    """One act of setting the beat: what was moved, to which side, how far."""

    adjuster: str
    direction: Literal["left", "right"]
    amount_mm: float
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class Noted:
    """Times that were noted: when it stopped, or how far it was fast and how the nut was turned.

    Parameters
    ----------
    about : str
        "stops" or "rate".
    text : str
        The notes, as they are read again.
    within : str, optional
        The remedy in which they were taken.
    rate : tuple of float, optional
        The rate they tell since the last turn of the nut, and its standard uncertainty [s/day].
    contact : str
        In which they were given.
    """

    about: Literal["stops", "rate"]
    text: str
    within: str | None = None
    rate: tuple[float, float] | None = None
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class WalkBegun:
    """Somebody began to walk a remedy; `warned` says that its cautions stood on the screen before."""

    remedy: str
    contact: str = "c1"
    warned: bool = False


@dataclass(frozen=True, slots=True)
class StepTaken:
    """A step of the remedy was right, or not so (`way` counts its `not_so` entries from 0), or stopped."""

    remedy: str
    step: int
    result: Literal["right", "not-so", "stopped", "back"]
    way: int = 0


@dataclass(frozen=True, slots=True)
class Tried:
    """A remedy was tried to its end, or left; it divides the answers before from those after."""

    remedy: str
    outcome: Outcome
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class AlarmSeen:
    """An alarm was said to whoever is at the clock; `cleared` says that a person has dealt with it."""

    alarm: str
    cleared: bool = False


@dataclass(frozen=True, slots=True)
class HandedOver:
    """The values with which the clock was handed over."""

    values: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Closed:
    """A contact ended before the case did: until when, and what the owner watches meanwhile.

    Parameters
    ----------
    contact : str
        Which contact ended.
    again : str
        Date of the next one, ISO 8601 without a time; "" where none was agreed.
    homework : tuple of str
        Findings that are asked first in the next contact, at most three.
    """

    contact: str
    again: str = ""
    homework: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ToldChecked:
    """What was only told before was gone through at the clock, whatever of it was looked at."""

    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class SameClock:
    """Whether a recording whose speed does not fit the one before is of this clock; if not, it does not count."""

    file: str
    same: bool


@dataclass(frozen=True, slots=True)
class HandedBefore:
    """With what values, and when, an earlier case on this clock was handed over."""

    case: str
    when: str
    values: dict[str, Any]
    outcome: str = ""
    cause: str | None = None


@dataclass(frozen=True, slots=True)
class Again:
    """A value of the hand-over measured again: its name there, and what it is now."""

    name: str
    value: float
    contact: str = "c1"


@dataclass(frozen=True, slots=True)
class Concluded:
    """What a person entered at the end: "cured by ...", "nothing found", "unknown" and so on."""

    outcome: str
    cause: str | None = None
    note: str = ""


Event = (
    Contact | FactSet | Said | Dismissed | Answer | TakenBack | Heard | Measured | Weighed | Acted
    | WalkBegun | StepTaken | Tried | AlarmSeen | HandedOver | Closed | ToldChecked | SameClock | HandedBefore
    | Again | Noted | Concluded
)  # fmt: skip

KINDS: dict[str, type[Any]] = {
    "contact": Contact,
    "fact": FactSet,
    "said": Said,
    "dismissed": Dismissed,
    "answer": Answer,
    "taken-back": TakenBack,
    "heard": Heard,
    "measured": Measured,
    "weighed": Weighed,
    "acted": Acted,
    "walk-begun": WalkBegun,
    "step": StepTaken,
    "tried": Tried,
    "alarm": AlarmSeen,
    "handed-over": HandedOver,
    "closed": Closed,
    "told-checked": ToldChecked,
    "same-clock": SameClock,
    "handed-before": HandedBefore,
    "again": Again,
    "noted": Noted,
    "concluded": Concluded,
}
_NAMES = {form: name for name, form in KINDS.items()}


def event_to_dict(event: Event) -> dict[str, Any]:
    """Return an event as plain values, with its kind under "event"."""
    return {"event": _NAMES[type(event)], **dataclasses.asdict(event)}


def event_from_dict(body: dict[str, Any]) -> Event:
    """Return the event that `event_to_dict` wrote.

    Raises
    ------
    InputError
        If the kind is not known or its fields do not fit, as in a case from a later edition.
    """
    kind = str(body.get("event"))
    form = KINDS.get(kind)
    if form is None:
        raise InputError(f"unknown event '{kind}'{near(kind, KINDS)}", do="The case may come from a later edition")
    fields = {name: value for name, value in body.items() if name != "event"}
    try:
        if form is Measured:
            return Measured(Measurement(**fields["measurement"]))
        if form is Noted and fields.get("rate") is not None:
            fields["rate"] = tuple(fields["rate"])
        if form is Closed:
            # JSON knows no tuples.
            fields["homework"] = tuple(fields.get("homework", ()))
        return form(**fields)  # type: ignore[no-any-return]
    except (TypeError, KeyError) as error:
        raise InputError(f"event '{kind}' has fields that do not fit: {error}") from error
