"""From a complaint in somebody's own words to the findings it may mean; confirmed, never assumed.

Each way people say a value (`said_like`) is held against each clause of what was said, both read as the
words that carry meaning (`said_words`). A word counts by how rare it is among all these ways, so that
"limps" weighs more than "clock"; a misspelled word counts as the word it is near to. What is said of
another part of the clock, or denied, does not count.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import defaultdict
from dataclasses import dataclass, field, replace
from functools import lru_cache

from diagnose.model.entries import FindingEntry
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.near_words import Nearness, nearness
from diagnose.reasoning.phrasebook import FIVE_LETTERS, Phrase, Phrasebook, book_of
from diagnose.reasoning.said_at_all import tells
from diagnose.reasoning.said_words import NOT, words_of
from diagnose.reasoning.tables import fits

FULL = 100.0
MOST_SCORE = 200.0
# Beside how near a sentence is to all sayings of a value (`near_words`), its score as a phrase weighs so much.
_PHRASE_WEIGHS = 0.4
# Whether anything is meant at all: how much the nearest value, the nearest phrase and the nearest aside count beside
# the odds of the words, and the least sum (fitted by logistic regression on tests/reasoning/complaints*.yaml). [nat]
_NEAR, _SAID, _ASIDE, _LEAST_MEANT = 2.6, 4.3, 1.7, 4.0
# So many are offered by nearness alone, as long as they are nearly as near as the best.
_NEAR_ONES, _NEARLY_THE_BEST, _LEAST_NEAR = 3, 0.4, 42.0
# So many clauses are read: whoever says more has said it before.
_MOST_PIECES = 24
# From this score (0 to 100) a phrase and a clause are taken to mean the same.
LEAST_SCORE = 60.0
# How much a phrase must be covered by the clause, against how much the clause by the phrase: within
# the stretch in which its words lie, and outside it.
_PHRASE_COUNTS, _STRETCH_COUNTS, _OUTSIDE_COUNTS = 0.60, 0.32, 0.08
# Shares of the nearest phrase and of all phrases of the value together.
_NEAREST, _TOGETHER = 0.8, 0.2
# Score where a part is named and the clause names none, or another one.
_NO_PART, _OTHER_PART, _UNNAMED_PART, _PART_BESIDE = 0.85, 0.60, 0.72, 0.96
# A phrase of one word says little inside a longer clause: so much does the whole clause count then.
_ONE_WORD_OUTSIDE = 0.4
# What is asked of the shop seldom tells of the clock.
_ASKED_OF_THE_SHOP = 0.7
_QUESTION = re.compile(
    r"^(?:do|can|could|would|will|are|is|have) (?:you|u|your|i|we)\b"
    r"|^(?:how much|how long would|what are your|where do|when can|shall i|may i)\b"
)
# Shared words must weigh this share of the rarest word's weight, or nothing was really said.
_LEAST_SHARED = 0.85
# Short of the whole phrase by rounding only; and the share of a phrase that must have been said.
_WHOLE_PHRASE, _LEAST_OF_PHRASE = 0.999, 0.4
# A second finding in the same words is offered only if it is nearly as near.
_NEARLY_AS_NEAR, _SAME_WORDS = 0.92, 0.5
# How far a negation reaches back and forth, in words of meaning.
_REACH_BEFORE, _REACH_AFTER = 2, 1
_LONGEST_WINDOW = 24
# Letters of a long word, and the likeness (0 to 1) from which it is taken for another.
_LONG_WORD, _ALIKE = 6, 0.93


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A finding that a sentence may mean.

    Parameters
    ----------
    finding, value : str
        What it may mean.
    score : float
        How near the sentence is to the ways people say it, at most 200; over 100 where it is one of them.
    words : str
        The piece of the sentence it was found in.
    chances : tuple of (str, float)
        The chance of each value, where what was said leaves it open, such as two sizes with their errors.
    """

    finding: str
    value: str
    score: float
    words: str
    chances: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Window:
    """A clause, or two side by side, with the part that was last spoken of before it."""

    sentence: int
    words: str
    tokens: tuple[str, ...]
    first: int
    spoken_of: frozenset[str] = frozenset()
    is_pair: bool = False


