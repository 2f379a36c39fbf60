"""The words on the screens: one phrase for staff and one for a customer, all from the knowledge files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.errors import UsageError
from diagnose.model.entries import Words
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge

Reader = Literal["staff", "customer"]

# Between these bounds a chance is told as so many in ten; below as one in so many; above and at the very
# bottom as a bound.
_LEAST_IN_TEN, _MOST_IN_TEN, _LEAST_TOLD = 0.095, 0.95, 0.01
_TENTHS = 10


@dataclass(frozen=True, slots=True)
class Wording:
    """Says things to one kind of reader.

    Parameters
    ----------
    knowledge : Knowledge
        Holds the phrases.
    reader : str
        "staff" or "customer".
    """

    knowledge: Knowledge
    reader: Reader = "staff"

    def say(self, key: str, **values: object) -> str:
        """Return a phrase of `knowledge/words/screen*.yaml` with its `{names}` filled in."""
        entry = self.knowledge.screen.get(key)
        if entry is None:
            raise UsageError(f"no phrase '{key}' in knowledge/words/screen*.yaml{near(key, self.knowledge.screen)}")
        text = entry.customer if self.reader == "customer" and entry.customer is not None else entry.staff
        return text.format(**values) if values else text

    def text(self, words: Words) -> str:
        """Return what this reader is shown of a text; the staff's where nothing is written for a customer."""
        return words.customer if self.reader == "customer" and words.customer else words.staff

    def for_reader(self, words: Words) -> str | None:
        """Return the text for this reader, or None where a customer is not to be shown it."""
        return words.customer if self.reader == "customer" else words.staff

    def value(self, finding: str, value: str) -> str:
        """Return a value of a finding in words."""
        entry = self.knowledge.findings[finding].values[value]
        return entry.customer if self.reader == "customer" and entry.customer else entry.staff

    def question(self, finding: str) -> str:
        """Return what is asked or looked at."""
        return self.text(self.knowledge.findings[finding].question)

    def short(self, finding: str) -> str:
        """Return the short name of a finding, as it stands before an answer; its question where it has none."""
        key = f"name-{finding}"
        return self.say(key) if key in self.knowledge.screen else self.question(finding)

    def cause(self, cause: str) -> str:
        """Return the title of a cause; it reads well in "the cause is ..."."""
        return self.text(self.knowledge.causes[cause].title)

    def likely(self, probability: float) -> str:
        """Return the word for a probability."""
        spoken = [entry for entry in self.knowledge.spoken if entry.from_ <= probability + 1e-12]
        return spoken[-1].customer if self.reader == "customer" else spoken[-1].staff

    def in_ten(self, probability: float) -> str:
        """Return a probability as so many in ten."""
        if probability < _LEAST_TOLD:
            return self.say("under-one-in-hundred")
        if probability < _LEAST_IN_TEN:
            return self.say("one-in", count=round(1 / probability))
        if probability > _MOST_IN_TEN:
            return self.say("over-nine-in-ten")
        return self.say("in-ten", count=max(1, min(_TENTHS - 1, round(probability * _TENTHS))))
