"""What was wrong before each remedy and what is wrong now, followed through all of them.

A remedy does not erase what was found before it. Each set of causes splits into a part it left as it was
and a part it cured; what was found earlier remains evidence for what was there then. A finding that the
cured causes show has a new value in the cured part; in the other part a second answer is a second reading
of the same value.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diagnose.reasoning.finding_table import FindingTable, Floats, Indices
from diagnose.reasoning.pairs import Weights
from diagnose.reasoning.readings import TINY, Reading, read
from diagnose.reasoning.tables import Base
from diagnose.reasoning.values import RemedyEffect

MOST_HISTORIES = 30_000
"""Beyond this number the lightest are dropped."""


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """What was found between two remedies, and the remedy at its end.

    Parameters
    ----------
    readings : mapping of str to Reading
        By finding.
    factors : mapping of int to float
        Factors of rules on the odds of causes, by position.
    effect : RemedyEffect, optional
        None after the last remedy.
    """

    readings: Mapping[str, Reading]
    factors: Mapping[int, float]
    effect: RemedyEffect | None


@dataclass(slots=True, eq=False)
class Histories:
    """All histories with their weights.

    Parameters
    ----------
    count : int
        Number C of causes; it stands for "no cause" in the sets.
    then : list of ndarray of int, shape (N, 3)
        By stretch: the causes there at that time.
    log_weight : ndarray, shape (N,)
        Logarithms of the weights, on the scale on which all began as 1.
    log_other : float
        The same, before the first remedy, for a fault that is not on the list.
    drawn : dict of str to ndarray of int, shape (N,)
        By finding that is answered again: the stretch in which the value came about that its newest
        answer speaks of.
    newest : dict of str to int
        Of these, the stretch of the newest answer.
    dropped : float
        Share of histories that were dropped because they were too many.
    rest : float
        Weight of the triples that were left out at first, for each unit of those that were not.
    gain_other : float
        Logarithm of what a fault that is not on the list has gained since the first stretch.
    """

    count: int
    then: list[Indices]
    log_weight: Floats
    log_other: float
    drawn: dict[str, Indices] = field(default_factory=dict)
    newest: Mapping[str, int] = field(default_factory=dict)
    dropped: float = 0.0
    rest: float = 0.0
    gain_other: float = 0.0

    def shares(self) -> tuple[Floats, float]:
        """Return the weights of the histories, shape (N,), and of `other`, which add up to 1."""
        log_other = self.log_other + self.gain_other
        top = max(float(self.log_weight.max(initial=-np.inf)), log_other)
        weight, other = np.exp(self.log_weight - top), float(np.exp(log_other - top))
        total = float(weight.sum()) + other
        return weight / total, other / total


def begin(weights: Weights, newest: Mapping[str, int]) -> Histories:
    """Return the sets as they weigh before the first remedy.

    Parameters
    ----------
    weights : Weights
        After the first stretch.
    newest : mapping of str to int
        Findings answered in more than one stretch, each with the last of these.
    """
    count = len(weights.single)
    members, weight = weights.sets()
    with np.errstate(divide="ignore"):
        log_weight, log_other = np.log(weight), float(np.log(weights.other))
    there = weight > 0
    members, log_weight = members[there], log_weight[there]
    drawn = {name: np.zeros(len(members), dtype=np.intp) for name in newest}
    rest = weights.rest / max(float(weights.triple.sum()), TINY)
    return Histories(count, [members], log_weight, log_other, drawn, newest, rest=rest)


def log_faulty(histories: Histories) -> float:
    """Return the logarithm of the weight of all histories that began with a fault on the list."""
    faulty = (histories.then[0] < histories.count).any(axis=1)
    weight = histories.log_weight[faulty]
    top = float(weight.max(initial=-np.inf))
    return top + float(np.log(np.exp(weight - top).sum())) if np.isfinite(top) else float(np.log(TINY))


def follow(histories: Histories, base: Base, stretches: Sequence[Stretch]) -> None:
    """Carry the histories through all remedies; the readings of the first stretch are in them already."""
    for number, stretch in enumerate(stretches):
        if number > 0:
            _weigh_factors(histories, base, stretches, number)
            for name, reading in stretch.readings.items():
                _weigh_reading(histories, name, reading, stretches[:number])
        if stretch.effect is not None:
            _remedy(histories, base, stretch.effect)


def present(stretches: Sequence[Stretch], name: str, kind: str) -> int:
    """Return the stretch whose causes speak for the value that a finding has in the last of `stretches`.

    A circumstance lies in the past: it speaks for what was there at first, unless a remedy changed it.
    """
    if kind != "circumstance":
        return len(stretches) - 1
    changed = [
        number for number, item in enumerate(stretches[:-1]) if item.effect is not None and name in item.effect.changed
    ]
    return changed[-1] + 1 if changed else 0


def same_value(
    histories: Histories, name: str, before: Sequence[Stretch]
) -> Iterator[tuple[Indices | slice, Floats | None]]:
    """Yield groups of histories, and the product of what was said before of a value as it is now, shape (V,).

    The product is None where nothing was said of it before.
    """
    answered = [number for number, stretch in enumerate(before) if name in stretch.readings]
    if not answered:
        yield slice(None), None
        return
    # How many of the earlier answers are about a value that has passed.
    passed = np.searchsorted(np.array(answered), histories.drawn[name], side="left")
    for first in range(len(answered) + 1):
        rows = np.flatnonzero(passed == first)
        product: Floats | None = None
        for number in answered[first:]:
            likelihood = before[number].readings[name].likelihood
            product = likelihood if product is None else product * likelihood
        if len(rows):
            yield rows, product


def _weigh_reading(histories: Histories, name: str, reading: Reading, before: Sequence[Stretch]) -> None:
    """Multiply the weights by what an answer says, given earlier answers of the same value."""
    then = histories.then[present([*before, Stretch({}, {}, None)], name, reading.table.kind)]
    for rows, earlier in same_value(histories, name, before):
        if earlier is None:
            histories.log_weight[rows] += reading.log_given(then[rows])
        else:
            histories.log_weight[rows] += reading.times(earlier).log_given(then[rows])
            histories.log_weight[rows] -= read(reading.table, earlier).log_given(then[rows])
    other = reading.table.other * said_before(name, reading, before)
    histories.gain_other += float(np.log(max(float(other @ reading.likelihood), TINY)))
    histories.gain_other -= float(np.log(max(float(other.sum()), TINY)))


def said_before(name: str, reading: Reading, before: Sequence[Stretch]) -> Floats:
    """Return what was said before of the present value where the fault is not on the list, shape (V,).

    No remedy cures such a fault, so only a finding that a remedy changes itself has a new value.
    """
    product = np.ones(len(reading.likelihood))
    for stretch in before:
        if name in stretch.readings:
            product = product * stretch.readings[name].likelihood
        if stretch.effect is not None and name in stretch.effect.changed:
            product = np.ones(len(reading.likelihood))
    return product


def _weigh_factors(histories: Histories, base: Base, stretches: Sequence[Stretch], number: int) -> None:
    """Multiply in the factors of rules; a later factor on a cause that is still there replaces the earlier."""
    known = 1 - base.nothing_wrong - base.none_of_these
    now = histories.then[number]
    for place, factor in stretches[number].factors.items():
        earlier = [item.factors[place] for item in stretches[:number] if place in item.factors]
        change = np.log(max(factor, TINY)) - np.log(max(earlier[-1], TINY) if earlier else 1.0)
        histories.log_weight[(now == place).any(axis=1)] += change
        share = base.prior[place] / known
        before = 1 + share * (earlier[-1] - 1) if earlier else 1.0
        histories.gain_other += float(np.log(max(1 + share * (factor - 1), TINY)) - np.log(max(before, TINY)))


def _remedy(histories: Histories, base: Base, effect: RemedyEffect) -> None:
    """Split each history with a cause of the remedy into one left as it was and one that is cured."""
    now = histories.then[-1]
    named = np.zeros(histories.count + 1, dtype=bool)
    named[list(effect.causes)] = True
    gone = named[now]
    touched = np.flatnonzero(gone[:, 0] | gone[:, 1] | gone[:, 2])
    with np.errstate(divide="ignore"):
        works, fails = np.log(effect.works), np.log1p(-effect.works)
    cured = np.where(gone[touched], histories.count, now[touched])
    removed = np.where(gone[touched], now[touched], histories.count)
    log_cured = histories.log_weight[touched] + works
    histories.log_weight[touched] += fails
    histories.log_weight = np.concatenate((histories.log_weight, log_cured))
    histories.then = [np.concatenate((members, members[touched])) for members in histories.then]
    histories.then.append(np.concatenate((now, cured)))
    number = len(histories.then) - 1
    for name, drawn in histories.drawn.items():
        later = drawn[touched]
        if number <= histories.newest[name]:
            drawn, later = _drawn_anew(base.tables[name], effect, number, drawn, later, removed)
        histories.drawn[name] = np.concatenate((drawn, later))
    _drop_lightest(histories)


def _drawn_anew(
    table: FindingTable, effect: RemedyEffect, number: int, drawn: Indices, later: Indices, removed: Indices
) -> tuple[Indices, Indices]:
    """Return the stretch in which a value came about, where the remedy cured nothing and where it did."""
    if table.finding in effect.changed:
        return np.full_like(drawn, number), np.full_like(later, number)
    # A circumstance is answered anew only where a remedy changes it itself: any other answer replaces.
    shown = (table.row[removed] >= 0).any(axis=1)
    return drawn, np.where(shown, number, later)


def _drop_lightest(histories: Histories) -> None:
    """Keep the histories that count; the rest goes into the shown figure of what was left out."""
    weight, _ = histories.shares()
    kept = np.flatnonzero(weight > 0)
    if len(kept) > MOST_HISTORIES:
        kept = kept[np.argpartition(-weight[kept], MOST_HISTORIES)[:MOST_HISTORIES]]
    if len(kept) == len(weight):
        return
    histories.dropped += 1 - float(weight[kept].sum()) / float(weight.sum())
    histories.log_weight = histories.log_weight[kept]
    histories.then = [members[kept] for members in histories.then]
    histories.drawn = {name: drawn[kept] for name, drawn in histories.drawn.items()}


def tail(histories: Histories, weight: Floats, factor: float) -> float:
    """Return the estimated share of what was left out.

    Parameters
    ----------
    histories : Histories
        After all remedies.
    weight : ndarray, shape (N,)
        Their shares.
    factor : float
        Of the estimate z3^2 / z2, where z2 and z3 are the shares of what began as two and three causes.
    """
    size = (histories.then[0] < histories.count).sum(axis=1)
    pairs, triples = (float(weight[size == number].sum()) for number in (2, 3))
    beyond = factor * triples**2 / pairs if pairs > 0 else 0.0
    return histories.dropped + histories.rest * triples + beyond
