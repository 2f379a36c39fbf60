"""Whether the first place holds when every link is a word more or less sure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diagnose.reasoning.finding_table import MOST_TOGETHER, FindingTable
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import FACTORS, Base
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge

Floats = NDArray[np.float64]

DRAWS = 50
SEED = 20310312
STABLE_FROM = 0.9
# One word down, the same word, one word up.
_STEPS = np.array([-1, 0, 1])
_CHANCES = np.array([0.25, 0.5, 0.25])


@dataclass(frozen=True, slots=True)
class Stability:
    """How often the first place held.

    Parameters
    ----------
    first : str, optional
        The cause in the first place; None where the clock has no causes.
    share : float
        Share of the draws in which it came first.
    others : mapping of str to float
        Share of the draws in which another came first, most often first.
    draws : int
        How many draws there were.
    """

    first: str | None
    share: float
    others: Mapping[str, float]
    draws: int = DRAWS

    @property
    def stable(self) -> bool:
        """Tell whether the first place held in nine draws of ten."""
        return self.share >= STABLE_FROM


def stability(
    base: Base,
    pieces: Sequence[Piece],
    knowledge: Knowledge,
    parameters: Parameters = DEFAULT,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Stability:
    """Rank again with every link of the answered findings a word down, the same, or a word up.

    Each link is drawn by itself; moving all the same way would say nothing.

    Parameters
    ----------
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    knowledge : Knowledge
        The words of the links.
    parameters : Parameters
        The numbers of the reasoning.
    draws : int
        How often.
    seed : int
        The same seed gives the same draws.
    """
    causes = rank(base, pieces, parameters).causes
    if not causes:
        return Stability(None, 1.0, {}, draws)
    first = causes[0].cause
    names = sorted(
        {finding.finding for piece in pieces for finding in piece.findings if finding.finding in base.tables}
    )
    random = np.random.default_rng(seed)
    moved = {name: _moved_tables(base, name, knowledge, random, draws) for name in names}
    winners: Counter[str] = Counter()
    for draw in range(draws):
        tables = {**base.tables, **{name: tables[draw] for name, tables in moved.items()}}
        winners[rank(replace(base, tables=tables), pieces, parameters).causes[0].cause] += 1
    shares = {cause: count / draws for cause, count in winners.most_common()}
    return Stability(first, shares.pop(first, 0.0), shares, draws)


def _moved_tables(
    base: Base, name: str, knowledge: Knowledge, random: np.random.Generator, draws: int
) -> list[FindingTable]:
    """Return the table of a finding with moved links, once for each draw."""
    table = base.tables[name]
    shape = (draws, len(table.linked), len(table.values))
    effects = moved_effects(base, name, knowledge, random.choice(_STEPS, size=shape, p=_CHANCES))
    linked, count, width = len(table.linked), len(base.causes), len(table.values)
    # All draws go through one table whose "causes" are the linked causes of every draw.
    wide = replace(
        table, effect=np.concatenate([effects.reshape(-1, effects.shape[2]), np.zeros((1, len(table.values)))])
    )
    rows = np.arange(draws * linked).reshape(draws, linked)
    single = wide.given_members(rows.reshape(-1, 1)).reshape(draws, linked, width)
    upper = np.triu_indices(linked, 1)
    both = np.stack([rows[:, upper[0]], rows[:, upper[1]]], axis=2)
    shown = wide.given_members(both.reshape(-1, 2)).reshape(draws, len(upper[0]), width)
    made = []
    for draw in range(draws):
        pair = np.empty_like(table.pair)
        pair[upper] = shown[draw]
        pair[upper[1], upper[0]] = shown[draw]
        pair[np.arange(linked), np.arange(linked)] = single[draw]
        effect = np.zeros((count + 1, len(table.values)))
        effect[table.linked] = effects[draw]
        made.append(replace(table, single=single[draw], pair=pair, effect=effect))
    return made


def moved_effects(base: Base, name: str, knowledge: Knowledge, steps: NDArray[np.int_]) -> Floats:
    """Return what each linked cause adds to a finding when its links are moved by words.

    Parameters
    ----------
    base : Base
        Causes and tables.
    name : str
        Id of the finding.
    knowledge : Knowledge
        The words of the links.
    steps : ndarray of int, shape (draws, k, V)
        Words up or down, for each link; counts only where there is a link.

    Returns
    -------
    ndarray, shape (draws, k, V)
    """
    entry = knowledge.findings[name]
    scale = _factor_scale() if entry.kind == "circumstance" else _word_scale(knowledge)
    values = tuple(entry.values)
    table = base.tables[name]
    places = np.full((len(table.linked), len(values)), -1)
    for row, position in enumerate(table.linked):
        for value, number in _links(knowledge, base.causes[position], name, entry.kind).items():
            places[row, values.index(value)] = int(np.abs(scale - number).argmin())
    moved = scale[np.clip(places + steps, 0, len(scale) - 1)]
    if entry.kind == "circumstance":
        factors = np.where(places >= 0, moved, 1.0)
        rates = np.array([(entry.base or {})[value] for value in values])
        return np.asarray(np.log(factors / (factors @ rates)[..., None]))
    chances = np.where(places >= 0, moved, 0.0)
    total = chances.sum(axis=2, keepdims=True)
    chances *= np.minimum(1.0, MOST_TOGETHER / np.maximum(total, MOST_TOGETHER))
    total = chances.sum(axis=2, keepdims=True)
    if entry.kind == "choice":
        return np.asarray(chances * (-np.log1p(-total) / np.where(total > 0, total, 1.0)))
    worse = np.flip(np.cumsum(np.flip(chances, axis=2), axis=2), axis=2) - chances
    return np.asarray(np.log1p(-worse))


def _word_scale(knowledge: Knowledge) -> Floats:
    """Return the probabilities of the words, from the least to the greatest."""
    return np.array(sorted(word.probability for word in knowledge.probabilities.values()))


def _factor_scale() -> Floats:
    """Return the factors of a circumstance, with no effect between little less and little more."""
    return np.array(sorted([*FACTORS.values(), 1.0]))


def _links(knowledge: Knowledge, cause: str, finding: str, kind: str) -> dict[str, float]:
    """Return the numbers of the links of a cause to a finding, by value."""
    entry = knowledge.causes[cause]
    if kind == "circumstance":
        return {value: FACTORS[word] for value, word in entry.raised_by.get(finding, {}).items()}
    return {
        link.value: knowledge.probabilities[link.often].probability for link in entry.shows if link.finding == finding
    }
