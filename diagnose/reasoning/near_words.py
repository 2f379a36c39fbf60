"""How near a free sentence is to all ways people say a value: a second opinion beside the phrases.

Every saying of a value, and its own words, is a row of weighted features: the words of meaning, two in a row, and four
letters in a row of each word, so that an unknown word still counts by what it looks like. A sentence is as near to a
value as to its nearest saying and to all of them together (cosine). Asides - prices, visits, praise - are values too:
what is nearer to an aside is no finding.

References
----------
Salton and Buckley 1988, Information Processing and Management 24(5):513-523 (term weighting); the figures below were
chosen on tests/reasoning/complaints*.yaml.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.model.made_once import made_once
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.phrasebook import book_of

Floats = NDArray[np.float64]

# Stands for the finding where what was said is an aside; no id of a finding has a capital letter.
ASIDE = "ASIDE"
# What a word of meaning, two in a row, and four letters in a row weigh.
_WORD, _TWO_WORDS, _LETTERS = 1.0, 0.7, 0.35
# Shares of the nearest saying and of all sayings of the value together.
_NEAREST, _TOGETHER = 0.6, 0.4
# So much of a question is read beside the words of its values. [letters]
_OF_THE_QUESTION = 80
# What is left of the nearness where one of the two denies and the other does not.
_ONE_DENIES = 0.2
_TINY = 1e-9


@dataclass(frozen=True, slots=True)
class Nearness:
    """How near a sentence is to each value of each finding.

    Parameters
    ----------
    values : dict of (str, str) to (float, str)
        By finding and value: how near it is (0 is far, 1 near), and the piece of the sentence.
    aside : float
        How near it is to talk that tells nothing.
    """

    values: dict[tuple[str, str], tuple[float, str]]
    aside: float

    def best(self) -> dict[str, tuple[str, float, str]]:
        """Return the nearest value of each finding, how near it is, and the piece."""
        best: dict[str, tuple[str, float, str]] = {}
        for (finding, value), (near, piece) in self.values.items():
            if finding not in best or near > best[finding][1]:
                best[finding] = (value, near, piece)
        return best


@dataclass(frozen=True, slots=True, eq=False)
class _Index:
    """All sayings as rows of features, with what each means (finding and value, or an aside)."""

    features: dict[str, int]
    weight: Floats
    sayings: Any
    meanings: tuple[tuple[str, str], ...]
    meaning_of: NDArray[np.intp]
    denies: NDArray[np.bool_]
    together: Any


def nearness(pieces: Sequence[str], knowledge: Knowledge) -> Nearness:
    """Return how near what was said is to each finding.

    Parameters
    ----------
    pieces : sequence of str
        The clauses of what was said, and each two side by side, spelled right.
    knowledge : Knowledge
        With its sayings and asides.
    """
    index = _index_of(knowledge)
    values: dict[tuple[str, str], tuple[float, str]] = {}
    aside = 0.0
    for piece in dict.fromkeys((" ".join(pieces), *pieces)):
        for number, near in enumerate(_near(piece, index, knowledge)):
            meaning = index.meanings[number]
            if meaning[0] == ASIDE:
                aside = max(aside, float(near))
            elif near > values.get(meaning, (0.0, ""))[0]:
                values[meaning] = (float(near), piece)
    return Nearness(values, aside)


def _near(piece: str, index: _Index, knowledge: Knowledge) -> Floats:
    """Return how near a piece is to each meaning, shape (M,)."""
    features = {
        index.features[one]: weight for one, weight in _features(piece, knowledge).items() if one in index.features
    }
    places = np.fromiter(features, np.intp, len(features))
    values = np.fromiter(features.values(), np.float64, len(features)) * index.weight[places]
    # Of the few that are not nothing: a product of whole rows is spread over processors that then wait for each other.
    length = math.sqrt(float(np.sum(np.square(values))))
    if length < _TINY:
        return np.zeros(len(index.meanings))
    row = np.zeros(len(index.features))
    row[places] = values / length
    to_each = index.sayings @ row
    nearest = np.zeros(len(index.meanings))
    np.maximum.at(nearest, index.meaning_of, to_each)
    # Whoever denies it does not say it: what only sayings of the other kind come near to counts less.
    denies = said_words.NOT in said_words.tokens_of(said_words.words_of(piece), book_of(knowledge).classes)
    alike = np.zeros(len(index.meanings))
    np.maximum.at(alike, index.meaning_of, to_each * np.where(index.denies == denies, 1.0, _ONE_DENIES))
    share = np.divide(alike, nearest, out=np.zeros_like(alike), where=nearest > 0)
    return np.asarray(share * (_NEAREST * nearest + _TOGETHER * (index.together @ row)))


def _features(text: str, knowledge: Knowledge) -> Counter[str]:
    words = said_words.words_of(text)
    tokens = said_words.tokens_of(words, book_of(knowledge).classes)
    found: Counter[str] = Counter()
    for token in tokens:
        found[f"word {token}"] += _WORD  # type: ignore[assignment]
    for one, other in itertools.pairwise(tokens):
        found[f"two {one} {other}"] += _TWO_WORDS  # type: ignore[assignment]
    for letters in said_words.letters_of(words):
        found[letters] += _LETTERS  # type: ignore[assignment]
    return found


def sayings_of(knowledge: Knowledge) -> Iterator[tuple[tuple[str, str], str]]:
    """Yield what each saying means, and its text."""
    for finding, entry in knowledge.findings.items():
        question = (entry.question.customer or entry.question.staff)[:_OF_THE_QUESTION]
        more = knowledge.sayings[finding].root if finding in knowledge.sayings else {}
        for value, form in entry.values.items():
            if not form.normal:
                yield (finding, value), f"{form.customer or ''} {form.staff} {question}"
            for text in (*form.said_like, *more.get(value, ())):
                yield (finding, value), text
    for topic, aside in knowledge.asides.items():
        for text in aside.said:
            yield (ASIDE, topic), text


@made_once
def _index_of(knowledge: Knowledge) -> _Index:
    """Return the index of a knowledge, made once."""
    from scipy import sparse

    said = list(sayings_of(knowledge))
    meanings = tuple(dict.fromkeys(meaning for meaning, _ in said))
    place = {meaning: number for number, meaning in enumerate(meanings)}
    features: dict[str, int] = {}
    rows = [
        {features.setdefault(feature, len(features)): weight for feature, weight in _features(text, knowledge).items()}
        for _, text in said
    ]
    count = np.array([len(row) for row in rows])
    columns = np.fromiter((column for row in rows for column in row), dtype=np.intp, count=int(count.sum()))
    values = np.fromiter((weight for row in rows for weight in row.values()), dtype=np.float64, count=len(columns))
    in_sayings = np.bincount(columns, minlength=len(features))
    weight = np.log((len(said) + 1) / (in_sayings + 1)) + 1
    starts = np.concatenate([[0], np.cumsum(count)])
    matrix = sparse.csr_array((values * weight[columns], columns, starts), shape=(len(said), len(features)))
    length = np.sqrt(matrix.multiply(matrix).sum(axis=1))
    sayings = sparse.diags_array(1 / (length + _TINY)) @ matrix
    meaning_of = np.array([place[meaning] for meaning, _ in said], dtype=np.intp)
    share = sparse.csr_array((np.ones(len(said)), (meaning_of, np.arange(len(said)))), shape=(len(meanings), len(said)))
    together = sparse.diags_array(1 / np.sqrt(np.bincount(meaning_of))) @ (share @ sayings)
    deny = features.get(f"word {said_words.NOT}", -1)
    denies = np.array([deny in row for row in rows])
    return _Index(features, weight, sparse.csr_array(sayings), meanings, meaning_of, denies, sparse.csr_array(together))
