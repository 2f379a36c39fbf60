"""How well each count of teeth explains the beats, by four kinds of wheel.

A wheel out of round (one harmonic of its turn), out of true in some smooth way (a few harmonics, those with opposite
signs on the two pallets among them), one whose teeth scatter, and one with a single bad tooth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing import turning
from diagnose.measurement.noticing.turning import Floats, Intervals, Pattern, Products, Whitened

BEATS_PER_TOOTH = 2
_WEIGHTS = np.array([0.2, 0.2, 0.4, 0.2])
"""Chance of each kind of wheel before listening: out of round, out of true, one bad tooth, scattered teeth."""
_TOOTH_SMOOTH = np.array([0.0, 0.0, 0.0, 1.0, 4.0, 16.0])
"""Sizes of the wheel's other errors beside a bad tooth; in half of all cases there is none."""
_TOOTH_SLAB = 4.0
_OWN_PART = 0.3
"""Scatter of the teeth beside the smooth part of the error."""
_MIXED_SCALES = np.array([0.5, 1.0, 2.0, 5.0])
_MIXED_RATIOS = 2


def turn_columns(
    numbers: NDArray[np.intp], period_beats: float, harmonics: Sequence[int] = (1, 2, 3), breathing: Sequence[int] = ()
) -> Floats:
    """Return columns of what repeats after a number of beats, for a fit of the times; shape (N, 2 (H + B)).

    Parameters
    ----------
    numbers : int array (N,)
        Numbers of the beats.
    period_beats : float
        Beats in one turn: twice the teeth of an escape wheel.
    harmonics : sequence of int, length H
        Harmonics of a turn.
    breathing : sequence of int, length B
        Harmonics of what has opposite signs on even and odd beats.
    """
    turn = 2.0 * np.pi * np.asarray(numbers, float)[:, None] / period_beats
    side = np.where(np.asarray(numbers) % 2 == 0, -1.0, 1.0)[:, None]
    plain, opposite = turn * np.asarray(harmonics, float), turn * np.asarray(breathing, float)
    columns = [np.cos(plain), np.sin(plain), side * np.cos(opposite), side * np.sin(opposite)]
    return np.concatenate(columns, axis=1)


def smooth_shape() -> tuple[list[int], list[int], Floats]:
    """Return harmonics, breathing harmonics and the standard deviation of each column of a smooth pattern."""
    plain, opposite = [one for one, _ in turning.SMOOTH], [one for one, _ in turning.BREATHING]
    sizes = [size for _, size in turning.SMOOTH], [size for _, size in turning.BREATHING]
    return plain, opposite, np.array([*sizes[0], *sizes[0], *sizes[1], *sizes[1]])


def _place_columns(numbers: NDArray[np.intp], count: int) -> Floats:
    """Return one column for each beat of a turn; shape (N, 2 count)."""
    turn = BEATS_PER_TOOTH * count
    return np.asarray((numbers[:, None] % turn) == np.arange(turn), float)


@dataclass(frozen=True, slots=True)
class Turn:
    """Products of one count of teeth and one ratio of noises: of its places, and of its smooth pattern."""

    places: Products
    smooth: Products
    cross: Floats
    pattern: Pattern

    @staticmethod
    def of(intervals: Intervals, white: Whitened, count: int) -> Turn:
        """Return the products of one count of teeth."""
        turn = BEATS_PER_TOOTH * count
        columns = white.whiten(intervals.change(_place_columns(intervals.numbers, count)))
        places = turning.products(white, columns)
        pattern = _pattern_of(turn)
        cross = places.gram @ pattern
        smooth = Products(pattern.T @ cross, pattern.T @ places.along, places.rest, places.freedom, places.log_common)
        return Turn(places, smooth, cross, Pattern.of(smooth, smooth_shape()[2]))

    @property
    def log_null(self) -> float:
        """Logarithm of the evidence of no wheel error."""
        return self.places.log_null


@lru_cache(maxsize=64)
def _pattern_of(turn: int) -> Floats:
    """Return the smooth columns over the beats of a turn; shape (turn, C)."""
    plain, opposite, _ = smooth_shape()
    return turn_columns(np.arange(turn), turn, plain, opposite)


