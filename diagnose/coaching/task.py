"""What is said and known when a beat is set: task, beats, acts and advice, with usual sizes by adjuster."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.mechanics import in_hand
from diagnose.mechanics.escapement import Adjuster, EarlySide, Side
from diagnose.model.lists import ClockEntry

AdviceKind = Literal["listen", "learn-side", "which-way", "act", "acceptable", "good", "look-elsewhere", "hand-over"]
LastStep = Literal["none", "better", "worse", "same", "overshot"]

USUAL_SWING_DEG, USUAL_DROP_DEG = 4.0, 2.0
USUAL_ARM_MM: dict[Adjuster, float] = {
    "leader-adjuster": 90.0,
    "crutch-adjuster": 90.0,
    "crutch-bend": 90.0,
    "friction-crutch": 500.0,
    "case-feet": 250.0,
    "case-hook": 600.0,
}
"""Arms where the family is not known; common practice, no source [mm]."""

LEAST_MM: dict[Adjuster, float] = {
    "leader-adjuster": 0.05,
    "crutch-adjuster": 0.05,
    "crutch-bend": 0.05,
    "friction-crutch": 0.25,
    "case-feet": in_hand.BUSINESS_CARD_MM,
    "case-hook": 0.5,
}
"""Smallest step a hand can make [mm]."""

CAUTIONS: dict[Adjuster, tuple[str, ...]] = {
    "leader-adjuster": ("force-nothing", "left-and-right"),
    "crutch-adjuster": ("force-nothing", "left-and-right"),
    "crutch-bend": ("pallet-pivot-snaps", "left-and-right"),
    "friction-crutch": ("force-nothing", "left-and-right"),
    "case-feet": ("tall-case-tips", "left-and-right"),
    "case-hook": ("height-and-ladders", "left-and-right"),
}

LOOK_AT: dict[Adjuster, tuple[str, ...]] = {
    "leader-adjuster": ("adjuster-travel", "adjuster-holds", "crutch-follows", "beat-set-by", "leader-in-crutch"),
    "crutch-adjuster": ("adjuster-travel", "adjuster-holds", "crutch-follows", "beat-set-by", "paper-in-fork"),
    "crutch-bend": ("crutch-joint", "crutch-follows", "fork-square", "leader-in-crutch", "unequal-drop"),
    "friction-crutch": ("self-setting-recovers", "crutch-joint", "beat-set-by", "crutch-follows", "leader-in-crutch"),
    "case-feet": ("case-steady", "bob-clear", "crutch-follows", "leader-in-crutch", "unequal-drop"),
    "case-hook": ("wall-fixing", "bob-clear", "crutch-follows", "leader-in-crutch", "unequal-drop"),
}
"""What else to look at when the beat does not answer to an adjuster."""


@dataclass(frozen=True, slots=True)
class BeatTask:
    """The beat that is to be set.

    Parameters
    ----------
    adjuster : str
        What is moved.
    swing_deg, drop_deg : float
        Semi-arc, and angle at which a tooth drops [deg].
    own_angles : bool
        Whether these two were measured on this clock; otherwise they are usual ones.
    arm_mm : float, optional
        Width of the feet, arbor to fork, bend to bob, or hook to case bottom [mm].
    pitch_mm : float, optional
        Travel of the adjuster for one turn of its screw [mm].
    side_can_be_learned : bool
        Whether somebody can let the bob go from the left while it is recorded.
    on_the_floor : bool
        Whether it is a tall case, that somebody must hold.
    """

    adjuster: Adjuster
    swing_deg: float = USUAL_SWING_DEG
    drop_deg: float = USUAL_DROP_DEG
    own_angles: bool = False
    arm_mm: float | None = None
    pitch_mm: float | None = None
    side_can_be_learned: bool = True
    on_the_floor: bool = False


@dataclass(frozen=True, slots=True)
class HeardBeat:
    """A beat as heard, or that the clock does not keep going.

    Parameters
    ----------
    percent : float
        Beat error, without sign [percent].
    uncertainty : float
        Its standard uncertainty [percent].
    early_side : str
        The side that comes early, where it is known.
    stopped : bool
        The clock does not keep going, so that nothing could be heard.
    after : int, optional
        After how many acts it was heard; without it beats stand in order, one before and one after each act.
    """

    percent: float
    uncertainty: float = 0.5
    early_side: EarlySide = "unknown"
    stopped: bool = False
    after: int | None = None


@dataclass(frozen=True, slots=True)
class Act:
    """What was advised and, as far as anyone knows, done.

    Parameters
    ----------
    direction : str
        Where it was moved: the side raised, or toward which it went.
    amount_mm : float
        How far [mm].
    looked_at : bool
        Whether somebody looked afterward which way it really went, and `direction` says so.
    """

    direction: Side
    amount_mm: float
    looked_at: bool = False


Wrong = Literal["nothing", "side", "went-wrong", "turned"]


@dataclass(frozen=True, slots=True)
class Packing:
    """What lies under the feet in the end, counted from the beginning.

    Parameters
    ----------
    side : str
        Under which feet.
    size : in_hand.Size or None
        How much; None where all of it comes out again.
    """

    side: Side
    size: in_hand.Size | None


@dataclass(frozen=True, slots=True)
class Sentences:
    """What is to be said.

    Parameters
    ----------
    kind, adjuster : str
        Kind of advice, and what is moved.
    percent : float or None
        Beat error heard; None where the clock did not keep going [percent].
    uncertainty : float
        Its standard uncertainty [percent].
    early_side : str
        The side that comes early.
    last_step : str
        What the last act did.
    on_the_floor : bool
        Whether it is a tall case.
    direction : str or None
        Where to move.
    size : in_hand.Size or None
        How far.
    in_all : Packing or None
        The packing in the end, where some lies there already.
    wrong : str
        What probably went wrong with the last act: "nothing", the "side" was wrong, it "went-wrong", or the
        adjuster is "turned".
    stopped : bool
        The clock does not keep going.
    """

    kind: AdviceKind
    adjuster: Adjuster
    percent: float | None
    uncertainty: float
    early_side: EarlySide
    last_step: LastStep
    on_the_floor: bool
    direction: Side | None = None
    size: in_hand.Size | None = None
    in_all: Packing | None = None
    wrong: Wrong = "nothing"
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next.

    Parameters
    ----------
    kind : str
        "listen", "learn-side", "which-way" (look which way the last act went), "act", "acceptable" (an act may
        still be offered), "good", "look-elsewhere" or "hand-over".
    percent : float or None
        Beat error last heard, without sign [percent].
    split : tuple of float or None
        Longer and shorter interval [percent of the swing].
    early_side : str
        The side that comes early, as far as known.
    direction : str or None
        Where to move.
    amount_mm : float or None
        How far [mm].
    in_hand : str
        The size in something at hand.
    last_step : str
        What the last act did.
    percent_per_mm, percent_per_mm_uncertainty : float or None
        What this clock's own answer is known to be, after at least one act [percent/mm].
    look_at : tuple of str
        Findings to look at, where the beat does not answer.
    cautions : tuple of str
        Ids of cautions to be said first.
    told : Sentences
        What is to be said; `words_of` turns it into sentences.
    viewpoint : str
        Where left and right are seen from.
    """

    kind: AdviceKind
    percent: float | None
    split: tuple[float, float] | None
    early_side: EarlySide
    direction: Side | None
    amount_mm: float | None
    in_hand: str
    last_step: LastStep
    percent_per_mm: float | None
    percent_per_mm_uncertainty: float | None
    look_at: tuple[str, ...]
    cautions: tuple[str, ...]
    told: Sentences
    viewpoint: Literal["dial"] = "dial"


def beat_task(adjuster: Adjuster, family: ClockEntry | None = None, pitch_mm: float | None = None) -> BeatTask:
    """Return the task for a clock of a family, with its usual sizes.

    Parameters
    ----------
    adjuster : str
        What is moved.
    family : ClockEntry, optional
        The family, from `knowledge.clocks`.
    pitch_mm : float, optional
        Travel of the adjuster for one turn of its screw [mm].
    """
    if family is None:
        return BeatTask(adjuster, pitch_mm=pitch_mm)
    arms = {
        "case-feet": family.base_mm,
        "case-hook": family.hook_to_foot_mm,
        "friction-crutch": family.bend_to_bob_mm,
    }
    return BeatTask(
        adjuster,
        family.swing_deg or USUAL_SWING_DEG,
        family.drop_deg or USUAL_DROP_DEG,
        arm_mm=arms.get(adjuster, family.fork_mm),
        pitch_mm=pitch_mm,
        on_the_floor=family.base_mm is not None and (family.bend_to_bob_mm or 0) > TALL_MM,
    )


TALL_MM = 600.0
"""A standing clock with a longer pendulum than this has a tall case [mm]."""
