"""All ways anything is said of a clock: every `said_like` of the knowledge, read once and weighed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.model.entries import FindingEntry
from diagnose.model.made_once import made_once
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.said_words import NOT, Classes

# A "not" tells less than the word it denies; a word that nobody uses for a sign tells less against a
# phrase than one that belongs to another sign.
_NOT_WEIGHS, _UNKNOWN_WEIGHS = 0.4, 0.4
# Something only a technician sees, or that all is well, is seldom what a caller means.
_TECHNICIANS_OWN, _NOTHING_WRONG = 0.95, 0.93
_NOTHING = frozenset({"no", "none", "not-known"})
# Letters from which a misspelled word is put right.
FIVE_LETTERS = 5


@dataclass(frozen=True, slots=True)
class Phrase:
    """One way to say a value of a finding.

    Parameters
    ----------
    finding, value : str
        What is said.
    tokens : frozenset of str
        Its words of meaning.
    parts : frozenset of str
        Those that name a part of the clock.
    weight : float
        How much its words tell together.
    factor : float
        How likely it is to be what a caller means, against other findings (0 to 1).
    of_the_clock : bool
        A circumstance: it befalls the clock as a whole.
    """

    finding: str
    value: str
    tokens: frozenset[str]
    parts: frozenset[str]
    weight: float
    factor: float
    of_the_clock: bool


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """All phrases, where each word stands in them and how much it tells.

    Parameters
    ----------
    classes : Classes
        The word classes.
    phrases : tuple of Phrase
        Every way anything is said.
    by_token : dict of str to tuple of int
        For each word the phrases that hold it.
    together : dict of (finding, value) to frozenset of str
        The words of all phrases of a value.
    weight : dict of str to float
        The rarer a word among the findings, the more it tells.
    most : float
        Weight of a word that one finding alone has.
    spelling : tuple of str
        Words that misspelled ones are held against.
    spelled : frozenset of str
        Words that are right as they are.
    signs : frozenset of str
        Classes that mean something by themselves: "squeaks", not "pendulum".
    """

    classes: Classes
    phrases: tuple[Phrase, ...]
    by_token: dict[str, tuple[int, ...]]
    together: dict[tuple[str, str], frozenset[str]]
    weight: dict[str, float]
    most: float
    spelling: tuple[str, ...]
    spelled: frozenset[str]
    signs: frozenset[str]

    def weigh(self, token: str) -> float:
        """Return how much a word tells."""
        return self.weight.get(token, _UNKNOWN_WEIGHS * self.most)

    def parts(self, tokens: frozenset[str]) -> frozenset[str]:
        """Return the parts of the clock that some words name."""
        with_others = tokens.union(*(self.classes.also.get(token, ()) for token in tokens))
        return with_others & self.classes.subjects


@made_once
def book_of(knowledge: Knowledge) -> Phrasebook:
    """Return the phrasebook of a knowledge, made once."""
    entries = knowledge.synonyms
    classes = said_words.make_classes(
        {name: entry.said for name, entry in entries.items()},
        {name: entry.also for name, entry in entries.items() if entry.also},
        [name for name, entry in entries.items() if entry.part],
    )
    said = list(_said(knowledge, classes))
    weight = _weights(said, len(knowledge.findings))
    phrases = tuple(
        _phrase(knowledge.findings[finding], finding, value, tokens, weight, classes) for finding, value, tokens in said
    )
    by_token: defaultdict[str, list[int]] = defaultdict(list)
    together: defaultdict[tuple[str, str], frozenset[str]] = defaultdict(frozenset)
    for number, phrase in enumerate(phrases):
        together[(phrase.finding, phrase.value)] |= phrase.tokens
        for token in phrase.tokens:
            by_token[token].append(number)
    known = _words(knowledge)
    return Phrasebook(
        classes,
        phrases,
        {token: tuple(numbers) for token, numbers in by_token.items()},
        dict(together),
        weight,
        math.log1p(len(knowledge.findings)),
        tuple(sorted(word for word in known if len(word) >= FIVE_LETTERS)),
        known | said_words.KNOWN_WORDS,
        frozenset(entries) - classes.subjects | {token for token in weight if token.startswith("#")},
    )


def _said(knowledge: Knowledge, classes: Classes) -> Iterator[tuple[str, str, frozenset[str]]]:
    """Yield finding, value and words of meaning of each way to say it that has any."""
    for finding, entry in knowledge.findings.items():
        for value, meaning in entry.values.items():
            for text in meaning.said_like:
                tokens = frozenset(said_words.tokens_of(said_words.words_of(text), classes))
                if tokens - {NOT}:
                    yield finding, value, tokens


def _weights(said: list[tuple[str, str, frozenset[str]]], findings: int) -> dict[str, float]:
    in_findings: defaultdict[str, set[str]] = defaultdict(set)
    for finding, _, tokens in said:
        for token in tokens:
            in_findings[token].add(finding)
    weight = {token: math.log1p(findings / len(names)) for token, names in in_findings.items()}
    weight[NOT] = _NOT_WEIGHS * math.log1p(findings)
    return weight


def _phrase(
    entry: FindingEntry, finding: str, value: str, tokens: frozenset[str], weight: dict[str, float], classes: Classes
) -> Phrase:
    is_circumstance = entry.kind == "circumstance"
    nothing = entry.values[value].normal or (is_circumstance and value in _NOTHING)
    factor = (_TECHNICIANS_OWN if entry.told else 1.0) * (_NOTHING_WRONG if nothing else 1.0)
    with_others = tokens.union(*(classes.also.get(token, ()) for token in tokens))
    return Phrase(
        finding,
        value,
        tokens,
        with_others & classes.subjects,
        math.fsum(weight[token] for token in tokens),
        factor,
        is_circumstance,
    )


def _words(knowledge: Knowledge) -> frozenset[str]:
    """Return every word as it is spelled in the ways of saying things and in the word classes."""
    texts = [
        text for entry in knowledge.findings.values() for meaning in entry.values.values() for text in meaning.said_like
    ]
    texts += [text for synonym in knowledge.synonyms.values() for text in synonym.said]
    return frozenset(word for text in texts for word in said_words.words_of(text))
