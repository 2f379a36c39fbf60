"""How probably an answer is wrong, all else considered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.finding_table import Floats, Indices
from diagnose.reasoning.pairs import NOW, Weights, spread
from diagnose.reasoning.readings import TINY, Reading


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
    full = np.flatnonzero(members.max(axis=1, initial=0) < count)
    if len(full) > NOW.triples:
        full = full[np.argpartition(-weight[full], NOW.triples)[: NOW.triples]]
    rest = weight.copy()
    rest[full] = 0.0
    one, two = spread(count, members, rest)
    return Shares(float(rest.sum()), one, two, members[full], weight[full], other)


def chance_wrong(reading: Reading, shares: Shares, right_of_triples: Floats | None = None) -> float:
    """Return the probability that the said value is not the true one.

    Parameters
    ----------
    reading : Reading
        The answer; 0 where no value was said.
    shares : Shares
        Weights of the sets, this answer and all others considered.
    right_of_triples : ndarray, shape (T,), optional
        For the triples in `shares`: probability that the said value is the true one, where it is known.

    Notes
    -----
    The mean over all sets K of ``1 - lambda(s) P(s | K) / sum_v lambda(v) P(v | K)``. Exact for sets of
    one and two causes and for the triples that `shares` lists.
    """
    said, table = reading.said, reading.table
    if said is None:
        return 0.0
    sure = reading.likelihood[said]
    if right_of_triples is None:
        given = table.given_members(shares.members)
        right_of_triples = sure * given[:, said] / np.maximum(given @ reading.likelihood, TINY)
    none = sure * table.nothing[said] / reading.none
    one = sure * table.single[:, said] / reading.one
    square = sure * table.pair[:, :, said] / reading.both - one[:, None] - one + none
    np.fill_diagonal(square, 0.0)
    linked = table.linked
    right = none * shares.rest + shares.one[linked] @ (one - none)
    right += (shares.two[linked[:, None], linked] * square).sum() / 2
    right += shares.triple @ right_of_triples
    if shares.other > 0:
        right += shares.other * sure * table.other[said] / max(float(table.other @ reading.likelihood), TINY)
    whole = shares.rest + float(shares.triple.sum()) + shares.other
    return min(max(whole - float(right), 0.0), 1.0)
