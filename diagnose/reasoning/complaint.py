"""From a complaint in somebody's own words to the findings it may mean; confirmed, never assumed."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge

# rapidfuzz scores run from 0 to 100; below this a phrase and a sentence share no more than small words.
LEAST_SCORE = 72.0
_CLAUSE = re.compile(r"[.,;:!?\n]|\bbut\b|\bthen\b|\band\b|\bbecause\b|\bso\b")
_SMALL_WORDS = frozenset(
    re.findall(
        "[a-z']+",
        "a an the it is was its it's i we he she they my our his her to of in on at for with and or that this "
        "there when after before just now then so very really clock pendulum be been has had have does do did",
    )
)


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A finding that a sentence may mean.

    Parameters
    ----------
    finding, value : str
        What it may mean.
    score : float
        0 to 100, how near the sentence is to a way people say it.
    words : str
        The piece of the sentence it was found in.
    """

    finding: str
    value: str
    score: float
    words: str


def suggest(text: str, knowledge: Knowledge, clock: ClockFacts | None = None, most: int = 4) -> tuple[Suggestion, ...]:
    """Return the findings that a complaint may mean, best first, one value for each finding.

    Parameters
    ----------
    text : str
        The complaint.
    knowledge : Knowledge
        Its findings with the ways people say them.
    clock : ClockFacts, optional
        Findings that do not apply to this clock are left out.
    most : int
        How many to return.

    Returns
    -------
    tuple of Suggestion
        Empty where nothing is near enough.
    """
    from rapidfuzz import fuzz

    best: dict[str, Suggestion] = {}
    pieces = _pieces(text)
    for finding, entry in knowledge.findings.items():
        families = entry.applies.families
        if clock is not None and clock.family != "unknown" and families and clock.family not in families:
            continue
        for value, meaning in entry.values.items():
            for phrase in meaning.said_like:
                key = _meaningful(phrase)
                for piece in pieces:
                    score = _score(fuzz, piece, phrase, key)
                    if score >= LEAST_SCORE and (finding not in best or score > best[finding].score):
                        best[finding] = Suggestion(finding, value, score, piece)
    return tuple(sorted(best.values(), key=lambda item: (-item.score, item.finding))[:most])


def _pieces(text: str) -> list[str]:
    """Return the clauses of a text, each pair of neighbors, and the whole of a short text."""
    clauses = [piece.strip().lower() for piece in _CLAUSE.split(text) if piece.strip()]
    pairs = [f"{one} {two}" for one, two in itertools.pairwise(clauses)]
    whole = [text.strip().lower()] if len(text.split()) <= 12 else []
    return list(dict.fromkeys([*clauses, *pairs, *whole]))


def _meaningful(text: str) -> str:
    return " ".join(word for word in re.findall(r"[a-z0-9']+", text.lower()) if word not in _SMALL_WORDS)


def _score(fuzz: object, piece: str, phrase: str, key: str) -> float:
    """Return the nearness of a piece to a phrase, counting only words that carry meaning.

    `token_set_ratio` gives full marks where one set of words holds the other, so a piece that is a single
    word of the phrase is held down by the share of the phrase that it covers.
    """
    said = _meaningful(piece)
    if not said or not key:
        return 0.0
    ratio = float(fuzz.token_set_ratio(said, key))  # type: ignore[attr-defined]
    covered = len(set(said.split()) & set(key.split())) / len(set(key.split()))
    spelled = float(fuzz.ratio(said, key))  # type: ignore[attr-defined]
    return max(spelled, ratio * (0.5 + 0.5 * min(1.0, covered / 0.75)))
