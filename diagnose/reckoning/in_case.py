"""Reckoning inside a consultation: what the case knows is filled in, and a step of a remedy names its questions."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from diagnose import history
from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.near_names import near
from diagnose.reckoning.answers import Answer, Question
from diagnose.reckoning.beat_questions import FAMILIES
from diagnose.reckoning.questions import QUESTIONS

# Questions about the clock as it beats; all others mean the beat it was made for.
AS_IT_BEATS = frozenset({"length", "trains"})


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A question as far as the case can answer it.

    Parameters
    ----------
    question : Question
        The question.
    texts : mapping of str to str
        What the case knows of its fields.
    answer : Answer or None
        The answer; None where something is needed that the case does not know.
    """

    question: Question
    texts: Mapping[str, str]
    answer: Answer | None


def reckoned_at_step(consultation: Consultation) -> tuple[Reckoned, ...]:
    """Return the questions that the step at work names, each answered as far as the case knows enough."""
    walk = consultation.walk
    if walk is None:
        return ()
    step = consultation.knowledge.remedies[walk.remedy].steps[walk.step]
    return tuple(reckoned(consultation, QUESTIONS[name]) for name in step.reckon if name in QUESTIONS)


def reckoned(consultation: Consultation, question: Question) -> Reckoned:
    """Return a question with what the case knows filled in, and its answer where that is enough."""
    texts = known(consultation, question)
    try:
        return Reckoned(question, texts, question.answered(texts, consultation.knowledge))
    except StoppedClockError:
        return Reckoned(question, texts, None)


def known(consultation: Consultation, question: Question) -> dict[str, str]:
    """Return what the case knows of a question's fields, as it would be typed."""
    heard, clock = _last_heard(consultation), consultation.case.clock
    asked = {field.name for field in question.fields}
    found: dict[str, str | None] = {
        "family": clock.family if clock.family in FAMILIES else None,
        "beats": _beats(heard, clock.beats_per_hour, question),
        **_beat_error(heard),
    }
    return {name: text for name, text in found.items() if text is not None and name in asked}


def _last_heard(consultation: Consultation) -> Mapping[str, Any]:
    """Return what was heard last since the last remedy; empty where nothing was."""
    for event in reversed(history.since_last_tried(consultation.case.events, consultation.knowledge)):
        if isinstance(event, ev.Heard) and event.beats and not event.beats.get("refused"):
            return event.beats
    return {}


def _beats(heard: Mapping[str, Any], made_for: float | None, question: Question) -> str | None:
    measured, unsure = heard.get("beats_per_hour"), (heard.get("uncertainty") or {}).get("beats_per_hour")
    if question.name not in AS_IT_BEATS or measured is None:
        nominal = made_for or heard.get("nominal_beats_per_hour") or measured
        return None if nominal is None else f"{nominal:g}"
    return f"{measured:.6g}" if not unsure else f"{measured:.6g} +- {unsure:.2g}"


def _beat_error(heard: Mapping[str, Any]) -> dict[str, str | None]:
    percent, early = heard.get("beat_error_percent"), heard.get("early_side", "unknown")
    unsure = (heard.get("uncertainty") or {}).get("beat_error_percent")
    return {
        "error": None if percent is None else f"{abs(percent):.1f}",
        "unsure": None if percent is None or unsure is None else f"{unsure:.2g}",
        "early": None if percent is None or early == "unknown" else str(early),
    }


def answer_to_typed(consultation: Consultation, line: str) -> Answer:
    """Return the answer to a typed question: its name, then name=value for what the case does not know.

    Parameters
    ----------
    consultation : Consultation
        The case.
    line : str
        Such as "by-hand right='20 mm' left='30 mm' radius='1050 mm'".

    Raises
    ------
    StoppedClockError
        If there is no such question or field, or it cannot be answered with what is known.
    """
    try:
        name, *pairs = shlex.split(line)
    except ValueError:
        raise UsageError(f"'{line}' is no question", do="Write its name, then name='value' for each size") from None
    question = QUESTIONS.get(name)
    if question is None:
        raise UsageError(f"no question '{name}'{near(name, QUESTIONS)}", do=f"One of {', '.join(QUESTIONS)}")
    texts = known(consultation, question)
    asked = [field.name for field in question.fields]
    for pair in pairs:
        field, equals, text = pair.partition("=")
        if not equals or field not in asked:
            raise UsageError(
                f"'{pair}' is nothing that is asked for", name, f"Write name=value; names: {', '.join(asked)}"
            )
        texts[field] = text
    return question.answered(texts, consultation.knowledge)
