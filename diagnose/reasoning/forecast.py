"""What will be said: the chance of each answer to each finding, for every set of causes at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.model.entries import FindingEntry, Where
from diagnose.reasoning.tables import Base, Floats, Indices, padded
from diagnose.settings import Parameters

# One answer in five is a "think so" (reasoning.md takes the same share).
THINK_SO_SHARE = 0.2
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Forecast:
    """The tables of all findings of a base, stacked so that one addition serves them all.

    Parameters
    ----------
    findings : tuple of str, F
        In the order of the axes below.
    sizes : ndarray of int, shape (F,)
        Number of values of each; the axes below are as long as the longest, V.
    ground : ndarray, shape (F, V)
        What holds without a cause.
    effect : ndarray, shape (C + 1, F, V)
        What each cause adds; the last row, for "no cause", is zero.
    other : ndarray, shape (F, V)
        P(value) for a fault that is not on the list.
    normal : ndarray of int, shape (F,)
        Position of the normal value of a choice.
    choice, graded, circumstance : ndarray of int
        Positions of the findings of each kind.
    valid : ndarray of bool, shape (F, V)
        Where a finding has a value.
    """

    findings: tuple[str, ...]
    sizes: Indices
    ground: Floats
    effect: Floats
    other: Floats
    normal: Indices
    choice: Indices
    graded: Indices
    circumstance: Indices
    valid: Floats

    def true_values(self, members: Indices, which: Indices) -> Floats:
        """Return P(value | set) of chosen findings for each set and, in the last row, for `other`.

        Parameters
        ----------
        members : ndarray of int, shape (S, m)
            The causes of each set, filled up with C.
        which : ndarray of int, shape (Q,)
            Positions of the findings.

        Returns
        -------
        ndarray, shape (S + 1, Q, V)
            Zero where a finding has no such value.
        """
        total = np.repeat(self.ground[which][None], len(members), axis=0)
        for column in range(members.shape[1]):
            # Most sets hold one cause: the "no cause" that fills up the others adds nothing.
            rows = np.flatnonzero(members[:, column] < len(self.effect) - 1)
            total[rows] += self.effect[members[rows, column][:, None], which]
        valid = self.valid[which]
        result = np.empty((len(members) + 1, *total.shape[1:]))
        result[-1] = self.other[which]
        place = np.full(len(self.findings), -1, dtype=np.intp)
        place[which] = np.arange(len(which))
        for kind, turn in ((self.choice, _choices), (self.graded, _gradings), (self.circumstance, _circumstances)):
            here = place[kind]
            here = here[here >= 0]
            if len(here):
                result[:-1, here] = turn(total[:, here], self.normal[which[here]], valid[here])
        return result

    def said(self, true_values: Floats, which: Indices, wrong: Floats) -> Floats:
        """Return P(said | set) from `true_values`, where an answer to finding q is wrong with `wrong[q]`.

        A wrong answer is any other value, each as likely.
        """
        other = (wrong / np.maximum(self.sizes[which] - 1, 1))[:, None]
        chance: Floats = (other + (1.0 - wrong[:, None] - other) * true_values) * self.valid[which]
        return chance


def _choices(total: Floats, normal: Indices, valid: Floats) -> Floats:
    """Turn rates, shape (S, Q, V), into probabilities of competing risks."""
    rate = total.sum(axis=2, keepdims=True)
    shown = total * (-np.expm1(-rate) / np.maximum(rate, _TINY))
    shown[:, np.arange(len(normal)), normal] = np.exp(-rate[:, :, 0])
    return np.asarray(shown)


def _gradings(total: Floats, normal: Indices, valid: Floats) -> Floats:
    """Turn logarithms of F(v) into probabilities of the noisy maximum."""
    at_most = np.exp(total)
    return np.maximum(np.diff(at_most, axis=2, prepend=0.0), 0.0) * valid


def _circumstances(total: Floats, normal: Indices, valid: Floats) -> Floats:
    weight = np.exp(total - total.max(axis=2, keepdims=True, where=valid > 0, initial=-np.inf)) * valid
    return np.asarray(weight / weight.sum(axis=2, keepdims=True))


_kept: list[tuple[Base, Forecast]] = []
_MOST_KEPT = 8


def forecast_of(base: Base) -> Forecast:
    """Return the stacked tables of a base; those of the last few bases are kept."""
    for known, forecast in _kept:
        if known is base:
            return forecast
    forecast = _stack(base)
    _kept.append((base, forecast))
    del _kept[:-_MOST_KEPT]
    return forecast


def _stack(base: Base) -> Forecast:
    tables = tuple(base.tables.values())
    sizes = np.array([len(table.values) for table in tables], dtype=np.intp)
    shape = (len(tables), int(sizes.max(initial=2)))
    ground, other, valid = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    effect = np.zeros((len(base.causes) + 1, *shape))
    for number, table in enumerate(tables):
        width = len(table.values)
        ground[number, :width] = table.ground
        other[number, :width] = table.other
        valid[number, :width] = 1.0
        effect[:, number, :width] = table.effect
        if table.kind == "graded":
            # Beyond the worst value F stays at 1, so that the differences there are zero.
            ground[number, width:] = 0.0
    kinds = [table.kind for table in tables]
    where = {kind: np.array([i for i, k in enumerate(kinds) if k == kind], dtype=np.intp) for kind in set(kinds)}
    nowhere = np.zeros(0, dtype=np.intp)
    normal = np.array([table.normal for table in tables], dtype=np.intp)
    return Forecast(
        tuple(base.tables),
        sizes,
        ground,
        effect,
        other,
        normal,
        where.get("choice", nowhere),
        where.get("graded", nowhere),
        where.get("circumstance", nowhere),
        valid,
    )


def members_of(sets: Sequence[tuple[int, ...]], base: Base) -> Indices:
    """Return the sets of causes as a rectangle, shape (S, m), short rows filled up with C."""
    return padded(sets, len(base.causes))


def wrong_rate(entry: FindingEntry, where: Where, parameters: Parameters) -> float:
    """Return the chance that an answer to a finding will be wrong, over sure and think-so answers [1].

    Parameters
    ----------
    entry : FindingEntry
        What will be asked.
    where : str
        On a call an owner answers; elsewhere trained hands look, or read off a scale.
    parameters : Parameters
        The rates.
    """
    if where != "call" and entry.measured is not None:
        return parameters.wrong_read_off
    if where == "call":
        sure, unsure = parameters.wrong_sure, parameters.wrong_think_so
    else:
        sure, unsure = parameters.wrong_sure_trained, parameters.wrong_think_so_trained
    return (1.0 - THINK_SO_SHARE) * sure + THINK_SO_SHARE * unsure


def information_about_sets(weights: Floats, said: Floats) -> Floats:
    """Return what the answer to each question is expected to tell about the sets, shape (Q,). [nat]

    Parameters
    ----------
    weights : ndarray, shape (S,)
        Weights of the sets; they add up to 1.
    said : ndarray, shape (S, Q, V)
        Chance of each answer to each question.
    """
    if said.shape[1] == 0:
        return np.zeros(0)
    mean = np.tensordot(weights, said, 1)
    apart = np.zeros(said.shape[1])
    for value in range(said.shape[2]):
        # Most findings have two or three values: the logarithms of the others are never needed.
        there = np.flatnonzero(mean[:, value] > 0)
        chance = said[:, there, value]
        apart[there] += weights @ (chance * np.log(np.maximum(chance, _TINY)))
    together = (mean * np.log(np.maximum(mean, _TINY))).sum(axis=1)
    return np.asarray(np.maximum(apart - together, 0.0))
