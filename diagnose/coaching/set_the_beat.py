"""Closed loop "set the beat": from what was heard and done so far to the one next act, with direction and size.

A pure function of values: the same beats and acts always give the same advice. Directions are those of
someone who faces the dial. Limits of 3 and 5 percent are common practice, no source.
"""

from __future__ import annotations

import math

from diagnose.coaching.task import (
    CAUTIONS,
    LEAST_MM,
    LOOK_AT,
    USUAL_ARM_MM,
    Act,
    Advice,
    AdviceKind,
    BeatTask,
    HeardBeat,
    LastStep,
    Packing,
    Sentences,
    Wrong,
)
from diagnose.mechanics import escapement as angles
from diagnose.mechanics import in_hand
from diagnose.mechanics.beat_response import Beat, Belief, Move, Prior, believe, best_move
from diagnose.mechanics.escapement import ACCEPTABLE_PERCENT, GOOD_PERCENT, EarlySide, Side

MOST_PACKING_MM = 5.0
"""More packing than this looks wrong and is a tip risk; common practice, no source."""

ACTS_BEFORE_LOOKING = 3
HELPED_SHARE = 0.75
"""After so many acts the beat error must be below this share of the first, or something else is looked at."""

OWN_SPREAD, TABLE_SPREAD = 0.15, 0.40
"""Spread of the logarithm of the response, where swing and drop were measured, and where the table is used."""

FIRST_SHARE = 0.5
"""Half of the table's step, where the clock's own swing and drop are not known."""

TRIAL_PERCENT = 5.0
"""A first act with the side unknown changes the beat by about this at most, so that it cannot stop the clock."""

CAP_PERCENT = 20.0
LARGEST_PERCENT = 40.0
MOVES_EACH_WAY = 30
LIKELIER = 0.5
SAME_PERCENT = 1.0


def next_act(task: BeatTask, heard: tuple[HeardBeat, ...], acts: tuple[Act, ...]) -> Advice:
    """Return the one next act that sets the beat.

    Parameters
    ----------
    task : BeatTask
        What is to be set, and with what.
    heard : tuple of HeardBeat
        Beats in order: before any act, and after each.
    acts : tuple of Act
        Acts in order.

    Returns
    -------
    Advice
        Under 3 % it says good, up to 5 % acceptable. With the side unknown it first asks to learn it, or
        tries a small step. Where the clock's own swing and drop are not known the first step is half of
        the table's; from then on the clock's own answer counts. A step that made it worse is taken back
        and made the other way.
    """
    beats = _one_more_than(acts, heard)
    if not beats or len(beats) <= len(acts):
        return _plain("listen", task, None, "none")
    now, last_step = beats[-1], _last_step(beats)
    if not now.stopped and now.percent < GOOD_PERCENT:
        return _plain("good", task, now, last_step)
    belief = _belief(task, beats, acts)
    if _did_not_help(beats, acts):
        return _plain("look-elsewhere", task, now, last_step, look_at=LOOK_AT[task.adjuster])
    side = _early_side(now, belief)
    if side == "unknown" and not acts and task.side_can_be_learned and len(heard) == 1:
        return _plain("learn-side", task, now, last_step)
    move = _next_move(task, belief, beats, acts)
    size = _size(task, abs(move))
    in_all = belief.likely_moved_mm + math.copysign(size.mm, move)
    if task.adjuster == "case-feet" and abs(in_all) > MOST_PACKING_MM:
        return _plain("hand-over", task, now, last_step, look_at=("beat-set-by",))
    told = Sentences(
        kind=_kind(now),
        adjuster=task.adjuster,
        percent=None if now.stopped else now.percent,
        uncertainty=now.uncertainty,
        early_side=side,
        direction=_direction(task, move),
        size=size,
        in_all=_packing_in_all(task, in_all) if acts else None,
        last_step=last_step,
        on_the_floor=task.on_the_floor,
        wrong=_wrong(belief, last_step, acts),
    )
    return _advise(told, belief if acts else None)


def _kind(now: HeardBeat) -> AdviceKind:
    return "act" if now.stopped or now.percent > ACCEPTABLE_PERCENT else "acceptable"


def _wrong(belief: Belief, last_step: LastStep, acts: tuple[Act, ...]) -> Wrong:
    """Return what probably went wrong with the last act."""
    if not acts or last_step != "worse":
        return "nothing"
    if belief.last_went_wrong <= LIKELIER:
        return "side"
    return "turned" if acts[-1].looked_at else "went-wrong"


def _packing_in_all(task: BeatTask, in_all_mm: float) -> Packing | None:
    """Return the packing that lies under the feet in the end, counted from the beginning."""
    if task.adjuster != "case-feet":
        return None
    least = in_hand.BUSINESS_CARD_MM / 2
    return Packing(_direction(task, in_all_mm), in_hand.packing(abs(in_all_mm)) if abs(in_all_mm) > least else None)


def _one_more_than(acts: tuple[Act, ...], heard: tuple[HeardBeat, ...]) -> tuple[HeardBeat, ...]:
    """Return one beat for before and one after each act; further beats before the first act replace it."""
    surplus = max(len(heard) - len(acts) - 1, 0)
    return heard[surplus:]


def _last_step(beats: tuple[HeardBeat, ...]) -> LastStep:
    if len(beats) < 2:
        return "none"
    before, now = beats[-2], beats[-1]
    if now.stopped or before.stopped:
        return "worse" if now.stopped else "better"
    known = "unknown" not in (before.early_side, now.early_side)
    if known and before.early_side != now.early_side and now.percent >= GOOD_PERCENT:
        return "overshot"
    change = now.percent - before.percent
    if abs(change) < max(SAME_PERCENT, 2 * math.hypot(now.uncertainty, before.uncertainty)):
        return "same"
    return "better" if change < 0 else "worse"


