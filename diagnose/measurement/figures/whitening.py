"""Intervals between beats made independent: neighbors share the beat between them, and so its scatter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MAD_TO_SIGMA = 1.4826


def usual_scatter(design: Floats, lengths_s: Floats) -> float:
    """Return a first, robust guess of the scatter of single beats [s].

    Parameters
    ----------
    design : array (M, B)
        Columns of the period and, where both kinds of beat are heard, of the beat error.
    lengths_s : array (M,)
        The intervals [s].
    """
    rest = lengths_s - design @ np.linalg.lstsq(design, lengths_s, rcond=None)[0]
    return float(_MAD_TO_SIGMA * np.median(np.abs(rest)) / np.sqrt(2.0))


def covariance_root(walk: Floats, own: Floats, ends: NDArray[np.intp]) -> Floats:
    """Return the lower Cholesky factor of the covariance of intervals, as a band, shape (2, M).

    Parameters
    ----------
    walk : array (M,)
        Variance that wandering adds in each interval.
    own : array (N,)
        Variance of the time of each beat.
    ends : int array (M,)
        Row of the beat each interval begins with; where the next begins with the beat this one ends with they touch.
    """
    from scipy import linalg

    band = np.zeros((2, len(walk)))
    band[0] = walk + own[ends] + own[ends + 1]
    band[1, :-1] = np.where(np.diff(ends) == 1, -own[ends[1:]], 0.0)
    return np.asarray(linalg.cholesky_banded(band, lower=True))


def whiten(root: Floats, columns: Floats) -> Floats:
    """Return columns of the intervals, shape (M, C), made independent and of one variance.

    Parameters
    ----------
    root : array (2, M)
        What `covariance_root` gives.
    columns : array (M, C)
        The columns.
    """
    from scipy.linalg import lapack

    return np.asarray(lapack.dtbtrs(root, columns, uplo="L")[0])


def half_log_determinant(root: Floats) -> float:
    """Return half the logarithm of the determinant of the covariance whose root is given."""
    return float(np.sum(np.log(root[0])))
