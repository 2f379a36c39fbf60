"""How a clock answers to its rating nut: learned from its own rates before and after each turn.

The belief is a grid over the answer to one turn, for each way the turns may have gone: as told, the other way,
or without the bob (it sticks on its rod). Rates are read with errors and wander from week to week.
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


def believe(rates: Sequence[tuple[float, float]], turns: Sequence[float], prior: NutPrior) -> NutBelief:
    """Return what is known of a nut.

    Parameters
    ----------
    rates : sequence of (float, float)
        Rate and its standard uncertainty, before any turn and after each: one more than turns [s/day].
    turns : sequence of float
        Turns that were told: + raises the bob, so that it gains [turn].
    prior : NutPrior
        The table's answer.
    """
    turns = list(turns)[-MOST_TURNS:]
    rates = list(rates)[-len(turns) - 1 :]
    reach = prior.spread * np.linspace(-GRID_REACH, GRID_REACH, GRID_POINTS)
    answers = prior.per_turn * np.exp(reach)
    log_prior = -0.5 * np.square(reach / prior.spread)
    ways = list(itertools.product(WAYS, repeat=len(turns)))
    # Where the nut stands at each rate, for each row of ways: shape (ways, rates).
    stands = np.array(
        [np.cumsum([0.0, *(way[0] * turn for way, turn in zip(row, turns, strict=True))]) for row in ways]
    )
    log_ways = np.array([sum(math.log(way[1]) for way in row) for row in ways])
    read = np.array([rate for rate, _ in rates])
    noise = np.diag([unsure**2 + WANDER_S_PER_DAY**2 for _, unsure in rates])
    steps = np.concatenate([[0.0], np.cumsum([turn_deviation(turn) ** 2 for turn in turns])])
    together = np.minimum(steps[:, None], steps[None, :])
    logs = np.empty((GRID_POINTS, len(ways)))
    now = np.empty((GRID_POINTS, len(ways)))
    now_variance = np.empty(GRID_POINTS)
    for at, answer in enumerate(answers):
        state = RATE_SPREAD**2 + answer**2 * together
        covariance = state + noise
        gap = read[None, :] - answer * stands
        solved = np.linalg.solve(covariance, gap.T)
        logs[at] = -0.5 * np.einsum("wr,rw->w", gap, solved) - 0.5 * np.linalg.slogdet(covariance)[1] + log_prior[at]
        now[at] = answer * stands[:, -1] + state[-1] @ solved
        now_variance[at] = state[-1, -1] - state[-1] @ np.linalg.solve(covariance, state[-1])
    weights = np.exp(logs + log_ways - (logs + log_ways).max())
    weights /= weights.sum()
    return _belief(weights, answers, now, now_variance, ways)


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
