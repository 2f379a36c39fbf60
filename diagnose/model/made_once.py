"""What is made from a whole knowledge is made once, and made anew only for another knowledge."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from diagnose.model.reading import Knowledge

Made = TypeVar("Made")


def made_once(make: Callable[[Knowledge], Made]) -> Callable[[Knowledge], Made]:
    """Return a function that keeps what was made for the knowledge asked for last.

    A knowledge cannot be hashed, and its id may pass to another one: it is kept beside what was made of it.
    """
    kept: list[tuple[Knowledge, Made]] = []

    @wraps(make)
    def made(knowledge: Knowledge) -> Made:
        for before, value in kept:
            if before is knowledge:
                return value
        value = make(knowledge)
        kept[:] = [(knowledge, value)]
        return value

    return made
