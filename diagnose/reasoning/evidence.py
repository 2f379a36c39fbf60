"""The evidence of a ranking laid out set by set, and what each part of it weighs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.shares import DECIBANS_PER_NAT, fair_shares
from diagnose.reasoning.tables import Base, padded
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT, Parameters

Floats = NDArray[np.float64]

_TINY = 1e-300
_ALL_TRIPLES = 3000
_FEWER_ODDS = 80


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that moved the odds: a finding, or what the rules say about one cause.

    Parameters
    ----------
    key : str
        By which items are sorted: the finding, or the cause.
    piece : int
        The piece of the consultation it belongs to.
    finding : Finding, optional
        The finding.
    cause : str, optional
        The cause that rules weigh, if it is not a finding.
    """

    key: str
    piece: int
    finding: Finding | None = None
    cause: str | None = None


def items_of(base: Base, pieces: Sequence[Piece]) -> tuple[Item, ...]:
    """Return what moved the odds, piece by piece, within a piece by id."""
    items: list[Item] = []
    for number, piece in enumerate(pieces):
        # A later answer to a finding replaces the earlier one.
        given = {finding.finding: finding for finding in piece.findings if finding.finding in base.tables}
        items.extend(Item(name, number, finding=finding) for name, finding in given.items())
        items.extend(Item(cause, number, cause=cause) for cause in piece.weights if cause in base.index)
    return tuple(sorted(items, key=lambda item: (item.piece, item.key, item.cause is not None)))


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Prior and likelihoods of every set that is told apart.

    The last two columns are nothing wrong and a fault that is not on the list.

    Parameters
    ----------
    members : ndarray of int, shape (N, 3)
        The sets, filled up with the number of causes.
    log_prior : ndarray, shape (N,)
        Logarithm of the prior weight.
    log_likelihood : ndarray, shape (n, N)
        One row for each item.
    """

    members: NDArray[np.intp]
    log_prior: Floats
    log_likelihood: Floats

    def holds(self, cause: int) -> NDArray[np.bool_]:
        """Return which sets hold a cause, shape (N,)."""
        return np.asarray((self.members == cause).any(axis=1))


def evidence_of(base: Base, items: Sequence[Item], ranking: Ranking, weights: Mapping[str, float]) -> Evidence:
    """Lay out the evidence of one piece: all sets of one and two causes, and the triples that count.

    Parameters
    ----------
    base : Base
        Odds and tables.
    items : sequence of Item
        What moved the odds.
    ranking : Ranking
        Whose heaviest triples are told apart where there are too many of them.
    weights : mapping of str to float
        Factors of the rules, by cause.
    """
    count = len(base.causes)
    sets: list[tuple[int, ...]] = [(cause,) for cause in range(count)]
    sets.extend(combinations(range(count), 2))
    if comb(count, 3) <= _ALL_TRIPLES:
        sets.extend(combinations(range(count), 3))
    else:
        sets.extend(causes for causes in ranking.sets if len(causes) == 3)
    members = padded([*sets, (), ()], count)
    log_odds = np.append(np.log(np.maximum(base.odds, _TINY)), 0.0)
    log_prior = log_odds[members].sum(axis=1)
    known = 1 - base.nothing_wrong - base.none_of_these
    shares = np.array([base.nothing_wrong, base.none_of_these])
    log_prior[-2:] = np.log(np.maximum(shares * (base.all_odds / known), _TINY))
    rows = [_row(base, item, members, weights) for item in items]
    return Evidence(members, log_prior, np.array(rows).reshape(len(rows), len(members)))


def _row(base: Base, item: Item, members: NDArray[np.intp], weights: Mapping[str, float]) -> Floats:
    """Return ln P(item | set) for every set, shape (N,)."""
    if item.finding is not None:
        table = base.tables[item.finding.finding]
        likelihood = np.array(item.finding.likelihood)
        chance = table.given_members(members) @ likelihood
        chance[-1] = table.other @ likelihood
        return np.asarray(np.log(np.maximum(chance, _TINY)))
    cause = base.index[str(item.cause)]
    factor = weights[str(item.cause)]
    row = np.where((members == cause).any(axis=1), np.log(factor), 0.0)
    # Something not on the list sees a rule as an average faulty clock does.
    known = 1 - base.nothing_wrong - base.none_of_these
    row[-1] = np.log(1 + base.prior[cause] / known * (factor - 1))
    return row


def log_weights(evidence: Evidence) -> Floats:
    """Return the logarithm of the weight of each set after all items, the largest being 0, shape (N,)."""
    total = evidence.log_prior + evidence.log_likelihood.sum(axis=0)
    return np.asarray(total - total.max())


def shares_of_items(
    causes: Sequence[str],
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    parameters: Parameters = DEFAULT,
) -> tuple[tuple[Item, ...], Floats]:
    """Return what moved the odds, and the share of each in the odds of some causes.

    Parameters
    ----------
    causes : sequence of str
        Ids of m causes of the base.
    base : Base
        Odds and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        The ranking.
    parameters : Parameters
        The numbers of the reasoning.

    Returns
    -------
    items : tuple of Item
    shares : ndarray, shape (n, m)
        In decibans; they add up to what the answers changed in the odds of each cause.
    """
    items = items_of(base, pieces)
    positions = [base.index[cause] for cause in causes]
    if not items:
        return (), np.zeros((0, len(positions)))
    if len(pieces) == 1:
        evidence = evidence_of(base, items, ranking, pieces[0].weights)
        return items, fair_shares(len(items), RunOdds(evidence, positions))
    return items, fair_shares(len(items), PieceOdds(base, pieces, items, positions, parameters), _FEWER_ODDS)


def shares_of_sets(
    base: Base, items: Sequence[Item], weights: Mapping[str, float], one: Sequence[int], other: Sequence[int]
) -> tuple[float, Floats]:
    """Return how two sets of causes compare: prior, and each item, shape (n,). [dB]

    Parameters
    ----------
    base : Base
        Odds and tables.
    items : sequence of Item
        What is compared.
    weights : mapping of str to float
        Factors of the rules, by cause.
    one, other : sequence of int
        Positions of the causes of the two sets.
    """
    # Two rows are added that _row takes for nothing wrong and for a fault not on the list.
    members = padded([one, other, (), ()], len(base.causes))
    rows = np.array([_row(base, item, members, weights)[:2] for item in items]).reshape(len(items), 2)
    prior = np.log(base.odds[list(one)]).sum() - np.log(base.odds[list(other)]).sum()
    return float(DECIBANS_PER_NAT * prior), DECIBANS_PER_NAT * (rows[:, 0] - rows[:, 1])


class RunOdds:
    """Odds of causes given a run of the items taken as a ring, all worked out from one layout. [dB]"""

    def __init__(self, evidence: Evidence, causes: Sequence[int]) -> None:
        self.evidence = evidence
        self.inside = np.stack([evidence.holds(cause) for cause in causes], axis=1).astype(np.float64)
        count = len(evidence.log_likelihood)
        self.ring = np.concatenate([np.zeros((1, len(evidence.log_prior))), evidence.log_likelihood])
        self.ring = np.cumsum(np.concatenate([self.ring, evidence.log_likelihood]), axis=0)
        self.count = count

    def __call__(self, start: int, length: int) -> Floats:
        """Return the odds of each cause given `length` items from `start` on, shape (m,)."""
        total = self.evidence.log_prior + self.ring[start + length] - self.ring[start]
        weight = np.exp(total - total.max())
        inside = weight @ self.inside
        outside = weight @ (1 - self.inside)
        return np.asarray(DECIBANS_PER_NAT * np.log(np.maximum(inside, _TINY) / np.maximum(outside, _TINY)))


class PieceOdds:
    """The same across remedies, by ranking anew with the other items left out. [dB]"""

    def __init__(
        self,
        base: Base,
        pieces: Sequence[Piece],
        items: Sequence[Item],
        causes: Sequence[int],
        parameters: Parameters = DEFAULT,
    ) -> None:
        self.base, self.pieces, self.items = base, pieces, items
        self.causes = [base.causes[cause] for cause in causes]
        self.parameters = parameters

    def __call__(self, start: int, length: int) -> Floats:
        """Return the odds of each cause given `length` items from `start` on, shape (m,)."""
        kept = [self.items[(start + step) % len(self.items)] for step in range(length)]
        pieces = [
            _only(piece, [item for item in kept if item.piece == number]) for number, piece in enumerate(self.pieces)
        ]
        ranked = {entry.cause: entry.probability for entry in rank(self.base, pieces, self.parameters).causes}
        chance = np.array([ranked[cause] for cause in self.causes])
        return np.asarray(DECIBANS_PER_NAT * np.log(np.maximum(chance, _TINY) / np.maximum(1 - chance, _TINY)))


def _only(piece: Piece, items: Sequence[Item]) -> Piece:
    """Return a piece with only these of its items."""
    findings = tuple(item.finding for item in items if item.finding is not None)
    weights = {item.cause: piece.weights[item.cause] for item in items if item.cause is not None}
    return Piece(findings, weights, piece.remedy)
