"""What people tell and instruments show: the values that go into the reasoning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Source = Literal["told", "seen", "photo", "recording", "measured"]
Certainty = Literal["sure", "think-so"]
State = Literal["said", "cannot-tell", "later"]
YesNo = Literal["yes", "no", "unknown"]


@dataclass(frozen=True, slots=True)
class ClockFacts:
    """Which clock it is; "unknown" where nobody has said.

    Parameters
    ----------
    id : str
        The name under which this clock is kept.
    family, drive, escapement, strike, chime : str
        Ids of `clocks` in the knowledge, or "unknown".
    beats_per_hour : float, optional
        Beats per hour of its train, where known.
    """

    id: str = "clock"
    family: str = "unknown"
    drive: str = "unknown"
    escapement: str = "unknown"
    strike: str = "unknown"
    chime: str = "unknown"
    beats_per_hour: float | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """What the one at the clock can safely do; an unknown counts as no where harm is possible.

    Parameters
    ----------
    reaches : str
        Reaches the part standing on the floor.
    lifts : str
        Lifts a full bucket with both hands.
    helper : str
        Has a helper.
    tools : str
        Has used small tools.
    children : str
        Children or pets are about.
    """

    reaches: YesNo = "unknown"
    lifts: YesNo = "unknown"
    helper: YesNo = "unknown"
    tools: YesNo = "unknown"
    children: YesNo = "unknown"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to one finding.

    Parameters
    ----------
    finding : str
        Id of the finding.
    value : str, optional
        Id of the value; None unless `state` is "said".
    certainty : str
        "sure" or "think-so".
    source : str
        How it is known: they err at different rates.
    state : str
        "said", "cannot-tell" (never asked again), or "later" (goes on the list for the visit).
    contact : str
        Id of the contact in which it was given.
    said : str, optional
        The words it was taken from.
    """

    finding: str
    value: str | None
    certainty: Certainty = "sure"
    source: Source = "told"
    state: State = "said"
    contact: str = "c1"
    said: str | None = None


@dataclass(frozen=True, slots=True)
class Measurement:
    """A measured quantity with its standard uncertainty.

    Parameters
    ----------
    quantity : str
        Id of the quantity, such as "beat-error".
    value : float
        In `unit`; signed where the quantity has a sign.
    uncertainty : float
        Standard uncertainty, in the same unit.
    unit : str
        Unit of value and uncertainty.
    tool : str
        What it was measured with.
    contact : str
        Id of the contact in which it was taken.
    """

    quantity: str
    value: float
    uncertainty: float
    unit: str
    tool: str = "recording"
    contact: str = "c1"
