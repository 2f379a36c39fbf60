"""Why this cause, why not another, a second opinion, why this question, which answers are doubtful."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from diagnose.errors import InputError
from diagnose.model.near_names import near
from diagnose.reasoning.evidence import Item, shares_of_items, shares_of_sets
from diagnose.reasoning.firings import Conclusions
from diagnose.reasoning.ranking import Piece, Ranking
from diagnose.reasoning.reasons import NOTHING_DB, Reason, reasons_of
from diagnose.reasoning.shares import decibans
from diagnose.reasoning.stability import Stability, stability
from diagnose.reasoning.tables import Base
from diagnose.reasoning.what_if import Change, Refuting, cheapest_refuting_look, what_would_change
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.entries import Opened
    from diagnose.model.reading import Knowledge

__all__ = [
    "Change",
    "Comparison",
    "Doubtful",
    "Explanation",
    "LookAlike",
    "Reason",
    "Refuting",
    "SecondOpinion",
    "Stability",
    "doubtful_answers",
    "explain",
    "second_opinion",
    "stability",
    "what_would_change",
    "why_not",
    "why_this_question",
]

_ASKED_AGAIN_AT_MOST = 3
# Causes that a question is said to tell apart are at least this probable, and this many at most.
_WORTH_NAMING = 0.02
_NAMED_AT_MOST = 8
# Two causes are told apart where this share of their answers differs.
_TOLD_APART = 0.1


@dataclass(frozen=True, slots=True)
class Explanation:
    """Prior and answers, which add up to the odds shown.

    Parameters
    ----------
    cause : str
        Id of the cause.
    probability : float
        As shown; causes need not add up to 1, because two can be there together.
    prior : float
        Odds before the first answer, with what the ranking left out. [dB]
    reasons : tuple of Reason
        The weightiest first.
    shown : float
        Odds now: prior and all reasons. [dB]
    """

    cause: str
    probability: float
    prior: float
    reasons: tuple[Reason, ...]
    shown: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two explanations of the same answers compared; not the odds of two causes.

    Parameters
    ----------
    one, other : tuple of str
        The two sets of causes.
    prior : float
        How much more common the first set is. [dB]
    reasons : tuple of Reason
        Above 0 where the answer fits the first set better; the weightiest first.
    total : float
        Prior and all reasons. [dB]
    """

    one: tuple[str, ...]
    other: tuple[str, ...]
    prior: float
    reasons: tuple[Reason, ...]
    total: float


@dataclass(frozen=True, slots=True)
class LookAlike:
    """A cause that looks the same, how probable it is, and how to tell them apart."""

    cause: str
    probability: float
    tell: str


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """What to hold against a suspicion.

    Parameters
    ----------
    cause : str
        The suspected cause.
    probability : float
        As shown.
    place : int
        Its place in the ranking, from 1.
    agrees, against : tuple of Reason
        The weightiest first.
    mistaken_for : tuple of LookAlike
        The most probable first.
    refuting : Refuting, optional
        The cheapest open look that could refute it; None where none is left.
    """

    cause: str
    probability: float
    place: int
    agrees: tuple[Reason, ...]
    against: tuple[Reason, ...]
    mistaken_for: tuple[LookAlike, ...]
    refuting: Refuting | None


@dataclass(frozen=True, slots=True)
class Doubtful:
    """An answer that is worth asking again, and the probability that it is wrong."""

    finding: str
    wrong: float


def explain(
    causes: Sequence[str],
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    conclusions: Conclusions | None = None,
    parameters: Parameters = DEFAULT,
) -> tuple[Explanation, ...]:
    """Explain how probable causes are: prior and the share of each answer, which add up exactly.

    A share does not depend on the order in which was asked.

    Parameters
    ----------
    causes : sequence of str
        Ids of causes of the base.
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        As it is shown.
    knowledge : Knowledge
        For the sentences.
    conclusions : Conclusions, optional
        For the sentences of rules.
    parameters : Parameters
        The numbers of the reasoning.

    Raises
    ------
    InputError
        A cause that does not fit the clock.
    """
    probable = {entry.cause: entry.probability for entry in ranking.causes}
    for cause in causes:
        _check(cause, base)
    items, shares = shares_of_items(causes, base, pieces, ranking, parameters)
    explained = []
    for column, cause in enumerate(causes):
        weights = [float(share) for share in shares[:, column]]
        reasons = reasons_of(items, weights, (cause,), knowledge, conclusions, dict(ranking.wrong))
        shown = decibans(probable[cause])
        explained.append(Explanation(cause, probable[cause], shown - math.fsum(weights), reasons, shown))
    return tuple(explained)


def _check(cause: str, base: Base) -> None:
    if cause not in base.index:
        raise InputError(f"cause '{cause}' does not fit this clock{near(cause, base.causes)}")


