"""What a step is worth: expected minutes until the clock is cured or referred, over sets of needs.

Weights here are those of *classes*: sets of causes that need the same remedies count as one. They are not
normalized, so a weight times minutes adds up over answers without further probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from diagnose.reasoning.costs import Ladder

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Repairs looked ahead in a row; what is left after them is referred.
REPAIR_STEPS = 14
# The rate of information is the mean over this many of the cheapest questions, fewer when few are left.
RATE_QUESTIONS, RATE_QUESTIONS_FEW, FEW_QUESTIONS = 5, 2, 10
# Below this many nats a question says nothing; above it its price per nat is a number to reckon with.
LEAST_INFORMATION = 1e-9
NO_WEIGHT = 1e-300


@dataclass(frozen=True, slots=True)
class Repairs:
    """What can be done about each class of sets, and what it costs.

    Parameters
    ----------
    needs : ndarray of int, shape (N, J)
        The needs of each class, -1 where it has fewer than J. A class without a need is cured.
    cures : ndarray, shape (G, R)
        Chance that one try of remedy r meets need g; a row of zeros is a need that nothing here meets.
    minutes : ndarray, shape (R,)
        Minutes of one try with its proof, opening left out. Remedies stand in the order of their ids. [min]
    reach : ndarray of int, shape (R,)
        How far the clock must be open.
    tries : ndarray of int, shape (R,)
        Tries left of each remedy.
    ladder : Ladder
        What opening costs, and where the clock can run.
    refer_minutes : float
        Price of handing the clock on, which ends the plan. [min]
    handover_minutes : float
        What it costs the next place when the cause that is handed over turns out to be another. [min]
    """

    needs: Ints
    cures: Floats
    minutes: Floats
    reach: Ints
    tries: Ints
    ladder: Ladder
    refer_minutes: float
    handover_minutes: float = 0.0

    @property
    def hopeless(self) -> NDArray[np.bool_]:
        """Classes, shape (N,), with a need that nothing here meets: repairs of the rest do not cure them."""
        dead: NDArray[np.bool_] = ~np.any(self.cures * (self.tries > 0) > 0, axis=1)
        hopeless: NDArray[np.bool_] = np.any((self.needs >= 0) & dead[self.needs], axis=1)
        return hopeless

    def covers(self) -> Floats:
        """Return the chance, shape (R, N, J), that a try of remedy r meets the j-th need of a class."""
        useful = (self.needs >= 0) & ~self.hopeless[:, None]
        chance: Floats = np.where(useful[None, :, :], self.cures.T[:, self.needs], 0.0)
        return chance


@dataclass(frozen=True, slots=True)
class Question:
    """A question as the planner sees it.

    Parameters
    ----------
    joint : ndarray, shape (V, N)
        Weight of each class times the chance that this value is *said*; sums over V to the weights.
    minutes : float
        Minutes, opening left out. [min]
    reach : int
        How far the clock must be open.
    unknown : float
        Chance of "cannot tell".
    """

    joint: Floats
    minutes: float
    reach: int
    unknown: float


def refer_cost(repairs: Repairs, left: Floats) -> Floats:
    """Return the price of referring now, shape (B,), for the weights `left`, shape (B, N), not yet cured. [min]"""
    total = left.sum(axis=-1)
    guessed: Floats = left.max(axis=-1, initial=0.0)
    cost: Floats = repairs.refer_minutes * total + repairs.handover_minutes * (total - guessed)
    return cost


def repairs_only(repairs: Repairs, weights: Floats, level: Ints, tries: Ints | None = None) -> Floats:
    """Return the expected minutes of repairing without any further question (ECR).

    The remedy that mends most weight for its minutes comes first; the weight of a class counts in equal
    parts for the needs it still has. The row is cut where referring is cheapest.

    Parameters
    ----------
    repairs : Repairs
        What can be done.
    weights : ndarray, shape (B, N)
        Weights of the classes, one row for each state of knowledge.
    level : ndarray of int, shape (B,)
        How far the clock is open in each row.
    tries : ndarray of int, shape (B, R), optional
        Tries left in each row; those of `repairs` by default.

    Returns
    -------
    ndarray, shape (B,)
        Expected minutes times weight. [min]

    References
    ----------
    Vomlelova 2003, Int. J. Intelligent Systems 18:267-277 (the ratio for independent faults).
    """
    covers = repairs.covers()
    remedies, classes, slots = covers.shape
    flat = np.ascontiguousarray(covers.reshape(remedies, classes * slots).T)
    rows = np.arange(len(weights))
    open_needs = np.broadcast_to((repairs.needs >= 0).astype(float), (len(weights), classes, slots)).copy()
    tries = np.broadcast_to(repairs.tries if tries is None else tries, (len(weights), remedies)).copy()
    level = level.copy()
    left = weights * (repairs.needs >= 0).any(axis=1)
    spent = np.zeros(len(weights))
    best = refer_cost(repairs, left)
    if remedies == 0:
        return best
    for _ in range(REPAIR_STEPS):
        share = left / np.maximum(open_needs.sum(axis=2), NO_WEIGHT)
        mended = (open_needs * share[:, :, None]).reshape(len(weights), -1) @ flat
        cost = repairs.minutes + repairs.ladder.minutes[level][:, repairs.reach]
        worth = np.where(tries > 0, mended / cost, 0.0)
        chosen = worth.argmax(axis=1)
        useful = worth[rows, chosen] > 0
        if not useful.any():
            break
        spent += np.where(useful, cost[rows, chosen] * left.sum(axis=1), 0.0)
        open_needs *= 1.0 - covers[chosen] * useful[:, None, None]
        tries[rows, chosen] -= useful
        level = np.where(useful, repairs.ladder.after_repair(level, repairs.reach[chosen]), level)
        left = weights * (1.0 - np.prod(1.0 - open_needs, axis=2))
        best = np.minimum(best, spent + refer_cost(repairs, left))
    return best


def told_truth(repairs: Repairs) -> Floats:
    """Return the expected minutes to cure each class if it were known, from each level.

    Each need takes its cheapest remedy, tried again once where a try is left, then referred; several needs
    are met in the cheapest order; referring at once where that is cheaper.

    Returns
    -------
    ndarray, shape (L, N)
        [min]
    """
    mended, after = _cheapest_for_each_need(repairs)
    levels = np.arange(len(repairs.ladder.minutes))
    classes, slots = repairs.needs.shape
    count = (repairs.needs >= 0).sum(axis=1)
    best = np.full((len(levels), classes), repairs.refer_minutes)
    best[:, count == 0] = 0.0
    for size in range(1, slots + 1):
        members = np.flatnonzero((count == size) & ~repairs.hopeless)
        needs = np.sort(repairs.needs[members], axis=1)[:, slots - size :]
        for order in permutations(range(size)):
            total = np.zeros((len(levels), len(members)))
            level = np.broadcast_to(levels[:, None], total.shape)
            for position in order:
                total = total + mended[level, needs[:, position]]
                level = after[level, needs[:, position]]
            best[:, members] = np.minimum(best[:, members], total)
    return best


def _cheapest_for_each_need(repairs: Repairs) -> tuple[Floats, Ints]:
    """Return minutes to meet each need from each level, and the level after it: shapes (L, G)."""
    levels = np.arange(len(repairs.ladder.minutes))
    if len(repairs.minutes) == 0:
        shape = (len(levels), len(repairs.cures))
        return np.full(shape, repairs.refer_minutes), np.broadcast_to(levels[:, None], shape).copy()
    first = repairs.minutes + repairs.ladder.minutes[:, repairs.reach]
    after = repairs.ladder.after_repair(levels[:, None], repairs.reach[None, :])
    again = first[after, np.arange(len(repairs.minutes))]
    failed = 1.0 - repairs.cures
    second = again[:, None, :] + failed * repairs.refer_minutes
    then = np.where(repairs.tries > 1, np.minimum(second, repairs.refer_minutes), repairs.refer_minutes)
    total = first[:, None, :] + failed * then
    total = np.where((repairs.tries > 0) & (repairs.cures > 0), total, np.inf)
    chosen = total.argmin(axis=2)
    cheapest = np.take_along_axis(total, chosen[:, :, None], axis=2)[:, :, 0]
    return np.minimum(cheapest, repairs.refer_minutes), after[levels[:, None], chosen]


def entropy_nats(weights: Floats) -> Floats:
    """Return the entropy of each row times the sum of the row, shape (B,). [nat]"""
    total = weights.sum(axis=-1, keepdims=True)
    shares = np.maximum(weights, NO_WEIGHT) / np.maximum(total, NO_WEIGHT)
    nats: Floats = -(weights * np.log(shares)).sum(axis=-1)
    return nats


@dataclass(frozen=True, slots=True)
class Outlook:
    """What decides the value of a state: the repairs, the told-truth minutes, and one rate for all of them.

    Parameters
    ----------
    repairs : Repairs
        What can be done.
    truth : ndarray, shape (L, N)
        From `told_truth`. [min]
    rate : float
        Minutes that a nat of information costs; fixed at the root. [min/nat]
    """

    repairs: Repairs
    truth: Floats
    rate: float

    def value(self, weights: Floats, level: Ints, tries: Ints | None = None, truth: Floats | None = None) -> Floats:
        """Return V = min(repairs only, told truth + rate x entropy), shape (B,), of weights (B, N). [min]

        `tries`, shape (B, R), and `truth`, shape (B, N), stand in where a remedy has been tried meanwhile.
        """
        known = (weights * (self.truth[level] if truth is None else truth)).sum(axis=1)
        asked = known + self.rate * entropy_nats(weights)
        value: Floats = np.minimum(repairs_only(self.repairs, weights, level, tries), asked)
        return value

    def truth_after(self, remedy: int) -> Floats:
        """Return the told-truth minutes, shape (L, N), when one more try of a remedy has failed. [min]"""
        if self.repairs.tries[remedy] > 1:
            return self.truth
        tries = self.repairs.tries.copy()
        tries[remedy] -= 1
        return told_truth(replace(self.repairs, tries=tries))


def information_nats(joint: Floats) -> float:
    """Return the information of a question about the classes, from its joint weights, shape (V, N). [nat]"""
    total = joint.sum()
    if total <= 0:
        return 0.0
    share = joint / total
    outer = share.sum(axis=1, keepdims=True) * share.sum(axis=0, keepdims=True)
    ratio = np.log(np.maximum(share, NO_WEIGHT) / np.maximum(outer, NO_WEIGHT))
    return max(0.0, float((share * ratio).sum()))


def minutes_per_nat(questions: Sequence[Question], ladder: Ladder, level: int) -> float:
    """Return what a nat costs: the mean over the five (two where few are left) cheapest questions. [min/nat]"""
    prices = []
    for question in questions:
        nats = (1.0 - question.unknown) * information_nats(question.joint)
        if nats > LEAST_INFORMATION:
            prices.append((question.minutes + float(ladder.minutes[level, question.reach])) / nats)
    if not prices:
        return float("inf")
    count = RATE_QUESTIONS if len(questions) >= FEW_QUESTIONS else RATE_QUESTIONS_FEW
    return float(np.mean(sorted(prices)[:count]))


def values_of_asking(outlook: Outlook, questions: Sequence[Question], weights: Floats, level: int) -> Floats:
    """Return the expected minutes, shape (Q,), of asking each question and going on with V. [min]"""
    if not questions:
        return np.zeros(0)
    ladder = outlook.repairs.ladder
    reached = np.array([max(level, question.reach) for question in questions], dtype=np.intp)
    sizes = [len(question.joint) for question in questions]
    rows = np.concatenate([question.joint for question in questions])
    opened, place = np.unique(reached, return_inverse=True)
    rows = np.concatenate([rows, np.broadcast_to(weights, (len(opened), len(weights)))])
    levels = np.concatenate([np.repeat(reached, sizes), opened])
    value = outlook.value(rows, levels)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    said = np.add.reduceat(value[: sum(sizes)], starts)
    untold = value[sum(sizes) :][place]
    unknown = np.array([question.unknown for question in questions])
    minutes = np.array([question.minutes for question in questions]) + ladder.minutes[level, reached]
    cost: Floats = minutes * weights.sum() + unknown * untold + (1.0 - unknown) * said
    return cost


def weights_after(repairs: Repairs, weights: Floats, remedy: int) -> Floats:
    """Return the weights, shape (N,), that one try of a remedy leaves uncured.

    A class with a need it meets stays as it is with chance 1 - s and loses that need with chance s.
    Classes must hold every class that loses a need (`close_classes`); what is cured has no weight.
    """
    index = {tuple(sorted(int(need) for need in row if need >= 0)): number for number, row in enumerate(repairs.needs)}
    left = np.zeros_like(weights)
    for needs, number in index.items():
        met = [need for need in needs if repairs.cures[need, remedy] > 0]
        chance = max((float(repairs.cures[need, remedy]) for need in met), default=0.0)
        if needs:
            left[number] += weights[number] * (1.0 - chance)
        rest = tuple(need for need in needs if need not in met)
        if met and rest:
            left[index[rest]] += weights[number] * chance
    return left


def values_of_doing(outlook: Outlook, weights: Floats, level: int, remedies: Sequence[int]) -> Floats:
    """Return the expected minutes, shape (len(remedies),), of each remedy now and going on with V. [min]"""
    if not remedies:
        return np.zeros(0)
    repairs = outlook.repairs
    chosen = np.array(remedies, dtype=np.intp)
    uncured = weights * (repairs.needs >= 0).any(axis=1)
    minutes = repairs.minutes[chosen] + repairs.ladder.minutes[level, repairs.reach[chosen]]
    after = repairs.ladder.after_repair(np.full(len(chosen), level), repairs.reach[chosen])
    rows = np.stack([weights_after(repairs, weights, remedy) for remedy in remedies])
    truth = np.stack([outlook.truth_after(remedy)[there] for remedy, there in zip(remedies, after, strict=True)])
    tries = np.repeat(repairs.tries[None, :], len(chosen), axis=0)
    tries[np.arange(len(chosen)), chosen] -= 1
    cost: Floats = minutes * uncured.sum() + outlook.value(rows, after, tries, truth)
    return cost


def close_classes(classes: set[frozenset[int]]) -> list[frozenset[int]]:
    """Return the classes with all that lose needs one by one, smallest first, in a fixed order."""
    closed: set[frozenset[int]] = set(classes) | {frozenset()}
    for needs in classes:
        for need in needs:
            closed.add(frozenset({need}))
            closed.add(needs - {need})
    return sorted(closed, key=lambda needs: (len(needs), sorted(needs)))
