"""What one more answer, or one answer less, would do to the first place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diagnose.model.entries import OPENED
from diagnose.reasoning.costs import finding_minutes, ladder_of, level_of
from diagnose.reasoning.evidence import evidence_of, items_of, log_weights
from diagnose.reasoning.findings import said_likelihood
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.rule_weights import best_value
from diagnose.reasoning.shares import DECIBANS_PER_NAT
from diagnose.reasoning.tables import Base, padded
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.entries import Opened
    from diagnose.model.reading import Knowledge

Floats = NDArray[np.float64]

# A look refutes a cause where its answer can lower the odds of the cause by this much. [dB]
REFUTES_DB = 5.0
# An answer counts here only where it is to be expected this often if the cause is not there.
REFUTES_HOW_OFTEN = 0.2
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Change:
    """One answer more, or one less, after which another cause comes first.

    Parameters
    ----------
    finding : str
        The finding that is asked for, or whose answer is dropped.
    value : str, optional
        What would be said; None where an answer is dropped.
    first : str
        The cause that then comes first.
    """

    finding: str
    value: str | None
    first: str


@dataclass(frozen=True, slots=True)
class Refuting:
    """A look that could refute a cause.

    Parameters
    ----------
    finding, value : str
        The look, and the answer that speaks most against the cause.
    minutes : float
        What the look costs, with opening the clock. [min]
    decibans : float
        What that answer does to the odds of the cause; below 0. [dB]
    """

    finding: str
    value: str
    minutes: float
    decibans: float


@dataclass(frozen=True, slots=True, eq=False)
class _Now:
    """Weights of the sets of causes as the clock is now; the last set is a fault not on the list."""

    base: Base
    members: NDArray[np.intp]
    weight: Floats

    def chances(self, weight: Floats) -> Floats:
        """Return the share of the sets that hold each cause, shape (C,)."""
        count = len(self.base.causes)
        held = np.bincount(self.members.ravel(), np.repeat(weight, self.members.shape[1]), minlength=count + 1)
        return np.asarray(held[:count] / weight.sum())

    def after(self, finding: str, wrong: float) -> Iterator[tuple[str, Floats]]:
        """Yield each value of a finding, and the weight of each set after it was said."""
        table = self.base.tables[finding]
        chance = table.given_members(self.members)
        chance[-1] = table.other
        for place, value in enumerate(table.values):
            said = np.array(said_likelihood(place, len(table.values), wrong))
            yield value, self.weight * (chance @ said)


def _now(base: Base, pieces: Sequence[Piece], ranking: Ranking) -> _Now:
    """Lay out the sets: all of one and two causes or, after a remedy, the heaviest."""
    if len(pieces) == 1:
        evidence = evidence_of(base, items_of(base, pieces), ranking, pieces[0].weights)
        return _Now(base, evidence.members, np.exp(log_weights(evidence)))
    members = padded([*ranking.sets, ()], len(base.causes))
    return _Now(base, members, np.append(ranking.weights, ranking.other_weight))


def what_would_change(
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    open_findings: Iterable[str] | None = None,
    parameters: Parameters = DEFAULT,
) -> tuple[Change, ...]:
    """Return every single answer, given or still open, that would put another cause first.

    Parameters
    ----------
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        As it is shown.
    knowledge : Knowledge
        For the gates of findings.
    open_findings : iterable of str, optional
        What may still be asked; by default all that the clock has and that are not answered.
    parameters : Parameters
        The numbers of the reasoning.

    Returns
    -------
    tuple of Change
        First the dropped answers, then those still open, each by id.
    """
    if not ranking.causes:
        return ()
    first = ranking.causes[0].cause
    changes = []
    for name in sorted({finding.finding for piece in pieces for finding in piece.findings}):
        without = rank(base, [_without(piece, name) for piece in pieces], parameters).causes[0].cause
        if without != first:
            changes.append(Change(name, None, without))
    now = _now(base, pieces, ranking)
    for name in _still_open(base, pieces, knowledge, open_findings):
        for value, weight in now.after(name, parameters.wrong_sure):
            then = _first_place(base, now.chances(weight))
            if then != first:
                changes.append(Change(name, value, then))
    return tuple(changes)


def _without(piece: Piece, name: str) -> Piece:
    return replace(piece, findings=tuple(finding for finding in piece.findings if finding.finding != name))


def _first_place(base: Base, chances: Floats) -> str:
    best = chances.max()
    return min(base.causes[place] for place in np.flatnonzero(chances == best))


def _still_open(base: Base, pieces: Sequence[Piece], knowledge: Knowledge, chosen: Iterable[str] | None) -> list[str]:
    """Return the findings that may be asked: on the list, not answered, and with an open gate."""
    answered = {finding.finding: finding for piece in pieces for finding in piece.findings}
    said = {
        name: best_value(finding, base.tables[name].values) for name, finding in answered.items() if name in base.tables
    }
    names = base.tables if chosen is None else [name for name in chosen if name in base.tables]
    return sorted(name for name in names if name not in said and _gate_open(name, said, knowledge))


def _gate_open(name: str, said: Mapping[str, str], knowledge: Knowledge) -> bool:
    needs = knowledge.findings[name].needs
    return all(said.get(other, values[0]) in values for other, values in needs.items())


def cheapest_refuting_look(
    cause: str,
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    parameters: Parameters = DEFAULT,
    opened: Opened = "outside",
    closed: frozenset[str] = frozenset(),
) -> Refuting | None:
    """Return the cheapest open look whose answer could lower the odds of a cause clearly.

    Parameters
    ----------
    cause : str
        Id of the cause.
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        As it is shown.
    knowledge : Knowledge
        What looks cost.
    parameters : Parameters
        The numbers of the reasoning.
    opened : str
        How far the clock is open now.
    closed : frozenset of str
        Findings that cannot be looked at.

    Returns
    -------
    Refuting or None
        Where no look lowers the odds by 5 decibans, the one that lowers them most; None where none does.
        Only answers count that are likely enough where the cause is not there.
    """
    place = base.index[cause]
    now = _now(base, pieces, ranking)
    before = now.chances(now.weight)[place]
    without = ~(now.members == place).any(axis=1)
    looks = []
    for name in _still_open(base, pieces, knowledge, None):
        if base.tables[name].row[place] < 0 or name in closed or base.tables[name].kind == "circumstance":
            continue
        drops = [
            (_odds_db(now.chances(weight)[place]) - _odds_db(before), value)
            for value, weight in now.after(name, parameters.wrong_sure)
            if weight[without].sum() >= REFUTES_HOW_OFTEN * now.weight[without].sum()
        ]
        lowest, value = min(drops, default=(0.0, ""))
        if lowest < 0:
            looks.append(Refuting(name, value, _look_minutes(name, knowledge, opened), lowest))
    strong = [look for look in looks if look.decibans <= -REFUTES_DB]
    if strong:
        return min(strong, key=lambda look: (look.minutes, look.decibans, look.finding))
    return min(looks, key=lambda look: (look.decibans, look.minutes, look.finding), default=None)


def _odds_db(chance: float) -> float:
    return float(DECIBANS_PER_NAT * np.log(max(chance, _TINY) / max(1 - chance, _TINY)))


def _look_minutes(name: str, knowledge: Knowledge, opened: Opened) -> float:
    """Return what a look costs from where the clock is open now. [min]"""
    entry = knowledge.findings[name]
    rungs = np.array([knowledge.shop.opening_minutes.get(level, 0.0) for level in OPENED])
    ladder = ladder_of(rungs, len(OPENED) - 1)
    opening = float(ladder.minutes[level_of(opened), level_of(entry.opened)])
    return finding_minutes(entry, knowledge.shop) + opening
