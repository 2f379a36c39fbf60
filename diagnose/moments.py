"""What stands before the person now: one value for each kind of screen, the same for terminal and page."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.contacts import TwoSpeeds
from diagnose.model.entries import Words
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.next_step import Plan
from diagnose.reasoning.told_only import Told


@dataclass(frozen=True, slots=True)
class AlarmMoment:
    """Danger: one sentence to say, and nothing asked before it."""

    alarm: str


@dataclass(frozen=True, slots=True)
class PickAlarmMoment:
    """The list of alarming things, to pick what happened."""

    alarms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScopeMoment:
    """The clock is of a kind this is not made for."""

    reason: str


@dataclass(frozen=True, slots=True)
class FactsMoment:
    """Which clock, and who is at it; every field may be left unknown."""

    about: str
    fields: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ComplaintMoment:
    """The complaint is asked for, in the customer's own words; it may be left empty."""


@dataclass(frozen=True, slots=True)
class ConfirmMoment:
    """Findings that the words may mean: confirmed or dismissed, never assumed."""

    suggestions: tuple[Suggestion, ...]


@dataclass(frozen=True, slots=True)
class FitMoment:
    """Two measurements and what they were taken with."""


@dataclass(frozen=True, slots=True)
class LookMoment:
    """One look: findings under the eye together, answered in any order or left.

    `why` is one sentence for each finding; `first` says that the door itself asks for this look.
    """

    place: str
    findings: tuple[str, ...]
    why: tuple[Words, ...]
    plan: Plan | None = None
    first: bool = False


@dataclass(frozen=True, slots=True)
class AdviceMoment:
    """What to do now: the remedy that is most worth trying."""

    remedy: str
    plan: Plan


@dataclass(frozen=True, slots=True)
class StepMoment:
    """One step of a remedy (`step` counts from 0)."""

    remedy: str
    step: int


@dataclass(frozen=True, slots=True)
class ProofMoment:
    """The remedy is done: what proves the cure is looked at."""

    remedy: str
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CuredMoment:
    """What proves the cure was seen; the hand-over values are asked for."""

    remedy: str


@dataclass(frozen=True, slots=True)
class WaitMoment:
    """What the customer watches until the next contact."""

    findings: tuple[str, ...]
    hours: float
    plan: Plan


@dataclass(frozen=True, slots=True)
class AwayMoment:
    """The contact is closed until a date: the message to send, and how to go on.

    Parameters
    ----------
    again : str
        Date of the next contact, ISO 8601, or "".
    homework : tuple of str
        Findings the owner watches meanwhile, at most three.
    """

    again: str
    homework: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HomeworkMoment:
    """The first thing of a contact: what came of the homework."""

    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToldMoment:
    """At the clock: what was only told before, dearest first, to be confirmed or put right by a look."""

    rows: tuple[Told, ...]


@dataclass(frozen=True, slots=True)
class SameClockMoment:
    """Two recordings of one case tick at different speeds: is it the same clock?"""

    speeds: TwoSpeeds


@dataclass(frozen=True, slots=True)
class ReferMoment:
    """The work goes elsewhere: a visit, the workshop or a specialist."""

    to: str
    plan: Plan


@dataclass(frozen=True, slots=True)
class EnoughMoment:
    """Most likely nothing is wrong, or not any more."""

    plan: Plan


@dataclass(frozen=True, slots=True)
class ClosedMoment:
    """A person has entered what it came to."""

    outcome: str


Moment = (
    AlarmMoment | PickAlarmMoment | ScopeMoment | FactsMoment | ComplaintMoment | ConfirmMoment | FitMoment
    | LookMoment | AdviceMoment | StepMoment | ProofMoment | CuredMoment | WaitMoment | ReferMoment | EnoughMoment
    | ClosedMoment | AwayMoment | HomeworkMoment | ToldMoment | SameClockMoment
)  # fmt: skip
