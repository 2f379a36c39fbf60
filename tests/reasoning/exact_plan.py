"""The exact optimum of small diagnosis problems by backward induction, and the exact cost of the planner on them.

One fault or a fault not on the list; each remedy is tried at most once; answers and remedies only grow, so
that one pass from "everything asked and done" back to "nothing" gives the optimum.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np

from diagnose.reasoning.costs import ladder_of
from diagnose.reasoning.lookahead import CURED, UNMOVED, Question, choose, prices_of
from diagnose.reasoning.needs import Prospects
from diagnose.reasoning.planning import Repairs, refer_cost, told_truth

UNASKED = 0
RUNGS = np.array([0.0, 3.0, 6.0, 25.0])
PROOF_LEVEL = 2
REFER_MINUTES = 240.0
# The planner is not followed into states of less weight: from there the best plan goes on.
LEAST_WEIGHT = 2e-4


@dataclass(frozen=True)
class SmallProblem:
    """Causes with their remedies, a fault not on the list, and questions with a few values each.

    Parameters
    ----------
    prior : ndarray, shape (S,)
        Of each cause and, last, of a fault that is not on the list.
    questions : tuple of Question
        What may be asked, each once.
    here : Prospects
        What can be done about each cause; every remedy may be tried once.
    """

    prior: np.ndarray
    questions: tuple[Question, ...]
    here: Prospects

    @property
    def repairs(self):
        return self.here.repairs

    @cached_property
    def outcomes(self):
        """Likelihood of each state of each question: not asked, each value said, cannot tell."""
        return [
            np.concatenate(
                [
                    np.ones((1, len(self.prior))),
                    (1 - question.unknown) * question.said,
                    np.full((1, len(self.prior)), question.unknown),
                ]
            )
            for question in self.questions
        ]

    @cached_property
    def fails(self):
        """Chance that a remedy leaves a cause as it is, shape (R, S)."""
        chance = self.repairs.cures.T[:, self.repairs.needs[:, 0]]
        works = np.where(self.repairs.needs[:, 0] >= 0, chance, 0.0)
        return 1.0 - works @ self.here.merge.T

    @cached_property
    def levels(self):
        """How far open the clock can come to be, from closed."""
        ladder, remedies = self.repairs.ladder, self.repairs.reach
        found = {0}
        while True:
            more = {max(level, question.reach) for level in found for question in self.questions}
            more |= {int(ladder.after_repair(np.array(level), reach)) for level in found for reach in remedies}
            if more <= found:
                return np.array(sorted(found))
            found |= more

    @property
    def states(self):
        """How many states the exact optimum has to weigh."""
        answers = np.prod([float(len(outcome)) for outcome in self.outcomes])
        return answers * 2.0 ** len(self.repairs.minutes) * len(self.levels)

    def refer(self, weights):
        """Return the price of handing on, for weights of any shape (..., S)."""
        return refer_cost(self.repairs, weights @ self.here.merge)


def one_remedy_each(minutes, reach, works):
    """Return prospects of causes with a remedy of their own each, and of a fault that has none."""
    causes = len(minutes)
    repairs = Repairs(
        needs=np.arange(causes + 1, dtype=np.intp)[:, None],
        cures=np.vstack([np.diag(works), np.zeros(causes)]),
        minutes=np.asarray(minutes, dtype=float),
        reach=np.asarray(reach, dtype=np.intp),
        tries=np.ones(causes, dtype=np.intp),
        ladder=ladder_of(RUNGS, PROOF_LEVEL),
        refer_minutes=REFER_MINUTES,
    )
    moves = np.full((causes, causes + 1), UNMOVED, dtype=np.intp)
    np.fill_diagonal(moves, CURED)
    return Prospects(tuple(f"remedy-{number}" for number in range(causes)), repairs, np.eye(causes + 1), moves)


def drawn_problem(seed, causes=6, questions=7, wrong=0.10, unknown=0.15, works=(0.7, 0.98)):
    """Return a seeded sub-base: each cause shows half of the signs, each sign leaks a little."""
    random = np.random.default_rng(seed)
    weights = random.choice([8.0, 4.0, 2.0, 1.0], causes, p=[0.1, 0.2, 0.4, 0.3])
    prior = np.append(0.95 * weights / weights.sum(), 0.05)
    words = random.choice([0.99, 0.85, 0.75, 0.5, 0.25], (questions, causes), p=[0.1, 0.25, 0.25, 0.25, 0.15])
    shown = np.where(random.random((questions, causes)) < 0.5, words, 0.03)
    shown = np.column_stack([shown, shown @ prior[:-1] / prior[:-1].sum()])
    yes = wrong + (1 - 2 * wrong) * shown
    minutes = random.choice([1.0, 2.0, 3.0, 5.0, 10.0], questions)
    reach = random.choice([0, 0, 1, 1, 2], questions)
    asked = tuple(
        Question(np.stack([1 - row, row]), float(cost), int(deep), unknown)
        for row, cost, deep in zip(yes, minutes, reach, strict=True)
    )
    here = one_remedy_each(
        random.choice([5.0, 10.0, 20.0, 30.0, 45.0], causes) + 5.0,
        random.choice([0, 1, 1, 2, 3], causes),
        random.uniform(*works, causes),
    )
    return SmallProblem(prior, asked, here)


def omniscient(problem):
    """Return the expected minutes if the cause were told at once."""
    return float(told_truth(problem.repairs)[0] @ (problem.prior @ problem.here.merge))


def optimum(problem):
    """Return the least expected minutes of any policy."""
    return float(solved(problem)[(UNASKED,) * len(problem.questions)][0, 0])


def solved(problem):
    """Return the least expected minutes from every state: answers, remedies done (a bit each), level."""
    remedies = len(problem.repairs.minutes)
    failed = np.ones((2**remedies, len(problem.prior)))
    for done in range(2**remedies):
        for remedy in range(remedies):
            if done >> remedy & 1:
                failed[done] *= problem.fails[remedy]
    table = np.empty([len(outcome) for outcome in problem.outcomes] + [2**remedies, len(problem.levels)])
    layers = _layers(remedies)
    for asked in sorted(product([False, True], repeat=len(problem.questions)), key=lambda row: -sum(row)):
        _fill(problem, asked, table, failed, layers)
    return table


def _layers(remedies):
    """Return (remedy, sets of remedies without it) with the fullest sets first, all of one size at once."""
    masks = np.arange(2**remedies)
    count = np.array([bin(mask).count("1") for mask in masks])
    return [
        (remedy, masks[(count == size) & (masks >> remedy & 1 == 0)])
        for size in range(remedies - 1, -1, -1)
        for remedy in range(remedies)
    ]


def _fill(problem, asked, table, failed, layers):
    """Fill in the states in which exactly `asked` have been asked, for all answers, remedies and levels."""
    ladder, levels = problem.repairs.ladder, problem.levels
    place = {int(level): number for number, level in enumerate(levels)}
    index = np.ix_(*[range(1, len(problem.outcomes[q])) if was else [UNASKED] for q, was in enumerate(asked)])
    weights = problem.prior[None, :]
    for question, was in enumerate(asked):
        states = problem.outcomes[question][1:] if was else problem.outcomes[question][:1]
        weights = (weights[:, None, :] * states[None, :, :]).reshape(-1, len(problem.prior))
    total = weights @ failed.T  # (answers, done)
    refer = np.stack([problem.refer(weights * row) for row in failed], axis=1)
    best = np.repeat(refer[:, :, None], len(levels), axis=2)
    for number, was in enumerate(asked):
        if was:
            continue
        question = problem.questions[number]
        minutes = question.minutes + ladder.minutes[levels, question.reach]
        after = [place[max(int(level), question.reach)] for level in levels]
        then = 0.0
        for state in range(1, len(problem.outcomes[number])):
            child = list(index)
            child[number] = np.full_like(index[number], state)
            then = then + table[tuple(child)].reshape(*best.shape)
        best = np.minimum(best, total[:, :, None] * minutes + then[:, :, after])
    for remedy, without in layers:
        reach = problem.repairs.reach[remedy]
        minutes = problem.repairs.minutes[remedy] + ladder.minutes[levels, reach]
        after = [place[int(level)] for level in ladder.after_repair(levels, np.full(len(levels), reach))]
        then = best[:, without | 1 << remedy][:, :, after]
        best[:, without] = np.minimum(best[:, without], total[:, without, None] * minutes + then)
    table[index] = best.reshape(table[index].shape)


@dataclass(frozen=True)
class Compared:
    """Minutes of the planner, of the best plan and of the told truth, and the weight not followed to its end."""

    planner: float
    least: float
    told: float
    cut: float

    @property
    def excess(self):
        """What the planner costs over the best plan, as a share, with what was not followed counted alike."""
        return (self.planner / self.least - 1) / (1 - self.cut)


def compare(problem, least_weight=LEAST_WEIGHT):
    """Return the planner beside the best plan, every state it can reach weighed that is not rarer than that."""
    table = solved(problem)
    start = (UNASKED,) * len(problem.questions)
    follow = _PlannerCost(problem, table, least_weight)
    return Compared(follow.cost(start, 0, 0), float(table[start][0, 0]), omniscient(problem), follow.cut)


class _PlannerCost:
    def __init__(self, problem, table, least_weight):
        self.problem = problem
        self.least_weight = least_weight
        self.table = table
        self.place = {int(level): number for number, level in enumerate(problem.levels)}
        self.known = {}
        self.cut = 0.0

    def cost(self, answers, done, level):
        key = (answers, done, level)
        if key not in self.known:
            self.known[key] = self._cost(answers, done, level)
        return self.known[key]

    def _cost(self, answers, done, level):
        problem, ladder = self.problem, self.problem.repairs.ladder
        level = int(level)
        weights = problem.prior.copy()
        for question, state in enumerate(answers):
            weights = weights * problem.outcomes[question][state]
        for remedy in range(len(problem.repairs.minutes)):
            if done >> remedy & 1:
                weights = weights * problem.fails[remedy]
        total = weights.sum()
        if total < self.least_weight:
            self.cut += total
            return float(self.table[answers][done, self.place[level]])
        kind, number = self.choice(weights, answers, done, level)
        if kind == "refer":
            return float(problem.refer(weights[None, :])[0])
        if kind == "do":
            reach = problem.repairs.reach[number]
            minutes = problem.repairs.minutes[number] + ladder.minutes[level, reach]
            after = int(ladder.after_repair(np.array(level), np.array(reach)))
            return minutes * total + self.cost(answers, done | 1 << number, after)
        question = problem.questions[number]
        minutes = question.minutes + ladder.minutes[level, question.reach]
        further = [
            (*answers[:number], state, *answers[number + 1 :]) for state in range(1, len(problem.outcomes[number]))
        ]
        return minutes * total + sum(self.cost(item, done, max(level, question.reach)) for item in further)

    def choice(self, weights, answers, done, level):
        """Return what the planner's numbers choose: the least expected minutes."""
        problem, here = self.problem, self.problem.here
        tries = np.array([1 - (done >> r & 1) for r in range(len(problem.repairs.minutes))], dtype=np.intp)
        here = replace(here, repairs=replace(here.repairs, tries=tries))
        numbers = [number for number, state in enumerate(answers) if state == UNASKED]
        questions = [problem.questions[number] for number in numbers]
        outlook = here.outlook(prices_of(questions, weights, here.merge, here.repairs.ladder, level))
        remedies = [remedy for remedy in range(len(tries)) if tries[remedy]]
        refer = float(problem.refer(weights[None, :])[0])
        choice = choose(outlook, questions, remedies, weights, level)
        asks = [("ask", numbers[place], value) for place, value in choice.asks]
        does = [("do", remedy, value) for remedy, value in choice.does]
        return min([("refer", 0, refer), *asks, *does], key=lambda option: option[2])[:2]
