"""What is believed of the clock as it is now: from the weights of sets, or from histories."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.doubtful import Shares, chance_wrong, shares_of, shares_of_sets
from diagnose.reasoning.finding_table import Floats, Indices
from diagnose.reasoning.histories import (
    Histories,
    Stretch,
    begin,
    follow,
    log_faulty,
    present,
    said_before,
    same_value,
    tail,
)
from diagnose.reasoning.pairs import LEFT_OUT_FACTOR, THROUGH_REMEDIES, weigh
from diagnose.reasoning.readings import TINY, Reading
from diagnose.reasoning.tables import Base


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """Probabilities of the clock as it is now.

    Parameters
    ----------
    one : ndarray, shape (C,)
        Of each cause, alone or with others.
    nothing, other : float
        Nothing wrong (any more), and a fault that is not on the list.
    members : ndarray of int, shape (N, 3)
        Sets told apart, filled up with C.
    weight : ndarray, shape (N,)
        Their probabilities.
    left_out : float
        Estimated share of what was left out.
    conflict : float
        Log Bayes factor of `other` against the causes on the list. [nat]
    wrong : mapping of str to float
        By answered finding: probability that the answer is wrong.
    """

    one: Floats
    nothing: float
    other: float
    members: Indices
    weight: Floats
    left_out: float
    conflict: float
    wrong: Mapping[str, float]

    def heaviest(self, most: int) -> tuple[tuple[tuple[int, ...], ...], Floats]:
        """Return the heaviest sets, best first, and their probabilities."""
        near = np.arange(len(self.weight))
        if len(near) > most:
            near = np.argpartition(-self.weight, most)[:most]
        best = near[np.argsort(-self.weight[near], kind="stable")]
        count = len(self.one)
        sets = tuple(tuple(place for place in row if place < count) for row in self.members[best].tolist())
        return sets, self.weight[best]


def belief_now(base: Base, stretch: Stretch) -> Belief:
    """Return the belief where no remedy was tried."""
    readings = tuple(stretch.readings.values())
    weights = weigh(base, readings, _factors(base, stretch))
    shares = shares_of(weights)
    wrong = {
        name: chance_wrong(reading, shares, weights.right[:, place])
        for place, (name, reading) in enumerate(stretch.readings.items())
        if reading.said is not None
    }
    members, weight = weights.sets()
    return Belief(
        one=weights.one(),
        nothing=weights.nothing,
        other=weights.other,
        members=members,
        weight=weight,
        left_out=weights.left_out,
        conflict=weights.conflict,
        wrong=wrong,
    )


def belief_after(base: Base, stretches: Sequence[Stretch]) -> Belief:
    """Return the belief after one or more remedies."""
    first = stretches[0]
    weights = weigh(base, tuple(first.readings.values()), _factors(base, first), THROUGH_REMEDIES)
    answered = Counter(name for item in stretches for name in item.readings)
    newest = {name: number for number, item in enumerate(stretches) for name in item.readings if answered[name] > 1}
    histories = begin(weights, newest)
    faulty = log_faulty(histories)
    follow(histories, base, stretches)
    weight, other = histories.shares()
    members, merged = _merged(histories, weight)
    one = np.bincount(members.ravel(), np.repeat(merged, 3), minlength=histories.count + 1)
    return Belief(
        one=one[: histories.count].astype(np.float64),
        nothing=float(merged[(members == histories.count).all(axis=1)].sum()),
        other=other,
        members=members,
        weight=merged,
        left_out=tail(histories, weight, LEFT_OUT_FACTOR),
        conflict=weights.conflict + histories.gain_other - (log_faulty(histories) - faulty),
        wrong=dict(_wrong(histories, stretches, weight, other)),
    )


def _factors(base: Base, stretch: Stretch) -> Floats:
    factors = np.ones(len(base.causes))
    for place, factor in stretch.factors.items():
        factors[place] = factor
    return factors


def _merged(histories: Histories, weight: Floats) -> tuple[Indices, Floats]:
    """Return the sets as they are now, each once, with their weights."""
    wide = histories.count + 1
    now = np.sort(histories.then[-1], axis=1)
    key = (now[:, 0] * wide + now[:, 1]) * wide + now[:, 2]
    _, first, place = np.unique(key, return_index=True, return_inverse=True)
    return now[first], np.bincount(place, weight).astype(np.float64)


def _wrong(
    histories: Histories, stretches: Sequence[Stretch], weight: Floats, other: float
) -> Iterator[tuple[str, float]]:
    """Yield each answered finding with the probability that its newest answer is wrong."""
    shares: dict[int, Shares] = {}
    newest = {name: number for number, item in enumerate(stretches) for name in item.readings}
    for name, number in newest.items():
        reading = stretches[number].readings[name]
        if reading.said is None:
            continue
        here = present(stretches[: number + 1], name, reading.table.kind)
        before = stretches[:number]
        if not any(name in item.readings for item in before):
            if here not in shares:
                shares[here] = shares_of_sets(histories.then[here], weight, other, histories.count)
            yield name, chance_wrong(reading, shares[here])
            continue
        total = _other_wrong(reading, said_before(name, reading, before), other)
        for rows, earlier in same_value(histories, name, before):
            both = reading if earlier is None else reading.times(earlier)
            part = shares_of_sets(histories.then[here][rows], weight[rows], 0.0, histories.count)
            total += chance_wrong(both, part)
        yield name, min(total, 1.0)


def _other_wrong(reading: Reading, earlier: Floats, other: float) -> float:
    """Return the probability that the answer is wrong and the fault is not on the list."""
    shown = reading.table.other * earlier * reading.likelihood
    return other * (1 - float(shown[reading.said]) / max(float(shown.sum()), TINY))
