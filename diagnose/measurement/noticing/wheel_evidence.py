"""How well each count of teeth explains the beats, by four kinds of wheel.

A wheel out of round (one harmonic of its turn), out of true in some smooth way (a few harmonics, those with opposite
signs on the two pallets among them), one whose teeth scatter, and one with a single bad tooth.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing import turning
from diagnose.measurement.noticing.turning import Floats, Intervals, Pattern, Products, Whitened

BEATS_PER_TOOTH = 2
_WEIGHTS = np.array([0.2, 0.15, 0.5, 0.15])
"""Chance of each kind of wheel before listening: out of round, out of true, one bad tooth, scattered teeth."""
_TOOTH_SMOOTH = np.array([0.0, 1.0, 4.0, 16.0])
_TOOTH_SMOOTH_SHARES = np.array([0.64, 0.12, 0.12, 0.12])
"""Sizes of the wheel's other errors beside a bad tooth; in two thirds of all cases there is none (estimate-2026-11)."""
_TOOTH_SLAB = 3.0
_ONE_BEAT, _NEXT_BEAT, _OTHER_PALLET = 0.7, 0.06, 0.24
"""Chance before listening that a bad tooth is out at one beat of the turn, at two that follow, or at two that are as
far apart as the tooth needs from pallet to pallet (estimate-2026-11)."""
_LEAST_SPAN, _MOST_SPAN = 0.15, 0.4
"""Part of a turn from the drop of a tooth on the one pallet to that on the other. An anchor spans n + 1/2 teeth and the
wheel goes on by half a tooth in a beat: 2 n + 1 beats, for 30 teeth 9 to 23 (6 1/2 to 9 1/2 teeth are usual, common
practice, no source)."""
_ALIKE = 0.97
"""Correlation of the two sizes before listening: the same lack of length acts on both pallets."""
_FAR_BELOW = 9.0
"""Logarithm of the odds below the best from which a ratio of the noises is left out; what is left out counts as
impossible, so the odds told are never too high."""
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
        places = turning.place_products(white, intervals.numbers % turn, turn)
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
    """Return the logarithm of the odds of each count of teeth against no wheel; shape (T,).

    Only those ratios of the noises are worked through that matter: from the one that fits best without a wheel upward
    and downward, as long as they are not far below the best.
    """
    nulls = np.array([turning.null_evidence(white) for white in whites])
    families = np.full((len(_WEIGHTS), len(possible), len(whites)), -np.inf)
    turns: dict[int, list[Turn]] = {}
    for place in _outward(int(np.argmax(nulls)), len(whites), families):
        turns[place] = [Turn.of(intervals, whites[place], count) for count in possible]
        made = [[kind(turn) for turn in turns[place]] for kind in (round_evidence, smooth_evidence, tooth_evidence)]
        families[: len(made), :, place] = made
    # The full pattern costs most: it is weighed only where the noises are as the other kinds of wheel say.
    for place in np.argsort(-np.max(families, axis=(0, 1)))[:_MIXED_RATIOS]:
        families[-1, :, place] = [mixed_evidence(turn) for turn in turns.get(int(place), [])] or -np.inf
    families += np.log(_WEIGHTS)[:, None, None]
    sums = np.array([turning.log_sum(families[:, row]) for row in range(len(possible))])
    return np.asarray(sums - np.log(len(whites)) - turning.log_mean(nulls))


def _outward(start: int, count: int, families: Floats) -> Iterator[int]:
    """Give the ratios from one on downward, then upward, while what was found at the last is not far below the best."""
    yield start
    for step in (-1, 1):
        place = start
        while 0 <= place + step < count and families[..., place].max() >= families.max() - _FAR_BELOW:
            place += step
            yield place


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
    return turning.log_sum(by_place(turn)[0])


def pallet_lags(turn: int) -> NDArray[np.intp]:
    """Return how many beats may lie between the two drops of a bad tooth in a turn of so many; the first is 1."""
    spans = np.arange(1, turn, BEATS_PER_TOOTH)
    return np.concatenate(
        [spans[:1], spans[(spans >= _LEAST_SPAN * turn) & (spans <= _MOST_SPAN * turn) & (spans > 1)]]
    )


def by_place(turn: Turn) -> tuple[Floats, Floats, Floats]:
    """Return evidence, size and information of a bad tooth by its place; shape (S, 1 + L, P) each.

    For each size of the wheel's other errors: out at one beat of the turn, then at two, each of `pallet_lags` apart,
    of which the place is the first. The chances before listening are within the evidence, which is to be summed.
    """
    places = turn.places
    lags = pallet_lags(len(places.along))
    logs, sizes, known = turn.pattern.with_places(places, turn.cross, _TOOTH_SMOOTH, _TOOTH_SLAB, lags, _ALIKE)
    spans = np.full(len(lags) - 1, _OTHER_PALLET / max(len(lags) - 1, 1))
    shares = np.concatenate([[_ONE_BEAT, _NEXT_BEAT], spans]) / len(places.along)
    return logs + np.log(_TOOTH_SMOOTH_SHARES[:, None, None] * shares[:, None]), sizes, known


def named_places(turn: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return by which beat of a turn each place of `by_place` is named, and the other beat; shape (1 + L, P) each.

    A tooth is named by its drop on the pallet of the first beat heard, an even beat, wherever it has one; the other
    beat is -1 where there is none.
    """
    here = np.arange(turn)
    there = (here + pallet_lags(turn)[:, None]) % turn
    even = here % BEATS_PER_TOOTH == 0
    names = np.concatenate([here[None], np.where(even, here, there)])
    others = np.concatenate([np.full((1, turn), -1), np.where(even, there, here)])
    return names, others
