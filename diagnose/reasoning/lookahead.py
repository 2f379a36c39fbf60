"""What a step is worth: its cost and what is expected after it, one step ahead, and two for the best few.

Weights are those of sets of causes and are not normalized, so that a weight times minutes adds up over
answers without further probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.outlook import (
    CURED,
    NO_QUESTION_RATE,
    UNMOVED,
    Outlook,
    Prices,
    Question,
    information_nats,
    minutes_per_nat,
    outlook_for_classes,
    prices_of,
)
from diagnose.reasoning.planning import Floats, Ints, best_remedies, refer_cost

__all__ = [
    "CURED", "NO_QUESTION_RATE", "UNMOVED", "Choice", "Outlook", "Prices", "Question", "choose", "information_nats",
    "minutes_per_nat", "outlook_for_classes", "prices_of", "values_of_asking", "values_of_doing",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class _States:
    """States of knowledge, one a row: weights (B, S), level (B,), tries (B, R), told truth (B, N)."""

    weights: Floats
    level: Ints
    tries: Ints
    truth: Floats

    def row(self, number: int) -> _States:
        one = slice(number, number + 1)
        return _States(self.weights[one], self.level[one], self.tries[one], self.truth[one])

    @staticmethod
    def joined(states: Sequence[_States]) -> _States:
        return _States(
            np.concatenate([state.weights for state in states]),
            np.concatenate([state.level for state in states]),
            np.concatenate([state.tries for state in states]),
            np.concatenate([state.truth for state in states]),
        )


def _root(outlook: Outlook, weights: Floats, level: int) -> _States:
    tries = outlook.repairs.tries[None, :]
    return _States(weights[None, :], np.array([level], dtype=np.intp), tries, outlook.truth[level][None, :])


def _after_asking(outlook: Outlook, state: _States, question: Question, truth: Floats) -> _States:
    """Return the states after a question, from one row: a row for each value said, then "cannot tell"."""
    reached = max(int(state.level[0]), question.reach)
    likelihood = np.concatenate(
        [(1.0 - question.unknown) * question.said, np.full_like(question.said[:1], question.unknown)]
    )
    rows = len(likelihood)
    return _States(
        likelihood * state.weights,
        np.full(rows, reached, dtype=np.intp),
        np.repeat(state.tries, rows, axis=0),
        np.repeat(truth[reached][None, :], rows, axis=0),
    )


def _after_doing(outlook: Outlook, state: _States, remedy: int, truth: Floats) -> tuple[_States, Floats]:
    """Return the state after one try of a remedy, from one row, and the told truth from there."""
    level = outlook.repairs.ladder.after_repair(state.level, outlook.repairs.reach[remedy : remedy + 1])
    truth = outlook.truth_after(state.tries[0], remedy, truth)
    tries = state.tries.copy()
    tries[:, remedy] -= 1
    after = _States(outlook.weights_after(state.weights[0], remedy)[None, :], level, tries, truth[level])
    return after, truth


def _ask_minutes(outlook: Outlook, state: _States, question: Question) -> float:
    opening = outlook.repairs.ladder.minutes[int(state.level[0]), question.reach]
    return float((question.minutes + opening) * state.weights.sum())


def _do_minutes(outlook: Outlook, state: _States, remedy: int) -> float:
    repairs = outlook.repairs
    opening = repairs.ladder.minutes[int(state.level[0]), repairs.reach[remedy]]
    return float((repairs.minutes[remedy] + opening) * (state.weights[0] @ outlook.uncured))


def _values(outlook: Outlook, groups: Sequence[tuple[float, _States]]) -> Floats:
    """Return cost and summed V of each group of states, all weighed in one go."""
    if not groups:
        return np.zeros(0)
    states = _States.joined([state for _, state in groups])
    value = outlook.value(states.weights, states.level, states.tries, states.truth)
    starts = np.cumsum([0, *(len(state.level) for _, state in groups[:-1])])
    cost = np.array([minutes for minutes, _ in groups])
    return np.asarray(cost + np.add.reduceat(value, starts))


def values_of_asking(outlook: Outlook, questions: Sequence[Question], weights: Floats, level: int) -> Floats:
    """Return the expected minutes, shape (Q,), of asking each question and going on with V. [min]"""
    return _values(outlook, _asking(outlook, _root(outlook, weights, level), questions))


def _asking(outlook: Outlook, root: _States, questions: Sequence[Question]) -> list[tuple[float, _States]]:
    return [
        (_ask_minutes(outlook, root, question), _after_asking(outlook, root, question, outlook.truth))
        for question in questions
    ]


def values_of_doing(outlook: Outlook, weights: Floats, level: int, remedies: Sequence[int]) -> Floats:
    """Return the expected minutes, shape (len(remedies),), of each remedy now and going on with V. [min]"""
    return _values(outlook, _doing(outlook, _root(outlook, weights, level), remedies))


def _doing(outlook: Outlook, root: _States, remedies: Sequence[int]) -> list[tuple[float, _States]]:
    return [
        (_do_minutes(outlook, root, remedy), _after_doing(outlook, root, remedy, outlook.truth)[0])
        for remedy in remedies
    ]


@dataclass(frozen=True, slots=True)
class _Second:
    """A state one step ahead, with the steps looked at from there, numbered as groups; -1 is referring."""

    refer: float
    groups: tuple[int, ...]


def values_two_steps(
    outlook: Outlook,
    questions: Sequence[Question],
    asks: Sequence[int],
    remedies: Sequence[int],
    weights: Floats,
    level: int,
) -> tuple[Floats, Floats]:
    """Return the expected minutes of the best few steps, looked at two steps ahead. [min]

    After each of them the clock is handed on, one of `questions` is asked, or the remedy that mends most
    for its minutes is done; V stands after that, with the same rate.

    Parameters
    ----------
    outlook : Outlook
        With the rate of the root.
    questions : sequence of Question
        The few best questions.
    asks : sequence of int
        Which of `questions` are steps to be looked at.
    remedies : sequence of int
        Which remedies are.
    weights : ndarray, shape (S,)
        Weights of the sets.
    level : int
        How far the clock is open.

    Returns
    -------
    asked : ndarray, shape (len(asks),)
    done : ndarray, shape (len(remedies),)
    """
    root = _root(outlook, weights, level)
    groups: list[tuple[float, _States]] = []
    firsts: list[tuple[float, list[_Second]]] = []
    for number in asks:
        after = _after_asking(outlook, root, questions[number], outlook.truth)
        others = [question for place, question in enumerate(questions) if place != number]
        seconds = _seconds(outlook, after, others, outlook.truth, groups)
        firsts.append((_ask_minutes(outlook, root, questions[number]), seconds))
    for remedy in remedies:
        after, truth = _after_doing(outlook, root, remedy, outlook.truth)
        seconds = _seconds(outlook, after, questions, truth, groups)
        firsts.append((_do_minutes(outlook, root, remedy), seconds))
    values = _values(outlook, groups)
    total = np.array(
        [
            cost + sum(min([second.refer, *(float(values[group]) for group in second.groups)]) for second in seconds)
            for cost, seconds in firsts
        ]
    )
    return total[: len(asks)], total[len(asks) :]


def _seconds(
    outlook: Outlook,
    after: _States,
    questions: Sequence[Question],
    truth: Floats,
    groups: list[tuple[float, _States]],
) -> list[_Second]:
    """Add the second steps from each row to `groups`, and return their numbers for each row."""
    classes = after.weights @ outlook.merge
    uncured = classes * outlook.repairs.uncured
    refer = refer_cost(outlook.repairs, uncured)
    best = best_remedies(outlook.repairs, uncured, after.level, after.tries)
    seconds = []
    for row in range(len(after.level)):
        state = after.row(row)
        first = len(groups)
        for question in questions:
            groups.append((_ask_minutes(outlook, state, question), _after_asking(outlook, state, question, truth)))
        if best[row] >= 0:
            remedy = int(best[row])
            groups.append((_do_minutes(outlook, state, remedy), _after_doing(outlook, state, remedy, truth)[0]))
        seconds.append(_Second(float(refer[row]), tuple(range(first, len(groups)))))
    return seconds


# Two steps are looked ahead for so many of the best questions and remedies, with so many questions after them.
TWO_STEP_ASKS, TWO_STEP_DOES, SECOND_ASKS = 2, 1, 3


@dataclass(frozen=True, slots=True)
class Choice:
    """Expected minutes of questions and remedies.

    Parameters
    ----------
    asks, does : tuple of (int, float)
        The few best, looked at two steps ahead: position of the question, or the remedy, and its value. [min]
    asks_once, does_once : tuple of (int, float)
        All that were looked at, one step ahead. [min]
    """

    asks: tuple[tuple[int, float], ...]
    does: tuple[tuple[int, float], ...]
    asks_once: tuple[tuple[int, float], ...]
    does_once: tuple[tuple[int, float], ...]


def choose(
    outlook: Outlook, questions: Sequence[Question], remedies: Sequence[int], weights: Floats, level: int
) -> Choice:
    """Return what questions and remedies come to, the best of them looked at a second time.

    The step with the least value of `asks` and `does`, or referring where that is less, is the one to take.
    """
    root = _root(outlook, weights, level)
    once = _values(outlook, [*_asking(outlook, root, questions), *_doing(outlook, root, remedies)])
    asked, done = once[: len(questions)], once[len(questions) :]
    near = [int(place) for place in np.argsort(asked, kind="stable")[:SECOND_ASKS]]
    first = [remedies[int(place)] for place in np.argsort(done, kind="stable")[:TWO_STEP_DOES]]
    count = min(len(near), TWO_STEP_ASKS)
    twice, repaired = values_two_steps(
        outlook, [questions[place] for place in near], range(count), first, weights, level
    )
    return Choice(
        tuple(zip(near[:count], twice.tolist(), strict=True)),
        tuple(zip(first, repaired.tolist(), strict=True)),
        tuple(enumerate(asked.tolist())),
        tuple(zip(remedies, done.tolist(), strict=True)),
    )