def why_not(
    cause: str,
    other: str,
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    conclusions: Conclusions | None = None,
) -> Comparison:
    """Compare the best explanation with one cause to the best with another, answer by answer.

    Parameters
    ----------
    cause, other : str
        Why the first and not the second?
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking; of each finding the newest counts.
    ranking : Ranking
        Whose heaviest sets are compared.
    knowledge : Knowledge
        For the sentences.
    conclusions : Conclusions, optional
        For the sentences of rules.
    """
    for name in (cause, other):
        _check(name, base)
    newest = {finding.finding: finding for piece in pieces for finding in piece.findings}
    weights = {name: factor for piece in pieces for name, factor in piece.weights.items() if name in base.index}
    items = [Item(name, 0, finding=newest[name]) for name in sorted(newest) if name in base.tables]
    items.extend(Item(name, 0, cause=name) for name in sorted(weights))
    one = _best_set(base.index[cause], base.index[other], ranking)
    two = _best_set(base.index[other], base.index[cause], ranking)
    prior, shares = shares_of_sets(base, items, weights, one, two)
    gains = [float(share) for share in shares]
    first, second = (tuple(base.causes[place] for place in sets) for sets in (one, two))
    reasons = reasons_of(items, gains, (*first, *second), knowledge, conclusions, dict(ranking.wrong))
    return Comparison(first, second, prior, reasons, prior + math.fsum(gains))


def _best_set(cause: int, without: int, ranking: Ranking) -> tuple[int, ...]:
    """Return the heaviest set that holds one cause and not the other."""
    return next((causes for causes in ranking.sets if cause in causes and without not in causes), (cause,))


def second_opinion(
    cause: str,
    base: Base,
    pieces: Sequence[Piece],
    ranking: Ranking,
    knowledge: Knowledge,
    conclusions: Conclusions | None = None,
    parameters: Parameters = DEFAULT,
    opened: Opened = "outside",
    closed: frozenset[str] = frozenset(),
) -> SecondOpinion:
    """Hold against a suspected cause what agrees, what does not, and the cheapest look that could refute it.

    Parameters
    ----------
    cause : str
        The suspicion.
    base : Base
        Causes and tables.
    pieces : sequence of Piece
        What went into the ranking.
    ranking : Ranking
        As it is shown.
    knowledge : Knowledge
        Look-alikes, looks and their costs.
    conclusions : Conclusions, optional
        For the sentences of rules.
    parameters : Parameters
        The numbers of the reasoning.
    opened : str
        How far the clock is open now.
    closed : frozenset of str
        Findings that cannot be looked at.

    Raises
    ------
    InputError
        A cause that does not fit the clock.
    """
    (explained,) = explain((cause,), base, pieces, ranking, knowledge, conclusions, parameters)
    probable = {entry.cause: entry.probability for entry in ranking.causes}
    alike = [
        LookAlike(item.cause, probable[item.cause], item.tell)
        for item in knowledge.causes[cause].mistaken_for
        if item.cause in probable
    ]
    place = next(number for number, entry in enumerate(ranking.causes, 1) if entry.cause == cause)
    return SecondOpinion(
        cause=cause,
        probability=explained.probability,
        place=place,
        agrees=tuple(reason for reason in explained.reasons if reason.decibans >= NOTHING_DB),
        against=tuple(reason for reason in explained.reasons if reason.decibans <= -NOTHING_DB),
        mistaken_for=tuple(sorted(alike, key=lambda item: (-item.probability, item.cause))),
        refuting=cheapest_refuting_look(cause, base, pieces, ranking, knowledge, parameters, opened, closed),
    )


def doubtful_answers(ranking: Ranking, parameters: Parameters = DEFAULT) -> tuple[Doubtful, ...]:
    """Return the answers that are worth asking again, the most suspect first, at most three.

    Parameters
    ----------
    ranking : Ranking
        With the probability that each answer is wrong.
    parameters : Parameters
        From which probability an answer is asked again.
    """
    suspects = [Doubtful(name, wrong) for name, wrong in ranking.wrong.items() if wrong >= parameters.ask_again]
    return tuple(sorted(suspects, key=lambda item: (-item.wrong, item.finding))[:_ASKED_AGAIN_AT_MOST])


def why_this_question(finding: str, base: Base, ranking: Ranking, knowledge: Knowledge, customer: bool = True) -> str:
    """Say in one sentence which causes a question tells apart.

    Parameters
    ----------
    finding : str
        Id of the finding that is asked for.
    base : Base
        Causes and tables.
    ranking : Ranking
        Which causes are likely now.
    knowledge : Knowledge
        Titles of the causes.
    customer : bool
        In a customer's words where there are any.
    """
    table = base.tables.get(finding)
    likely = [entry for entry in ranking.causes[:_NAMED_AT_MOST] if entry.probability >= _WORTH_NAMING]
    if table is None or not likely:
        return "It helps us to see what is the matter with the clock."
    values = {entry.cause: table.given((base.index[entry.cause],)) for entry in likely}
    best, pair = 0.0, None
    for one, two in combinations(likely, 2):
        apart = float(abs(values[one.cause] - values[two.cause]).sum()) / 2
        worth = one.probability * two.probability * apart
        if apart >= _TOLD_APART and worth > best:
            best, pair = worth, (one.cause, two.cause)
    if pair is not None:
        first, second = (_title(cause, knowledge, customer) for cause in pair)
        return f"It helps us to tell {first} from {second}."
    linked = [entry.cause for entry in ranking.causes if table.row[base.index[entry.cause]] >= 0]
    if linked:
        return f"It helps us to see whether the cause is {_title(linked[0], knowledge, customer)}."
    return "It helps us to see what is the matter with the clock."


def _title(cause: str, knowledge: Knowledge, customer: bool) -> str:
    title = knowledge.causes[cause].title
    return (title.customer if customer else None) or title.staff
