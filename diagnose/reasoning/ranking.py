"""From findings to probabilities of the causes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.errors import InputError
from diagnose.reasoning.finding_table import Floats
from diagnose.reasoning.pairs import Reading, Weights, weigh
from diagnose.reasoning.remedies_effect import effect_of
from diagnose.reasoning.tables import Base
from diagnose.reasoning.values import Finding, RemedyEffect
from diagnose.settings import DEFAULT, Parameters

__all__ = ["Piece", "Ranked", "Ranking", "RemedyEffect", "Together", "effect_of", "rank"]

MOST_TOGETHER_SHOWN = 10
LEAST_TOGETHER_SHOWN = 0.005


@dataclass(frozen=True, slots=True)
class Piece:
    """What was found between two remedies.

    Parameters
    ----------
    findings : tuple of Finding
        In any order; a finding that the clock has no table for says nothing. Where one stands twice
        the later counts.
    weights : mapping of str to float
        By cause: factor of the rules on its odds.
    remedy : str, optional
        The remedy tried at the end of this piece; None for the last piece.
    """

    findings: tuple[Finding, ...] = ()
    weights: Mapping[str, float] = field(default_factory=dict)
    remedy: str | None = None


@dataclass(frozen=True, slots=True)
class Ranked:
    """One cause with its probability now and before the first answer, alone or with others."""

    cause: str
    probability: float
    prior: float


@dataclass(frozen=True, slots=True)
class Together:
    """Two or three causes that are there together, and no other."""

    causes: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """How probable each cause is, as the clock is now.

    Parameters
    ----------
    causes : tuple of Ranked
        Best first. Because two can be there together the probabilities need not add up to 1.
    nothing_wrong : float
        Probability that nothing is wrong (any more).
    none_of_these : float
        Probability of a fault that is not on the list.
    together : tuple of Together
        Sets of two and three causes, best first.
    left_out : float
        Estimated share of sets of four and more causes.
    conflict : float
        Log Bayes factor [nat] of a fault not on the list against those on it.
    wrong : mapping of str to float
        By answered finding: probability that its answer is wrong.
    sets : tuple of tuple of int
        The heaviest sets of causes, best first; () means nothing wrong.
    weights : ndarray, shape (len(sets),)
        Their weights, which with `other_weight` add up to 1.
    other_weight : float
        The same as `none_of_these`.
    """

    causes: tuple[Ranked, ...]
    nothing_wrong: float
    none_of_these: float
    together: tuple[Together, ...]
    left_out: float
    conflict: float
    wrong: Mapping[str, float]
    sets: tuple[tuple[int, ...], ...]
    weights: Floats
    other_weight: float


def rank(base: Base, pieces: Sequence[Piece], parameters: Parameters = DEFAULT) -> Ranking:
    """Rank the causes of one clock.

    Parameters
    ----------
    base : Base
        The clock in numbers.
    pieces : sequence of Piece
        What was found, cut by the remedies that were tried.
    parameters : Parameters
        Numbers of the reasoning.

    Returns
    -------
    Ranking

    Raises
    ------
    InputError
        Where a likelihood has the wrong length or no sense, or a remedy is unknown.
    """
    piece = Piece(
        tuple(finding for piece in pieces for finding in piece.findings),
        {cause: factor for piece in pieces for cause, factor in piece.weights.items()},
    )
    readings = readings_of(base, piece)
    weights = weigh(base, tuple(readings.values()), _factors(base, piece))
    return _ranking(base, weights, parameters)


def readings_of(base: Base, piece: Piece) -> dict[str, Reading]:
    """Return what each finding of a piece says, in the order of the base so that theirs does not matter."""
    given = {finding.finding: finding for finding in piece.findings}
    readings = {}
    for name, table in base.tables.items():
        if name in given:
            readings[name] = Reading(table, _checked(given[name], len(table.values)))
    return readings


def _checked(finding: Finding, count: int) -> Floats:
    likelihood = np.array(finding.likelihood, dtype=np.float64)
    sensible = likelihood.shape == (count,) and bool(np.isfinite(likelihood).all())
    if not sensible or (likelihood < 0).any() or likelihood.sum() <= 0:
        raise InputError(
            f"likelihood {finding.likelihood}",
            f"finding '{finding.finding}'",
            f"Give {count} numbers, none below 0 and one above",
        )
    return likelihood


def _factors(base: Base, piece: Piece) -> Floats:
    factors = np.ones(len(base.causes))
    for cause, factor in piece.weights.items():
        if cause in base.index:
            factors[base.index[cause]] = factor
    return factors


def _ranking(base: Base, weights: Weights, parameters: Parameters) -> Ranking:
    one = weights.one()
    order = sorted(range(len(one)), key=lambda place: (-one[place], base.causes[place]))
    ranked = tuple(Ranked(base.causes[place], float(one[place]), float(base.prior[place])) for place in order)
    sets, heavy = _kept(weights, parameters.kept_sets)
    together = tuple(
        Together(tuple(base.causes[place] for place in causes), float(weight))
        for causes, weight in zip(sets, heavy, strict=True)
        if len(causes) > 1 and weight >= LEAST_TOGETHER_SHOWN
    )
    known = 1 - weights.other - weights.nothing
    prior_odds = base.none_of_these / (1 - base.none_of_these - base.nothing_wrong)
    with np.errstate(divide="ignore"):
        conflict = (
            float(np.log(weights.other) - np.log(known) - np.log(prior_odds)) if prior_odds > 0 else 0.0
        )
    return Ranking(
        causes=ranked,
        nothing_wrong=weights.nothing,
        none_of_these=weights.other,
        together=together[:MOST_TOGETHER_SHOWN],
        left_out=weights.left_out,
        conflict=conflict,
        wrong={},
        sets=sets,
        weights=heavy / heavy.sum() * (1 - weights.other),
        other_weight=weights.other,
    )


def _kept(weights: Weights, most: int) -> tuple[tuple[tuple[int, ...], ...], Floats]:
    """Return the heaviest sets, best first, and their weights."""
    first, second = np.triu_indices(len(weights.single), 1)
    sets: list[tuple[int, ...]] = [()]
    sets.extend((place,) for place in range(len(weights.single)))
    sets.extend(zip(first.tolist(), second.tolist(), strict=True))
    sets.extend(tuple(row) for row in weights.members.tolist())
    heavy = np.concatenate(([weights.nothing], weights.single, weights.pair[first, second], weights.triple))
    best = np.argsort(-heavy, kind="stable")[:most]
    return tuple(sets[place] for place in best), heavy[best]
