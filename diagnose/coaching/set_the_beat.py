"""Closed loop "set the beat": from what was heard and done so far to the one next act, with direction and size.

A pure function of values: the same beats and acts always give the same advice. Directions are those of
someone who faces the dial. Limits of 3 and 5 percent are common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import replace

from diagnose.coaching.lookahead import best_act, worth_of_look, worth_of_side
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
from diagnose.mechanics.beat_response import Beat, Belief, Move, Prior, believe
from diagnose.mechanics.escapement import ACCEPTABLE_PERCENT, GOOD_PERCENT, EarlySide, Side

MOST_PACKING_MM = 5.0
"""More packing than this looks wrong and is a tip risk; common practice, no source."""

MOST_ACTS = 3
"""In so many acts a beat should be in; after them, if it has not come nearer, something else is looked at."""
HELPED_SHARE = 0.75
"""After so many acts the beat error must be below this share of the first, or something else is looked at."""

OWN_SPREAD, TABLE_SPREAD = 0.15, 0.40
"""Spread of the logarithm of the response, where swing and drop were measured, and where the table is used."""

WORTH_SIDE, WORTH_LOOK = 0.02, 0.10
"""The side is asked, or which way the last act went, when it makes a good end so much likelier: a look takes longer."""

CAP_PERCENT = 20.0
"""A clock that does not keep going counts as so far out [percent]."""
LIKELIER = 0.5
SIDE_CLEAR = 0.75
SAME_PERCENT = 1.0
LEAST_PERCENT = 1e-6
LEAST_PACKING_MM = in_hand.BUSINESS_CARD_MM / 2

Row = tuple[HeardBeat | None, ...]
"""One beat for before and one after each act, None where none was heard."""


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
        Under 3 % it says good, up to 5 % acceptable. The act is the one after which the beat is most likely in,
        looking two acts ahead, with what the table says of this kind of clock and what its own answers say
        of this very one. Where the early side, or the way the last act went, is worth knowing first, it asks
        once; recorded again without an answer it goes on. Twice worse it stops and asks which way it went.
    """
    beats = _after_each(acts, heard)
    if beats[-1] is None:
        return _plain("listen", task, None, "none")
    now, last_step = beats[-1], _last_step(beats)
    if not now.stopped and now.percent < GOOD_PERCENT:
        return _plain("good", task, now, last_step)
    if _did_not_help(beats, acts):
        return _plain("look-elsewhere", task, now, last_step, look_at=LOOK_AT[task.adjuster])
    belief = _belief(task, beats, acts)
    side = _early_side(now, belief)
    question = None if _asked(acts, heard) else _question(task, belief, beats, acts, side)
    if question is not None:
        return _plain(question, task, now, last_step)
    move = best_act(belief, table_percent_per_mm(task), _left(acts), task.side_can_be_learned).move_percent
    size, in_all = _sized(task, move / table_percent_per_mm(task), belief if acts else None)
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


def _left(acts: tuple[Act, ...]) -> int:
    """Return how many acts there should still be."""
    return max(MOST_ACTS - len(acts), 1)


def _question(task: BeatTask, belief: Belief, beats: Row, acts: tuple[Act, ...], side: EarlySide) -> AdviceKind | None:
    """Return what is worth asking before the next act, or None."""
    weighed = (belief, table_percent_per_mm(task), _left(acts), task.side_can_be_learned)
    unsure = side == "unknown" or (acts and min(belief.right_early, 1 - belief.right_early) > WORTH_SIDE)
    if unsure and task.side_can_be_learned and (not acts or worth_of_side(*weighed) > WORTH_SIDE):
        return "learn-side"
    if acts and not acts[-1].looked_at and (_worse_twice(beats) or worth_of_look(*weighed) > WORTH_LOOK):
        return "which-way"
    return None


def _worse_twice(beats: Row) -> bool:
    return _last_step(beats) == _last_step(beats[:-1]) == "worse"


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
    size = in_hand.packing(abs(in_all_mm)) if abs(in_all_mm) > LEAST_PACKING_MM else None
    return Packing(_direction(task, in_all_mm), size)


