"""From findings to probabilities of the causes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from diagnose.errors import InputError
from diagnose.model.near_names import near
from diagnose.reasoning.belief import Belief, belief_after, belief_now
from diagnose.reasoning.finding_table import FindingTable, Floats
from diagnose.reasoning.histories import Stretch
from diagnose.reasoning.readings import Reading, read
from diagnose.reasoning.remedies_effect import effect_of
from diagnose.reasoning.tables import Base
from diagnose.reasoning.values import Finding, RemedyEffect
from diagnose.settings import DEFAULT, Parameters

__all__ = ["Piece", "Ranked", "Ranking", "RemedyEffect", "Together", "effect_of", "rank"]

MOST_TOGETHER = 10
"""Sets of two and three causes that are named."""
LEAST_TOGETHER = 0.005
"""Sets below this probability are not named."""


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
    stretches = _stretches(base, pieces)
    belief = belief_now(base, stretches[0]) if len(stretches) == 1 else belief_after(base, stretches)
    return _ranking(base, belief, parameters)


def _stretches(base: Base, pieces: Sequence[Piece]) -> list[Stretch]:
    """Return the pieces checked, in the order of the base so that theirs does not matter.

    A remedy that can change nothing here does not cut; an answer that is given again before a remedy has
    changed its finding replaces the earlier one.
    """
    stretches = [Stretch({}, {}, None)]
    for piece in pieces:
        open_one = stretches.pop()
        given = {finding.finding: finding for finding in piece.findings}
        readings = dict(open_one.readings)
        readings.update(
            (name, _reading(finding, base.tables[name])) for name, finding in given.items() if name in base.tables
        )
        factors = {**open_one.factors, **_factors(base, piece)}
        effect = _effect(base, piece.remedy)
        stretches.append(Stretch(readings, factors, effect))
        if effect is not None:
            stretches.append(Stretch({}, {}, None))
    in_order = []
    for number, item in enumerate(stretches):
        kept = {name: item.readings[name] for name in base.tables if name in item.readings}
        kept = {name: reading for name, reading in kept.items() if not _replaced(name, stretches[number:])}
        in_order.append(Stretch(kept, dict(sorted(item.factors.items())), item.effect))
    return in_order


def _replaced(name: str, stretches: Sequence[Stretch]) -> bool:
    """Tell whether an answer of the first stretch is given again before a remedy changes its finding."""
    for earlier, later in pairwise(stretches):
        if earlier.effect is not None and name in earlier.effect.stale:
            return False
        if name in later.readings:
            return True
    return False


def _effect(base: Base, remedy: str | None) -> RemedyEffect | None:
    """Return the effect of a remedy, or None where there is none to reckon with."""
    if remedy is None:
        return None
    effect = base.remedies.get(remedy)
    if effect is None:
        raise InputError(f"unknown remedy '{remedy}'{near(remedy, base.remedies)}", "ranking")
    in_play = [place for place in effect.causes if base.odds[place] > 0]
    return effect if in_play or effect.changed else None


def _reading(finding: Finding, table: FindingTable) -> Reading:
    likelihood = np.array(finding.likelihood, dtype=np.float64)
    sensible = likelihood.shape == (len(table.values),) and bool(np.isfinite(likelihood).all())
    if not sensible or (likelihood < 0).any() or likelihood.sum() <= 0:
        raise InputError(
            f"likelihood {finding.likelihood}",
            f"finding '{finding.finding}'",
            f"Give {len(table.values)} numbers, none below 0 and one above",
        )
    if finding.said is not None and finding.said not in table.values:
        raise InputError(
            f"unknown value '{finding.said}'{near(finding.said, table.values)}",
            f"finding '{finding.finding}'",
            f"It has {', '.join(table.values)}",
        )
    return read(table, likelihood, None if finding.said is None else table.values.index(finding.said))


def _factors(base: Base, piece: Piece) -> dict[int, float]:
    """Return the factors of the rules by position of the cause."""
    for cause, factor in piece.weights.items():
        if not (np.isfinite(factor) and factor >= 0):
            raise InputError(f"factor {factor} on the odds", f"cause '{cause}'", "Give a number of at least 0")
    return {base.index[cause]: factor for cause, factor in piece.weights.items() if cause in base.index}


def _ranking(base: Base, belief: Belief, parameters: Parameters) -> Ranking:
    each = zip(base.causes, belief.one.tolist(), base.prior.tolist(), strict=True)
    ranked = tuple(Ranked(*entry) for entry in sorted(each, key=lambda entry: (-entry[1], entry[0])))
    sets, heavy = belief.heaviest(parameters.kept_sets)
    together = tuple(
        Together(tuple(base.causes[place] for place in causes), float(weight))
        for causes, weight in zip(sets, heavy, strict=True)
        if len(causes) > 1 and weight >= LEAST_TOGETHER
    )
    return Ranking(
        causes=ranked,
        nothing_wrong=belief.nothing,
        none_of_these=belief.other,
        together=together[:MOST_TOGETHER],
        left_out=belief.left_out,
        conflict=belief.conflict,
        wrong=dict(belief.wrong),
        sets=sets,
        weights=heavy / heavy.sum() * (1 - belief.other) if len(heavy) else heavy,
        other_weight=belief.other,
    )
