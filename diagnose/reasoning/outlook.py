"""What a state of knowledge is worth: repairs only, less what the questions there are would save first.

Weights are those of sets of causes and are not normalized, so that a weight times minutes adds up over
answers without further probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diagnose.reasoning.costs import Ladder
from diagnose.reasoning.planning import NO_WEIGHT, Floats, Ints, Repairs, entropy_nats, repairs_only, told_truth

# The rate of information is the mean over this many of the cheapest questions, fewer when few are left.
RATE_QUESTIONS, RATE_QUESTIONS_FEW, FEW_QUESTIONS = 5, 2, 10
# The minutes of questions to come count so many times.
LATER_DEARER = 1.5
# Below this many nats a question says nothing; above it its price per nat is a number to reckon with.
LEAST_INFORMATION = 1e-9
# Where nothing is left to ask, a nat cannot be had at any price. [min/nat]
NO_QUESTION_RATE = 1e9
CURED, UNMOVED = -2, -1


@dataclass(frozen=True, slots=True)
class Question:
    """A question as the planner sees it.

    Parameters
    ----------
    said : ndarray, shape (V, S)
        Chance that each value is *said*, for each set.
    minutes : float
        Minutes, opening left out. [min]
    reach : int
        How far the clock must be open.
    unknown : float
        Chance of "cannot tell".
    """

    said: Floats
    minutes: float
    reach: int
    unknown: float


@dataclass(frozen=True, slots=True)
class Prices:
    """What information costs: the questions there are, the cheapest for its information first.

    Parameters
    ----------
    nats : ndarray, shape (Q + 1,)
        What the first q questions tell together, from 0. [nat]
    minutes : ndarray, shape (Q + 1,)
        What they cost together, from 0. [min]
    """

    nats: Floats
    minutes: Floats


NOTHING_TO_ASK = Prices(np.zeros(1), np.zeros(1))


@dataclass(frozen=True)  # without slots, so that what depends on nothing else is worked out once
class Outlook:
    """What decides the value of a state: the repairs, the told-truth minutes, and what information costs.

    Parameters
    ----------
    repairs : Repairs
        What can be done, over N classes.
    truth : ndarray, shape (L, N)
        From `told_truth`. [min]
    prices : Prices
        What information costs; fixed at the root.
    merge : ndarray, shape (S, N)
        1 where a set belongs to a class.
    moves : ndarray of int, shape (R, S)
        The set that a set becomes when a remedy works: `CURED`, or `UNMOVED` where it does nothing for it.
    """

    repairs: Repairs
    truth: Floats
    prices: Prices
    merge: Floats
    moves: Ints

    def value(self, weights: Floats, level: Ints, tries: Ints | None = None, truth: Floats | None = None) -> Floats:
        """Return V, shape (B,), of weights (B, S): repairs only, less what questions first would save. [min]

        Information is worth the same for each nat: all that is open, the entropy H, is worth the step from
        repairs only to the told truth. Of the questions those are asked that are cheaper than that, until
        H is used up. Where only a few poor ones are left little can be saved, where many good ones are V is
        near the told truth and their price.

        `tries`, shape (B, R), and `truth`, shape (B, N), stand in where a remedy has been tried meanwhile.
        """
        classes = weights @ self.merge
        repaired = repairs_only(self.repairs, classes, level, tries)
        known = (classes * (self.truth[level] if truth is None else truth)).sum(axis=1)
        total = np.maximum(classes.sum(axis=1), NO_WEIGHT)
        entropy = np.maximum(entropy_nats(classes) / total, LEAST_INFORMATION)
        prices = self.prices
        # With k questions or, where H is used up before, with as much of the next as is needed.
        told = np.minimum(prices.nats[None, :], entropy[:, None])
        minutes = np.minimum(prices.minutes[None, :], np.interp(entropy, prices.nats, prices.minutes)[:, None])
        worth = np.maximum(repaired - known, 0.0) / entropy
        saved: Floats = (worth[:, None] * told - total[:, None] * minutes).max(axis=1)
        value: Floats = repaired - saved
        return value

    def without_asking(self, weights: Floats, level: int) -> float:
        """Return the expected minutes if nothing more is asked, of weights (S,). [min]"""
        here = np.array([level], dtype=np.intp)
        return float(repairs_only(self.repairs, (weights @ self.merge)[None, :], here)[0])

    def truth_after(self, tries: Ints, remedy: int, truth: Floats) -> Floats:
        """Return the told-truth minutes, shape (L, N), when one more try of a remedy has failed. [min]

        Where a further try is left they stay nearly as they are (`truth`); after the last one the causes it
        was for need something else.
        """
        if tries[remedy] > 1:
            return truth
        spent = tries.copy()
        spent[remedy] = 0
        return told_truth(replace(self.repairs, tries=spent))

    def weights_after(self, weights: Floats, remedy: int) -> Floats:
        """Return the weights, shape (S,), that one try of a remedy leaves uncured."""
        moves = self.moves[remedy]
        works = float(self.repairs.cures[:, remedy].max(initial=0.0))
        left = np.where(moves == UNMOVED, weights, (1.0 - works) * weights)
        moved = np.flatnonzero(moves >= 0)
        np.add.at(left, moves[moved], works * weights[moved])
        return np.asarray(left * self.uncured)

    @cached_property
    def uncured(self) -> Floats:
        """1 for each set with a need, shape (S,)."""
        return np.asarray(self.merge @ self.repairs.uncured)


def outlook_for_classes(repairs: Repairs, prices: Prices = NOTHING_TO_ASK) -> Outlook:
    """Return the outlook where each set is a class of its own; the classes must be closed under cures."""
    classes = [frozenset(int(need) for need in row if need >= 0) for row in repairs.needs]
    place = {needs: number for number, needs in enumerate(classes)}
    moves = np.full((len(repairs.minutes), len(classes)), UNMOVED, dtype=np.intp)
    for remedy in range(len(repairs.minutes)):
        for number, needs in enumerate(classes):
            rest = frozenset(need for need in needs if repairs.cures[need, remedy] <= 0)
            if rest != needs:
                moves[remedy, number] = place[rest] if rest else CURED
    return Outlook(repairs, told_truth(repairs), prices, np.eye(len(classes)), moves)


def information_nats(joint: Floats) -> float:
    """Return the information between rows and columns of joint weights, shape (V, N). [nat]"""
    total = joint.sum()
    if total <= 0:
        return 0.0
    share = joint / total
    outer = share.sum(axis=1, keepdims=True) * share.sum(axis=0, keepdims=True)
    ratio = np.log(np.maximum(share, NO_WEIGHT) / np.maximum(outer, NO_WEIGHT))
    return max(0.0, float((share * ratio).sum()))


def minutes_per_nat(questions: Sequence[Question], weights: Floats, merge: Floats, ladder: Ladder, level: int) -> float:
    """Return what a nat costs: the mean over the five (two where few are left) cheapest questions. [min/nat]

    The information is that about the needs, since only these decide what is done.
    """
    prices = []
    for question in questions:
        nats = (1.0 - question.unknown) * information_nats((question.said * weights) @ merge)
        if nats > LEAST_INFORMATION:
            prices.append((question.minutes + float(ladder.minutes[level, question.reach])) / nats)
    if not prices:
        return NO_QUESTION_RATE
    count = RATE_QUESTIONS if len(questions) >= FEW_QUESTIONS else RATE_QUESTIONS_FEW
    return min(float(np.mean(sorted(prices)[:count])), NO_QUESTION_RATE)


def prices_of(questions: Sequence[Question], weights: Floats, merge: Floats, ladder: Ladder, level: int) -> Prices:
    """Return what information about the needs costs with these questions. [min], [nat]

    The questions are taken to tell what they tell now; later ones tell less, because they overlap, and what
    is asked last is dearer than it looks: their minutes count `LATER_DEARER` times.
    """
    found = []
    for question in questions:
        nats = (1.0 - question.unknown) * information_nats((question.said * weights) @ merge)
        if nats > LEAST_INFORMATION:
            minutes = question.minutes + float(ladder.minutes[level, question.reach])
            found.append((minutes / nats, nats, LATER_DEARER * minutes))
    found.sort()
    each = np.array([(0.0, 0.0), *((nats, minutes) for _, nats, minutes in found)]).cumsum(axis=0)
    return Prices(np.ascontiguousarray(each[:, 0]), np.ascontiguousarray(each[:, 1]))
