"""The alarm list: words that end all questions, found in whatever is typed.

A phrase of the list is words in a row. `key|crank` is either word, `fray*` any word that begins so, and
`...` up to four words that do not matter: "weight ... fell" is found in "the weight, the heavy one, fell". Pieces
joined by `&` stand in one sentence in any order: "key & spun|whizz*" is found in "off it whizzed, the key I mean".
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from diagnose.model.entries import AlarmEntry
from diagnose.model.reading import Knowledge
from diagnose.reasoning.phrasebook import book_of

# A word that turns the phrase after it into its opposite, and how many words may stand between.
_NEGATIONS = frozenset(
    re.findall(
        "[a-z]+", "no not never without isnt wasnt didnt doesnt arent havent hasnt neither nothing nobody none nor"
    )
)
_REACH = 3
# What ends the reach of a negation: a new clause begins. "or" carries it on: "no bang or crack".
_NEW_CLAUSE = frozenset(re.findall("[^ ]+", "but then and because so when while until till after since as that if , ."))
# Words that hold a negation and deny nothing: "no idea why the weight fell", "never such a bang".
_DENIES_NOTHING = frozenset(
    {("no", "idea"), ("no", "doubt"), ("no", "sooner"), ("no", "wonder"), ("no", "longer"), ("not", "only")}
    | {("not", "sure"), ("not", "long"), ("no", "warning")}
)
_MOST_BETWEEN = 4
# How far pieces joined by `&` may lie apart. [words and pauses]
_MOST_APART = 12
# From this many letters a misspelled word with one slip in it is taken for the word of the list.
_LONG_WORD = 6
_PAUSE, _STOP, _MASKED = ",", ".", "#"
_IS = re.compile(r"['’]s\b")
_TOKEN = re.compile(r"[a-z0-9]+|[,:()]|[.;!?\n]")


@dataclass(frozen=True, slots=True)
class _Place:
    """One place of a phrase: the words that fit it, and whether others may stand before it."""

    words: tuple[str, ...]
    beginnings: tuple[str, ...]
    after_others: bool

    def fits(self, word: str) -> bool:
        return word in self.words or bool(self.beginnings and word.startswith(self.beginnings))


def _plain(text: str) -> str:
    """Return a text in small letters with "the weight's" as "the weight is" and "don't" as "dont"."""
    return _IS.sub(" is", text.lower()).replace("'", "").replace("’", "")


@lru_cache(maxsize=4096)
def _phrase(text: str) -> tuple[_Place, ...]:
    places: list[_Place] = []
    after_others = False
    for part in _plain(text).split():
        if part == "...":
            after_others = True
            continue
        choices = [re.sub(r"[^a-z0-9*]", "", choice) for choice in part.split("|")]
        words = tuple(choice for choice in choices if not choice.endswith("*"))
        beginnings = tuple(choice.rstrip("*") for choice in choices if choice.endswith("*"))
        places.append(_Place(words, beginnings, after_others))
        after_others = False
    return tuple(places)


@lru_cache(maxsize=4096)
def _pieces(text: str) -> tuple[tuple[_Place, ...], ...]:
    """Return the pieces of a phrase that may stand in any order."""
    return tuple(_phrase(piece) for piece in text.split(" & "))


def _tokens(text: str) -> list[str]:
    """Return words, with a comma for each pause and a point for each end of a sentence."""
    found = _TOKEN.findall(_plain(text))
    return [part if part[0].isalnum() else (_PAUSE if part in ",:()" else _STOP) for part in found]


def _next(place: _Place, tokens: list[str], start: int) -> Iterator[int]:
    """Yield where the next place of a phrase may lie, from `start` on."""
    between = 0
    for position in range(start, len(tokens)):
        token = tokens[position]
        if token == _STOP:
            return
        if place.fits(token):
            yield position
        if not place.after_others or between == _MOST_BETWEEN:
            return
        between += token not in {_PAUSE, _MASKED}


def _found(phrase: tuple[_Place, ...], tokens: list[str], start: int) -> list[int] | None:
    """Return the positions of the phrase's words if it begins at `start`."""
    if not phrase[0].fits(tokens[start]):
        return None
    if len(phrase) == 1:
        return [start]
    for position in _next(phrase[1], tokens, start + 1):
        rest = _found(phrase[1:], tokens, position)
        if rest is not None:
            return [start, *rest]
    return None


