"""Thousands of cases at once: exact belief over all sets of one and two causes, the most telling question next."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from diagnose.model.reading import Knowledge
from diagnose.reasoning.forecast import forecast_of, members_of
from diagnose.reasoning.gates import Situation, may_find_out
from diagnose.reasoning.tables import Base
from tests.bench.drawn_cases import ERRING, THINK_SO, WRONG, DrawnCase, Erring, draw_answer, draw_complaint

BATCH = 200
STEPS_PER_ANSWER = 4
CERTAINTIES = ("sure", "think-so")
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
        # What was said in each case of the last run, in the order of the cases.
        self.said_in: list[list[Said]] = []
        self.forecast = forecast_of(base)
        count = len(base.causes)
        self.sets = [(), *((cause,) for cause in range(count)), *combinations(range(count), 2)]
        self.names = self.forecast.findings
        self.sizes = self.forecast.sizes
        which = np.arange(len(self.names))
        true_values = self.forecast.true_values(members_of(self.sets, base), which)
        self.likelihood = {
            certainty: self.forecast.said(true_values, which, np.full(len(which), wrong[certainty])).astype(np.float32)
            for certainty in CERTAINTIES
        }
        mean = (1 - THINK_SO) * wrong["sure"] + THINK_SO * wrong["think-so"]
        said = self.forecast.said(true_values, which, np.full(len(which), mean))
        self.said = said.reshape(len(said), -1).astype(np.float32)
        self.apart = (said * np.log(np.maximum(said, _TINY))).sum(axis=2).astype(np.float32)
        self.log_prior = np.log(np.maximum(self._prior(), _TINY)).astype(np.float32)
        self.places = self._places()
        self.askable = np.array([may_find_out(knowledge.findings[name], situation) for name in self.names])
        self.needs = [
            (number, self.names.index(gate), {list(knowledge.findings[gate].values).index(value) for value in allowed})
            for number, name in enumerate(self.names)
            for gate, allowed in knowledge.findings[name].needs.items()
            if gate in self.names
        ]

    def _prior(self) -> np.ndarray:
        base = self.base
        weight = np.array([np.prod(base.odds[list(members)]) for members in self.sets])
        weight[0] = 0.0
        faulty = 1 - base.nothing_wrong - base.none_of_these
        prior = weight / weight.sum() * faulty
        prior[0] = base.nothing_wrong
        return np.append(prior, base.none_of_these)

    def _places(self) -> np.ndarray:
        count = len(self.base.causes)
        places = np.zeros((len(self.sets) + 1, count + 2), dtype=np.float32)
        for number, members in enumerate(self.sets):
            places[number, list(members) if members else [count]] = 1.0
        places[-1, count + 1] = 1.0
        return places

    def run(
        self,
        cases: list[DrawnCase],
        checkpoints: tuple[int, ...],
        random: np.random.Generator,
        complaint_first: bool = True,
        erring: Erring = ERRING,
    ) -> list[Stand]:
        """Ask every case the most telling question, again and again; return the stands at the checkpoints."""
        log_weight = np.repeat(self.log_prior[None, :], len(cases), axis=0)
        open_ = np.repeat(self.askable[None, :], len(cases), axis=0)
        given = np.zeros(len(cases), dtype=np.intp)
        known = np.full((len(cases), len(self.names)), -1, dtype=np.intp)
        self.said_in = [[] for _ in cases]
        for row, case in enumerate(cases):
            complaint = draw_complaint(self.base, case, random) if complaint_first else None
            if complaint is not None:
                number = self.names.index(complaint)
                self._take_in(log_weight[row], number, case.shows[complaint], "sure")
                known[row, number], open_[row, number] = case.shows[complaint], False
                self.said_in[row].append(Said(complaint, case.shows[complaint], "sure", case.shows[complaint]))
        stands: dict[int, Stand] = {}
        # Every case waits at each checkpoint for the one with the most "cannot tell".
        for _ in range(sum(checkpoints) * STEPS_PER_ANSWER):
            weight = self._weights(log_weight)
            for count in checkpoints:
                if count not in stands and (given >= count).all():
                    stands[count] = self._stand(count, cases, weight)
            if len(stands) == len(checkpoints):
                break
            limit = min(count for count in checkpoints if count not in stands)
            chosen = self._most_telling(weight, open_, known)
            for row, case in enumerate(cases):
                if given[row] >= limit or not open_[row].any():
                    given[row] = max(given[row], limit)
                    continue
                number = int(chosen[row])
                open_[row, number] = False
                true = case.shows[self.names[number]]
                said = draw_answer(true, int(self.sizes[number]), random, erring)
                if said.value is not None:
                    self.said_in[row].append(Said(self.names[number], said.value, said.certainty, true))
                    given[row] += 1
                    known[row, number] = said.value
                    self._take_in(log_weight[row], number, said.value, said.certainty)
        return [stands[count] for count in checkpoints if count in stands]

    def _take_in(self, log_weight: np.ndarray, number: int, value: int, certainty: str) -> None:
        log_weight += np.log(np.maximum(self.likelihood[certainty][:, number, value], _TINY))

    def _weights(self, log_weight: np.ndarray) -> np.ndarray:
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        return weight

    def _most_telling(self, weight: np.ndarray, open_: np.ndarray, known: np.ndarray) -> np.ndarray:
        """Return the open question with the most information about the causes, for each case."""
        mean = (weight @ self.said).reshape(len(weight), len(self.names), -1)
        nats = weight @ self.apart - (mean * np.log(np.maximum(mean, _TINY))).sum(axis=2)
        shut = ~open_
        for number, gate, allowed in self.needs:
            shut[:, number] |= (known[:, gate] >= 0) & ~np.isin(known[:, gate], list(allowed))
        nats[shut] = -np.inf
        return nats.argmax(axis=1)

    def _stand(self, count: int, cases: list[DrawnCase], weight: np.ndarray) -> Stand:
        shares = weight @ self.places
        causes = len(self.base.causes)
        order = np.argsort(-shares[:, :causes], axis=1)[:, :3]
        top = shares.argmax(axis=1)
        first = np.array([_is_there(case, order[row, :1]) for row, case in enumerate(cases)])
        three = np.array([_is_there(case, order[row]) for row, case in enumerate(cases)])
        right = np.array([_is_right(case, int(top[row]), causes) for row, case in enumerate(cases)])
        return Stand(count, first, three, shares.max(axis=1), right)


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
