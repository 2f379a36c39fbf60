"""What is said and known when a clock is regulated: task, record, advice, with usual sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from diagnose.mechanics import in_hand
from diagnose.mechanics.comparing import Comparison, Rate
from diagnose.mechanics.pendulum import length_m
from diagnose.model.lists import ClockEntry

TimeKind = Literal[
    "compare-first", "compare-again", "turn", "offer", "good", "as-near-as-a-hand", "heat", "bob-stayed",
    "not-the-nut", "look-elsewhere",
]  # fmt: skip

MM_PER_M = 1000.0
USUAL_LENGTH_MM = 400.0
"""Where nothing is known of the clock; common practice, no source [mm]."""
USUAL_PITCH_MM = 0.7
"""Pitch of a rating thread; common practice, no source [mm]."""
PITCH_SPREAD, LENGTH_SPREAD, ROD_SPREAD = 0.30, 0.35, 0.10
"""Spread of the logarithm of the answer where pitch or length are only the usual ones, and by the mass of the rod."""

MINUTES_ON_A_DIAL = 60
FINE_TURN, FINE_MINUTES, COARSE_MINUTES = 0.25, 1, 2
"""A nut is turned by steps as far as a minute hand goes in so many minutes; below a quarter turn in single ones."""
WHOLE_TURN = 1.0

LOOK_AT_NUT = ("nut-moves-bob", "nut-room")
LOOK_AT_PENDULUM = ("beats-match", "leader-matches", "hands-follow", "nut-room")
CAUTIONS = ("bob-falls",)


@dataclass(frozen=True, slots=True)
class TimeTask:
    """The clock that is regulated.

    Parameters
    ----------
    length_mm : float
        Theoretical length of its pendulum [mm].
    pitch_mm : float
        Pitch of the rating thread [mm].
    length_known, pitch_known : bool
        Whether these belong to this clock, or are usual ones.
    rod : str
        What the rod is made of: "steel", "brass", "wood".
    """

    length_mm: float = USUAL_LENGTH_MM
    pitch_mm: float = USUAL_PITCH_MM
    length_known: bool = False
    pitch_known: bool = False
    rod: str = "steel"

    @property
    def spread(self) -> float:
        """Spread of the logarithm of the answer to one turn, before it is learned."""
        length = 0.0 if self.length_known else LENGTH_SPREAD
        pitch = 0.0 if self.pitch_known else PITCH_SPREAD
        return float((length**2 + pitch**2 + ROD_SPREAD**2) ** 0.5)


@dataclass(frozen=True, slots=True)
class NutTurn:
    """A turn of the rating nut.

    Parameters
    ----------
    turns : float
        + raises the bob, so that the clock gains [turn].
    """

    turns: float


Noted = Comparison | Rate | NutTurn
"""What a record of regulating holds, in order: comparisons, rates heard on a recording, turns of the nut."""


@dataclass(frozen=True, slots=True)
class NutSize:
    """A turn that a hand can make.

    Parameters
    ----------
    turns : float
        Without sign [turn].
    text : str
        In eighths of a turn; empty where it is less than one turn.
    dial_minutes : int
        As far as a minute hand goes in so many minutes; 0 where `text` says it.
    """

    turns: float
    text: str
    dial_minutes: int


def nut_size(turns: float) -> NutSize:
    """Return the turn nearest to what is wanted that a hand can make: eighths from one turn on, below it minutes.

    Parameters
    ----------
    turns : float
        Wanted turn, without sign [turn].
    """
    if turns >= WHOLE_TURN:
        size = in_hand.screw(turns, WHOLE_TURN)
        return NutSize(size.mm, size.text, 0)
    step = FINE_MINUTES if turns < FINE_TURN else COARSE_MINUTES
    minutes = max(round(turns * MINUTES_ON_A_DIAL / step), 1) * step
    if minutes == MINUTES_ON_A_DIAL:
        return NutSize(WHOLE_TURN, in_hand.screw(WHOLE_TURN, WHOLE_TURN).text, 0)
    return NutSize(minutes / MINUTES_ON_A_DIAL, "", minutes)


@dataclass(frozen=True, slots=True)
class TimeAdvice:
    """What to do next.

    Parameters
    ----------
    kind : str
        "compare-first", "compare-again" (too early to tell), "turn", "offer" (ordinary; a turn may still be made),
        "good", "as-near-as-a-hand" (nearer than a turn by hand can bring it), "heat" (the room explains it),
        "bob-stayed" (the nut turned, the bob did not follow), "not-the-nut" (too far out), or "look-elsewhere".
    rate, uncertainty : float, optional
        The rate now and its standard uncertainty [s/day].
    turns : float, optional
        What to turn: + raises the bob [turn].
    size : NutSize, optional
        The same in words.
    per_turn, per_turn_uncertainty : float, optional
        What one turn of this nut is known to change, after at least one turn [s/day].
    days : int, optional
        After how many days to compare again.
    again_at : datetime, optional
        When that is, counted from the last comparison.
    heat : float, optional
        What the change of the room makes [s/day].
    length_change_mm : float, optional
        How much longer the pendulum would have to be, where it is too far out for the nut [mm].
    record : bool
        A recording of a minute tells enough now, at once.
    other_way : bool
        The last turn probably went the other way than told.
    look_at : tuple of str
        Findings to look at.
    cautions : tuple of str
        Ids of cautions to be said before a turn.
    """

    kind: TimeKind
    rate: float | None = None
    uncertainty: float | None = None
    turns: float | None = None
    size: NutSize | None = None
    per_turn: float | None = None
    per_turn_uncertainty: float | None = None
    days: int | None = None
    again_at: datetime | None = None
    heat: float | None = None
    length_change_mm: float | None = None
    record: bool = False
    other_way: bool = False
    look_at: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def time_task(
    family: ClockEntry | None = None,
    beats_per_hour: float | None = None,
    pitch_mm: float | None = None,
    rod: str = "steel",
) -> TimeTask:
    """Return the task for a clock: its length from its beats, or the usual one of its family.

    Parameters
    ----------
    family : ClockEntry, optional
        The family, from `knowledge.clocks`.
    beats_per_hour : float, optional
        Beats per hour of its train [1/h].
    pitch_mm : float, optional
        Pitch of the rating thread [mm].
    rod : str
        What the rod is made of.
    """
    usual_mm = family.bend_to_bob_mm if family is not None else None
    return TimeTask(
        length_mm=length_m(beats_per_hour) * MM_PER_M if beats_per_hour else usual_mm or USUAL_LENGTH_MM,
        pitch_mm=pitch_mm or USUAL_PITCH_MM,
        length_known=beats_per_hour is not None,
        pitch_known=pitch_mm is not None,
        rod=rod,
    )


Stage = tuple[Rate, ...]
"""What is known of the rate between two turns: by the hands, by a recording, or by both."""


def in_pieces(record: Sequence[Noted]) -> tuple[list[Stage], list[float], list[Comparison]]:
    """Return what is known of the rate with the turns between, and the comparisons since the last turn.

    Turns between which nothing was compared count as one; what lies before the first rate is no use.
    """
    from diagnose.mechanics.comparing import rate_of

    stages: list[Stage] = []
    turns: list[float] = []
    open_: list[Comparison] = []
    heard: list[Rate] = []
    turned = 0.0
    for item in (*record, None):
        if isinstance(item, Comparison):
            open_.append(item)
        elif isinstance(item, Rate):
            heard.append(item)
        else:
            compared = rate_of(open_)
            known = (*heard[-1:], *((compared,) if compared is not None else ()))
            if known:
                if stages:
                    turns.append(turned)
                stages.append(known)
                turned = 0.0
            if item is not None:
                turned += item.turns
                open_, heard = [], []
    if turned and stages:
        # A turn was made and nothing is known after it yet.
        turns.append(turned)
    return stages, turns, open_


def best_of(stage: Stage) -> Rate:
    """Return the better known of what the hands and what a recording tell."""
    return min(stage, key=lambda rate: rate.uncertainty)


def is_recorded(rate: Rate) -> bool:
    """Return whether a rate was heard on a recording."""
    return rate.days < RECORDED_DAYS


RECORDED_DAYS = 0.2
"""What was heard for less than this was a recording, and no comparison of the hands [days]."""
