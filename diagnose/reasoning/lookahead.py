"""What a step is worth: its cost and what is expected after it, one step ahead, and two for the best few.

Weights are those of sets of causes and are not normalized, so that a weight times minutes adds up over
answers without further probabilities.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.reasoning.costs import Ladder
from diagnose.reasoning.planning import (
    NO_WEIGHT,
    Floats,
    Ints,
    Repairs,
    best_remedies,
    entropy_nats,
    refer_cost,
    repairs_only,
    told_truth,
)

# The rate of information is the mean over this many of the cheapest questions, fewer when few are left.
RATE_QUESTIONS, RATE_QUESTIONS_FEW, FEW_QUESTIONS = 5, 2, 10
# Below this many nats a question says nothing; above it its price per nat is a number to reckon with.
LEAST_INFORMATION = 1e-9
# Where nothing is left to ask, a nat cannot be had at any price. [min/nat]
NO_QUESTION_RATE = 1e9
CURED, UNMOVED = -2, -1


@dataclass(frozen=True, slots=True)
class Question:
    """A question as the planner sees it.

    Parameters
    ----------
    said : ndarray, shape (V, S)
        Chance that each value is *said*, for each set.
    minutes : float
        Minutes, opening left out. [min]
    reach : int
        How far the clock must be open.
    unknown : float
        Chance of "cannot tell".
    """

    said: Floats
    minutes: float
    reach: int
    unknown: float


@dataclass(frozen=True, slots=True)
class Outlook:
    """What decides the value of a state: the repairs, the told-truth minutes, and one rate for all of them.

    Parameters
    ----------
    repairs : Repairs
        What can be done, over N classes.
    truth : ndarray, shape (L, N)
        From `told_truth`. [min]
    rate : float
        Minutes that a nat of information costs; fixed at the root. [min/nat]
    merge : ndarray, shape (S, N)
        1 where a set belongs to a class.
    moves : ndarray of int, shape (R, S)
        The set that a set becomes when a remedy works: `CURED`, or `UNMOVED` where it does nothing for it.
    """

    repairs: Repairs
    truth: Floats
    rate: float
    merge: Floats
    moves: Ints

    def value(self, weights: Floats, level: Ints, tries: Ints | None = None, truth: Floats | None = None) -> Floats:
        """Return V = min(repairs only, told truth + rate x entropy), shape (B,), of weights (B, S). [min]

        `tries`, shape (B, R), and `truth`, shape (B, N), stand in where a remedy has been tried meanwhile.
        """
        classes = weights @ self.merge
        known = (classes * (self.truth[level] if truth is None else truth)).sum(axis=1)
        asked = known + self.rate * entropy_nats(classes)
        value: Floats = np.minimum(repairs_only(self.repairs, classes, level, tries), asked)
        return value

    def truth_after(self, tries: Ints, remedy: int, truth: Floats) -> Floats:
        """Return the told-truth minutes, shape (L, N), when one more try of a remedy has failed. [min]

        Where a further try is left they stay nearly as they are (`truth`); after the last one the causes it
        was for need something else.
        """
        if tries[remedy] > 1:
            return truth
        spent = tries.copy()
        spent[remedy] = 0
        return told_truth(replace(self.repairs, tries=spent))

    def weights_after(self, weights: Floats, remedy: int) -> Floats:
        """Return the weights, shape (S,), that one try of a remedy leaves uncured."""
        moves = self.moves[remedy]
        works = float(self.repairs.cures[:, remedy].max(initial=0.0))
        left = np.where(moves == UNMOVED, weights, (1.0 - works) * weights)
        moved = np.flatnonzero(moves >= 0)
        np.add.at(left, moves[moved], works * weights[moved])
        return np.asarray(left * self.uncured)

    @property
    def uncured(self) -> Floats:
        """1 for each set with a need, shape (S,)."""
        return np.asarray(self.merge @ (self.repairs.needs >= 0).any(axis=1).astype(float))


def outlook_for_classes(repairs: Repairs, rate: float) -> Outlook:
    """Return the outlook where each set is a class of its own; the classes must be closed under cures."""
    classes = [frozenset(int(need) for need in row if need >= 0) for row in repairs.needs]
    place = {needs: number for number, needs in enumerate(classes)}
    moves = np.full((len(repairs.minutes), len(classes)), UNMOVED, dtype=np.intp)
    for remedy in range(len(repairs.minutes)):
        for number, needs in enumerate(classes):
            rest = frozenset(need for need in needs if repairs.cures[need, remedy] <= 0)
            if rest != needs:
                moves[remedy, number] = place[rest] if rest else CURED
    return Outlook(repairs, told_truth(repairs), rate, np.eye(len(classes)), moves)


def information_nats(joint: Floats) -> float:
    """Return the information between rows and columns of joint weights, shape (V, N). [nat]"""
    total = joint.sum()
    if total <= 0:
        return 0.0
    share = joint / total
    outer = share.sum(axis=1, keepdims=True) * share.sum(axis=0, keepdims=True)
    ratio = np.log(np.maximum(share, NO_WEIGHT) / np.maximum(outer, NO_WEIGHT))
    return max(0.0, float((share * ratio).sum()))


def minutes_per_nat(questions: Sequence[Question], weights: Floats, merge: Floats, ladder: Ladder, level: int) -> float:
    """Return what a nat costs: the mean over the five (two where few are left) cheapest questions. [min/nat]

    The information is that about the needs, since only these decide what is done.
    """
    prices = []
    for question in questions:
        nats = (1.0 - question.unknown) * information_nats((question.said * weights) @ merge)
        if nats > LEAST_INFORMATION:
            prices.append((question.minutes + float(ladder.minutes[level, question.reach])) / nats)
    if not prices:
        return NO_QUESTION_RATE
    count = RATE_QUESTIONS if len(questions) >= FEW_QUESTIONS else RATE_QUESTIONS_FEW
    return min(float(np.mean(sorted(prices)[:count])), NO_QUESTION_RATE)


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
    root = _root(outlook, weights, level)
    return _values(
        outlook,
        [
            (_ask_minutes(outlook, root, question), _after_asking(outlook, root, question, outlook.truth))
            for question in questions
        ],
    )


def values_of_doing(outlook: Outlook, weights: Floats, level: int, remedies: Sequence[int]) -> Floats:
    """Return the expected minutes, shape (len(remedies),), of each remedy now and going on with V. [min]"""
    root = _root(outlook, weights, level)
    return _values(
        outlook,
        [
            (_do_minutes(outlook, root, remedy), _after_doing(outlook, root, remedy, outlook.truth)[0])
            for remedy in remedies
        ],
    )


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
    uncured = classes * (outlook.repairs.needs >= 0).any(axis=1)
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
    asked = values_of_asking(outlook, questions, weights, level)
    done = values_of_doing(outlook, weights, level, remedies)
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