@dataclass(frozen=True, slots=True)
class _Match:
    """A value found in a window, at which words of the whole text, and how much each of them weighs."""

    phrase: Phrase
    score: float
    words: str
    places: dict[int, float] = field(default_factory=dict)


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
    book = book_of(knowledge)
    best: dict[str, Suggestion] = {}
    windows = _windows(text, book)[:_MOST_PIECES]
    for _, sentence in itertools.groupby(sorted(windows, key=lambda window: window.sentence), _number_of):
        for item in _of_sentence(list(sentence), knowledge, clock):
            if item.finding not in best or item.score > best[item.finding].score:
                best[item.finding] = item
    ranked = sorted(best.values(), key=lambda item: (-item.score, item.finding))
    kept = _without_senseless(ranked, knowledge)[:most]
    # A rare word that all sayings of a value share comes nearer than any saying: no more is told of that than "surely".
    return tuple(
        replace(item, words=said_words.as_said(item.words), score=min(item.score, MOST_SCORE)) for item in kept
    )


def _number_of(window: _Window) -> int:
    return window.sentence


def _of_sentence(windows: list[_Window], knowledge: Knowledge, clock: ClockFacts | None) -> list[Suggestion]:
    """Return what one sentence may mean, best first; nothing where it is only talk."""
    book = book_of(knowledge)
    pieces = [" ".join(_put_right(word, book) for word in words_of(window.words)) for window in windows]
    near = nearness(pieces, knowledge)
    phrased = {item.finding: item for item in _by_phrase(windows, knowledge, clock)}
    # The whole sentence where no clause of it alone was nearest.
    as_said = dict(zip(pieces, (window.words for window in windows), strict=True))
    whole = ", ".join(dict.fromkeys(window.words for window in windows if not window.is_pair))
    best = {name: (value, share, as_said.get(piece, whole)) for name, (value, share, piece) in near.best().items()}
    both = {name: _together(phrased.get(name), best.get(name), near, name) for name in {*phrased, *best}}
    ranked = sorted(both.values(), key=lambda item: (-item.score, item.finding))
    fitting = [item for item in ranked if applies(knowledge.findings[item.finding], clock)]
    nearest = max((share for _, share, _ in best.values()), default=0.0)
    said = max((item.score for item in phrased.values()), default=0.0) / FULL
    at_all = max(tells(piece, knowledge) for piece in pieces)
    if not fitting or _NEAR * nearest + _SAID * said + at_all - _ASIDE * near.aside < _LEAST_MEANT:
        return []
    # What was said in so many words, and beside it what comes near, as long as it is nearly as near.
    least = max(_LEAST_NEAR, _NEARLY_THE_BEST * fitting[0].score)
    spoken_of = book.parts(frozenset(token for window in windows for token in window.tokens))
    return [
        item
        for number, item in enumerate(fitting)
        if item.finding in phrased
        or (number < _NEAR_ONES and item.score >= least and _of_these_parts(item, spoken_of, book))
    ]


def _of_these_parts(item: Suggestion, spoken_of: frozenset[str], book: Phrasebook) -> bool:
    """Return False where other parts of the clock were spoken of than the value is about."""
    about = book.parts(book.together.get((item.finding, item.value), frozenset()))
    return not spoken_of or not about or bool(spoken_of & about)


def _together(
    phrase: Suggestion | None, best: tuple[str, float, str] | None, near: Nearness, finding: str
) -> Suggestion:
    """Return what both ways make of a finding: the value that is nearer by both together."""
    value, share, words = best or ("", 0.0, "")
    alone = Suggestion(finding, value, FULL * share, words)
    if phrase is None:
        return alone
    same, _ = near.values.get((finding, phrase.value), (0.0, ""))
    said = Suggestion(finding, phrase.value, FULL * same + _PHRASE_WEIGHS * phrase.score, phrase.words)
    return max(said, alone, key=lambda item: item.score)


