"""What answered findings say of sets of causes: one finding of many sets, or many findings at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.finding_table import FindingTable, Floats, Indices

TINY = 1e-300
"""Keeps a logarithm finite where a table with no leak calls an answer impossible."""
_SETS_AT_ONCE = 512


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One answered finding.

    Parameters
    ----------
    table : FindingTable
        Its table.
    likelihood : ndarray, shape (V,)
        Likelihood of each value.
    said : int, optional
        Position of the value that was said; None for a measurement.
    none : float
        P(answer) where no linked cause is there.
    one, both : ndarray, shapes (k,) and (k, k)
        P(answer) given one linked cause, and given two.
    """

    table: FindingTable
    likelihood: Floats
    said: int | None
    none: float
    one: Floats
    both: Floats

    def times(self, likelihood: Floats) -> Reading:
        """Return this and another reading of the same value taken as one."""
        return read(self.table, self.likelihood * likelihood, self.said)

    def log_given(self, members: Indices) -> Floats:
        """Return ln P(answer | K) for each set K of up to three causes, shape (N, 3) -> (N,)."""
        count = len(self.one)
        none, one, both = np.log(self.none), np.log(self.one), np.log(self.both)
        alone = np.append(one - none, 0.0)
        wide = np.zeros((count + 1, count + 1))
        wide[:count, :count] = both - one[:, None] - one + none
        flat = wide.ravel()
        place = np.where(self.table.row < 0, count, self.table.row)
        first, second, third = (place[members[:, column]] for column in range(3))
        full = np.flatnonzero(np.maximum(np.maximum(first, second), third) < count)
        total = none + alone[first] + alone[second] + alone[third]
        for left, right in ((first, second), (first, third), (second, third)):
            total += flat[left * (count + 1) + right]
        exact = self.table.given_members(members[full]) @ self.likelihood
        total[full] = np.log(np.maximum(exact, TINY))
        return np.asarray(total)


def read(table: FindingTable, likelihood: Floats, said: int | None = None) -> Reading:
    """Return what an answer says of every cause and every two."""
    count, values = table.single.shape
    both = (table.pair.reshape(-1, values) @ likelihood).reshape(count, count)
    return Reading(
        table,
        likelihood,
        said,
        max(float(table.nothing @ likelihood), TINY),
        np.maximum(table.single @ likelihood, TINY),
        np.maximum(both, TINY),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Alike:
    """All answered findings of one kind side by side; `starts` says where each begins among the columns."""

    kind: str
    places: Indices
    starts: Indices
    ground: Floats
    effect: Floats
    normal: Indices
    likelihood: Floats
    said: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """Many answered findings evaluated together."""

    count: int
    alike: tuple[_Alike, ...]

    def given(self, members: Indices) -> tuple[Floats, Floats]:
        """Return P(answer | K) and P(answer and said value true | K), both of shape (N, n).

        Parameters
        ----------
        members : ndarray of int, shape (N, 3)
            The sets. Where no value was said the second figure means nothing.
        """
        answer, right = np.ones((len(members), self.count)), np.ones((len(members), self.count))
        for begin in range(0, len(members), _SETS_AT_ONCE):
            part = slice(begin, begin + _SETS_AT_ONCE)
            for group in self.alike:
                answer[part, group.places], right[part, group.places] = _evaluate(group, members[part])
        return np.maximum(answer, TINY), right


def joined(readings: Sequence[Reading]) -> Joined:
    """Put answered findings side by side, in their order."""
    groups = []
    for kind in ("choice", "graded", "circumstance"):
        places = [place for place, reading in enumerate(readings) if reading.table.kind == kind]
        if places:
            groups.append(_side_by_side(kind, np.array(places, dtype=np.intp), [readings[place] for place in places]))
    return Joined(len(readings), tuple(groups))


def _side_by_side(kind: str, places: Indices, readings: Sequence[Reading]) -> _Alike:
    sizes = [len(reading.likelihood) for reading in readings]
    starts = np.cumsum([0, *sizes[:-1]]).astype(np.intp)
    normal = starts + np.array([reading.table.normal for reading in readings], dtype=np.intp)
    likelihood = np.concatenate([reading.likelihood for reading in readings])
    said = np.zeros(len(likelihood))
    columns = starts + [reading.said or 0 for reading in readings]
    said[columns] = likelihood[columns]
    return _Alike(
        kind,
        places,
        starts,
        np.concatenate([reading.table.ground for reading in readings]),
        np.concatenate([reading.table.effect for reading in readings], axis=1),
        normal,
        likelihood,
        said,
    )


def _evaluate(group: _Alike, members: Indices) -> tuple[Floats, Floats]:
    """Return the two figures of `Joined.given` for findings of one kind."""
    total = group.ground + group.effect[members[:, 0]]
    for column in range(1, members.shape[1]):
        total += group.effect[members[:, column]]
    starts = group.starts

    def summed(values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values, starts, axis=1))

    if group.kind == "choice":
        rate = summed(total)
        quiet = np.exp(-rate)
        share = -np.expm1(-rate) / np.maximum(rate, TINY)
        answer = group.likelihood[group.normal] * quiet + share * summed(total * group.likelihood)
        return answer, group.said[group.normal] * quiet + share * summed(total * group.said)
    weight = np.exp(total)
    if group.kind == "graded":
        return summed(weight * _steps(group.likelihood, starts)), summed(weight * _steps(group.said, starts))
    whole = summed(weight)
    return summed(weight * group.likelihood) / whole, summed(weight * group.said) / whole


def _steps(likelihood: Floats, starts: Indices) -> Floats:
    """Return what F(v) is multiplied by, where P(v) = F(v) - F(v - 1), so that the sum is over F."""
    after = np.append(likelihood[1:], 0.0)
    after[starts[1:] - 1] = 0.0
    return np.asarray(likelihood - after)
