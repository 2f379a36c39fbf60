"""The error that comes back once a turn of the escape wheel: how many teeth, how large, which tooth.

A wheel out of true, bent or with one bad tooth shows in the times of the beats with a period of twice its teeth. It is
looked for at every usual count of teeth at once, beside scatter and wandering, and told only where it explains the
beats far better than they do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing import turning
from diagnose.measurement.noticing.turning import Floats, Intervals, Whitened
from diagnose.measurement.noticing.wheel_evidence import (
    BEATS_PER_TOOTH,
    Turn,
    by_place,
    mixed_evidence,
    named_places,
    odds_by_teeth,
    round_evidence,
    smooth_evidence,
    smooth_shape,
    tooth_evidence,
    turn_columns,
)

TEETH = tuple(range(20, 46))
"""Teeth of escape wheels that are looked for; 24 to 42 are usual, 30 most of all (common practice, no source)."""
USUAL_TEETH = range(24, 43)
UNUSUAL = 0.3
"""Weight of another count beside a usual one (estimate-2026-11)."""
COMMON_TEETH, COMMON = 30, 3.0
"""The count met most often, and its weight beside another usual one (common practice, no source; estimate-2026-11)."""
LEAST_TURNS = 2.5
"""Turns below which nothing is said of a wheel: fewer cannot come again."""
SURE_ODDS = 3.0
"""How many times better than chance a wheel must explain the beats. Markov's bound on false alarms is one in so many;
as measured (make bench) they are under one in a hundred, since all possible wheels share the odds."""
_LEAST_BEATS = 40
_SHARE_TOLD = 0.95
_TOOTH_SURE = 0.8
_PLACE_SURE = 0.6
_LEAST_INFORMATION = 1e-12
_LEAST_REST = 1e-18
_NEIGHBORS = 13
_MAD_TO_SIGMA = 1.4826
_ODD_SIGMAS = 6.0
_ODD_LEAST_S = 3e-4


@dataclass(frozen=True, slots=True)
class Tooth:
    """The tooth whose tick comes too soon or too late, at one beat of a turn or at two.

    A tooth drops on the one pallet and, an odd number of beats later, on the other. It is named by its drop on the
    pallet of the first beat heard, wherever that drop is out: there the tooth of beat 0 is tooth 1, that of beat 2
    tooth 2. If it is out at one beat only and that is of the other pallet, it is counted there: the tooth of beat 1 is
    tooth 1, which is another than on the first pallet.

    Parameters
    ----------
    tooth : int
        Which, counted on the pallet of `beat`.
    beat : int
        Number of the beat of a turn that names it, counted from the first heard as 0; even on its pallet.
    late_s : float
        How late its tick comes; early where negative [s].
    uncertainty_s : float
        Standard uncertainty [s].
    chance : float
        Probability that it is this tooth, if one is bad.
    also_beat : int, optional
        The beat of a turn at which it is out on the other pallet, where that is heard.
    """

    tooth: int
    beat: int
    late_s: float
    uncertainty_s: float
    chance: float
    also_beat: int | None = None

    @property
    def on_first_pallet(self) -> bool:
        """Whether it is counted on the pallet of the first beat heard."""
        return self.beat % BEATS_PER_TOOTH == 0


@dataclass(frozen=True, slots=True)
class Wheel:
    """What is heard of the escape wheel.

    Parameters
    ----------
    found : bool
        Whether an error comes back once a turn.
    log_odds : float
        Natural logarithm of how many times better the best kinds of wheel explain the beats than none.
    turns : float
        Turns of the wheel in the recording; where none is found, of one with 30 teeth.
    teeth : int, optional
        The most likely count of teeth; None where nothing is found.
    teeth_chance : float
        Probability of that count.
    teeth_also : tuple of int
        Other counts not excluded: with `teeth` they hold 95 %.
    amplitude_s, amplitude_sigma_s : float
        Amplitude of the once-per-turn part of the error, and its standard uncertainty [s].
    breathing_s : float
        Amplitude of the part with opposite signs on the two pallets: the beat error comes and goes by so much [s].
    bad_tooth : Tooth, optional
        One tooth that stands out of the rest.
    deviations_s, deviations_sigma_s : array (2 * teeth,)
        How late each beat of a turn comes, beat error taken out, counted from the first heard; uncertainties [s].
    """

    found: bool
    log_odds: float
    turns: float
    teeth: int | None = None
    teeth_chance: float = 0.0
    teeth_also: tuple[int, ...] = ()
    amplitude_s: float = 0.0
    amplitude_sigma_s: float = 0.0
    breathing_s: float = 0.0
    bad_tooth: Tooth | None = None
    deviations_s: Floats = field(default_factory=lambda: np.empty(0))
    deviations_sigma_s: Floats = field(default_factory=lambda: np.empty(0))

    @property
    def too_short(self) -> bool:
        """Whether too few turns were heard to say anything of the wheel."""
        return not self.found and self.turns < LEAST_TURNS


def find_wheel(
    times_s: Floats,
    numbers: NDArray[np.intp],
    sigmas_s: Floats | None = None,
    segments: NDArray[np.intp] | None = None,
    teeth: Sequence[int] = TEETH,
) -> Wheel:
    """Return what the beats tell of the escape wheel.

    Parameters
    ----------
    times_s : array (N,)
        Times of the beats, in order [s].
    numbers : int array (N,)
        Their numbers; a silent beat leaves a gap.
    sigmas_s : array (N,), optional
        Standard uncertainty of each from noise in the sound [s].
    segments : int array (N,), optional
        Unbroken pieces: the longest is taken, since the wheel's place is lost over a break.
    teeth : sequence of int
        Counts of teeth that are looked for.
    """
    rows = longest_piece(numbers, segments)
    numbers = numbers[rows]
    if not len(numbers):
        return Wheel(False, 0.0, 0.0)
    span = float(numbers[-1] - numbers[0])
    possible = [count for count in teeth if span >= LEAST_TURNS * BEATS_PER_TOOTH * count]
    nothing = Wheel(False, 0.0, span / (BEATS_PER_TOOTH * COMMON_TEETH))
    if not possible or len(numbers) < _LEAST_BEATS:
        return nothing
    times, sigmas = times_s[rows], None if sigmas_s is None else sigmas_s[rows]
    odd = odd_ones_out(times, numbers)
    found = _looked_for(times[~odd], numbers[~odd], None if sigmas is None else sigmas[~odd], possible)
    if not found.found and np.count_nonzero(odd) >= LEAST_TURNS:
        # The ones out of line may be the bad tooth itself, coming round.
        found = _looked_for(times, numbers, sigmas, possible)
    return found


def _looked_for(times_s: Floats, numbers: NDArray[np.intp], sigmas_s: Floats | None, possible: list[int]) -> Wheel:
    """Return what these beats tell of the wheel."""
    intervals = turning.intervals_of(times_s, numbers, sigmas_s)
    whites = [turning.whitened(intervals, float(ratio)) for ratio in turning.RATIOS]
    weights = np.array([1.0 if count in USUAL_TEETH else UNUSUAL for count in possible])
    weights[np.array(possible) == COMMON_TEETH] = COMMON
    log_odds = odds_by_teeth(intervals, whites, possible) + np.log(weights / weights.sum())
    whole = turning.log_sum(log_odds)
    if whole < np.log(SURE_ODDS):
        turns = float(numbers[-1] - numbers[0]) / (BEATS_PER_TOOTH * COMMON_TEETH)
        return Wheel(False, whole, turns)
    return _told(intervals, whites, possible, log_odds, whole)


def odd_ones_out(times_s: Floats, numbers: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return which beats stand far from their neighbors of the same kind, as gross errors of hearing do; shape (N,)."""
    from scipy import ndimage

    odd = np.zeros(len(times_s), bool)
    for kind in (0, 1):
        rows = np.flatnonzero(numbers % 2 == kind)
        if len(rows) <= _NEIGHBORS:
            continue
        slope, level = np.polyfit(numbers[rows], times_s[rows], 1)
        rest = times_s[rows] - level - slope * numbers[rows]
        rest -= ndimage.median_filter(rest, _NEIGHBORS, mode="nearest")
        usual_s = _MAD_TO_SIGMA * float(np.median(np.abs(rest)))
        odd[rows] = np.abs(rest) > max(_ODD_SIGMAS * usual_s, _ODD_LEAST_S)
    return odd


