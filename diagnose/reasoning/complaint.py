"""From a complaint in somebody's own words to the findings it may mean; confirmed, never assumed.

Each way people say a value (`said_like`) is held against each clause of what was said. A word counts by
how rare it is among all these phrases, so that "limps" weighs more than "clock"; a misspelled word
counts as the word it is near to. A value also gains where its phrases together cover the clause.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from dataclasses import dataclass

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge

# From this score (0 to 100) a phrase and a clause are taken to mean the same.
LEAST_SCORE = 48.0
# How much a phrase must be covered by the clause, against how much the clause by the phrase.
_PHRASE_COUNTS, _CLAUSE_COUNTS = 0.55, 0.45
# Shares of the nearest phrase and of all phrases of the value together.
_NEAREST, _TOGETHER = 0.7, 0.3
# A word is taken for another from this likeness (0 to 100), if it is long enough to be sure.
_ALIKE, _LONG_WORD = 86.0, 5
_WINDOW = 12
_CLAUSE = re.compile(r"[.,;:!?\n]|\bbut\b|\bthen\b|\band\b|\bbecause\b|\bso\b|\bever since\b|\bsince then\b")
_WORD = re.compile(r"[a-z0-9]+")
_SMALL_WORDS = frozenset(
    re.findall(
        "[a-z]+",
        "a an the it is was its i we he she they my our his her to of in on at for with or that this be been am are "
        "has had have having does do did will would can could may me you your there here when just now very really "
        "if as by from s t m ll ve re d about some maybe like well also got get gets thing bit lot quite a into up",
    )
)
_NEGATIONS = frozenset({"not", "no", "never", "dont", "doesnt", "wont", "cant", "isnt", "didnt", "hardly", "nothing"})
_SUFFIXES = ("ings", "ing", "edly", "ied", "ed", "ies", "es", "s", "ly")
_LEAST_STEM = 3


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


@dataclass(frozen=True, slots=True)
class _Meaning:
    """A value of a finding with the stems of each way it is said."""

    finding: str
    value: str
    phrases: tuple[frozenset[str], ...]
    together: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Phrasebook:
    """All ways anything is said, and how much each word tells."""

    meanings: tuple[_Meaning, ...]
    weight: dict[str, float]
    most: float

    def weigh(self, words: frozenset[str]) -> float:
        return math.fsum(self.weight.get(word, self.most) for word in words)


_books: dict[int, tuple[Knowledge, _Phrasebook]] = {}


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
    book = _book_of(knowledge)
    best: dict[str, Suggestion] = {}
    for piece in _pieces(text):
        said = _stems(piece, book.weight)
        if not said:
            continue
        for meaning in book.meanings:
            if not said & meaning.together or not _applies(meaning.finding, knowledge, clock):
                continue
            score = _score(said, meaning, book)
            if score >= LEAST_SCORE and (meaning.finding not in best or score > best[meaning.finding].score):
                best[meaning.finding] = Suggestion(meaning.finding, meaning.value, score, piece)
    return tuple(sorted(best.values(), key=lambda item: (-item.score, item.finding))[:most])


def _applies(finding: str, knowledge: Knowledge, clock: ClockFacts | None) -> bool:
    families = knowledge.findings[finding].applies.families
    return clock is None or clock.family == "unknown" or not families or clock.family in families


def _book_of(knowledge: Knowledge) -> _Phrasebook:
    if id(knowledge) not in _books:
        _books.clear()
        # Kept beside its book, so that its id cannot be given to another meanwhile.
        _books[id(knowledge)] = (knowledge, _make_book(knowledge))
    return _books[id(knowledge)][1]


def _make_book(knowledge: Knowledge) -> _Phrasebook:
    meanings = []
    for finding, entry in knowledge.findings.items():
        for value, meaning in entry.values.items():
            phrases = tuple(stems for phrase in meaning.said_like if (stems := _stems(phrase)))
            if phrases:
                meanings.append(_Meaning(finding, value, phrases, frozenset().union(*phrases)))
    count = Counter(word for meaning in meanings for word in meaning.together)
    most = math.log1p(len(meanings))
    return _Phrasebook(tuple(meanings), {word: math.log1p(len(meanings) / n) for word, n in count.items()}, most)


def _pieces(text: str) -> list[str]:
    """Return the clauses of a text, each pair of neighbors, and the whole of a short text."""
    clauses = [piece.strip().lower() for piece in _CLAUSE.split(text.lower()) if piece.strip()]
    pairs = [f"{one} {two}" for one, two in itertools.pairwise(clauses)]
    whole = [text.strip().lower()] if len(text.split()) <= _WINDOW else []
    return list(dict.fromkeys([*clauses, *pairs, *whole]))


def _stems(text: str, known: dict[str, float] | None = None) -> frozenset[str]:
    """Return the stems of the words that carry meaning, misspelled ones put right where `known` has them."""
    words = _WORD.findall(text.lower().replace("'", "").replace("’", ""))
    stems = {_stem(word) for word in words if word not in _SMALL_WORDS}
    if known is None:
        return frozenset(stems)
    return frozenset(stem if stem in known else _nearest(stem, known) for stem in stems)


def _stem(word: str) -> str:
    if word in _NEGATIONS:
        return "not"
    for suffix in _SUFFIXES:
        if word.endswith(suffix) and len(word) - len(suffix) >= _LEAST_STEM:
            word = word[: -len(suffix)]
            break
    if len(word) > _LEAST_STEM and word[-1] == word[-2] and word[-1] not in "sl":
        word = word[:-1]
    return word[:-1] if len(word) > _LEAST_STEM and word[-1] in "ey" else word


def _nearest(stem: str, known: dict[str, float]) -> str:
    from rapidfuzz import fuzz, process

    if len(stem) < _LONG_WORD:
        return stem
    found = process.extractOne(stem, known.keys(), scorer=fuzz.ratio, score_cutoff=_ALIKE)
    return str(found[0]) if found else stem


def _score(said: frozenset[str], meaning: _Meaning, book: _Phrasebook) -> float:
    """Return how near a clause is to a value, 0 to 100."""
    weight = book.weigh(said)
    nearest = 0.0
    for phrase in meaning.phrases:
        if ("not" in phrase) != ("not" in said):
            continue
        shared = book.weigh(said & phrase)
        nearest = max(nearest, shared / (_PHRASE_COUNTS * book.weigh(phrase) + _CLAUSE_COUNTS * weight))
    together = book.weigh(said & meaning.together) / weight
    return 100 * (_NEAREST * nearest + _TOGETHER * together) if nearest else 0.0
