"""What was told and nobody has looked at: which of it is dearest if it is wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from diagnose.model.entries import Where
from diagnose.model.reading import Knowledge
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base
from diagnose.settings import DEFAULT, Parameters


@dataclass(frozen=True, slots=True)
class Told:
    """An answer that was told and can be looked at.

    Parameters
    ----------
    finding, value : str
        What was told.
    wrong : float
        Probability that it is wrong, all other answers considered [1].
    depends : float
        By how much the probability of the first place changes without it [1].
    minutes : float
        Expected minutes of work at stake: wrong times depends times what handing the clock on costs. [min]
    """

    finding: str
    value: str
    wrong: float
    depends: float
    minutes: float


def dearest_first(
    told: Iterable[tuple[str, str]],
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    where: Where,
    parameters: Parameters = DEFAULT,
) -> tuple[Told, ...]:
    """Return what was told, first what would cost most if it were wrong.

    Parameters
    ----------
    told : iterable of (str, str)
        Findings with the values that were told.
    base : Base
        The tables for this clock.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        As it stands.
    knowledge : Knowledge
        With the shop's prices.
    where : str
        Where the clock is looked at.
    parameters : Parameters
        The numbers of the reasoning.

    Returns
    -------
    tuple of Told
        Ties go by the probability of being wrong, then by id.
    """
    at_stake = knowledge.shop.refer_minutes.get(where, 0.0)
    rows = []
    for name, value in told:
        wrong = ranking.wrong.get(name, 0.0)
        depends = _depends(name, base, pieces, ranking, parameters)
        rows.append(Told(name, value, wrong, depends, wrong * depends * at_stake))
    return tuple(sorted(rows, key=lambda row: (-row.minutes, -row.wrong, row.finding)))


def _depends(name: str, base: Base, pieces: Sequence[Piece], ranking: Ranking, parameters: Parameters) -> float:
    """Return by how much the probability of the first place changes without an answer."""
    if not ranking.causes or not any(finding.finding == name for piece in pieces for finding in piece.findings):
        return 0.0
    first = ranking.causes[0]
    without = rank(base, [_without(piece, name) for piece in pieces], parameters)
    return abs(first.probability - next(item.probability for item in without.causes if item.cause == first.cause))


def _without(piece: Piece, name: str) -> Piece:
    return replace(piece, findings=tuple(finding for finding in piece.findings if finding.finding != name))
