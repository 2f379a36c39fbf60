"""The alarm list: words that end all questions, found in whatever is typed."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from diagnose.model.entries import AlarmEntry
from diagnose.model.reading import Knowledge

# A word that turns the phrase after it into its opposite, and how many words may stand between.
_NEGATIONS = {
    "no",
    "not",
    "never",
    "without",
    "isnt",
    "wasnt",
    "didnt",
    "doesnt",
    "arent",
    "havent",
    "hasnt",
    "neither",
}
_REACH = 3
_CLAUSE = re.compile(r"[.,;:!?\n]|\bbut\b|\bthen\b|\band\b|\bor\b")
_WORD = re.compile(r"[a-z0-9]+")


@dataclass(frozen=True, slots=True)
class _Phrase:
    """Words in a row; a last word that ended in `*` matches any word that begins so."""

    words: tuple[str, ...]
    open_ended: tuple[bool, ...]

    def found_at(self, text: list[str]) -> list[int]:
        """Return the positions at which the phrase begins in `text`."""
        length = len(self.words)
        return [start for start in range(len(text) - length + 1) if self._fits(text[start : start + length])]

    def _fits(self, piece: list[str]) -> bool:
        return all(
            given.startswith(word) if is_open else given == word
            for given, word, is_open in zip(piece, self.words, self.open_ended, strict=True)
        )


@lru_cache(maxsize=1024)
def _phrase(text: str) -> _Phrase:
    parts = [part for part in text.lower().replace("'", "").split() if part]
    words = tuple(re.sub(r"[^a-z0-9]", "", part) for part in parts)
    return _Phrase(words, tuple(part.endswith("*") for part in parts))


def _clauses(text: str) -> list[list[str]]:
    plain = text.lower().replace("'", "").replace("’", "")
    return [words for piece in _CLAUSE.split(plain) if (words := _WORD.findall(piece))]


def find_alarms(text: str, knowledge: Knowledge) -> tuple[str, ...]:
    """Return the ids of the alarms that a text contains, in the order of the knowledge.

    A phrase counts unless a negation stands at most three words before it in the same clause, or one of
    the alarm's own `unless` phrases is in the text.

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
    clauses = _clauses(text)
    whole = [word for clause in clauses for word in clause]
    return tuple(name for name, alarm in knowledge.alarms.items() if _rings(alarm, clauses, whole))


def _rings(alarm: AlarmEntry, clauses: list[list[str]], whole: list[str]) -> bool:
    if any(_phrase(text).found_at(whole) for text in alarm.unless):
        return False
    return any(_stands(_phrase(text), clause) for text in alarm.words for clause in clauses)


def _stands(phrase: _Phrase, clause: list[str]) -> bool:
    for start in phrase.found_at(clause):
        before = clause[max(0, start - _REACH) : start]
        if not _NEGATIONS & set(before):
            return True
    return False
