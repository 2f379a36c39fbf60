"""Period and beat error of a train of intervals when neither its noises nor its escape wheel are known.

Times scatter, each by itself, and wander, what is lost not being made up; and an escape wheel out of true repeats
itself every turn. How large each is nobody knows beforehand: all plain sizes are tried, each counts by how well it
explains the intervals, and the half-width that holds 95 % of what remains possible is found from the whole mixture.

Model of the times: t_k = t_0 + k T + s_k h + a cos(2 pi k / P) + b sin(2 pi k / P) + white_k + walk_k.

References
----------
Kass, R. E., Raftery, A. E.: Bayes factors. J. Am. Stat. Assoc. 90 (1995) 773-795: averaging over models.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.whitening import covariance_root, half_log_determinant, whiten

Floats = NDArray[np.float64]

_RATIOS = np.concatenate([[1e-8], np.logspace(-3.5, 1.5, 11)])
"""Variance of the walk in one beat over that of the scatter."""
_NEXT_TO_NONE = 0.1
"""Chance that there is no wandering to speak of. Every pendulum clock wanders, and a short recording cannot show how
little; a larger chance would make the rate look surer than it is."""
_TEETH = np.arange(24, 43)
"""Counts of teeth of an escape wheel; a turn has twice as many beats."""
_TURN_CHANCE = 0.5
_TURN_SIZES = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 16.0])
"""Amplitude of the error of a turn over the scatter of single beats."""
_LEAST_SCATTER_S = 1e-7
_LEAST_WEIGHT = 1e-5
_OUTSIDE = 0.05
_NORMAL_QUANTILE = 1.959964
_HALVINGS = 40
_FARTHEST = 25.0


@dataclass(frozen=True, slots=True)
class Intervals:
    """The intervals of a train of beats.

    Parameters
    ----------
    lengths_s : array (M,)
        The intervals [s].
    beats : array (M,)
        How many beats each holds; more than one where a beat was silent.
    design : array (M, B)
        Columns of the period and, where both kinds of beat are heard, of the beat error.
    ends : int array (M,)
        Row of the beat each begins with; where the next interval begins with the beat this one ends with they touch.
    numbers : int array (N,)
        Numbers of all beats.
    own : array (N,)
        Variance of each time over that of a beat whose arrival is known exactly.
    """

    lengths_s: Floats
    beats: Floats
    design: Floats
    ends: NDArray[np.intp]
    numbers: NDArray[np.intp]
    own: Floats

    @property
    def freedom(self) -> int:
        """Intervals less parameters."""
        return len(self.lengths_s) - int(self.design.shape[1])


@dataclass(frozen=True, slots=True)
class Possible:
    """What is possible after the intervals were seen: a mixture of Student distributions.

    Parameters
    ----------
    weights : array (C,)
        Chance of each set of sizes.
    means, variances : arrays (C, B)
        Parameters, and the squares of their scales, given those sizes.
    scatter_s2, wander_s2 : arrays (C,)
        Variances of the scatter and of the wandering in one beat [s^2].
    freedom : int
        Degrees of freedom.
    """

    weights: Floats
    means: Floats
    variances: Floats
    scatter_s2: Floats
    wander_s2: Floats
    freedom: int

    def mean(self) -> Floats:
        """Return the mean of the parameters, shape (B,)."""
        return np.asarray(self.weights @ self.means)

    def sigma(self, column: int) -> float:
        """Return the standard uncertainty of one parameter: 1.96 of it either way hold 95 of 100."""
        from scipy import special

        apart = self.means[:, column] - float(self.weights @ self.means[:, column])
        scales = np.sqrt(self.variances[:, column])
        low, high = 0.0, _FARTHEST * float(scales.max()) + float(np.abs(apart).max())
        for _ in range(_HALVINGS):
            half = 0.5 * (low + high)
            below = special.stdtr(self.freedom, (-half - apart) / scales)
            above = special.stdtr(self.freedom, (-half + apart) / scales)
            if float(self.weights @ (below + above)) > _OUTSIDE:
                low = half
            else:
                high = half
        return 0.5 * (low + high) / _NORMAL_QUANTILE


def what_is_possible(intervals: Intervals) -> Possible:
    """Return what period and beat error may be, averaged over all sizes of the noises and of a turn's error.

    Parameters
    ----------
    intervals : Intervals
        More of them than parameters.
    """
    walks = np.full(len(_RATIOS), (1.0 - _NEXT_TO_NONE) / (len(_RATIOS) - 1))
    walks[0] = _NEXT_TO_NONE
    columns = np.column_stack([intervals.design, intervals.lengths_s, _turn_columns(intervals)])
    found = [_given_ratio(intervals, columns, ratio) for ratio in _RATIOS]
    log_weights = np.concatenate([one[0] + np.log(walk) for one, walk in zip(found, walks, strict=True)])
    weights = np.exp(log_weights - log_weights.max())
    weights /= weights.sum()
    kept = weights > _LEAST_WEIGHT
    means, variances, scatter = (np.concatenate([one[part] for one in found])[kept] for part in (1, 2, 3))
    ratios = np.repeat(_RATIOS, [len(one[0]) for one in found])[kept]
    shares = weights[kept] / weights[kept].sum()
    return Possible(shares, means, variances, scatter, scatter * ratios, intervals.freedom)


def _turn_columns(intervals: Intervals) -> Floats:
    """Return the change over each interval of cosine and sine of each turn, shape (M, 2 teeth)."""
    angle = 2.0 * np.pi * np.outer(intervals.numbers, 1.0 / (2.0 * _TEETH))
    waves = np.concatenate([np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(waves[intervals.ends + 1] - waves[intervals.ends])


def _given_ratio(intervals: Intervals, columns: Floats, ratio: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Return log evidence (C,), means (C, B), variances (C, B) and scatter (C,) for one ratio of the noises."""
    base = intervals.design.shape[1]
    root = covariance_root(ratio * intervals.beats, intervals.own, intervals.ends)
    white = whiten(root, columns)
    products = white.T @ white
    log_root = half_log_determinant(root)
    plain = _solved(intervals, products[:base, :base], products[:base, base], products[base, base], log_root)
    turns = _with_turns(intervals, products, log_root)
    plain = (plain[0] + np.log(1.0 - _TURN_CHANCE), *plain[1:])
    return tuple(np.concatenate([np.atleast_1d(one), other]) for one, other in zip(plain, turns, strict=True))  # type: ignore[return-value]


