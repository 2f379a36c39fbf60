"""Every question of reckoning by name, in the order in which they are shown."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from diagnose.reckoning import (
    beat_questions,
    length_questions,
    nut_questions,
    rate_questions,
    spring_questions,
    train_questions,
)
from diagnose.reckoning.answers import Question

QUESTIONS: Mapping[str, Question] = MappingProxyType(
    {
        question.name: question
        for part in (
            length_questions,
            nut_questions,
            beat_questions,
            train_questions,
            spring_questions,
            rate_questions,
        )
        for question in part.QUESTIONS
    }
)
GROUPS: tuple[str, ...] = tuple(dict.fromkeys(question.group for question in QUESTIONS.values()))
