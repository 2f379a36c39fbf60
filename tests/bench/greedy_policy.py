"""Thousands of cases at once: exact belief over all sets of one and two causes, the most telling question next.

What is said of a finding depends on a set of causes only through the causes linked to it. So every mean over all
sets is a sum over the linked causes and pairs, and one sparse matrix product gives the means of all findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.model.reading import Knowledge
from diagnose.reasoning.finding_table import FindingTable
from diagnose.reasoning.gates import Situation, may_find_out
from diagnose.reasoning.tables import Base
from tests.bench.drawn_cases import ERRING, THINK_SO, WRONG, DrawnCase, Erring, draw_answer, draw_complaint

BATCH = 200
STEPS_PER_ANSWER = 4
CERTAINTIES = ("sure", "think-so")
_SEEDS = 2**31
_TINY = 1e-30


@dataclass(frozen=True)
class Stand:
    """Where the belief of each case stands after so many answers.

    `first` and `three` say whether the first place, or one of the first three, is a cause that is there;
    `confidence` is the probability of the first place, counted over causes, nothing wrong and not listed.
    """

    answers: int
    first: np.ndarray
    three: np.ndarray
    confidence: np.ndarray
    right: np.ndarray


@dataclass(frozen=True)
class Said:
    """One answer of a played case: what was said of which finding, how sure, and what was true."""

    finding: str
    value: int
    certainty: str
    true: int


class GreedyPolicy:
    """Belief over {}, every cause, every pair, and a fault that is not on the list."""

    def __init__(
        self, base: Base, knowledge: Knowledge, situation: Situation, wrong: Mapping[str, float] = WRONG
    ) -> None:
        self.base = base
        self.wrong = wrong
        # What was said in each case of the last run, in the order of the cases.
        self.said_in: list[list[Said]] = []
        self.names = list(base.tables)
        self.tables = list(base.tables.values())
        self.sizes = np.array([len(table.values) for table in self.tables])
        self.columns = np.cumsum([0, *self.sizes])
        self.count = len(base.causes)
        self.one, self.two = np.triu_indices(self.count, 1)
        self.pair_at = np.zeros((self.count, self.count), dtype=np.intp)
        self.pair_at[self.one, self.two] = self.pair_at[self.two, self.one] = np.arange(len(self.one))
        self.log_prior = np.log(np.maximum(self._prior(), _TINY)).astype(np.float32)
        self._log_columns: dict[tuple[int, int, str], np.ndarray] = {}
        self._prepare_means()
        self.askable = np.array([may_find_out(knowledge.findings[name], situation) for name in self.names])
        self.needs = [
            (number, self.names.index(gate), {list(knowledge.findings[gate].values).index(value) for value in allowed})
            for number, name in enumerate(self.names)
            for gate, allowed in knowledge.findings[name].needs.items()
            if gate in self.names
        ]

    def _prior(self) -> np.ndarray:
        base = self.base
        weight = np.concatenate(([0.0], base.odds, base.odds[self.one] * base.odds[self.two]))
        prior = weight / weight.sum() * (1 - base.nothing_wrong - base.none_of_these)
        prior[0] = base.nothing_wrong
        return np.append(prior, base.none_of_these)

    def _prepare_means(self) -> None:
        """Make the matrix from (causes, pairs, not listed) to what is said, and to its mean logarithm."""
        from scipy.sparse import csr_matrix

        mean_wrong = (1 - THINK_SO) * self.wrong["sure"] + THINK_SO * self.wrong["think-so"]
        last, width = self.count + len(self.one), int(self.columns[-1])
        rows: list[np.ndarray] = []
        columns: list[np.ndarray] = []
        numbers: list[np.ndarray] = []
        self.ground = np.zeros(width + len(self.tables), dtype=np.float32)
        for number, table in enumerate(self.tables):
            here = np.append(np.arange(self.columns[number], self.columns[number + 1]), width + number)

            def told(true_values: np.ndarray, size: int = len(table.values)) -> np.ndarray:
                said = said_of(true_values, size, mean_wrong)
                return np.concatenate([said, (said * np.log(said)).sum(axis=-1, keepdims=True)], axis=-1)

            none, one, both = told(table.nothing), told(table.single), told(table.pair)
            upper = np.triu_indices(len(table.linked), 1)
            more = (both - one[:, None] - one[None, :] + none)[upper]
            pairs = self.pair_at[table.linked[upper[0]], table.linked[upper[1]]]
            # `other` is no set of causes: what holds without a cause is in the ground and goes off again.
            block = np.concatenate([one - none, more, (told(table.other) - none)[None]])
            at = np.concatenate([table.linked, self.count + pairs, [last]])
            self.ground[here] = none
            rows.append(np.repeat(at, len(here)))
            columns.append(np.tile(here, len(at)))
            numbers.append(block.ravel())
        entries = np.concatenate(numbers), (np.concatenate(columns), np.concatenate(rows))
        self.means = csr_matrix(entries, shape=(width + len(self.tables), last + 1), dtype=np.float32)
        pairs = np.arange(len(self.one))
        held = np.concatenate([self.one, self.two]), np.concatenate([pairs, pairs])
        self.holds = csr_matrix((np.ones(2 * len(pairs), dtype=np.float32), held), shape=(self.count, len(pairs)))

    def run(
        self,
        cases: list[DrawnCase],
        checkpoints: tuple[int, ...],
        random: np.random.Generator,
        complaint_first: bool = True,
        erring: Erring = ERRING,
        turned: Sequence[Mapping[str, int]] | None = None,
    ) -> list[Stand]:
        """Ask every case the most telling question, again and again; return the stands at the checkpoints.

        What is drawn for a case depends on its own generator only; `turned` says, for each case, which findings
        are answered with another value: up to there the consultation is the same as without.
        """
        own = [np.random.default_rng(seed) for seed in random.integers(_SEEDS, size=len(cases))]
        log_weight = np.repeat(self.log_prior[None, :], len(cases), axis=0)
        open_ = np.repeat(self.askable[None, :], len(cases), axis=0)
        given = np.zeros(len(cases), dtype=np.intp)
        known = np.full((len(cases), len(self.names)), -1, dtype=np.intp)
        self.said_in = [[] for _ in cases]
        for row, case in enumerate(cases):
            complaint = draw_complaint(self.base, case, own[row]) if complaint_first else None
            if complaint is not None:
                number = self.names.index(complaint)
                self._take_in(log_weight[row], number, case.shows[complaint], "sure")
                known[row, number], open_[row, number] = case.shows[complaint], False
                self.said_in[row].append(Said(complaint, case.shows[complaint], "sure", case.shows[complaint]))
        shares = {count: np.zeros((len(cases), self.count + 2)) for count in checkpoints}
        due = [set(checkpoints) for _ in cases]
        for _ in range(max(checkpoints) * STEPS_PER_ANSWER):
            active = np.array([row for row in range(len(cases)) if due[row]], dtype=np.intp)
            if not len(active):
                break
            weight = _weights(log_weight[active])
            parts = self._parts(weight)
            for place, row in enumerate(active):
                over = not open_[row].any()
                for count in [count for count in due[row] if given[row] >= count or over]:
                    shares[count][row] = self._shares(weight[place], parts[place])
                    due[row].remove(count)
            chosen = self._most_telling(parts, open_[active], known[active])
            for number, row in zip(chosen, active, strict=True):
                if not due[row]:
                    continue
                open_[row, number] = False
                true = cases[row].shows[self.names[number]]
                said = draw_answer(true, int(self.sizes[number]), own[row], erring)
                if said.value is not None:
                    value = turned[row].get(self.names[number], said.value) if turned else said.value
                    self.said_in[row].append(Said(self.names[number], value, said.certainty, true))
                    given[row] += 1
                    known[row, number] = value
                    self._take_in(log_weight[row], int(number), value, said.certainty)
        late = sum(bool(waiting) for waiting in due)
        if late:
            raise SystemExit(f"{late} of {len(cases)} cases did not come to {max(checkpoints)} answers")
        return [self._stand(count, cases, shares[count]) for count in checkpoints]

    def _take_in(self, log_weight: np.ndarray, number: int, value: int, certainty: str) -> None:
        log_weight += self._log_column(number, value, certainty)

    def _log_column(self, number: int, value: int, certainty: str) -> np.ndarray:
        """Return ln P(said | set) for every set, in the order of the weights."""
        key = number, value, certainty
        if key not in self._log_columns:
            table, wrong = self.tables[number], self.wrong[certainty]
            none, one, both, other = (
                np.log(said_of(part, len(table.values), wrong)[..., value])
                for part in (table.nothing, table.single, table.pair, table.other)
            )
            alone = np.zeros(self.count)
            alone[table.linked] = one - none
            pairs = alone[self.one] + alone[self.two]
            upper = np.triu_indices(len(table.linked), 1)
            at = self.pair_at[table.linked[upper[0]], table.linked[upper[1]]]
            pairs[at] = (both - none)[upper]
            column = np.concatenate(([none], none + alone, none + pairs, [other]))
            self._log_columns[key] = column.astype(np.float32)
        return self._log_columns[key]

    def _parts(self, weight: np.ndarray) -> np.ndarray:
        """Return the weight of the sets with each cause, of each pair, and of `other`: (cases, C + pairs + 1)."""
        pairs = weight[:, self.count + 1 : -1]
        one = weight[:, 1 : self.count + 1] + (self.holds @ pairs.T).T
        return np.concatenate([one, pairs, weight[:, -1:]], axis=1)

    def _most_telling(self, parts: np.ndarray, open_: np.ndarray, known: np.ndarray) -> np.ndarray:
        """Return the open question with the most information about the causes, for each case."""
        means = (self.means @ parts.T).T + self.ground
        width = self.columns[-1]
        mean = np.maximum(means[:, :width], _TINY)
        nats = means[:, width:] - np.add.reduceat(mean * np.log(mean), self.columns[:-1], axis=1)
        shut = ~open_
        for number, gate, allowed in self.needs:
            shut[:, number] |= (known[:, gate] >= 0) & ~np.isin(known[:, gate], list(allowed))
        nats[shut] = -np.inf
        return nats.argmax(axis=1)

    def _shares(self, weight: np.ndarray, parts: np.ndarray) -> np.ndarray:
        """Return the shares of each cause, of nothing wrong and of not listed."""
        return np.concatenate([parts[: self.count], weight[:1], weight[-1:]])

    def _stand(self, count: int, cases: list[DrawnCase], shares: np.ndarray) -> Stand:
        order = np.argsort(-shares[:, : self.count], axis=1)[:, :3]
        top = shares.argmax(axis=1)
        first = np.array([_is_there(case, order[row, :1]) for row, case in enumerate(cases)])
        three = np.array([_is_there(case, order[row]) for row, case in enumerate(cases)])
        right = np.array([_is_right(case, int(top[row]), self.count) for row, case in enumerate(cases)])
        return Stand(count, first, three, shares.max(axis=1), right)

    def weighs(self, said: Said, causes: frozenset[int]) -> float:
        """Return what an answer weighs for what is there against a fault of the average clock. [dB]"""
        return answer_weight(self.base.tables[said.finding], said, causes, self.wrong[said.certainty])


def said_of(true_values: np.ndarray, size: int, wrong: float) -> np.ndarray:
    """Return P(said) from P(true value), where a wrong answer is any other value, each as likely."""
    other = wrong / (size - 1)
    return np.asarray(other + (1 - wrong - other) * true_values)


def answer_weight(table: FindingTable, said: Said, causes: frozenset[int], wrong: float) -> float:
    """Return what an answer weighs for a set of causes against a fault of the average clock. [dB]"""
    size = len(table.values)
    there = said_of(table.given(sorted(causes)), size, wrong)[said.value]
    average = said_of(table.other, size, wrong)[said.value]
    return float(10 * np.log10(there / average))


def _weights(log_weight: np.ndarray) -> np.ndarray:
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    return weight


def _is_there(case: DrawnCase, places: np.ndarray) -> bool:
    return bool(case.causes) and any(int(place) in case.causes for place in places)


def _is_right(case: DrawnCase, place: int, causes: int) -> bool:
    if case.causes is None:
        return place == causes + 1
    return place == causes if not case.causes else place in case.causes


def calibration_error(confidence: np.ndarray, right: np.ndarray, bins: int = 10) -> float:
    """Return the mean distance between confidence and hits over bins of equal count (ECE)."""
    order = np.argsort(confidence, kind="stable")
    parts = [part for part in np.array_split(order, bins) if len(part)]
    return float(sum(len(part) * abs(confidence[part].mean() - right[part].mean()) for part in parts) / len(order))


def expected_noise(confidence: np.ndarray, random: np.random.Generator, draws: int = 50) -> float:
    """Return the calibration error that a perfect forecaster would show on as many cases."""
    return float(
        np.mean([calibration_error(confidence, random.random(len(confidence)) < confidence) for _ in range(draws)])
    )
