"""Cases drawn from the base itself: what is wrong, what shows, and what is said about it."""

from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.tables import Base
from diagnose.settings import DEFAULT

# One answer in five is a "think so"; with the rates below that makes 10 % wrong answers in all.
THINK_SO = 0.2
WRONG = {"sure": DEFAULT.wrong_sure, "think-so": DEFAULT.wrong_think_so}
UNKNOWN = DEFAULT.unknown
MOST_FAULTS = 3


@dataclass(frozen=True)
class Erring:
    """How often an answer is wrong, by its certainty, and how often it is "cannot tell"."""

    sure: float = WRONG["sure"]
    think_so: float = WRONG["think-so"]
    unknown: float = UNKNOWN

    @property
    def mean(self) -> float:
        """Chance that an answer is wrong, over both certainties."""
        return (1 - THINK_SO) * self.sure + THINK_SO * self.think_so


ERRING = Erring()
PERFECT = Erring(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class DrawnCase:
    """One clock: the causes that are there (None: a fault that is not on the list) and what shows."""

    causes: frozenset[int] | None
    shows: dict[str, int]


@dataclass(frozen=True)
class DrawnAnswer:
    """What is said of one finding: position of the value, or None for "cannot tell"."""

    value: int | None
    certainty: str


def draw_causes(base: Base, random: np.random.Generator) -> frozenset[int] | None:
    """Return the causes of one clock, drawn from the prior."""
    thrown = random.random()
    if thrown < base.none_of_these:
        return None
    if thrown < base.none_of_these + base.nothing_wrong:
        return frozenset()
    chance = base.odds / (1 + base.odds)
    while True:
        there = np.flatnonzero(random.random(len(chance)) < chance)
        if 1 <= len(there) <= MOST_FAULTS:
            return frozenset(there.tolist())


def draw_value(base: Base, finding: str, causes: frozenset[int] | None, random: np.random.Generator) -> int:
    """Return the true value of one finding of a clock."""
    table = base.tables[finding]
    chance = table.other if causes is None else table.given(sorted(causes))
    return int(random.choice(len(chance), p=chance / chance.sum()))


def draw_case(base: Base, random: np.random.Generator) -> DrawnCase:
    """Return one clock with all its findings."""
    causes = draw_causes(base, random)
    return DrawnCase(causes, {name: draw_value(base, name, causes, random) for name in base.tables})


def draw_answer(true_value: int, count: int, random: np.random.Generator, erring: Erring = ERRING) -> DrawnAnswer:
    """Return what is said of a finding with `count` values."""
    if random.random() < erring.unknown:
        return DrawnAnswer(None, "sure")
    certainty = "think-so" if random.random() < THINK_SO else "sure"
    if random.random() >= (erring.think_so if certainty == "think-so" else erring.sure):
        return DrawnAnswer(true_value, certainty)
    others = [value for value in range(count) if value != true_value]
    return DrawnAnswer(int(random.choice(others)), certainty)


def draw_complaint(base: Base, case: DrawnCase, random: np.random.Generator) -> str | None:
    """Return the finding that the owner complains of unasked: an abnormal one that shows, the likelier first."""
    abnormal = [
        name for name, table in base.tables.items() if table.kind != "circumstance" and case.shows[name] != table.normal
    ]
    return str(random.choice(abnormal)) if abnormal else None