def _without_senseless(items: list[Suggestion], knowledge: Knowledge) -> list[Suggestion]:
    """Leave out a finding that makes no sense beside something nearer."""
    kept: list[Suggestion] = []
    for item in items:
        needs = knowledge.findings[item.finding].needs
        if not any(other.finding in needs and other.value not in needs[other.finding] for other in kept):
            kept.append(item)
    return kept


def _by_phrase(windows: list[_Window], knowledge: Knowledge, clock: ClockFacts | None) -> tuple[Suggestion, ...]:
    """Return the findings one of whose phrases was said, best first."""
    book = book_of(knowledge)
    best: dict[str, _Match] = {}
    for window in windows:
        for match in _matches(window, book):
            finding = match.phrase.finding
            if finding in best and best[finding].score >= match.score:
                continue
            if applies(knowledge.findings[finding], clock):
                best[finding] = match
    chosen = _chosen(sorted(best.values(), key=lambda match: (-match.score, match.phrase.finding)), knowledge)
    return tuple(Suggestion(m.phrase.finding, m.phrase.value, m.score, m.words) for m in chosen)


def applies(entry: FindingEntry, clock: ClockFacts | None) -> bool:
    """Tell whether a clock can have a finding; what is not known of it shuts nothing out."""
    return clock is None or fits(entry.applies, clock)


def _chosen(matches: list[_Match], knowledge: Knowledge) -> list[_Match]:
    """Leave out what was found in the words of something nearer, and what makes no sense beside it."""
    chosen: list[_Match] = []
    for match in matches:
        if match.score < LEAST_SCORE or _is_shut_out(match, chosen, knowledge):
            continue
        rivals = [other for other in chosen if _taken(match, other) > _SAME_WORDS]
        if all(match.score >= _NEARLY_AS_NEAR * other.score for other in rivals) and len(rivals) < 2:
            chosen.append(match)
    return chosen


def _taken(match: _Match, other: _Match) -> float:
    """Return the share of a match's words, by weight, that another match was found in too."""
    shared = math.fsum(weight for place, weight in match.places.items() if place in other.places)
    return shared / math.fsum(match.places.values())


def _is_shut_out(match: _Match, chosen: list[_Match], knowledge: Knowledge) -> bool:
    """Tell whether something nearer was said that makes the question of this finding senseless."""
    needs = knowledge.findings[match.phrase.finding].needs
    return any(
        other.phrase.finding in needs and other.phrase.value not in needs[other.phrase.finding] for other in chosen
    )


def _windows(text: str, book: Phrasebook) -> list[_Window]:
    """Return the clauses of a text and each pair of neighbors within a sentence, in their order."""
    single: list[_Window] = []
    first, spoken_of = 0, frozenset[str]()
    for sentence, clause in said_words.clauses_of(text):
        words = [_put_right(word, book) for word in said_words.words_of(clause)]
        tokens = said_words.tokens_of(words, book.classes)
        for start in range(0, len(tokens), _LONGEST_WINDOW):
            piece = tuple(tokens[start : start + _LONGEST_WINDOW])
            single.append(_Window(sentence, clause, piece, first, spoken_of))
            first += len(piece)
            spoken_of = book.parts(frozenset(piece)) or spoken_of
    pairs = [
        _Window(
            one.sentence, f"{one.words}, {two.words}", one.tokens + two.tokens, one.first, one.spoken_of, is_pair=True
        )
        for one, two in itertools.pairwise(single)
        if one.sentence == two.sentence and len(one.tokens) + len(two.tokens) <= _LONGEST_WINDOW
    ]
    return [window for window in (*single, *pairs) if window.tokens]


def _put_right(word: str, book: Phrasebook) -> str:
    if word in book.spelled or len(word) < FIVE_LETTERS or not word.isalpha():
        return word
    return _spelled(word, book.spelling)


@lru_cache(maxsize=4096)
def _spelled(word: str, known: tuple[str, ...]) -> str:
    """Return the known word that a word misspells, else the word itself."""
    from rapidfuzz import process
    from rapidfuzz.distance import OSA, JaroWinkler

    one_slip = process.extractOne(word, known, scorer=OSA.distance, score_cutoff=1)
    if one_slip is not None and one_slip[0][0] == word[0]:
        return str(one_slip[0])
    if len(word) < _LONG_WORD:
        return word
    alike = process.extractOne(word, known, scorer=JaroWinkler.similarity, score_cutoff=_ALIKE)
    return str(alike[0]) if alike and abs(len(alike[0]) - len(word)) < 2 else word


