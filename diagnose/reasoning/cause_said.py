"""Which cause somebody suspects who names it in words of his own: "wants bushing", "fork too tight", "run down".

A cause is called by its title, its other names and, at less weight, by the ways people say the signs that are nearly
always seen with it. Words count the more the fewer causes are called so.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from diagnose.model.entries import CauseEntry
from diagnose.model.made_once import made_once
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.phrasebook import book_of

# So many causes are offered where several are as near.
MOST = 4
# What a name and a sign of the cause weigh; four letters in a row stand in for a word that is not known.
_OWN_NAME, _OF_A_SIGN, _LETTERS = 1.0, 0.55, 0.3
# How often a sign is seen with the cause for its words to name the cause.
_SIGN_FROM = frozenset({"certain", "probable"})
# Nearness (0 to 1) from which anything is meant, and the share of the best that others need.
_LEAST, _OF_THE_BEST = 0.25, 0.7
# Share of what all names of a cause together cover of what was said, beside its nearest name.
_COVERED = 0.6


def causes_called(words: str, knowledge: Knowledge, most: int = MOST) -> tuple[str, ...]:
    """Return the causes that some words may mean, nearest first.

    Parameters
    ----------
    words : str
        An id, a title or somebody's own words.
    knowledge : Knowledge
        Its causes, their other names and their signs.
    most : int
        How many to return.

    Returns
    -------
    tuple of str
        Ids of causes; empty where nothing is near.
    """
    if words.strip() in knowledge.causes:
        return (words.strip(),)
    called, rarity = _called(knowledge)
    said = _weighed(_features(words, knowledge), rarity)
    best: dict[str, float] = {}
    covered: dict[str, dict[str, float]] = {}
    for cause, weight, name in called:
        shared = said.keys() & name.keys()
        near = weight * math.fsum(said[feature] * name[feature] for feature in shared)
        best[cause] = max(best.get(cause, 0.0), near)
        words_of_it = covered.setdefault(cause, {})
        words_of_it |= {feature: max(weight, words_of_it.get(feature, 0.0)) for feature in shared}
    both = {
        cause: (1 - _COVERED) * near + _COVERED * math.fsum(said[f] ** 2 * w for f, w in covered[cause].items())
        for cause, near in best.items()
    }
    ranked = sorted(both.items(), key=lambda item: (-item[1], item[0]))
    least = max(_LEAST, _OF_THE_BEST * (ranked[0][1] if ranked else 0.0))
    return tuple(cause for cause, near in ranked if near >= least)[:most]


@made_once
def _called(knowledge: Knowledge) -> tuple[tuple[tuple[str, float, dict[str, float]], ...], dict[str, float]]:
    """Return all names with their features, and how much each feature tells; made once."""
    rows = [
        (cause, weight, _features(text, knowledge))
        for cause, entry in knowledge.causes.items()
        for text, weight in _ways(cause, entry, knowledge)
    ]
    causes_of = Counter(feature for _, feature in {(cause, f) for cause, _, row in rows for f in row})
    rarity = {feature: math.log1p(len(knowledge.causes) / count) for feature, count in causes_of.items()}
    return tuple((cause, weight, _weighed(row, rarity)) for cause, weight, row in rows), rarity


def _ways(cause: str, entry: CauseEntry, knowledge: Knowledge) -> Iterator[tuple[str, float]]:
    """Yield the ways a cause is called, with how much each counts."""
    for text in (entry.title.staff, *entry.also_called, cause.replace("-", " ")):
        yield text, _OWN_NAME
    for link in entry.shows:
        if link.often in _SIGN_FROM:
            more = knowledge.sayings[link.finding].root if link.finding in knowledge.sayings else {}
            said_like = knowledge.findings[link.finding].values[link.value].said_like
            for text in (*said_like, *more.get(link.value, ())):
                yield text, _OF_A_SIGN


def _features(text: str, knowledge: Knowledge) -> dict[str, float]:
    words = said_words.words_of(text)
    found: dict[str, float] = {}
    for token in said_words.tokens_of(words, book_of(knowledge).classes):
        found[token] = 1.0
    for letters in said_words.letters_of(words):
        found[letters] = _LETTERS
    return found


def _weighed(features: dict[str, float], rarity: dict[str, float]) -> dict[str, float]:
    """Return features weighed by how much they tell, of length 1; what no cause is called by counts a little."""
    unknown = min(rarity.values(), default=1.0)
    weighed = {feature: weight * rarity.get(feature, unknown) for feature, weight in features.items()}
    length = math.sqrt(math.fsum(weight * weight for weight in weighed.values()))
    return {feature: weight / length for feature, weight in weighed.items()} if length else {}
