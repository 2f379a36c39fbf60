"""Period and beat error fitted to the times of the beats, with two kinds of noise and an honest uncertainty.

The times of a clock scatter (each beat by itself) and wander (what is lost is not made up again). A straight line
fitted by least squares calls the wandering accurate: its 95 % intervals held the true rate in 5 to 50 % of trials.
So both noises are estimated from the beats and carried into the uncertainty.

Model: t_k = t_0 + k T + s_k h + white_k + walk_k with s_k = -1 on even and +1 on odd beats; the intervals that begin
on even beats are T + 2 h long and the others T - 2 h.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_RATIOS = np.logspace(-2.5, 1.5, 13)
"""Variance of the walk in one beat over that of the scatter. Every pendulum clock wanders, so none is not among them:
a short recording cannot show a little wandering, and yet it rules how well the rate is known."""
_OUTLIER_SIGMAS = 5.0
_OUTLIER_LEAST_S = 4e-4
_NEIGHBORS = 6
_MAD_TO_SIGMA = 1.4826
_PARAMETERS = 2
_COVERAGE = 0.975
_NORMAL_QUANTILE = 1.959964
_LEAST_SCATTER_S = 1e-7


@dataclass(frozen=True, slots=True)
class Fit:
    """Period and unevenness of a train of beats.

    Parameters
    ----------
    period_s : float
        Period of one beat, half a swing [s].
    half_s : float
        The interval that begins on an even beat is `period_s + 2 * half_s` [s].
    period_sigma_s, half_sigma_s : float
        Standard uncertainties [s]; twice either holds the truth in 95 of 100.
    covariance_s2 : float
        Covariance of the two [s^2].
    scatter_s : float
        Standard deviation of single beats [s].
    wander_s : float
        Standard deviation of what one beat adds to the wandering [s].
    kept : bool array (N,)
        Which beats were used.
    """

    period_s: float
    half_s: float
    period_sigma_s: float
    half_sigma_s: float
    covariance_s2: float
    scatter_s: float
    wander_s: float
    kept: NDArray[np.bool_]


def fit_beats(
    times_s: NDArray[np.float64],
    numbers: NDArray[np.intp],
    sigmas_s: NDArray[np.float64],
    segments: NDArray[np.intp],
    even_only: bool = False,
) -> Fit | None:
    """Return the fit of a train of beats, or None where there are too few.

    Parameters
    ----------
    times_s : array (N,)
        Times of the beats, in order [s].
    numbers : int array (N,)
        Their numbers.
    sigmas_s : array (N,)
        Uncertainty of each from noise [s].
    segments : int array (N,)
        Unbroken pieces; no interval is taken over a break.
    even_only : bool
        Only one kind of beat is heard: no unevenness is fitted.
    """
    kept = _without_outliers(times_s, numbers, segments)
    parameters = 1 if even_only else _PARAMETERS
    design, intervals, variance_walk, pairs = _intervals(times_s[kept], numbers[kept], segments[kept], even_only)
    if len(intervals) < parameters + 1 or np.linalg.matrix_rank(design) < parameters:
        return None
    usual = _usual_scatter(design, intervals)
    own = 1.0 + np.square(sigmas_s[kept] / max(usual, _LEAST_SCATTER_S))
    solved = [_solve(design, intervals, ratio * variance_walk, own, pairs, parameters) for ratio in _RATIOS]
    # The ratio of the noises is not known: every ratio counts by how well it explains the intervals.
    evidence = np.array([one[0] for one in solved])
    share = np.exp(evidence - evidence.max())
    share /= share.sum()
    means = np.array([one[1] for one in solved])
    covariances = np.array([one[2] for one in solved])
    mean = share @ means
    apart = means - mean
    covariance = np.einsum("r,rij->ij", share, covariances)
    covariance += np.einsum("r,ri,rj->ij", share, apart, apart)
    covariance *= _small_number_factor(len(intervals) - parameters) ** 2
    variance = float(share @ np.array([one[3] for one in solved]))
    wander = float(share @ (np.array([one[3] for one in solved]) * _RATIOS))
    half = 0.0 if even_only else float(mean[1])
    return Fit(
        float(mean[0]),
        half,
        float(np.sqrt(covariance[0, 0])),
        0.0 if even_only else float(np.sqrt(covariance[1, 1])),
        0.0 if even_only else float(covariance[0, 1]),
        float(np.sqrt(variance)),
        float(np.sqrt(wander)),
        kept,
    )


def _small_number_factor(freedom: int) -> float:
    """Return by how much a standard uncertainty from few beats is widened, so that twice it holds 95 %."""
    from scipy import special

    return float(special.stdtrit(max(freedom, 1), _COVERAGE)) / _NORMAL_QUANTILE


def _without_outliers(
    times_s: NDArray[np.float64], numbers: NDArray[np.intp], segments: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return which beats lie where their neighbors of the same kind put them."""
    kept = np.ones(len(times_s), bool)
    for segment in np.unique(segments):
        for kind in (0, 1):
            rows = np.flatnonzero((segments == segment) & (numbers % 2 == kind))
            if len(rows) < 5:
                continue
            apart = np.abs(_from_neighbors(times_s[rows], numbers[rows].astype(float)))
            usual = _MAD_TO_SIGMA * float(np.median(apart))
            kept[rows] = apart <= max(_OUTLIER_SIGMAS * usual, _OUTLIER_LEAST_S)
    return kept