def _after_each(acts: tuple[Act, ...], heard: tuple[HeardBeat, ...]) -> Row:
    """Return one beat for before and one after each act, None where none was heard.

    Where a beat does not say after which act it was heard, further beats before the first act replace it.
    """
    surplus = max(len(heard) - len(acts) - 1, 0)
    row: list[HeardBeat | None] = [None] * (len(acts) + 1)
    for place, beat in enumerate(heard):
        after = max(place - surplus, 0) if beat.after is None else beat.after
        before = row[after]
        # What was once learned of the side is not lost by recording again without it.
        same = before is not None and beat.early_side == "unknown" and not beat.stopped
        row[after] = replace(beat, early_side=before.early_side) if same and before is not None else beat
    return tuple(row)


def _asked(acts: tuple[Act, ...], heard: tuple[HeardBeat, ...]) -> bool:
    """Return whether it was recorded again since the last act: one question an act, then it goes on."""
    surplus = max(len(heard) - len(acts) - 1, 0)
    return surplus > 0 if not acts else sum(beat.after == len(acts) for beat in heard) > 1


def _last_step(beats: Row) -> LastStep:
    known = [beat for beat in beats if beat is not None]
    if len(known) < 2:
        return "none"
    before, now = known[-2:]
    if now.stopped or before.stopped:
        return "worse" if now.stopped else "better"
    sided = "unknown" not in (before.early_side, now.early_side)
    if sided and before.early_side != now.early_side and now.percent >= GOOD_PERCENT:
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


def _belief(task: BeatTask, beats: Row, acts: tuple[Act, ...]) -> Belief:
    prior = Prior(table_percent_per_mm(task), OWN_SPREAD if task.own_angles else TABLE_SPREAD)
    heard = [None if beat is None else _signed_beat(beat) for beat in beats]
    return believe(heard, [Move(_signed(task, act), act.looked_at) for act in acts], prior)


def _signed_beat(beat: HeardBeat) -> Beat:
    percent = max(beat.percent, LEAST_PERCENT)
    signed = -percent if beat.early_side == "left" else percent
    return Beat(signed, beat.uncertainty, beat.early_side != "unknown", beat.stopped)


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


def _sized(task: BeatTask, move_mm: float, learned: Belief | None) -> tuple[in_hand.Size, float]:
    """Return the act in something at hand, and what has been moved in all after it [mm]."""
    so_far = 0.0 if learned is None else learned.likely_moved_mm
    if task.adjuster != "case-feet" or learned is None:
        size = _size(task, abs(move_mm))
        return size, so_far + math.copysign(size.mm, move_mm)
    # Cards are counted from the beginning: what is told is what lies there in the end.
    wanted = so_far + move_mm
    most = math.copysign(in_hand.packing(MOST_PACKING_MM).mm, wanted)
    # Where a little less than is wanted is all that is allowed, it is told if it brings the beat in.
    if abs(wanted) > abs(most) and abs(learned.error - learned.percent_per_mm * (most - so_far)) < ACCEPTABLE_PERCENT:
        wanted = most
    in_all = math.copysign(in_hand.packing(abs(wanted)).mm, wanted) if abs(wanted) > LEAST_PACKING_MM else 0.0
    if abs(wanted) > MOST_PACKING_MM or (in_all - so_far) * move_mm <= 0:
        in_all = wanted
    return in_hand.Size(round(abs(in_all - so_far), 3), ""), in_all


def _size(task: BeatTask, mm: float) -> in_hand.Size:
    if task.adjuster == "case-feet":
        return in_hand.packing(mm)
    if task.pitch_mm and task.adjuster in ("leader-adjuster", "crutch-adjuster"):
        return in_hand.screw(mm, task.pitch_mm)
    return in_hand.hand_size(mm, LEAST_MM[task.adjuster])


def _did_not_help(beats: Row, acts: tuple[Act, ...]) -> bool:
    """Return whether three acts or more have left the beat about where it began."""
    known = [CAP_PERCENT if beat.stopped else beat.percent for beat in beats if beat is not None]
    if len(acts) < MOST_ACTS or beats[-1] is None or beats[-1].stopped:
        return len(acts) >= MOST_ACTS
    return min(known[1:]) > max(HELPED_SHARE * known[0], ACCEPTABLE_PERCENT)


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