def odds_by_teeth(intervals: Intervals, whites: list[Whitened], possible: list[int]) -> Floats:
    """Return the logarithm of the odds of each count of teeth against no wheel; shape (T,)."""
    by_ratio = np.array([[Turn.of(intervals, white, count) for white in whites] for count in possible], dtype=object)
    nulls = np.array([one.log_null for one in by_ratio[0]])
    null = turning.log_mean(nulls)
    smooth = np.array([[smooth_evidence(one) for one in row] for row in by_ratio])
    tooth = np.array([[tooth_evidence(one) for one in row] for row in by_ratio])
    plain = np.array([[round_evidence(one) for one in row] for row in by_ratio])
    # The full pattern costs most: it is weighed only where the noises are as the other kinds of wheel say.
    best = np.argsort(-np.max(np.stack([plain, smooth, tooth]), axis=(0, 1)))[:_MIXED_RATIOS]
    mixed = np.full_like(smooth, -np.inf)
    for place in best:
        mixed[:, place] = [mixed_evidence(row[place]) for row in by_ratio]
    families = np.stack([plain, smooth, tooth, mixed])
    families += np.log(_WEIGHTS)[:, None, None]
    sums = np.array([turning.log_sum(families[:, row]) for row in range(len(possible))])
    return np.asarray(sums - np.log(len(whites)) - null)


def round_evidence(turn: Turn) -> float:
    """Return the evidence of a wheel that is out of round and nothing else: one harmonic."""
    first = np.array([0, len(turning.SMOOTH)])
    made = turn.smooth
    alone = Products(made.gram[np.ix_(first, first)], made.along[first], made.rest, made.freedom, made.log_common)
    return turning.log_mean(Pattern.of(alone, np.ones(2)).evidence())


def smooth_evidence(turn: Turn) -> float:
    """Return the evidence of a wheel out of true in some smooth way."""
    return turning.log_mean(turn.pattern.evidence())


def mixed_evidence(turn: Turn) -> float:
    """Return the evidence of a wheel whose teeth scatter, with or without being out of true."""
    places = turn.places
    pattern, shape = _pattern_of(len(places.along)), smooth_shape()[2]
    # The standard deviation of each place, with the smooth pattern and a part of its own.
    spread = _OWN_PART**2 * np.eye(len(pattern)) + (pattern * np.square(shape)) @ pattern.T
    root = np.linalg.cholesky(spread)
    over = Products(root.T @ places.gram @ root, root.T @ places.along, places.rest, places.freedom, places.log_common)
    return turning.log_mean(
        np.concatenate([turning.evidence_of_many(places, _MIXED_SCALES), turning.evidence_of_many(over, _MIXED_SCALES)])
    )


def tooth_evidence(turn: Turn) -> float:
    """Return the evidence of one bad tooth, with or without a wheel out of true."""
    return turning.log_mean(by_place(turn)[0])


def by_place(turn: Turn) -> tuple[Floats, Floats]:
    """Return evidence and size of one bad beat of a turn, then of a tooth with both its beats; shape (2 S, P) each."""
    places, count = turn.places, len(turn.places.along) // BEATS_PER_TOOTH
    pairs = (count, BEATS_PER_TOOTH)
    both = Products(
        places.gram.reshape(*pairs, *pairs).sum(axis=(1, 3)),
        places.along.reshape(pairs).sum(axis=1),
        places.rest,
        places.freedom,
        places.log_common,
    )
    one = turn.pattern.with_one_place(places, turn.cross, _TOOTH_SMOOTH, _TOOTH_SLAB)
    two = turn.pattern.with_one_place(both, turn.cross.reshape(*pairs, -1).sum(axis=1), _TOOTH_SMOOTH, _TOOTH_SLAB)
    # A tooth with both its beats counts once: half at each of them.
    made = [one, (np.repeat(two[0], 2, axis=1), np.repeat(two[1], 2, axis=1))]
    return np.concatenate([made[0][0], made[1][0]]), np.concatenate([made[0][1], made[1][1]])
