"""Simulated clocks that are regulated as the coach tells: readings, hand, thread and room all err."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from diagnose.coaching.noting import HEARD_DAYS
from diagnose.coaching.set_the_time import AIM, BACK_FROM_BELOW, LONGEST_DAYS, SHORTEST_DAYS, next_turn
from diagnose.coaching.time_task import NutTurn, TimeAdvice, TimeTask, best_of, in_pieces
from diagnose.mechanics.comparing import Comparison, Rate
from diagnose.mechanics.nut_response import SAMPLE_CLOCK_S_PER_DAY
from diagnose.mechanics.regulation import rate_per_turn

BEGIN = datetime(2031, 3, 1, 9)
STEEL_PER_C = 0.498
"""Beckett p. 53 [s/day per deg C]."""
MOST_STEPS = 40
HEARD_S_PER_DAY = 1.0
"""Scatter of a rate heard on a minute of the tick, beside what its sample clock is off; estimate [s/day]."""


@dataclass(frozen=True)
class Hands:
    """How well somebody reads and turns.

    read_s : standard deviation of a comparison [s]
    turn_share, turn_least : standard deviation of a turn, as a share and in turns
    backlash : how far the nut can sink before the bob follows [turn]
    from_below : ends a turn that lowers the bob by going a quarter turn farther and coming back, as told
    wrong_way : share of turns that go the other way than told
    records : records a minute of the tick where that is told to be enough, always with the same phone
    """

    read_s: float = 6.0
    turn_share: float = 0.05
    turn_least: float = 0.012
    backlash: float = 0.08
    from_below: bool = True
    wrong_way: float = 0.0
    records: bool = False


@dataclass
class Session:
    """What came of it: true mean rate at the end [s/day], how many turns, the last advice, how often compared later."""

    rate: float
    turns: int
    kind: str
    per_turn: float
    days: float
    compares: int


class KnownTask(TimeTask):
    """A clock whose answer to a turn is known."""

    spread = 0.01


def by_the_table(task, record):
    """The baseline: every turn sized by a usual thread, whatever the turns before have done."""
    stages, turns, _ = in_pieces(record)
    if not stages or len(turns) >= len(stages):
        return TimeAdvice("compare-again", days=LONGEST_DAYS if turns else SHORTEST_DAYS)
    rate = best_of(stages[-1]).s_per_day
    if abs(rate) <= AIM:
        return TimeAdvice("good", rate)
    return TimeAdvice("turn", rate, turns=-rate / rate_per_turn(task.length_mm, task.pitch_mm))


def regulate(seed, length_mm, hands=Hands(), most_turns=3, most_compares=3, answer_known=False, policy=next_turn):
    """Regulate a clock of this length that is up to four minutes a day out."""
    random = np.random.default_rng(seed)
    pitch = random.uniform(0.5, 1.0)
    per_turn = rate_per_turn(length_mm, pitch) * random.uniform(0.85, 1.1)
    rate, fast, room, at, nut, bob = random.uniform(-240, 240), 0.0, 18.0, BEGIN, 0.0, 0.0
    phone = random.normal(0, SAMPLE_CLOCK_S_PER_DAY)
    task = TimeTask(length_mm, 0.7, length_known=True)
    if answer_known:
        # What one turn does is told: nothing is left to learn, only to read and to turn.
        pitch_told = pitch * per_turn / rate_per_turn(length_mm, pitch)
        task = KnownTask(length_mm, pitch_told, length_known=True, pitch_known=True)

    def compared():
        return Comparison(at, fast + random.normal(0, hands.read_s), hands.read_s)

    def recorded():
        heard = rate - STEEL_PER_C * (room - 18) + phone + random.normal(0, HEARD_S_PER_DAY)
        return Rate(heard, float(np.hypot(SAMPLE_CLOCK_S_PER_DAY, HEARD_S_PER_DAY)), HEARD_DAYS)

    record, turns, advice, compares = [compared()], 0, None, 0
    for _ in range(MOST_STEPS):
        advice = policy(task, record)
        if advice.kind in {"turn", "offer"}:
            if turns == most_turns:
                break
            turns += 1
            made = advice.turns + random.normal(0, max(hands.turn_share * abs(advice.turns), hands.turn_least))
            if random.random() < hands.wrong_way:
                made = -made
            before, nut = bob, nut + made
            if made < 0 and hands.from_below:
                bob = min(bob, nut - BACK_FROM_BELOW + hands.backlash)
            bob = max(min(bob, nut + hands.backlash), nut)
            rate += (bob - before) * per_turn
            record.append(NutTurn(advice.turns))
            record.append(compared())
        elif advice.kind == "compare-again" and advice.record and hands.records:
            record.append(recorded())
        elif advice.kind == "compare-again" and compares < most_compares:
            compares += 1
            days = advice.days
            for _day in range(days):
                # The room wanders about 18 deg C from day to day, and the clock on its own besides.
                room = 18 + 0.7 * (room - 18) + random.normal(0, 1.0)
                fast += rate - STEEL_PER_C * (room - 18) + random.normal(0, 1.0)
            at += timedelta(days=days)
            record.append(compared())
        else:
            break
    return Session(rate, turns, advice.kind, per_turn, (at - BEGIN).days, compares)
