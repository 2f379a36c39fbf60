"""Closed loop "set the time": from comparisons and turns so far to the one next act, with way and size.

A pure function of values. Faster is a bob that rises. What one turn does is taken from thread and length before
the first turn, and from the clock's own answer afterward.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from diagnose.coaching.time_task import (
    CAUTIONS,
    LOOK_AT_NUT,
    LOOK_AT_PENDULUM,
    Noted,
    TimeAdvice,
    TimeTask,
    best_of,
    in_pieces,
    is_recorded,
    nut_size,
)
from diagnose.mechanics import comparing
from diagnose.mechanics.comparing import DAYS_PER_WEEK, ORDINARY_S_PER_DAY, SEASON_C, Comparison, Rate
from diagnose.mechanics.nut_response import SAMPLE_CLOCK_S_PER_DAY, TURN_LEAST, NutBelief, NutPrior, Reading, believe
from diagnose.mechanics.regulation import length_change_mm, rate_per_turn

AIM_S_PER_WEEK = 30.0
AIM = AIM_S_PER_WEEK / DAYS_PER_WEEK
"""A clock this near is left alone [s/day]."""
NOT_THE_NUT = 600.0
"""Farther out than this it is the pendulum, its hook, spring or leader, or the hands; common practice [s/day]."""
MOST_TURNS = 15.0
"""More turns than this no usual thread has; common practice, no source [turn]."""
SEEN_SHARE = 1 / 3
"""A rate is known well enough to turn the nut when its error is below this share of it."""
AFTER_SHARE = 0.3
"""After a turn it is waited until the rate is known as well as this share of the aim: days cost less than turns."""
NEAR_SHARE = 0.5
"""After a week a rate below this share of the aim is left, though its error may be larger."""
LEAST_SIZED = 0.15
"""No turn is sized better than this share, before the clock itself has answered to one."""
SHORTEST_DAYS, LONGEST_DAYS = 1, 7
FIRST_WANTED = 5.0
"""Before the first turn a rate need not be known better: the thread is not either [s/day]."""
TURNS_BY_RECORDING = 2
"""So many turns may be sized by recordings alone: the last is left for what the hands tell."""
FIRST_UNSURE_S = 10.0
SURELY, SURELY_DAYS = 0.9, 3
"""It is good when it is so sure, after so many days at least: from one day to the next every clock wanders."""
WORTH_CHANCE = 0.02
"""A turn is worth its trouble when it makes it so much likelier that the clock is within half a minute a week."""
BACK_FROM_BELOW = 0.25
"""A nut that goes down goes so much farther and comes back up: so the bob always lies on it [turn]."""
CLEAR_TURN = 0.25
"""From such a turn on it is seen whether the bob followed [turn]."""
TURNS_BEFORE_LOOKING, HELPED_SHARE = 4, 0.5
LIKELIER = 0.5
HEAT_SHARE = 0.5


def next_turn(task: TimeTask, record: Sequence[Noted]) -> TimeAdvice:
    """Return the one next act that regulates a clock.

    Parameters
    ----------
    task : TimeTask
        The clock.
    record : sequence of Noted
        Comparisons with the right time, rates heard, and turns of the nut, in order.

    Returns
    -------
    TimeAdvice
        Compare; wait, as the reading is too coarse yet; turn so far this way; or leave it. Within half a minute
        a week it is good; within two minutes a week ordinary, and a turn is only offered.
    """
    stages, turns, open_ = in_pieces(record)
    last = open_[-1] if open_ else None
    if not stages:
        days = _days(FIRST_WANTED, last)
        return replace(_again("compare-again" if last else "compare-first", None, days, last), record=True)
    belief = believe(
        [[Reading(rate.s_per_day, rate.uncertainty, is_recorded(rate)) for rate in stage] for stage in stages],
        turns[: len(stages) - 1],
        NutPrior(rate_per_turn(task.length_mm, task.pitch_mm), task.spread),
    )
    if len(turns) >= len(stages):
        # Nothing is known since the last turn: enough time must pass to see what it did, in one comparison.
        left = abs(turns[-1]) * belief.per_turn_uncertainty
        again = _again("compare-again", None, _days(AIM * AFTER_SHARE, last), last)
        return replace(again, record=left > SAMPLE_CLOCK_S_PER_DAY)
    return _judge(task, belief, [best_of(stage) for stage in stages], turns, open_)


def _judge(
    task: TimeTask, belief: NutBelief, rates: list[Rate], turns: list[float], open_: list[Comparison]
) -> TimeAdvice:
    """Return what to do about a rate that is known."""
    now, last = rates[-1], open_[-1] if open_ else None
    if turns and belief.bob_stayed > LIKELIER and abs(turns[-1]) >= CLEAR_TURN:
        return _plain("bob-stayed", now, belief, turns, LOOK_AT_NUT)
    if abs(now.s_per_day) > NOT_THE_NUT and now.uncertainty < SEEN_SHARE * abs(now.s_per_day):
        return _too_far(task, now, belief, turns)
    within = _within_aim(belief)
    if (within >= SURELY and now.days >= SURELY_DAYS) or (
        within >= LIKELIER and now.days >= LONGEST_DAYS and abs(belief.now) <= AIM * NEAR_SHARE
    ):
        return _plain("good", now, belief, turns)
    wanted = AIM * SEEN_SHARE if abs(belief.now) <= AIM else _wanted(belief, belief.now)
    if is_recorded(now) and len(turns) < _turns_by_recording(belief):
        wanted = max(wanted, SEEN_SHARE * abs(belief.now))
    early = within >= SURELY and now.days < SURELY_DAYS
    if (now.uncertainty > wanted and now.days < LONGEST_DAYS) or early:
        days = _days(wanted, last) if is_recorded(now) else _more_days(now, wanted)
        return _again("compare-again", now, days, last)
    heat = _heat(task, open_)
    if heat is not None and not turns and abs(now.s_per_day - heat) < HEAT_SHARE * abs(now.s_per_day):
        return _plain("heat", now, belief, turns, heat=heat)
    if abs(belief.best_turns) > MOST_TURNS:
        return _too_far(task, now, belief, turns)
    if len(turns) >= TURNS_BEFORE_LOOKING and abs(now.s_per_day) > max(
        HELPED_SHARE * abs(rates[0].s_per_day), ORDINARY_S_PER_DAY
    ):
        return _plain("look-elsewhere", now, belief, turns, (*LOOK_AT_NUT, "rate-steady"))
    return _turn(belief, now, turns, last)


def _turn(belief: NutBelief, now: Rate, turns: list[float], last: Comparison | None) -> TimeAdvice:
    size = nut_size(abs(belief.best_turns))
    within = _within_aim(belief)
    if _chance_within(0.0, belief.after_uncertainty) < within + WORTH_CHANCE:
        near = within >= LIKELIER
        return _plain("good" if near else "as-near-as-a-hand", now, belief, turns)
    days = _days(AIM * AFTER_SHARE if turns else _wanted(belief, belief.after_uncertainty), last)
    return TimeAdvice(
        kind="offer" if abs(now.s_per_day) <= ORDINARY_S_PER_DAY else "turn",
        rate=now.s_per_day,
        uncertainty=now.uncertainty,
        turns=math.copysign(size.turns, belief.best_turns),
        size=size,
        per_turn=belief.per_turn if turns else None,
        per_turn_uncertainty=belief.per_turn_uncertainty if turns else None,
        days=days,
        other_way=bool(turns) and belief.other_way > LIKELIER,
        cautions=CAUTIONS,
    )


def _turns_by_recording(belief: NutBelief) -> int:
    """Return how many turns may be sized by recordings: one where a hand can hardly turn the nut finely enough."""
    coarse = belief.per_turn * TURN_LEAST > AIM * SEEN_SHARE
    return 1 if coarse else TURNS_BY_RECORDING


def _wanted(belief: NutBelief, rate: float) -> float:
    """Return how well a rate must be known: no better than the turn itself can be sized [s/day]."""
    sized = max(belief.per_turn_uncertainty / belief.per_turn, LEAST_SIZED)
    return max(AIM * AFTER_SHARE, SEEN_SHARE * sized * abs(rate))


def _within_aim(belief: NutBelief) -> float:
    """Return the chance that the rate is within half a minute a week [1]."""
    return _chance_within(belief.now, belief.now_uncertainty)


def _chance_within(rate: float, uncertainty: float) -> float:
    scale = uncertainty * math.sqrt(2)
    return 0.5 * (math.erf((AIM - rate) / scale) - math.erf((-AIM - rate) / scale))


def _too_far(task: TimeTask, now: Rate, belief: NutBelief, turns: list[float]) -> TimeAdvice:
    longer = length_change_mm(now.s_per_day, task.length_mm)
    return _plain("not-the-nut", now, belief, turns, LOOK_AT_PENDULUM, length_mm=longer)


def _heat(task: TimeTask, open_: Sequence[Comparison]) -> float | None:
    """Return what the room made of the rate, where it has changed much since the clock was right [s/day]."""
    rooms = [item.room_c for item in open_ if item.room_c is not None]
    if len(rooms) < 2 or abs(rooms[-1] - rooms[0]) < SEASON_C:
        return None
    return comparing.rate_by_heat(task.rod, rooms[-1] - rooms[0])


def _days(wanted: float, last: Comparison | None) -> int:
    """Return after how many whole days a rate is seen well enough."""
    unsure = last.unsure_s if last is not None else FIRST_UNSURE_S
    return min(max(math.ceil(comparing.days_to_see(wanted, unsure)), SHORTEST_DAYS), LONGEST_DAYS)


def _more_days(now: Rate, wanted: float) -> int:
    """Return how many days more show a rate well enough: its error falls as the days grow."""
    days = math.ceil(now.days * now.uncertainty / wanted - now.days)
    return min(max(days, SHORTEST_DAYS), LONGEST_DAYS)


def _again(kind: str, now: Rate | None, days: int, last: Comparison | None) -> TimeAdvice:
    return TimeAdvice(
        kind=kind,  # type: ignore[arg-type]
        rate=now.s_per_day if now else None,
        uncertainty=now.uncertainty if now else None,
        days=days,
        again_at=comparing.read_again_at(last.at, days) if last is not None else None,
    )


def _plain(
    kind: str,
    now: Rate,
    belief: NutBelief,
    turns: Sequence[float],
    look_at: tuple[str, ...] = (),
    heat: float | None = None,
    length_mm: float | None = None,
) -> TimeAdvice:
    """Return advice without a turn."""
    return TimeAdvice(
        kind=kind,  # type: ignore[arg-type]
        rate=now.s_per_day,
        uncertainty=now.uncertainty,
        per_turn=belief.per_turn if turns else None,
        per_turn_uncertainty=belief.per_turn_uncertainty if turns else None,
        heat=heat,
        length_change_mm=length_mm,
        look_at=look_at,
    )
