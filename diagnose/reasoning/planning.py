"""What a step is worth: expected minutes until the clock is cured or referred, over sets of needs.

Weights here are those of *classes*: sets of causes that need the same remedies count as one. They are not
normalized, so a weight times minutes adds up over answers without further probabilities.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from diagnose.reasoning.costs import Ladder

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

# Repairs looked ahead in a row; what is left after them is referred.
REPAIR_STEPS = 14
# The row is cut after so many repairs in a row that gained nothing over referring: the best come first, and only
# an opening that serves several of them can make a later one gain.
PATIENCE = 2
NO_WEIGHT = 1e-300


@dataclass(frozen=True)  # without slots, so that what depends on nothing else is worked out once
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

    @cached_property
    def hopeless(self) -> NDArray[np.bool_]:
        """Classes, shape (N,), with a need that nothing here meets: repairs of the rest do not cure them."""
        dead: NDArray[np.bool_] = ~np.any(self.cures * (self.tries > 0) > 0, axis=1)
        hopeless: NDArray[np.bool_] = np.any((self.needs >= 0) & dead[self.needs], axis=1)
        return hopeless

    @cached_property
    def covers(self) -> Floats:
        """Return the chance, shape (R, N, J), that a try of remedy r meets the j-th need of a class."""
        useful = (self.needs >= 0) & ~self.hopeless[:, None]
        chance: Floats = np.where(useful[None, :, :], self.cures.T[:, self.needs], 0.0)
        return chance

    @cached_property
    def mending(self) -> _Mending:
        """Return the part of the tables that repairs in a row need."""
        return _Mending.of(self)

    @cached_property
    def uncured(self) -> Floats:
        """1 for each class with a need, shape (N,)."""
        return np.asarray((self.needs >= 0).any(axis=1).astype(float))


@dataclass(frozen=True, slots=True)
class _Mending:
    """Remedies that mend anything and classes that they can cure: M and K of them.

    Parameters
    ----------
    useful, curable, beyond : ndarray of int
        These remedies and classes, and the classes with a need that no repair here cures.
    fails : tuple of ndarray, shape (M, K)
        For each of the J needs: chance that a try leaves it open.
    mends : ndarray, shape (J K, M)
        Chance that it does not, one need below the other.
    needed : tuple of ndarray, shape (K,)
        For each of the J needs: 1 where a class has it.
    """

    useful: Ints
    curable: Ints
    beyond: Ints
    fails: tuple[Floats, ...]
    mends: Floats
    needed: tuple[Floats, ...]

    @staticmethod
    def of(repairs: Repairs) -> _Mending:
        """Return what repairs in a row need."""
        useful = np.flatnonzero(repairs.covers.any(axis=(1, 2)))
        cured_here: NDArray[np.bool_] = np.any(repairs.covers > 0, axis=(0, 2))
        curable = np.flatnonzero(cured_here)
        chance = repairs.covers[useful][:, curable]
        slots = range(chance.shape[2])
        return _Mending(
            useful,
            curable,
            np.flatnonzero((repairs.uncured > 0) & ~cured_here),
            tuple(1.0 - chance[:, :, slot] for slot in slots),
            np.concatenate([chance[:, :, slot].T for slot in slots]),
            tuple((repairs.needs[curable, slot] >= 0).astype(float) for slot in slots),
        )


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
    if not len(repairs.mending.useful):
        return refer_cost(repairs, weights * repairs.uncured)
    state = _Repairing(repairs, weights, level, tries)
    best = state.refer_now()
    since_gain = np.zeros(len(best), dtype=np.intp)
    for _ in range(REPAIR_STEPS):
        rows = state.go_on(best, since_gain)
        if not len(rows):
            break
        now = state.refer_now()
        since_gain[rows] = np.where(now < best[rows], 0, since_gain[rows] + 1)
        best[rows] = np.minimum(best[rows], now)
    return best


class _Repairing:
    """Rows of states in which one remedy after the other is done; rows that cannot gain any more drop out."""

    def __init__(self, repairs: Repairs, weights: Floats, level: Ints, tries: Ints | None) -> None:
        parts = repairs.mending
        self.repairs, self.parts = repairs, parts
        self.minutes, self.reach = repairs.minutes[parts.useful], repairs.reach[parts.useful]
        self.rows = np.arange(len(weights))
        self.weights = weights[:, parts.curable]
        # What no repair here cures stays, whatever is done: its sum and its heaviest class are all that counts.
        self.beyond = weights[:, parts.beyond].sum(axis=1)
        self.heaviest_beyond = weights[:, parts.beyond].max(axis=1, initial=0.0)
        start = np.broadcast_to(repairs.tries, (len(weights), len(repairs.tries))) if tries is None else tries
        self.tries = start[:, parts.useful].copy()
        # One array for each need of a class: a few sums of large arrays are faster than many sums of three.
        self.open_needs = [np.repeat(needed[None], len(weights), axis=0) for needed in parts.needed]
        self.level = level.copy()
        self.left = self.weights
        self.spent = np.zeros(len(weights))

    def refer_now(self) -> Floats:
        """Return what it comes to when the clock is handed on now, shape (rows,)."""
        total = self.left.sum(axis=1) + self.beyond
        cost = self.spent + self.repairs.refer_minutes * total
        if self.repairs.handover_minutes > 0:
            guessed = np.maximum(self.left.max(axis=1, initial=0.0), self.heaviest_beyond)
            cost = cost + self.repairs.handover_minutes * (total - guessed)
        return np.asarray(cost)

    def go_on(self, best: Floats, since_gain: Ints) -> Ints:
        """Do the next remedy in each row where that may still gain, and return these rows."""
        share = self.left / np.maximum(sum(self.open_needs), NO_WEIGHT)
        mended = np.concatenate([need * share for need in self.open_needs], axis=1) @ self.parts.mends
        cost = self.minutes + self.repairs.ladder.minutes[self.level][:, self.reach]
        worth = np.where(self.tries > 0, mended / cost, 0.0)
        chosen = worth.argmax(axis=1)
        here = np.arange(len(self.rows))
        total = self.left.sum(axis=1) + self.beyond
        self.spent = self.spent + cost[here, chosen] * total
        gaining = (self.spent < best[self.rows]) & (since_gain[self.rows] < PATIENCE)
        going = (worth[here, chosen] > 0) & gaining
        if not going.all():
            chosen = chosen[going]
            for name in ("rows", "weights", "beyond", "heaviest_beyond", "tries", "level", "spent"):
                setattr(self, name, getattr(self, name)[going])
            self.open_needs = [need[going] for need in self.open_needs]
        self.open_needs = [need * fails[chosen] for need, fails in zip(self.open_needs, self.parts.fails, strict=True)]
        self.tries[np.arange(len(chosen)), chosen] -= 1
        self.level = self.repairs.ladder.after_repair(self.level, self.reach[chosen])
        met = np.ones_like(self.weights)
        for need in self.open_needs:
            met = met * (1.0 - need)
        self.left = self.weights * (1.0 - met)
        return self.rows


def best_remedies(repairs: Repairs, weights: Floats, level: Ints, tries: Ints) -> Ints:
    """Return the remedy, shape (B,), that mends most weight for its minutes in each row; -1 where none does."""
    if len(repairs.minutes) == 0:
        return np.full(len(weights), -1, dtype=np.intp)
    share = weights / np.maximum((repairs.needs >= 0).sum(axis=1), 1)
    mended = share @ repairs.covers.sum(axis=2).T
    worth = np.where(tries > 0, mended / (repairs.minutes + repairs.ladder.minutes[level][:, repairs.reach]), 0.0)
    chosen: Ints = np.where(worth.max(axis=1) > 0, worth.argmax(axis=1), -1)
    return chosen


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


def close_classes(classes: set[frozenset[int]]) -> list[frozenset[int]]:
    """Return the classes with all that lose needs one by one, smallest first, in a fixed order."""
    closed: set[frozenset[int]] = set(classes) | {frozenset()}
    for needs in classes:
        for need in needs:
            closed.add(frozenset({need}))
            closed.add(needs - {need})
    return sorted(closed, key=lambda needs: (len(needs), sorted(needs)))