def longest_piece(numbers: NDArray[np.intp], segments: NDArray[np.intp] | None) -> NDArray[np.intp]:
    """Return the rows of the unbroken piece with most beats."""
    if segments is None or not len(numbers):
        return np.arange(len(numbers))
    pieces, sizes = np.unique(segments, return_counts=True)
    return np.flatnonzero(segments == pieces[int(np.argmax(sizes))])


def _told(intervals: Intervals, whites: list[Whitened], possible: list[int], log_odds: Floats, whole: float) -> Wheel:
    """Return the wheel that was found, with its figures."""
    share = np.exp(log_odds - turning.log_sum(log_odds))
    order = np.argsort(-share)
    best = possible[int(order[0])]
    told = int(np.searchsorted(np.cumsum(share[order]), _SHARE_TOLD)) + 1
    turn = BEATS_PER_TOOTH * best
    amplitude_s, sigma_s, breathing_s = _amplitude(intervals, whites, turn)
    turns = [Turn.of(intervals, white, best) for white in whites]
    deviations_s, deviations_sigma_s = _deviations(turns)
    return Wheel(
        True,
        whole,
        float(intervals.numbers[-1] - intervals.numbers[0]) / turn,
        best,
        float(share[order[0]]),
        tuple(sorted(possible[int(place)] for place in order[1:told])),
        amplitude_s,
        sigma_s,
        breathing_s,
        _bad_tooth(turns),
        deviations_s,
        deviations_sigma_s,
    )


