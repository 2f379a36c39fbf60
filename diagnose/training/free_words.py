"""From free words to the thing that was meant: a finding, a cause or a remedy, by how it is called and said.

A word counts by how rare it is among all the texts, a misspelled word as the one it is near to; what stands
in the name of a thing counts in full, what people say of it a little less.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from diagnose.model.entries import CauseEntry, FindingEntry, RemedyEntry
from diagnose.model.reading import Knowledge

MOST_FOUND = 4
# A thing must cover this share of the weight of the words that are known at all.
LEAST_SHARE = 0.34
# Things this far below the best are not offered.
NEAR_THE_BEST = 0.55
# A word is taken for another from this likeness (0 to 100), if it is long enough to be sure.
ALIKE, LONG_WORD = 82.0, 4
# Weight of a word in the name of a thing, its question, what people say of it, its place, the steps of a remedy.
IN_NAME, IN_QUESTION, IN_SPEECH, IN_PLACE, IN_STEPS = 1.0, 0.9, 0.75, 0.6, 0.4
# Between things that cover the same words the one whose name says little else wins, by this much.
NAME_COVERED, NAME_ALIKE = 0.15, 0.05
_WORD = re.compile(r"[a-z0-9]+")
_SMALL_WORDS = frozenset(
    _WORD.findall(
        "a an the it is was its i we he she they my our his her to of in on at for with or that this be been am are "
        "has had have do does did will would can could may me you your there here when if as by from s t m and any how "
        "what which where who ask look check see seen still"
    )
)
_ENDINGS = ("ness", "ings", "ing", "edly", "ed", "es", "s", "ly")
_LEAST_STEM = 3


@dataclass(frozen=True, slots=True)
class Called:
    """How one thing is called: weights by stem, and its title."""

    weights: Mapping[str, float]
    title: str


@dataclass(frozen=True, slots=True)
class Book:
    """How all things of one kind are called."""

    things: Mapping[str, Called]
    rarity: Mapping[str, float]

    def find(self, words: str, among: Iterable[str], most: int = MOST_FOUND) -> tuple[str, ...]:
        """Return the things that some words mean, best first; empty where none is near.

        Parameters
        ----------
        words : str
            What was typed; the id or the whole name of a thing means that thing.
        among : iterable of str
            Ids that may be meant.
        most : int
            How many to return.
        """
        allowed = sorted(name for name in among if name in self.things)
        same = " ".join(words.lower().split())
        exact = [name for name in allowed if same in {name, self.things[name].title.lower()}]
        if len(exact) == 1:
            return (exact[0],)
        meant = [known for stem in sorted(_stems(words)) if (known := self._known(stem))]
        scores = {name: self._score(name, meant, words) for name in allowed}
        best = max(scores.values(), default=0.0)
        near = [name for name in allowed if scores[name] >= max(LEAST_SHARE, NEAR_THE_BEST * best)]
        return tuple(sorted(near, key=lambda name: (-scores[name], name))[:most])

    def _known(self, stem: str) -> tuple[str, ...]:
        """Return the stem as it is written in the book, or those it is nearest to; empty where none is near."""
        if stem in self.rarity:
            return (stem,)
        from rapidfuzz import fuzz, process

        if len(stem) < LONG_WORD:
            return ()
        found = process.extract(stem, self.rarity.keys(), scorer=fuzz.ratio, score_cutoff=ALIKE)
        return tuple(str(known) for known, likeness, _ in found if likeness == found[0][1])

    def _score(self, name: str, meant: list[tuple[str, ...]], words: str) -> float:
        from rapidfuzz import fuzz

        called = self.things[name]
        total = math.fsum(max(self.rarity[stem] for stem in alternatives) for alternatives in meant)
        covered = math.fsum(
            max(self.rarity[stem] * called.weights.get(stem, 0.0) for stem in alternatives) for alternatives in meant
        )
        if not covered:
            return 0.0
        own = _stems(called.title) or frozenset({name})
        said = frozenset(stem for alternatives in meant for stem in alternatives)
        alike = fuzz.token_sort_ratio(words.lower(), called.title.lower()) / 100
        return covered / total + NAME_COVERED * len(said & own) / len(own) + NAME_ALIKE * alike


@lru_cache(maxsize=4)
def _book_of(knowledge: _ById, kind: str) -> Book:
    entries = getattr(knowledge.knowledge, kind)
    things = {name: _called(name, entry, knowledge.knowledge) for name, entry in entries.items()}
    count = Counter(stem for called in things.values() for stem in called.weights)
    return Book(things, {stem: math.log1p(len(things) / number) for stem, number in count.items()})


class _ById:
    """A knowledge that can be looked up by what it is, not by what it holds."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge

    def __hash__(self) -> int:
        return id(self.knowledge)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ById) and other.knowledge is self.knowledge


def find_findings(words: str, knowledge: Knowledge, among: Iterable[str]) -> tuple[str, ...]:
    """Return up to four findings that some words ask for, by question, other names and ways people say it."""
    return _book_of(_ById(knowledge), "findings").find(words, among)


def find_causes(words: str, knowledge: Knowledge, among: Iterable[str]) -> tuple[str, ...]:
    """Return up to four causes that some words name."""
    return _book_of(_ById(knowledge), "causes").find(words, among)


def find_remedies(words: str, knowledge: Knowledge, among: Iterable[str]) -> tuple[str, ...]:
    """Return up to four remedies that some words name."""
    return _book_of(_ById(knowledge), "remedies").find(words, among)


def _called(name: str, entry: FindingEntry | CauseEntry | RemedyEntry, knowledge: Knowledge) -> Called:
    weights: dict[str, float] = {}

    def add(text: str | None, weight: float) -> None:
        for stem in _stems(text or ""):
            weights[stem] = max(weight, weights.get(stem, 0.0))

    named = knowledge.screen.get(f"name-{name}")
    title = named.staff if named is not None else ""
    add(name.replace("-", " "), IN_NAME)
    add(title, IN_NAME)
    if isinstance(entry, FindingEntry):
        title = title or entry.question.staff
        add(entry.question.staff, IN_QUESTION)
        add(entry.question.customer, IN_SPEECH)
        add(knowledge.places[entry.place].title.staff, IN_PLACE)
        for value in entry.values.values():
            add(value.staff, IN_QUESTION)
            for phrase in value.said_like:
                add(phrase, IN_SPEECH)
    else:
        title = entry.title.staff
        add(title, IN_NAME)
        add(entry.title.customer, IN_SPEECH)
    if isinstance(entry, RemedyEntry):
        for step in entry.steps:
            add(step.do.staff, IN_STEPS)
    for other in getattr(entry, "also_called", ()):
        add(other, IN_NAME)
    return Called(weights, title)


def _stems(text: str) -> frozenset[str]:
    words = _WORD.findall(text.lower().replace("'", "").replace("’", ""))
    return frozenset(_stem(word) for word in words if word not in _SMALL_WORDS)


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            word = word[: -len(ending)]
            break
    if len(word) > _LEAST_STEM and word[-1] == word[-2] and word[-1] not in "sl":
        word = word[:-1]
    return word[:-1] if len(word) > _LEAST_STEM and word[-1] in "ey" else word
