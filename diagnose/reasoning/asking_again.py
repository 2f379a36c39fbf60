"""Which answers are worth asking again: those that are perhaps wrong and on which the first place hangs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diagnose.reasoning.explanation import Doubtful, doubtful_answers
from diagnose.reasoning.findings import said_likelihood
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base, padded
from diagnose.settings import DEFAULT, Parameters


def worth_asking_again(
    base: Base, pieces: Sequence[Piece], ranking: Ranking, parameters: Parameters = DEFAULT
) -> tuple[Doubtful, ...]:
    """Return the answers that are perhaps wrong and would change the first place if they were.

    An answer on which the first place does not hang is not worth another minute, however doubtful it is.

    Parameters
    ----------
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        What came of it.
    parameters : Parameters
        From which probability an answer is asked again.

    Returns
    -------
    tuple of Doubtful
        The most suspect first, at most three.
    """
    return tuple(
        item for item in doubtful_answers(ranking, parameters) if _changes(base, pieces, ranking, item.finding)
    )


def _changes(base: Base, pieces: Sequence[Piece], ranking: Ranking, finding: str) -> bool:
    """Tell whether another cause comes first where the likeliest other value is put in the place of the answer."""
    places = [number for number, piece in enumerate(pieces) if any(item.finding == finding for item in piece.findings)]
    if not places or not ranking.causes:
        return False
    last = pieces[places[-1]]
    given = next(item for item in reversed(last.findings) if item.finding == finding)
    table = base.tables[finding]
    if given.said is None:
        return False
    said = table.values.index(given.said)

    def ranked_with(likelihood: tuple[float, ...] | None) -> Ranking:
        kept = tuple(item for item in last.findings if item.finding != finding)
        if likelihood is not None:
            kept = (*kept, replace(given, likelihood=likelihood, said=None))
        return rank(base, [*pieces[: places[-1]], replace(last, findings=kept), *pieces[places[-1] + 1 :]])

    without = ranked_with(None)
    expected = without.weights @ table.given_members(padded(without.sets, len(base.causes)))
    expected = expected + without.other_weight * table.other
    expected[said] = 0.0
    wrong = 1 - given.likelihood[said] / sum(given.likelihood)
    other = said_likelihood(int(expected.argmax()), len(table.values), wrong)
    return ranked_with(other).causes[0].cause != ranking.causes[0].cause