def _matches(window: _Window, book: Phrasebook) -> list[_Match]:
    """Return what the window may mean, each value at its nearest phrase."""
    places: dict[str, int] = {}
    for place, token in enumerate(window.tokens):
        for name in (token, *book.classes.also.get(token, ())):
            places.setdefault(name, place)
    shared: defaultdict[int, float] = defaultdict(float)
    for token in places:
        for number in book.by_token.get(token, ()):
            shared[number] += book.weight[token]
    found: dict[tuple[str, str], _Match] = {}
    for number, weight in shared.items():
        phrase = book.phrases[number]
        least = min(_LEAST_SHARED * book.most, _WHOLE_PHRASE * phrase.weight)
        if weight < max(least, _LEAST_OF_PHRASE * phrase.weight) or not _says_enough(phrase, places, book):
            continue
        match = _held_against(phrase, weight, window, places, book)
        key = (phrase.finding, phrase.value)
        if match is not None and (key not in found or match.score > found[key].score):
            found[key] = match
    return list(found.values())


def _says_enough(phrase: Phrase, places: dict[str, int], book: Phrasebook) -> bool:
    """Tell whether more than one word is shared, or one that names a sign: "squeaks", not "hall"."""
    shared = [token for token in phrase.tokens if token in places and token != NOT]
    if len(shared) != 1:
        return bool(shared)
    is_denied = NOT in phrase.tokens and shared[0] in book.classes.subjects
    return shared[0] in book.signs or is_denied


def _held_against(
    phrase: Phrase, weight: float, window: _Window, places: dict[str, int], book: Phrasebook
) -> _Match | None:
    """Return how near a phrase is to a window, or None where one of them denies what the other says."""
    at = sorted(places[token] for token in phrase.tokens if token in places)
    first, last = at[0], at[-1]
    reach = window.tokens[max(0, first - _REACH_BEFORE) : last + 1 + _REACH_AFTER]
    if (NOT in phrase.tokens) != (NOT in reach):
        return None
    weights = [book.weigh(token) if places[token] == place else 0.0 for place, token in enumerate(window.tokens)]
    stretch = math.fsum(weights[first : last + 1])
    whole = math.fsum(weights)
    outside = _ONE_WORD_OUTSIDE if len(phrase.tokens - {NOT}) == 1 else _OUTSIDE_COUNTS
    near = weight / (
        _PHRASE_COUNTS * phrase.weight
        + _STRETCH_COUNTS * max(stretch, weight)
        + outside * (whole - stretch)
        + (1 - _PHRASE_COUNTS - _STRETCH_COUNTS) * weight
    )
    together = book.together[(phrase.finding, phrase.value)]
    covered = math.fsum(w for token, w in zip(window.tokens, weights, strict=True) if token in together) / whole
    score = (
        100
        * (_NEAREST * near + _TOGETHER * covered)
        * phrase.factor
        * _of_the_same_part(phrase, window, together, book)
    )
    if _QUESTION.match(window.words):
        score *= _ASKED_OF_THE_SHOP
    return _Match(phrase, score, window.words, {window.first + place: weights[place] for place in at})


def _of_the_same_part(phrase: Phrase, window: _Window, together: frozenset[str], book: Phrasebook) -> float:
    """Return 1 where phrase and window speak of the same part of the clock, else less."""
    named = book.parts(frozenset(window.tokens))
    if phrase.parts:
        if phrase.parts <= named:
            return 1.0 if named <= book.parts(together) else _PART_BESIDE
        if phrase.parts & named:
            return math.sqrt(_NO_PART)
        if named:
            return _OTHER_PART
        return 1.0 if phrase.parts & window.spoken_of else _NO_PART
    if phrase.of_the_clock:
        named -= {"case"}
    return _UNNAMED_PART if named and not named & book.parts(together) else 1.0
