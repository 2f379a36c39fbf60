"""The exact optimum of small diagnosis problems by backward induction, and the exact cost of the planner on them.

One fault or a fault not on the list; each remedy is tried at most once; answers and remedies only grow, so
that one pass from "everything asked and done" back to "nothing" gives the optimum.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from diagnose.reasoning.costs import ladder_of
from diagnose.reasoning.lookahead import (
    NO_QUESTION_RATE,
    Question,
    choose,
    minutes_per_nat,
    outlook_for_classes,
)
from diagnose.reasoning.planning import Repairs, refer_cost

# States of a question: not asked, said the first value, said the second, cannot tell.
UNASKED, CANNOT_TELL = 0, 3
RUNGS = np.array([0.0, 3.0, 6.0, 25.0])
PROOF_LEVEL = 2
REFER_MINUTES = 240.0


@dataclass(frozen=True)
class SmallProblem:
    """Causes 0 to C-1 with a remedy each, a fault not on the list, and two-valued questions."""

    prior: np.ndarray  # (C + 1,)
    said: np.ndarray  # (Q, 2, C + 1), chance of what is said
    unknown: float
    question_minutes: np.ndarray
    question_reach: np.ndarray
    remedy_minutes: np.ndarray
    remedy_reach: np.ndarray
    works: np.ndarray

    @property
    def causes(self):
        return len(self.prior) - 1

    @property
    def questions(self):
        return len(self.said)

    @cached_property
    def ladder(self):
        return ladder_of(RUNGS, PROOF_LEVEL)

    @cached_property
    def repairs(self):
        causes = self.causes
        return Repairs(
            needs=np.append(np.arange(causes), causes)[:, None].astype(np.intp),
            cures=np.vstack([np.diag(self.works), np.zeros(causes)]),
            minutes=self.remedy_minutes,
            reach=self.remedy_reach,
            tries=np.ones(causes, dtype=np.intp),
            ladder=self.ladder,
            refer_minutes=REFER_MINUTES,
        )

    def question(self, number):
        return Question(
            self.said[number],
            float(self.question_minutes[number]),
            int(self.question_reach[number]),
            self.unknown,
        )

    @cached_property
    def outcomes(self):
        """Likelihood of each state of a question, shape (Q, 4, C + 1)."""
        unasked = np.ones((self.questions, 1, self.causes + 1))
        told = (1 - self.unknown) * self.said
        untold = np.full((self.questions, 1, self.causes + 1), self.unknown)
        return np.concatenate([unasked, told, untold], axis=1)


def drawn_problem(seed, causes=6, questions=7, wrong=0.10, unknown=0.15, works=(0.7, 0.98)):
    """Return a seeded sub-base: each cause shows half of the signs, each sign leaks a little."""
    random = np.random.default_rng(seed)
    weights = random.choice([8.0, 4.0, 2.0, 1.0], causes, p=[0.1, 0.2, 0.4, 0.3])
    prior = np.append(0.95 * weights / weights.sum(), 0.05)
    words = random.choice([0.99, 0.85, 0.75, 0.5, 0.25], (questions, causes), p=[0.1, 0.25, 0.25, 0.25, 0.15])
    shown = np.where(random.random((questions, causes)) < 0.5, words, 0.03)
    shown = np.column_stack([shown, shown @ prior[:-1] / prior[:-1].sum()])
    yes = wrong + (1 - 2 * wrong) * shown
    return SmallProblem(
        prior=prior,
        said=np.stack([1 - yes, yes], axis=1),
        unknown=unknown,
        question_minutes=random.choice([1.0, 2.0, 3.0, 5.0, 10.0], questions),
        question_reach=random.choice([0, 0, 1, 1, 2], questions).astype(np.intp),
        remedy_minutes=random.choice([5.0, 10.0, 20.0, 30.0, 45.0], causes) + 5.0,
        remedy_reach=random.choice([0, 1, 1, 2, 3], causes).astype(np.intp),
        works=random.uniform(*works, causes),
    )


def optimum(problem):
    """Return the least expected minutes of any policy."""
    questions, causes = problem.questions, problem.causes
    levels, done_masks = len(RUNGS), 2**causes
    table = np.empty((4,) * questions + (done_masks, levels))
    failed = np.ones((done_masks, causes + 1))
    for done in range(done_masks):
        for remedy in range(causes):
            if done >> remedy & 1:
                failed[done, remedy] = 1 - problem.works[remedy]
    for asked in sorted(product([False, True], repeat=questions), key=lambda row: -sum(row)):
        _fill(problem, asked, table, failed)
    return float(table[(UNASKED,) * questions][0, 0])


def _fill(problem, asked, table, failed):
    """Fill in the states in which exactly `asked` have been asked, for all answers, remedies and levels."""
    ladder = problem.ladder
    levels = np.arange(len(RUNGS))
    index = np.ix_(*[[1, 2, 3] if was else [UNASKED] for was in asked])
    weights = np.ones((1, problem.causes + 1)) * problem.prior
    for question, was in enumerate(asked):
        states = problem.outcomes[question, 1:4] if was else problem.outcomes[question, :1]
        weights = (weights[:, None, :] * states[None, :, :]).reshape(-1, problem.causes + 1)
    total = weights @ failed.T  # (answers, done)
    best = np.repeat(REFER_MINUTES * total[:, :, None], len(levels), axis=2)
    for question, was in enumerate(asked):
        if was:
            continue
        reach = int(problem.question_reach[question])
        minutes = problem.question_minutes[question] + ladder.minutes[levels, reach]
        after = np.maximum(levels, reach)
        then = 0.0
        for state in (1, 2, CANNOT_TELL):
            child = list(index)
            child[question] = np.full_like(index[question], state)
            then = then + table[tuple(child)].reshape(*best.shape)[:, :, after]
        best = np.minimum(best, total[:, :, None] * minutes + then)
    for done in reversed(range(len(failed))):
        for remedy in range(problem.causes):
            if done >> remedy & 1:
                continue
            reach = int(problem.remedy_reach[remedy])
            minutes = problem.remedy_minutes[remedy] + ladder.minutes[levels, reach]
            after = ladder.after_repair(levels, np.full(len(levels), reach))
            cost = total[:, done, None] * minutes + best[:, done | 1 << remedy, after]
            best[:, done] = np.minimum(best[:, done], cost)
    table[index] = best.reshape(table[index].shape)


def planner_cost(problem, rate_factor=1.0):
    """Return the exact expected minutes of the planner, every state it can reach weighed."""
    return _PlannerCost(problem, rate_factor).cost((UNASKED,) * problem.questions, 0, 0)


class _PlannerCost:
    def __init__(self, problem, rate_factor):
        self.problem = problem
        self.rate_factor = rate_factor
        self.known = {}
        self.decisions = 0

    def cost(self, answers, done, level):
        key = (answers, done, level)
        if key not in self.known:
            self.known[key] = self._cost(answers, done, level)
        return self.known[key]

    def _cost(self, answers, done, level):
        problem, ladder = self.problem, self.problem.ladder
        weights = problem.prior.copy()
        for question, state in enumerate(answers):
            weights = weights * problem.outcomes[question, state]
        for remedy in range(problem.causes):
            if done >> remedy & 1:
                weights[remedy] *= 1 - problem.works[remedy]
        total = weights.sum()
        if total < 1e-12:
            return 0.0
        kind, number = self.choice(weights, answers, done, level)
        if kind == "refer":
            return REFER_MINUTES * total
        if kind == "do":
            reach = problem.remedy_reach[number]
            minutes = problem.remedy_minutes[number] + ladder.minutes[level, reach]
            after = int(ladder.after_repair(np.array(level), np.array(reach)))
            return minutes * total + self.cost(answers, done | 1 << number, after)
        reach = int(problem.question_reach[number])
        minutes = problem.question_minutes[number] + ladder.minutes[level, reach]
        further = [(*answers[:number], state, *answers[number + 1 :]) for state in (1, 2, CANNOT_TELL)]
        return minutes * total + sum(self.cost(item, done, max(level, reach)) for item in further)

    def choice(self, weights, answers, done, level):
        """Return what the planner's numbers choose: the least expected minutes."""
        problem = self.problem
        self.decisions += 1
        tries = np.array([1 - (done >> remedy & 1) for remedy in range(problem.causes)], dtype=np.intp)
        repairs = replace(problem.repairs, tries=tries)
        numbers = [number for number, state in enumerate(answers) if state == UNASKED]
        questions = [problem.question(number) for number in numbers]
        rate = minutes_per_nat(questions, weights, np.eye(len(weights)), repairs.ladder, level)
        outlook = outlook_for_classes(repairs, min(rate * self.rate_factor, NO_QUESTION_RATE))
        remedies = [number for number in range(problem.causes) if tries[number]]
        refer = float(refer_cost(repairs, weights[None, :])[0])
        choice = choose(outlook, questions, remedies, weights, level)
        asks = [("ask", numbers[place], value) for place, value in choice.asks]
        does = [("do", remedy, value) for remedy, value in choice.does]
        return min([("refer", 0, refer), *asks, *does], key=lambda option: option[2])[:2]
