"""Whether a sentence tells anything of a clock's trouble, or is only talk: prices, visits, history, the weather.

Every word, and every two in a row, speaks for one of the two by how much oftener it stands in the ways people say
findings than in the asides (naive Bayes, as odds in nats). "Strike", "spring" and "hand" alone speak for neither much;
"on strike" and "in the spring" do.

References
----------
Manning, Raghavan and Schuetze 2008, Introduction to Information Retrieval, chapter 13 (naive Bayes text
classification, smoothing).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter

from diagnose.model.made_once import made_once
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.near_words import ASIDE, sayings_of
from diagnose.reasoning.phrasebook import book_of

# How often each word counts as seen before any was. [times]
_SEEN_BEFORE = 0.5


def tells(sentence: str, knowledge: Knowledge) -> float:
    """Return how much the words of a sentence speak for a sign of the clock rather than for an aside.

    Parameters
    ----------
    sentence : str
        One sentence, spelled right.
    knowledge : Knowledge
        With its sayings and asides.

    Returns
    -------
    float
        Log odds over the square root of the number of words, so that long and short sentences compare;
        0 where no word is known. [nat]
    """
    odds = _odds_of(knowledge)
    features = _features(sentence, knowledge)
    return math.fsum(odds.get(feature, 0.0) for feature in features) / math.sqrt(max(1, len(features)))


def _features(text: str, knowledge: Knowledge) -> set[str]:
    """Return words of meaning and words as they were said, alone and two in a row."""
    words = said_words.words_of(text)
    tokens = said_words.tokens_of(words, book_of(knowledge).classes)
    found = set(tokens) | {f"said {word}" for word in words}
    found |= {f"{one} {other}" for one, other in itertools.pairwise(tokens)}
    return found | {f"said {one} {other}" for one, other in itertools.pairwise(words)}


@made_once
def _odds_of(knowledge: Knowledge) -> dict[str, float]:
    """Return the log odds of each feature, made once."""
    signs, asides = Counter[str](), Counter[str]()
    many = {True: 0, False: 0}
    for (finding, _), text in sayings_of(knowledge):
        is_aside = finding == ASIDE
        many[is_aside] += 1
        (asides if is_aside else signs).update(_features(text, knowledge))
    share = many[True] / max(1, many[True] + many[False])
    return {
        feature: math.log((signs[feature] + _SEEN_BEFORE * (1 - share)) / (many[False] + _SEEN_BEFORE))
        - math.log((asides[feature] + _SEEN_BEFORE * share) / (many[True] + _SEEN_BEFORE))
        for feature in signs.keys() | asides.keys()
        if many[True]
    }
