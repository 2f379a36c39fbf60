"""Weights of all sets of one to three causes, from corrections between pairs.

Two causes that share no answered finding count independently. So a weight is a product of single weights
and of one correction for each pair; a set of three that shares a finding needs a further correction,
which the heaviest triples get exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.finding_table import Floats, Indices, triples_of
from diagnose.reasoning.readings import TINY, Reading, joined
from diagnose.reasoning.tables import Base


@dataclass(frozen=True, slots=True)
class Reach:
    """How many triples are worked out exactly, and among how many of the likeliest causes they are sought."""

    triples: int
    causes: int


NOW = Reach(triples=600, causes=30)
"""For a ranking: the rest of the triples is counted by pair corrections."""
THROUGH_REMEDIES = Reach(triples=4000, causes=100)
"""For histories, which need every set by itself; the rest of the triples is left out."""
LEFT_OUT_FACTOR = 1.5
"""Estimated tail of sets of four and more: this times z3^2 / z2 (covered the tail in all of 200 random nets)."""


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """Weights of sets of causes; together with `other` they add up to 1.

    Parameters
    ----------
    nothing, other : float
        Nothing wrong, and a fault that is not on the list.
    single : ndarray, shape (C,)
        Each cause alone.
    pair : ndarray, shape (C, C)
        Two causes, symmetric, zero on the diagonal.
    members : ndarray of int, shape (T, 3)
        The triples whose weights are exact.
    triple : ndarray, shape (T,)
        Their weights.
    right : ndarray, shape (T, n)
        For each of them and each reading: probability that the said value is the true one.
    rest_one, rest_two : ndarray, shapes (C,) and (C, C)
        All other triples: weight of those that hold a cause, and two causes.
    rest : float
        All other triples.
    left_out : float
        Estimated share of sets of four and more causes.
    conflict : float
        Log Bayes factor of a fault that is not on the list against those on it. [nat]
    """

    nothing: float
    other: float
    single: Floats
    pair: Floats
    members: Indices
    triple: Floats
    right: Floats
    rest_one: Floats
    rest_two: Floats
    rest: float
    left_out: float
    conflict: float

    def one(self) -> Floats:
        """Return the weight of all sets that hold a cause, shape (C,)."""
        count = len(self.single)
        exact = np.bincount(self.members.ravel(), np.repeat(self.triple, 3), minlength=count)
        return np.asarray(self.single + self.pair.sum(axis=1) + self.rest_one + exact)

    def sets(self) -> tuple[Indices, Floats]:
        """Return all sets told apart, shape (N, 3) and filled up with C, and their weights, shape (N,)."""
        count = len(self.single)
        first, second = np.triu_indices(count, 1)
        singles, pairs = 1 + count, 1 + count + len(first)
        members = np.full((pairs + len(self.members), 3), count, dtype=np.intp)
        members[1:singles, 0] = np.arange(count)
        members[singles:pairs, 0] = first
        members[singles:pairs, 1] = second
        members[pairs:] = self.members
        weight = np.concatenate(([self.nothing], self.single, self.pair[first, second], self.triple))
        return members, weight


def weigh(base: Base, readings: Sequence[Reading], factors: Floats | None = None, reach: Reach = NOW) -> Weights:
    """Return the weights of all sets of up to three causes.

    Parameters
    ----------
    base : Base
        The clock in numbers.
    readings : sequence of Reading
        One for each answered finding.
    factors : ndarray, shape (C,), optional
        Factors of rules on the odds of the causes.
    reach : Reach
        How many triples are worked out exactly.

    Returns
    -------
    Weights
    """
    factors = np.ones(len(base.odds)) if factors is None else factors
    log_odds = np.log(np.maximum(base.odds * factors, TINY))
    log_nothing, ratio, correction = _corrections(base, readings)
    log_x = log_odds + ratio
    log_pair = log_x[:, None] + log_x + correction
    np.fill_diagonal(log_pair, -np.inf)
    edge, three, log_scale = _all_three(log_x, log_pair)
    members, near = _heaviest(edge, three, reach)
    answer, right = joined(readings).given(members)
    log_triple = log_odds[members].sum(axis=1) + np.log(answer).sum(axis=1) - log_nothing
    log_other = other_than_known(base, readings, factors) - log_nothing
    # Everything is divided by the largest, so that no exponential overflows however many answers agree.
    tops = (_top(log_x), _top(log_pair), _top(log_triple), _top(np.log(three.sum() + TINY)) + log_scale)
    shift = max(0.0, log_other, *tops)
    one, two = spread(len(log_x), members, near)
    scale = np.exp(min(log_scale - shift, -np.log(TINY)))
    parts = Weights(
        nothing=_before(base, base.nothing_wrong) * np.exp(-shift),
        other=_before(base, base.none_of_these) * np.exp(log_other - shift),
        single=np.exp(log_x - shift),
        pair=np.exp(log_pair - shift),
        members=members,
        triple=np.exp(log_triple - shift),
        right=right / answer,
        rest_one=np.maximum(three.sum(axis=1) / 2 - one, 0.0) * scale,
        rest_two=np.maximum(three - two, 0.0) * scale,
        rest=max(float(three.sum()) / 6 - float(near.sum()), 0.0) * float(scale),
        left_out=0.0,
        conflict=log_other - shift + float(np.log(max(base.all_odds, TINY))),
    )
    return _shared(parts)


def _before(base: Base, share: float) -> float:
    """Return a share of the prior on the scale on which a set weighs the product of its odds."""
    known = 1 - base.nothing_wrong - base.none_of_these
    return share * (base.all_odds / known if base.all_odds > 0 else 1.0)


def _corrections(base: Base, readings: Sequence[Reading]) -> tuple[float, Floats, Floats]:
    """Return ln P(e | nothing), the log ratio of each cause to it, and the corrections of pairs."""
    count = len(base.odds)
    log_nothing, ratio, correction = 0.0, np.zeros(count), np.zeros((count, count))
    for reading in readings:
        linked = reading.table.linked
        none = float(np.log(reading.none))
        one = np.log(reading.one) - none
        both = np.log(reading.both) - none
        log_nothing += none
        ratio[linked] += one
        correction[linked[:, None], linked] += both - one[:, None] - one
    return log_nothing, ratio, correction


def other_than_known(base: Base, readings: Sequence[Reading], factors: Floats) -> float:
    """Return ln P(e | a fault not on the list): each finding, and each rule, as an average faulty clock would."""
    known = 1 - base.nothing_wrong - base.none_of_these
    rules = np.log(np.maximum(1 + base.prior / known * (factors - 1), TINY)).sum()
    said = (np.log(max(float(reading.table.other @ reading.likelihood), TINY)) for reading in readings)
    return float(rules + sum(said))


def _top(logarithms: Floats) -> float:
    return float(np.max(logarithms, initial=-np.inf))


def _all_three(log_x: Floats, log_pair: Floats) -> tuple[Floats, Floats, float]:
    """Return `edge`, `three` and the logarithm of their scale.

    The weight of a triple by pair corrections is the product of its three edges; `three` holds, for each
    two causes, the sum over all triples that hold both.
    """
    log_edge = log_pair - (log_x[:, None] + log_x) / 2
    top = _top(log_edge)
    if not np.isfinite(top):
        return np.zeros_like(log_pair), np.zeros_like(log_pair), 0.0
    edge = np.exp(log_edge - top)
    return edge, edge * (edge @ edge), 3 * top


def _heaviest(edge: Floats, three: Floats, reach: Reach) -> tuple[Indices, Floats]:
    """Return the heaviest triples and their weights by pair corrections, on the scale of `edge`."""
    chosen = np.arange(len(edge))
    if len(edge) > reach.causes:
        chosen = np.sort(np.argpartition(-three.sum(axis=1), reach.causes)[: reach.causes])
    near = edge[np.ix_(chosen, chosen)].ravel()
    a, b, c = triples_of(len(chosen))
    weight = near[a * len(chosen) + b] * near[a * len(chosen) + c] * near[b * len(chosen) + c]
    best = np.arange(len(weight))
    if len(weight) > reach.triples:
        best = np.argpartition(-weight, reach.triples)[: reach.triples]
    return chosen[np.stack((a[best], b[best], c[best]), axis=1)], weight[best]


def spread(count: int, members: Indices, weight: Floats) -> tuple[Floats, Floats]:
    """Return the weight of the sets that hold each cause, shape (C,), and each two, shape (C, C).

    Parameters
    ----------
    count : int
        Number C of causes; in `members` it stands for "no cause".
    members : ndarray of int, shape (N, 3)
        The sets.
    weight : ndarray, shape (N,)
        Their weights.
    """
    wide = count + 1
    one: Floats = np.bincount(members.ravel(), np.repeat(weight, 3), minlength=wide).astype(np.float64)
    two = np.zeros(wide * wide)
    for first, second in ((0, 1), (0, 2), (1, 2)):
        two += np.bincount(members[:, first] * wide + members[:, second], weight, minlength=wide * wide)
    square = two.reshape(wide, wide)
    square = square + square.T
    return one[:count], square[:count, :count]


def _shared(parts: Weights) -> Weights:
    """Return the weights divided by their sum, with what was left out and the conflict."""
    pairs = float(parts.pair.sum()) / 2
    triples = float(parts.triple.sum()) + parts.rest
    known = float(parts.single.sum()) + pairs + triples
    total = parts.nothing + parts.other + known
    tail = LEFT_OUT_FACTOR * triples**2 / pairs if pairs > 0 else 0.0
    return Weights(
        nothing=float(parts.nothing / total),
        other=float(parts.other / total),
        single=parts.single / total,
        pair=parts.pair / total,
        members=parts.members,
        triple=parts.triple / total,
        right=parts.right,
        rest_one=parts.rest_one / total,
        rest_two=parts.rest_two / total,
        rest=float(parts.rest / total),
        left_out=float(tail / total),
        conflict=parts.conflict - float(np.log(max(known, TINY))),
    )