def _from_neighbors(times_s: NDArray[np.float64], numbers: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far each time lies from the robust line through its neighbors [s]."""
    slope = float(np.median(np.diff(times_s) / np.diff(numbers)))
    level = times_s - slope * numbers
    width = min(2 * _NEIGHBORS + 1, len(times_s))
    first = np.clip(np.arange(len(times_s)) - _NEIGHBORS, 0, len(times_s) - width)
    rows = first[:, None] + np.arange(width)
    near, place = level[rows], numbers[rows]
    half = width // 2
    rise = np.median(near[:, half:], axis=1) - np.median(near[:, :half], axis=1)
    run = np.median(place[:, half:], axis=1) - np.median(place[:, :half], axis=1)
    tilt = rise / np.maximum(run, 1.0)
    flat = np.median(near - tilt[:, None] * place, axis=1)
    return np.asarray(level - tilt * numbers - flat)


def _intervals(
    times_s: NDArray[np.float64], numbers: NDArray[np.intp], segments: NDArray[np.intp], even_only: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
    """Return the design (M, P), the intervals [s], their lengths in beats, and the beats that bound them."""
    ends = np.flatnonzero(np.diff(segments) == 0)
    beats = (numbers[ends + 1] - numbers[ends]).astype(float)
    side = np.where(numbers % 2 == 0, -1.0, 1.0)
    columns = [beats] if even_only else [beats, side[ends + 1] - side[ends]]
    return np.stack(columns, axis=1), times_s[ends + 1] - times_s[ends], beats, ends


def _usual_scatter(design: NDArray[np.float64], intervals: NDArray[np.float64]) -> float:
    """Return a first guess of the scatter of single beats [s]."""
    solution = np.linalg.lstsq(design, intervals, rcond=None)[0]
    rest = intervals - design @ solution
    return float(_MAD_TO_SIGMA * np.median(np.abs(rest)) / np.sqrt(2.0))


def _solve(
    design: NDArray[np.float64],
    intervals: NDArray[np.float64],
    walk: NDArray[np.float64],
    own: NDArray[np.float64],
    ends: NDArray[np.intp],
    parameters: int,
) -> tuple[float, NDArray[np.float64], NDArray[np.float64], float]:
    """Return evidence, solution, covariance and scatter variance for one ratio of the two noises."""
    from scipy import linalg

    count = len(intervals)
    band = np.zeros((2, count))
    band[1] = walk + own[ends] + own[ends + 1]
    touching = np.diff(ends) == 1
    band[0, 1:] = np.where(touching, -own[ends[1:]], 0.0)
    root = linalg.cholesky_banded(band)
    both = np.column_stack([design, intervals])
    solved = linalg.cho_solve_banded((root, False), both)
    information = design.T @ solved[:, :parameters]
    inverse = np.linalg.inv(information)
    solution = inverse @ (design.T @ solved[:, parameters])
    rest = intervals - design @ solution
    chi2 = float(rest @ linalg.cho_solve_banded((root, False), rest))
    freedom = count - parameters
    variance = max(chi2 / freedom, _LEAST_SCATTER_S**2)
    log_root = 2.0 * float(np.sum(np.log(root[1])))
    evidence = -0.5 * (log_root + np.linalg.slogdet(information)[1] + freedom * np.log(variance))
    return float(evidence), solution, inverse * variance, variance