def _with_turns(intervals: Intervals, products: Floats, log_root: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Return the same as `_given_ratio` for each count of teeth and each size of its error."""
    base, teeth = intervals.design.shape[1], len(_TEETH)
    own, along, data = products[:base, :base], products[:base, base], products[base, base]
    cosine, sine = base + 1 + np.arange(teeth), base + 1 + teeth + np.arange(teeth)
    gram = np.stack(
        [
            np.stack([products[cosine, cosine], products[cosine, sine]], axis=-1),
            np.stack([products[sine, cosine], products[sine, sine]], axis=-1),
        ],
        axis=-2,
    )
    cross = np.stack([products[cosine, :base], products[sine, :base]], axis=1)
    with_data = np.stack([products[cosine, base], products[sine, base]], axis=1)
    sizes = np.square(_TURN_SIZES)[None, :, None, None]
    # The error of a turn is a random effect: its cosine and sine parts are integrated out exactly.
    inner = np.linalg.inv(np.eye(2) / sizes + gram[:, None])
    taken = np.einsum("tpb,tspq->tsbq", cross, inner)
    left_own = own - np.einsum("tsbq,tqd->tsbd", taken, cross)
    left_along = along - np.einsum("tsbq,tq->tsb", taken, with_data)
    left_data = data - np.einsum("tp,tspq,tq->ts", with_data, inner, with_data)
    grown = 0.5 * np.linalg.slogdet(np.eye(2) + sizes * gram[:, None])[1]
    log_weight, means, variances, scatter = _solved(intervals, left_own, left_along, left_data, log_root + grown)
    log_weight = log_weight + np.log(_TURN_CHANCE / (teeth * len(_TURN_SIZES)))
    return log_weight.ravel(), means.reshape(-1, base), variances.reshape(-1, base), scatter.ravel()


def _solved(
    intervals: Intervals, own: Floats, along: Floats, data: Floats, log_size: Floats | float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return log evidence, means, variances and scatter of normal equations (..., B, B), (..., B), (...)."""
    inverse = np.linalg.inv(own)
    means = np.einsum("...bd,...d->...b", inverse, along)
    rest = np.maximum(data - np.einsum("...b,...b->...", means, along), intervals.freedom * _LEAST_SCATTER_S**2)
    scatter = rest / intervals.freedom
    log_weight = -log_size - 0.5 * np.linalg.slogdet(own)[1] - 0.5 * intervals.freedom * np.log(rest)
    variances = np.diagonal(inverse, axis1=-2, axis2=-1) * scatter[..., None]
    plain = own.ndim == 2
    return log_weight, means[None] if plain else means, variances[None] if plain else variances, scatter
