"""How a clock answers to its rating nut: learned from its own rates before and after each turn.

The belief is a grid over the answer to one turn, for each way the turns may have gone: as told, the other way,
or without the bob (it sticks on its rod). Rates are read with errors and wander from week to week. Rates heard on
recordings share the error of the clock that counts their samples: it drops out of what a turn changed, and is found
once the hands are compared as well.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GRID_POINTS = 41
GRID_REACH = 3.0
"""The grid reaches so many spreads to either side of the prior."""

AS_TOLD, OTHER_WAY, BOB_STAYED = 0.92, 0.04, 0.04
"""Chances of what becomes of a turn; estimate 2026-11."""
WAYS: tuple[tuple[float, float], ...] = ((1.0, AS_TOLD), (-1.0, OTHER_WAY), (0.0, BOB_STAYED))

TURN_SHARE, TURN_LEAST = 0.05, 0.015
"""Standard deviation of a turn by hand: this share of it, and not less than this; estimate 2026-11 [turn]."""
WANDER_S_PER_DAY = 1.5
"""Standard deviation of the rate of a domestic clock from one week to the next; estimate 2026-11 [s/day]."""
SAMPLE_CLOCK_S_PER_DAY = 50e-6 * 86_400
"""What the sample clock of a phone may be off, as a standard uncertainty: 50 ppm, from memory [s/day]."""
SAME_PHONE = 0.9
"""How much of it (of its variance) two recordings share: they are mostly made with the same phone; estimate."""
RATE_SPREAD = 900.0
"""Standard deviation of the rate of a clock before anything is known [s/day]."""
MOST_TURNS = 6
"""Earlier turns than the last six are forgotten: what they taught stands in the later ones."""


@dataclass(frozen=True, slots=True)
class NutPrior:
    """What is known of the answer before the first turn: its median [s/day per turn] and the spread of its log."""

    per_turn: float
    spread: float


@dataclass(frozen=True, slots=True)
class Reading:
    """A rate that was read.

    Parameters
    ----------
    s_per_day : float
        + gains [s/day].
    unsure : float
        Standard uncertainty, the tolerance of a sample clock included [s/day].
    recorded : bool
        Whether it was heard on a recording, so that it shares the error of its sample clock with others.
    """

    s_per_day: float
    unsure: float
    recorded: bool = False


@dataclass(frozen=True, slots=True)
class NutBelief:
    """What rates and turns say.

    Parameters
    ----------
    per_turn, per_turn_uncertainty : float
        What one full turn changes [s/day].
    now, now_uncertainty : float
        The rate now [s/day].
    best_turns : float
        The turn after which the rate is expected nearest to nought: + raises the bob [turn].
    after_uncertainty : float
        How far from nought the rate is expected then [s/day].
    bob_stayed, other_way : float
        Chance that at the last turn the bob did not follow, or that it went the other way [1].
    """

    per_turn: float
    per_turn_uncertainty: float
    now: float
    now_uncertainty: float
    best_turns: float
    after_uncertainty: float
    bob_stayed: float
    other_way: float


def turn_deviation(turns: float) -> float:
    """Return how far a turn by hand is off, as a standard deviation [turn]."""
    return max(TURN_SHARE * abs(turns), TURN_LEAST)


def believe(stages: Sequence[Sequence[Reading]], turns: Sequence[float], prior: NutPrior) -> NutBelief:
    """Return what is known of a nut.

    Parameters
    ----------
    stages : sequence of sequence of Reading
        What was read before any turn and after each: one stage more than turns.
    turns : sequence of float
        Turns that were told: + raises the bob, so that it gains [turn].
    prior : NutPrior
        The table's answer.
    """
    turns = list(turns)[-MOST_TURNS:]
    stages = list(stages)[-len(turns) - 1 :]
    reach = prior.spread * np.linspace(-GRID_REACH, GRID_REACH, GRID_POINTS)
    answers = prior.per_turn * np.exp(reach)
    log_prior = -0.5 * np.square(reach / prior.spread)
    ways = list(itertools.product(WAYS, repeat=len(turns)))
    # Where the nut stands at each stage, for each row of ways: shape (ways, stages).
    stands = np.array(
        [np.cumsum([0.0, *(way[0] * turn for way, turn in zip(row, turns, strict=True))]) for row in ways]
    )
    log_ways = np.array([sum(math.log(way[1]) for way in row) for row in ways])
    at_stage = np.array([at for at, readings in enumerate(stages) for _ in readings], int)
    every = [reading for readings in stages for reading in readings]
    read, noise = np.array([reading.s_per_day for reading in every]), _noise(every)
    steps = np.concatenate([[0.0], np.cumsum([turn_deviation(turn) ** 2 for turn in turns])])
    together = np.minimum(steps[at_stage, None], steps[None, at_stage])
    logs = np.empty((GRID_POINTS, len(ways)))
    now = np.empty((GRID_POINTS, len(ways)))
    now_variance = np.empty(GRID_POINTS)
    for at, answer in enumerate(answers):
        covariance = RATE_SPREAD**2 + answer**2 * together + noise
        # The rate now goes with each reading as far as the turns made until then go.
        with_now = RATE_SPREAD**2 + answer**2 * steps[at_stage]
        gap = read[None, :] - answer * stands[:, at_stage]
        solved = np.linalg.solve(covariance, gap.T)
        logs[at] = -0.5 * np.einsum("wr,rw->w", gap, solved) - 0.5 * np.linalg.slogdet(covariance)[1] + log_prior[at]
        now[at] = answer * stands[:, -1] + with_now @ solved
        own = RATE_SPREAD**2 + answer**2 * steps[-1]
        now_variance[at] = own - with_now @ np.linalg.solve(covariance, with_now)
    weights = np.exp(logs + log_ways - (logs + log_ways).max())
    weights /= weights.sum()
    return _belief(weights, answers, now, now_variance, ways)


def _noise(every: Sequence[Reading]) -> Floats:
    """Return how readings err, each by itself and together, shape (r, r)."""
    shared = np.array([min(item.unsure, SAMPLE_CLOCK_S_PER_DAY) if item.recorded else 0.0 for item in every])
    noise = SAME_PHONE * np.outer(shared, shared)
    for at, item in enumerate(every):
        noise[at, at] = item.unsure**2 + WANDER_S_PER_DAY**2
    return noise


def _belief(
    weights: Floats, answers: Floats, now: Floats, now_variance: Floats, ways: Sequence[tuple[tuple[float, float], ...]]
) -> NutBelief:
    by_answer = weights.sum(axis=1)
    per_turn = float(by_answer @ answers)
    square = float(by_answer @ np.square(answers))
    mean_now = float((weights * now).sum())
    square_now = float((weights * (np.square(now) + now_variance[:, None])).sum())
    crossed = float((weights * now * answers[:, None]).sum())
    best = -crossed / square
    after = square_now + 2 * best * crossed + square * (best**2 + turn_deviation(best) ** 2)
    by_way = weights.sum(axis=0)
    last = [row[-1][0] if row else 1.0 for row in ways]
    return NutBelief(
        per_turn=per_turn,
        per_turn_uncertainty=math.sqrt(max(square - per_turn**2, 0.0)),
        now=mean_now,
        now_uncertainty=math.sqrt(max(square_now - mean_now**2, 0.0)),
        best_turns=best,
        after_uncertainty=math.sqrt(max(after, 0.0)),
        bob_stayed=float(sum(share for share, way in zip(by_way, last, strict=True) if way == 0.0)),
        other_way=float(sum(share for share, way in zip(by_way, last, strict=True) if way < 0.0)),
    )
