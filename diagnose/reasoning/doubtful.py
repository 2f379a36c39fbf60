"""How probably an answer is wrong, all else considered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.finding_table import Floats, Indices
from diagnose.reasoning.pairs import NOW, TINY, Weights, spread
from diagnose.reasoning.tables import FindingTable


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Weights of what a finding may depend on: each cause, each two, and the heaviest triples.

    Parameters
    ----------
    rest : float
        All sets of causes, the empty one included, but without the triples in `members`.
    one, two : ndarray, shapes (C,) and (C, C)
        Of these, the sets that hold a cause, and two causes.
    members : ndarray of int, shape (T, 3)
        The heaviest triples.
    triple : ndarray, shape (T,)
        Their weights.
    other : float
        A fault that is not on the list.
    """

    rest: float
    one: Floats
    two: Floats
    members: Indices
    triple: Floats
    other: float


def shares_of(weights: Weights) -> Shares:
    """Return the shares in the weights of all sets."""
    return Shares(
        rest=1 - weights.other - float(weights.triple.sum()),
        one=weights.single + weights.pair.sum(axis=1) + weights.rest_one,
        two=weights.pair + weights.rest_two,
        members=weights.members,
        triple=weights.triple,
        other=weights.other,
    )


def shares_of_sets(members: Indices, weight: Floats, other: float, count: int) -> Shares:
    """Return the shares in a list of sets.

    Parameters
    ----------
    members : ndarray of int, shape (N, 3)
        The sets, filled up with `count`.
    weight : ndarray, shape (N,)
        Their weights; with `other` they add up to 1.
    other : float
        A fault that is not on the list.
    count : int
        Number C of causes.
    """
    full = np.flatnonzero((members < count).all(axis=1))
    if len(full) > NOW.triples:
        full = full[np.argpartition(-weight[full], NOW.triples)[: NOW.triples]]
    rest = weight.copy()
    rest[full] = 0.0
    one, two = spread(count, members, rest)
    return Shares(float(rest.sum()), one, two, members[full], weight[full], other)


def chance_wrong(table: FindingTable, likelihood: Floats, said: int, shares: Shares) -> float:
    """Return the probability that the said value is not the true one.

    Parameters
    ----------
    table : FindingTable
        The finding.
    likelihood : ndarray, shape (V,)
        Of the answer.
    said : int
        Position of the value that was said.
    shares : Shares
        Weights of the sets, this answer and all others considered.

    Notes
    -----
    The mean over all sets K of ``1 - lambda(s) P(s | K) / sum_v lambda(v) P(v | K)``. Exact for sets of
    one and two causes and for the triples that `shares` lists.
    """

    def wrong(given: Floats) -> Floats:
        return np.asarray(1 - likelihood[said] * given[..., said] / np.maximum(given @ likelihood, TINY))

    none, one, both = wrong(table.nothing), wrong(table.single), wrong(table.pair)
    linked = table.linked
    square = both - one[:, None] - one + none
    np.fill_diagonal(square, 0.0)
    total = float(none) * shares.rest + float(shares.one[linked] @ (one - none))
    total += float((shares.two[linked[:, None], linked] * square).sum()) / 2
    total += float(shares.triple @ wrong(table.given_members(shares.members)))
    total += shares.other * float(wrong(table.other))
    return min(max(total, 0.0), 1.0)
