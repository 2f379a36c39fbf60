"""What a question of reckoning answers: sentences by name, figures by name, and how numbers are shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from diagnose.mechanics.comparing import minutes_a_week
from diagnose.model.quantities import inches
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reckoning.given import Field, Given

Figure = float | int | str | bool | None | list[dict[str, object]]
KEEPS_S_PER_DAY = 0.005
"""A rate below this is told as none [s/day]."""
FINE_S_PER_DAY = 10.0
"""A smaller rate is told to a hundredth, a larger one to a tenth or a second [s/day]."""
COARSE_S_PER_DAY = 100.0
TWO_DIGITS_BELOW = 3.0


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence, or part of one: its phrase and what is filled in; a filled-in line is said first."""

    phrase: str
    values: Mapping[str, object] = field(default_factory=dict)

    def said(self, wording: Wording) -> str:
        """Return the line in the words of a reader."""
        filled = {
            name: value.said(wording) if isinstance(value, Line) else value for name, value in self.values.items()
        }
        return wording.say(self.phrase, **filled)


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a question.

    Parameters
    ----------
    lines : tuple of Line
        The answer first, then its limits.
    figures : mapping of str to figure
        The same as plain numbers; each name says its unit.
    no : bool
        Whether the answer is no: it does not run, no such train.
    cautions : tuple of str
        Ids of cautions that stand before an act.
    """

    lines: tuple[Line, ...]
    figures: Mapping[str, Figure]
    no: bool = False
    cautions: tuple[str, ...] = ()

    def said(self, wording: Wording) -> list[str]:
        """Return the answer in the words of a reader, a sentence or two a line."""
        return [text for line in self.lines if (text := line.said(wording))]


@dataclass(frozen=True, slots=True)
class Question:
    """A question that can be asked.

    Parameters
    ----------
    name : str
        Its name as a command; in words it is the phrase `reckon-ask-<name>`.
    group : str
        Under which heading it stands, the phrase `reckon-group-<group>`.
    fields : tuple of Field
        What it asks for.
    answer : callable
        From what was given, and the usual sizes in the knowledge, to the answer.
    for_customers : bool
        Whether it is of use to an owner too.
    """

    name: str
    group: str
    fields: tuple[Field, ...]
    answer: Callable[[Given, Knowledge], Answer]
    for_customers: bool = False

    def answered(self, texts: Mapping[str, str], knowledge: Knowledge) -> Answer:
        """Return the answer to what was typed.

        Parameters
        ----------
        texts : mapping of str to str
            By the name of the field.
        knowledge : Knowledge
            Holds the usual sizes of each family of clocks.

        Raises
        ------
        StoppedClockError
            If a text cannot be read or the question cannot be answered with what was given.
        """
        return self.answer(Given(self.fields, texts), knowledge)


def length_text(mm: float) -> str:
    """Return a length in both units, finer where it is smaller."""
    size = abs(mm)
    decimals = 1 if size >= 100 else 2 if size >= 1 else 3
    return f"{mm:.{decimals}f} mm ({inches(mm):.{decimals + 1}f} in)"


def unsure_text(unsure: float) -> str:
    """Return a standard uncertainty, rounded up so that it is never shown as none: one digit, two from 1 to 2.9."""
    if unsure <= 0:
        return "0"
    size = math.floor(math.log10(unsure))
    places = (1 if unsure / 10**size < TWO_DIGITS_BELOW else 0) - size
    rounded = math.ceil(unsure * 10**places - 1e-9) / 10**places
    return f"{rounded:.{max(places, 0)}f}"


def degrees_text(degrees: float) -> str:
    """Return an angle in degrees."""
    return f"{degrees:.2f}"


def seconds_text(s_per_day: float) -> str:
    """Return the size of a rate in seconds a day."""
    size = abs(s_per_day)
    return f"{size:.{2 if size < FINE_S_PER_DAY else 1 if size < COARSE_S_PER_DAY else 0}f}"


def rate(s_per_day: float, unsure: float = 0.0) -> Line:
    """Return a rate as part of a sentence: "gains 75.3 s a day (8.8 min a week)"."""
    if abs(s_per_day) < KEEPS_S_PER_DAY:
        return Line("reckon-rate-keeps")
    values: dict[str, object] = {
        "rate": seconds_text(s_per_day),
        "week": f"{abs(minutes_a_week(s_per_day)):.1f}",
        "unsure": give_or_take(unsure),
    }
    return Line("reckon-rate-gains" if s_per_day > 0 else "reckon-rate-loses", values)


def give_or_take(unsure: float, unit: str = "") -> Line | str:
    """Return ", +- 0.5 mm" where something is unsure, else nothing; it never breaks at the end of a line."""
    after = f"\N{NO-BREAK SPACE}{unit}" if unit else ""
    return Line("reckon-unsure", {"unsure": unsure_text(unsure), "unit": after}) if unsure > 0 else ""


def field_words(question: Question, field: Field, wording: Wording) -> str:
    """Return what a field asks for; a question may have words of its own for it."""
    own = f"reckon-field-{question.name}-{field.name}"
    return wording.say(own if own in wording.knowledge.screen else f"reckon-field-{field.name}")