def table_percent_per_mm(task: BeatTask) -> float:
    """Return by how much the beat error changes for a millimeter, by the table [percent/mm].

    Parameters
    ----------
    task : BeatTask
        What is moved, with its arm, swing and drop.
    """
    arm_mm = task.arm_mm or USUAL_ARM_MM[task.adjuster]
    return angles.beat_error_percent_linear(angles.angle_deg(1.0, arm_mm), task.swing_deg, task.drop_deg)


def _belief(task: BeatTask, beats: tuple[HeardBeat, ...], acts: tuple[Act, ...]) -> Belief:
    prior = Prior(table_percent_per_mm(task), OWN_SPREAD if task.own_angles else TABLE_SPREAD)
    heard = [
        Beat(
            -beat.percent if beat.early_side == "left" else beat.percent,
            beat.uncertainty,
            beat.early_side != "unknown",
            beat.stopped,
        )
        for beat in beats
    ]
    return believe(heard, [Move(_signed(task, act), act.looked_at) for act in acts], prior)


def _signed(task: BeatTask, act: Act) -> float:
    """Return an act as a movement that lessens a right-early beat error where it is positive [mm]."""
    return -math.copysign(act.amount_mm, angles.offset_change(task.adjuster, act.direction, act.amount_mm, 1.0))


def _direction(task: BeatTask, move_mm: float) -> Side:
    return angles.side_to_move(task.adjuster, "right" if move_mm > 0 else "left")


def _early_side(now: HeardBeat, belief: Belief) -> EarlySide:
    """Return the early side that was heard, or that the acts so far speak for."""
    if now.early_side != "unknown":
        return now.early_side
    if belief.right_early > SIDE_CLEAR:
        return "right"
    return "left" if belief.right_early < 1 - SIDE_CLEAR else "unknown"


SIDE_CLEAR = 0.75


def _next_move(task: BeatTask, belief: Belief, beats: tuple[HeardBeat, ...], acts: tuple[Act, ...]) -> float:
    """Return the next movement; positive lessens a right-early beat error [mm]."""
    response = table_percent_per_mm(task)
    now = beats[-1]
    if not acts:
        sign = -1.0 if now.early_side == "left" else 1.0
        percent = CAP_PERCENT if now.stopped else now.percent
        share = 1.0 if task.own_angles and now.early_side != "unknown" else FIRST_SHARE
        change = share * percent
        return sign * (min(change, TRIAL_PERCENT) if now.early_side == "unknown" else change) / response
    steps = range(1, MOVES_EACH_WAY + 1)
    sizes = [LARGEST_PERCENT / response * (step / MOVES_EACH_WAY) ** 1.5 for step in steps]
    moves = [sign * size for size in sizes for sign in (1.0, -1.0)]
    return best_move(belief, moves, GOOD_PERCENT, CAP_PERCENT)


def _size(task: BeatTask, mm: float) -> in_hand.Size:
    if task.adjuster == "case-feet":
        return in_hand.packing(mm)
    if task.pitch_mm and task.adjuster in ("leader-adjuster", "crutch-adjuster"):
        return in_hand.screw(mm, task.pitch_mm)
    return in_hand.hand_size(mm, LEAST_MM[task.adjuster])


def _did_not_help(beats: tuple[HeardBeat, ...], acts: tuple[Act, ...]) -> bool:
    """Return whether three acts or more have left the beat about where it began."""
    if len(acts) < ACTS_BEFORE_LOOKING or beats[-1].stopped:
        return len(acts) >= ACTS_BEFORE_LOOKING
    best = min(beat.percent for beat in beats[1:] if not beat.stopped)
    first = CAP_PERCENT if beats[0].stopped else beats[0].percent
    return best > max(HELPED_SHARE * first, ACCEPTABLE_PERCENT)


def _advise(told: Sentences, learned: Belief | None) -> Advice:
    """Return the advice to act."""
    return Advice(
        kind=told.kind,
        percent=told.percent,
        split=None if told.percent is None else angles.split_percent(told.percent),
        early_side=told.early_side,
        direction=told.direction,
        amount_mm=told.size.mm if told.size else None,
        in_hand=told.size.text if told.size else "",
        last_step=told.last_step,
        percent_per_mm=None if learned is None else learned.percent_per_mm,
        percent_per_mm_uncertainty=None if learned is None else learned.percent_per_mm_uncertainty,
        look_at=(),
        cautions=CAUTIONS[told.adjuster],
        told=told,
    )


def _plain(
    kind: AdviceKind, task: BeatTask, now: HeardBeat | None, last_step: LastStep, look_at: tuple[str, ...] = ()
) -> Advice:
    """Return advice without an act."""
    heard = now is not None and not now.stopped
    percent = now.percent if now is not None and heard else None
    side = now.early_side if now is not None else "unknown"
    told = Sentences(
        kind=kind,
        adjuster=task.adjuster,
        percent=percent,
        uncertainty=now.uncertainty if now is not None else 0.0,
        early_side=side,
        last_step=last_step,
        on_the_floor=task.on_the_floor,
        stopped=now is not None and now.stopped,
    )
    return Advice(
        kind=kind,
        percent=percent,
        split=None if percent is None else angles.split_percent(percent),
        early_side=side,
        direction=None,
        amount_mm=None,
        in_hand="",
        last_step=last_step,
        percent_per_mm=None,
        percent_per_mm_uncertainty=None,
        look_at=look_at,
        cautions=(),
        told=told,
    )
