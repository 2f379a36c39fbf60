"""Checks on words: reading grade, not knowing taken for a value, figures without a source."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pydantic import BaseModel

from diagnose.model.entries import Value, Words
from diagnose.model.reading import Knowledge

Found = Iterator[tuple[str, str, str]]
# The highest Flesch-Kincaid grade that each reader is asked to follow.
GRADES = {"staff": 8.0, "customer": 6.0}
# The formula was made for running text; below so many words one long name of a part decides it.
FEWEST_WORDS = 12
READ_BY_PEOPLE = (
    "findings", "causes", "rules", "remedies", "cautions", "alarms", "parts", "places", "subsystems", "doors", "clocks",
)  # fmt: skip
NOT_KNOWING = re.compile(r"\b(unknown|not[- ]known|cannot[- ]tell|don'?t[- ]know|not[- ]sure|unsure)\b", re.IGNORECASE)
FIGURE = re.compile(r"\d+(?:[.,]\d+)?\s?(?:%|mm|cm|kg|s/day|seconds? a day)")


def texts_of(entry: BaseModel) -> Iterator[tuple[str, str]]:
    """Yield reader ("staff" or "customer") and text for each text of an entry that a person reads."""
    held: list[object] = [entry]
    while held:
        item = held.pop()
        if isinstance(item, Words | Value):
            yield "staff", item.staff
            if item.customer is not None:
                yield "customer", item.customer
        elif isinstance(item, BaseModel):
            held.extend(getattr(item, name) for name in type(item).model_fields)
        elif isinstance(item, dict):
            held.extend(item.values())
        elif isinstance(item, tuple):
            held.extend(item)


def hard_to_read(knowledge: Knowledge) -> Found:
    """A text above the reading grade of who reads it (Flesch-Kincaid)."""
    from textstat import flesch_kincaid_grade

    for collection in READ_BY_PEOPLE:
        for key, entry in getattr(knowledge, collection).items():
            for reader, text in texts_of(entry):
                if len(text.split()) < FEWEST_WORDS:
                    continue
                grade = flesch_kincaid_grade(text)
                if grade > GRADES[reader]:
                    yield collection, key, f"reading grade {grade:.1f} for {reader}, at most {GRADES[reader]:g}: {text}"


def unknown_as_content(knowledge: Knowledge) -> Found:
    """A value or a saying that means "I do not know": that is a state of the answer, never a value."""
    for key, entry in knowledge.findings.items():
        for name, value in entry.values.items():
            for text in (name, value.staff, *value.said_like):
                if NOT_KNOWING.search(text):
                    yield "findings", key, f"value '{name}' says that nobody knows: '{text}'"
                    break


def source_not_named(knowledge: Knowledge) -> Found:
    """A figure in a link whose entry names nothing but common practice."""
    for key, cause in knowledge.causes.items():
        for link in cause.shows:
            if FIGURE.search(link.why) and link.source == "practice" and set(cause.sources) == {"practice"}:
                yield "causes", key, f"gives a figure without a source: '{link.why}'"


def source_not_used(knowledge: Knowledge) -> Found:
    """A text in the list of sources on which nothing rests."""
    named: set[str] = set()
    for collection in ("findings", "causes", "rules", "remedies", "alarms", "parts", "clocks"):
        for entry in getattr(knowledge, collection).values():
            named.update(entry.sources)
    named.update(link.source for cause in knowledge.causes.values() for link in cause.shows)
    named.update(name for caution in knowledge.cautions.values() for name in caution.authority)
    named.update(word.source for word in knowledge.probabilities.values())
    for key in knowledge.sources:
        if key not in named:
            yield "sources", key, "nothing rests on it"