def find_alarms(text: str, knowledge: Knowledge) -> tuple[str, ...]:
    """Return the ids of the alarms that a text contains, in the order of the knowledge.

    A phrase counts unless a negation stands at most three words before it in the same clause, or between
    its words. An `unless` phrase takes only its own words out of the text.

    Parameters
    ----------
    text : str
        Whatever somebody typed or said.
    knowledge : Knowledge
        Holds the alarms.

    Returns
    -------
    tuple of str
        Ids of alarms; empty where there is none.
    """
    listed = _listed_words(tuple(phrase for alarm in knowledge.alarms.values() for phrase in alarm.words))
    spelled = book_of(knowledge).spelled
    tokens = [token if token in spelled else _put_right(token, listed) for token in _tokens(text)]
    return tuple(name for name, alarm in knowledge.alarms.items() if _rings(alarm, tokens))


@dataclass(frozen=True, slots=True)
class _Listed:
    """All words of all phrases, those that misspellings are held against, and all beginnings."""

    words: frozenset[str]
    long_words: tuple[str, ...]
    beginnings: tuple[str, ...]


@lru_cache(maxsize=4)
def _listed_words(phrases: tuple[str, ...]) -> _Listed:
    places = [place for text in phrases for piece in _pieces(text) for place in piece]
    words = frozenset(word for place in places for word in place.words)
    beginnings = sorted({word for place in places for word in place.beginnings})
    return _Listed(words, tuple(sorted(word for word in words if len(word) >= _LONG_WORD)), tuple(beginnings))


def _put_right(token: str, listed: _Listed) -> str:
    """Return the word of the list that a token misspells by one slip ("wieght"), else the token."""
    from rapidfuzz.distance import OSA

    if len(token) < _LONG_WORD or token in listed.words or token.startswith(listed.beginnings):
        return token
    near = (word for word in listed.long_words if word[0] == token[0] and OSA.distance(word, token) == 1)
    return next(near, token)


def _rings(alarm: AlarmEntry, tokens: list[str]) -> bool:
    left = list(tokens)
    at = _places_of(tokens)
    for text in alarm.unless:
        for positions in _standing(_phrase(text), tokens, at):
            for position in positions:
                left[position] = _MASKED
    at = _places_of(left)
    return any(_stands(_pieces(text), left, at) for text in alarm.words)


def _places_of(tokens: list[str]) -> dict[str, list[int]]:
    """Return where each word stands."""
    at: dict[str, list[int]] = {}
    for position, token in enumerate(tokens):
        at.setdefault(token, []).append(position)
    return at


def _stands(pieces: tuple[tuple[_Place, ...], ...], tokens: list[str], at: dict[str, list[int]]) -> bool:
    """Tell whether all pieces stand near enough to each other in one sentence, none of them denied."""
    standing: list[list[list[int]]] = []
    for piece in pieces:
        standing.append(list(_standing(piece, tokens, at)))
        if not standing[-1]:
            return False
    return _joined([], standing, tokens)


def _joined(chosen: list[list[int]], left: list[list[list[int]]], tokens: list[str]) -> bool:
    """Tell whether one place of each piece that is left can be joined to those chosen."""
    if not left:
        taken = {position for piece in chosen for position in piece}
        return not any(_is_denied(piece, tokens, taken) for piece in chosen)
    return any(
        _joined([*chosen, there], left[1:], tokens)
        for there in left[0]
        if all(_are_near(here, there, tokens) for here in chosen)
    )


def _standing(phrase: tuple[_Place, ...], tokens: list[str], at: dict[str, list[int]]) -> Iterator[list[int]]:
    """Yield the positions of the words of a phrase wherever it stands."""
    starts = sorted(start for word, places in at.items() if phrase[0].fits(word) for start in places)
    for start in starts:
        positions = _found(phrase, tokens, start)
        if positions is not None:
            yield positions


def _are_near(here: list[int], there: list[int], tokens: list[str]) -> bool:
    """Tell whether two pieces stand in one sentence, no word in both, and not too far from each other."""
    first, last = min(here[0], there[0]), max(here[-1], there[-1])
    between = tokens[first : last + 1]
    return not set(here) & set(there) and _STOP not in between and last - first <= _MOST_APART


def _is_denied(positions: list[int], tokens: list[str], taken: set[int]) -> bool:
    """Tell whether a negation that is no part of what was found stands before the phrase or between its words."""
    first, last = positions[0], positions[-1]
    if tokens[last + 1 : last + 2] == ["like"]:
        return False
    between = [spot for spot in range(first, last) if spot not in taken]
    if any(_denies(spot, tokens) for spot in between):
        return True
    for spot in range(first - 1, max(-1, first - 1 - _REACH), -1):
        if tokens[spot] in _NEW_CLAUSE or tokens[spot] == "such":
            return False
        if spot not in taken and _denies(spot, tokens):
            return True
    return False


def _denies(spot: int, tokens: list[str]) -> bool:
    following = tokens[spot + 1] if spot + 1 < len(tokens) else ""
    return tokens[spot] in _NEGATIONS and (tokens[spot], following) not in _DENIES_NOTHING