def _amplitude(intervals: Intervals, whites: list[Whitened], period_beats: float) -> tuple[float, float, float]:
    """Return amplitude, its standard uncertainty, and the amplitude of the breathing [s]."""
    plain, opposite, _ = smooth_shape()
    columns = intervals.change(turn_columns(intervals.numbers, period_beats, plain, opposite))
    logs, means, covariances = [], [], []
    for white in whites:
        made = turning.products(white, white.whiten(columns))
        inverse = np.linalg.inv(made.gram)
        mean = inverse @ made.along
        freedom = made.freedom - len(mean)
        rest = max(made.rest - float(mean @ made.along), _LEAST_REST)
        logs.append(made.log_common - 0.5 * freedom * np.log(rest) - 0.5 * float(np.linalg.slogdet(made.gram)[1]))
        means.append(mean)
        covariances.append(inverse * rest / freedom)
    share = np.exp(np.array(logs) - turning.log_sum(np.array(logs)))
    mean = share @ np.array(means)
    apart = np.array(means) - mean
    covariance = np.einsum("r,rij->ij", share, np.array(covariances)) + np.einsum("r,ri,rj->ij", share, apart, apart)
    first = [0, len(plain)]
    breath = [2 * len(plain), 2 * len(plain) + len(opposite)]
    amplitude_s, sigma_s = _length(mean[first], covariance[np.ix_(first, first)])
    return amplitude_s, sigma_s, _length(mean[breath], covariance[np.ix_(breath, breath)])[0]


def _length(parts: Floats, covariance: Floats) -> tuple[float, float]:
    """Return the length of a cosine and a sine part, without what noise adds to it, and its uncertainty."""
    noise = float(np.trace(covariance)) / 2.0
    return float(np.sqrt(max(float(parts @ parts) - noise, 0.0))), float(np.sqrt(noise))


def _deviations(turns: list[Turn]) -> tuple[Floats, Floats]:
    """Return how late each beat of a turn comes, and its uncertainty, by the likeliest noises; shape (P,) each."""
    best = max(turns, key=lambda one: max(mixed_evidence(one), round_evidence(one), tooth_evidence(one)))
    # Every place may have any size; the smallest prior precision only holds what the beats cannot tell: their mean.
    precision = best.places.gram + np.eye(len(best.places.along)) * 1e-4
    inverse = np.linalg.inv(precision)
    mean = inverse @ best.places.along
    rest = max(best.places.rest - float(mean @ best.places.along), _LEAST_REST)
    variance = rest / max(best.places.freedom - len(mean), 1)
    level = np.eye(len(mean)) - 1.0 / len(mean)
    side = np.where(np.arange(len(mean)) % 2 == 0, -1.0, 1.0) / np.sqrt(len(mean))
    # Mean and beat error are no part of a wheel's error.
    level = level - np.outer(side, side)
    covariance = level @ inverse @ level.T * variance
    return np.asarray(level @ mean), np.sqrt(np.maximum(np.diag(covariance), 0.0))


def _bad_tooth(turns: list[Turn]) -> Tooth | None:
    """Return the tooth that stands out of a turn, where one explains the beats better than the rest of the wheel."""
    made = [by_place(turn) for turn in turns]
    logs, sizes, known = (np.array(table) for table in zip(*made, strict=True))
    one = turning.log_sum(logs)
    rivals = np.array([[kind(turn) for turn in turns] for kind in (round_evidence, smooth_evidence, mixed_evidence)])
    if one - np.log(len(turns)) - turning.log_mean(rivals) < np.log(_TOOTH_SURE / (1.0 - _TOOTH_SURE)):
        return None
    share = np.exp(logs - one)
    names, others = named_places(logs.shape[-1])
    by_table = share.sum(axis=(0, 1))
    placed = np.bincount(names.ravel(), by_table.ravel())
    beat = int(np.argmax(placed))
    if placed[beat] < _PLACE_SURE:
        return None
    its = names == beat
    weight = share[..., its] / share[..., its].sum()
    late_s = float(np.sum(weight * sizes[..., its]))
    spread = float(np.sum(weight * np.square(sizes[..., its] - late_s)))
    scatter = np.array([turn.places.rest / turn.places.freedom for turn in turns])[:, None, None]
    noise = float(np.sum(weight * scatter / known[..., its]))
    # -1, where the tooth is out at one beat only, comes first.
    also = int(np.argmax(np.bincount(others[its] + 1, by_table[its]))) - 1
    chance = min(float(placed[beat]), 1.0)
    uncertainty_s = float(np.sqrt(spread + noise))
    return Tooth(beat // BEATS_PER_TOOTH + 1, beat, late_s, uncertainty_s, chance, None if also < 0 else also)
