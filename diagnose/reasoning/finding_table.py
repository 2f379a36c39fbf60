"""How often a finding has each of its values, given the causes that are there."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import InputError

Kind = Literal["choice", "graded", "circumstance"]
Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

MOST_TOGETHER = 0.99
"""Links of one cause to one finding add up to this at most: nothing is ever certain."""
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Sign:
    """A finding in plain numbers, from which a table is made.

    Parameters
    ----------
    kind : str
        "choice", "graded" or "circumstance".
    values : tuple of str
        Ids of the values; a graded finding from normal to worst.
    links : mapping of str to mapping of str to float
        By cause and value: probability that the cause shows the value, or, for a circumstance, the
        factor on the odds of the cause.
    leak : float or mapping of str to float
        Probability that an abnormal value shows without a listed cause. A single number is the total,
        shared equally among the abnormal values.
    normal : str, optional
        The normal value; the first one by default.
    rates : mapping of str to float
        Base rates of the values of a circumstance.
    """

    kind: Kind
    values: tuple[str, ...]
    links: Mapping[str, Mapping[str, float]]
    leak: float | Mapping[str, float] = 0.0
    normal: str | None = None
    rates: Mapping[str, float] | None = None


def choice(
    values: Iterable[str],
    links: Mapping[str, Mapping[str, float]],
    leak: float | Mapping[str, float] = 0.0,
    normal: str | None = None,
) -> Sign:
    """Return a finding whose values stand in no order; `normal` is the first unless named."""
    return Sign("choice", tuple(values), links, leak, normal)


def graded(
    values: Iterable[str], links: Mapping[str, Mapping[str, float]], leak: float | Mapping[str, float] = 0.0
) -> Sign:
    """Return a finding whose values go from normal to worst."""
    return Sign("graded", tuple(values), links, leak)


def circumstance(rates: Mapping[str, float], factors: Mapping[str, Mapping[str, float]]) -> Sign:
    """Return a circumstance with its base rates and, by cause and value, the factors on the odds."""
    return Sign("circumstance", tuple(rates), factors, rates=rates)


@dataclass(frozen=True, slots=True, eq=False)
class FindingTable:
    """One finding given any set of causes.

    Parameters
    ----------
    finding : str
        Id of the finding.
    kind : str
        "choice" (competing risks), "graded" (noisy maximum) or "circumstance".
    values : tuple of str
        Ids of its V values.
    linked : ndarray of int, shape (k,)
        Positions of the linked causes.
    nothing : ndarray, shape (V,)
        P(value) where no linked cause is there.
    single : ndarray, shape (k, V)
        P(value) given one linked cause.
    pair : ndarray, shape (k, k, V)
        P(value) given two; on the diagonal the single cause.
    other : ndarray, shape (V,)
        P(value) for a fault that is not on the list: that of an average faulty clock.
    ground : ndarray, shape (V,)
        What holds without a cause: leak rates, log cumulative leak, or log base rates.
    effect : ndarray, shape (C + 1, V)
        What each cause of the base adds to `ground`; the last row, for "no cause", is zero.
    row : ndarray of int, shape (C + 1,)
        Place of each cause of the base in `linked`; -1 where it is not linked.
    normal : int
        Position of the normal value; 0 for a circumstance, which has none.

    Notes
    -----
    A choice has rates ``-ln(1 - P) p_v / P`` that add up, a graded finding logarithms of ``F(v)`` that
    add up, a circumstance logarithms of factors that add up. So one addition serves all three, and a
    set of any size is exact.
    """

    finding: str
    kind: Kind
    values: tuple[str, ...]
    linked: Indices
    nothing: Floats
    single: Floats
    pair: Floats
    other: Floats
    ground: Floats
    effect: Floats
    row: Indices
    normal: int

    def given(self, causes: Iterable[int]) -> Floats:
        """Return P(value | the set of causes), shape (V,), exact for a set of any size."""
        total = self.ground + self.effect[list(causes)].sum(axis=0)
        return _distribution(self.kind, total, self.normal)

    def given_members(self, members: Indices) -> Floats:
        """Return P(value | set) for many sets at once.

        Parameters
        ----------
        members : ndarray of int, shape (N, m)
            The causes of each set; short rows filled up with C, the number of causes (see `padded`).

        Returns
        -------
        ndarray, shape (N, V)
        """
        total = np.broadcast_to(self.ground, (len(members), len(self.values))).copy()
        for column in range(members.shape[1]):
            total += self.effect[members[:, column]]
        return _distribution(self.kind, total, self.normal)


def padded(sets: Iterable[Iterable[int]], count: int) -> Indices:
    """Return sets of causes as one array.

    Parameters
    ----------
    sets : iterable of iterables of int
        Positions of causes.
    count : int
        Number C of causes in the base, which stands for "no cause".

    Returns
    -------
    ndarray of int, shape (N, m)
        m is the size of the largest set, at least 1.
    """
    rows = [tuple(causes) for causes in sets]
    width = max((len(causes) for causes in rows), default=1) or 1
    return np.array([(*causes, *(count,) * (width - len(causes))) for causes in rows], dtype=np.intp).reshape(-1, width)


def _distribution(kind: Kind, total: Floats, normal: int) -> Floats:
    """Turn sums of effects, shape (..., V), into probabilities of the values."""
    if kind == "choice":
        rate = total.sum(axis=-1, keepdims=True)
        shown = total * (-np.expm1(-rate) / np.maximum(rate, _TINY))
        shown[..., normal] = np.exp(-rate[..., 0])
        return np.asarray(shown)
    if kind == "graded":
        at_most = np.exp(total)
        return np.asarray(np.maximum(np.diff(at_most, axis=-1, prepend=0.0), 0.0))
    weight = np.exp(total - total.max(axis=-1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=-1, keepdims=True))


def make_table(finding: str, sign: Sign, index: Mapping[str, int], odds: Floats) -> FindingTable:
    """Make the table of one finding.

    Parameters
    ----------
    finding : str
        Id of the finding.
    sign : Sign
        Its numbers; links of causes that are not in `index` are left out.
    index : mapping of str to int
        Position of each cause.
    odds : ndarray, shape (C,)
        Odds of each cause, for the average faulty clock.

    Raises
    ------
    InputError
        Where a link names an unknown or the normal value, or the links of a cause add up to more than 1.
    """
    ground = _ground(finding, sign)
    effect = np.zeros((len(index) + 1, len(sign.values)))
    row = np.full(len(index) + 1, -1, dtype=np.intp)
    linked = np.array(sorted(index[cause] for cause in sign.links if cause in index), dtype=np.intp)
    row[linked] = np.arange(len(linked))
    for cause, given in sign.links.items():
        if cause in index:
            effect[index[cause]] = _effect(f"finding '{finding}', cause '{cause}'", sign, given)
    normal = _normal(sign)
    own = effect[linked]
    single = _distribution(sign.kind, ground + own, normal)
    pair = _distribution(sign.kind, ground + own[:, None] + own[None, :], normal)
    pair[np.arange(len(linked)), np.arange(len(linked))] = single
    nothing = _distribution(sign.kind, ground.copy(), normal)
    other = _average_faulty_clock(sign.kind, normal, ground, own, odds, linked, (nothing, single, pair))
    return FindingTable(
        finding, sign.kind, sign.values, linked, nothing, single, pair, other, ground, effect, row, normal
    )


def _normal(sign: Sign) -> int:
    if sign.kind != "choice" or sign.normal is None:
        return 0
    return sign.values.index(sign.normal)


def _numbers(where: str, sign: Sign, given: Mapping[str, float]) -> Floats:
    """Return the numbers of `given` in the order of the values, 0 where none is given."""
    for value in given:
        if value not in sign.values:
            raise InputError(f"unknown value '{value}'", where, f"It has {', '.join(sign.values)}")
    return np.array([given.get(value, 0.0) for value in sign.values])


def _abnormal(where: str, sign: Sign, given: Mapping[str, float], most: float = 1.0) -> Floats:
    """Return checked probabilities of the abnormal values, shape (V,), that add up to at most `most`."""
    numbers = _numbers(where, sign, given)
    total = numbers.sum()
    if numbers[_normal(sign)] != 0 or (numbers < 0).any() or total > most + 1e-9:
        raise InputError(
            f"probabilities {dict(given)}",
            where,
            f"They belong to abnormal values only and add up to at most {most:g}",
        )
    # No cause shows a finding with certainty: a total of 1, such as two values fifty-fifty, is scaled.
    return numbers if total <= MOST_TOGETHER else np.asarray(numbers * (MOST_TOGETHER / total))


def _ground(finding: str, sign: Sign) -> Floats:
    """Return what holds without a cause, shape (V,)."""
    where = f"finding '{finding}'"
    if sign.kind == "circumstance":
        rates = _numbers(where, sign, sign.rates or {})
        if (rates <= 0).any() or abs(rates.sum() - 1) > 1e-6:
            raise InputError(f"base rates {dict(sign.rates or {})}", where, "Each is above 0 and they add up to 1")
        return np.asarray(np.log(rates / rates.sum()))
    leak = sign.leak
    if not isinstance(leak, Mapping):
        names = [value for place, value in enumerate(sign.values) if place != _normal(sign)]
        leak = dict.fromkeys(names, leak / len(names))
    return _added(sign, _abnormal(f"{where}, leak", sign, leak, MOST_TOGETHER))


def _effect(where: str, sign: Sign, given: Mapping[str, float]) -> Floats:
    """Return what one cause adds, shape (V,)."""
    if sign.kind != "circumstance":
        return _added(sign, _abnormal(where, sign, given))
    factors = _numbers(where, sign, {**dict.fromkeys(sign.values, 1.0), **given})
    if (factors <= 0).any():
        raise InputError(f"factors {dict(given)}", where, "Each is above 0")
    rates = _numbers(where, sign, sign.rates or {})
    # Divided by the mean, so that an unasked circumstance leaves the odds of the cause as they are.
    return np.asarray(np.log(factors / (rates / rates.sum() @ factors)))


def _added(sign: Sign, probabilities: Floats) -> Floats:
    """Turn probabilities of abnormal values into what is added up: rates, or logarithms of F(v)."""
    total = float(probabilities.sum())
    if sign.kind == "choice":
        return probabilities * (-np.log1p(-total) / total) if total > 0 else probabilities
    worse = np.append(np.cumsum(probabilities[:0:-1])[::-1], 0.0)
    return np.asarray(np.log1p(-worse))


def symmetric(odds: Floats) -> tuple[float, float, float]:
    """Return the sums of products of one, two and three of the odds."""
    p1, p2, p3 = (float((odds**power).sum()) for power in (1, 2, 3))
    pairs = max((p1 * p1 - p2) / 2, 0.0) if len(odds) > 1 else 0.0
    triples = max((p1**3 - 3 * p1 * p2 + 2 * p3) / 6, 0.0) if len(odds) > 2 else 0.0
    return p1, pairs, triples


def _average_faulty_clock(
    kind: Kind,
    normal: int,
    ground: Floats,
    own: Floats,
    odds: Floats,
    linked: Indices,
    tables: tuple[Floats, Floats, Floats],
) -> Floats:
    """Return the mean of P(value | K) over the prior of all sets of one to three causes, shape (V,)."""
    nothing, single, pair = tables
    inside, outside = odds[linked], np.delete(odds, linked)
    out1, out2, out3 = symmetric(outside)
    everything = sum(symmetric(odds))
    if everything <= 0:
        return nothing.copy()
    total = (out1 + out2 + out3) * nothing + (1 + out1 + out2) * (inside @ single)
    both = np.triu(np.outer(inside, inside), 1) * (1 + out1)
    total = total + np.einsum("ab,abv->v", both, pair)
    if len(linked) > 2:
        a, b, c = triples_of(len(linked))
        three = _distribution(kind, ground + own[a] + own[b] + own[c], normal)
        total = total + (inside[a] * inside[b] * inside[c]) @ three
    return np.asarray(total / everything)


@lru_cache(maxsize=128)
def triples_of(count: int) -> tuple[Indices, Indices, Indices]:
    """Return all triples a < b < c out of `count` as three arrays."""
    a, b = np.triu_indices(count, 1)
    repeats = count - 1 - b
    first, second = np.repeat(a, repeats), np.repeat(b, repeats)
    starts = np.repeat(np.cumsum(repeats) - repeats, repeats)
    third = np.arange(len(first)) - starts + second + 1
    return first, second, third.astype(np.intp)
