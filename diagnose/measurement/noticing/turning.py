"""What repeats once a turn in a train of beats: the evidence for it against scatter and wandering alone.

Model of the times: t_k = t_0 + k T + s_k h + w(k mod P) + white_k + walk_k, with s_k = -1 on even and +1 on odd beats
and w a pattern that comes again after P beats. The pattern is a random effect: harmonics of the turn with a few plain
shapes and sizes, each sized by the scatter of single beats, so that everything unknown but the shape is integrated
exactly and what is left is a sum over a small table. The result is a Bayes factor against no pattern. A Bayes factor
above c comes by chance in at most 1/c of all clocks without a wheel error (Markov's inequality): the bound on false
alarms needs no permutation.

References
----------
Kass, R. E., Raftery, A. E.: Bayes factors. J. Am. Stat. Assoc. 90 (1995) 773-795.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.whitening import covariance_root, half_log_determinant, usual_scatter, whiten

Floats = NDArray[np.float64]

RATIOS = np.logspace(-2.5, 1.5, 7)
"""Variance of the walk in one beat over that of the scatter, tried one by one."""
SMOOTH = ((1, 1.0), (2, 0.5), (3, 0.33))
"""Harmonics of a wheel out of true, with their size beside the first."""
BREATHING = ((1, 0.7), (2, 0.35))
"""The same for what has opposite signs on the two pallets, which stand apart on the wheel."""
SCALES = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 16.0])
"""Sizes of the pattern over the scatter of single beats."""
_LEAST_VARIANCE = 1e-18
_LEAST_INFORMATION = 1e-12
_LEAST_SCATTER_S = 1e-7


@dataclass(frozen=True, slots=True)
class Intervals:
    """The intervals of one unbroken train of beats.

    Parameters
    ----------
    numbers : int array (N,)
        Numbers of the beats that bound them.
    lengths_s : array (N-1,)
        The intervals [s].
    beats : array (N-1,)
        How many beats each holds; more than one where a beat was silent.
    own : array (N,)
        Variance of each time over that of a beat whose arrival is known exactly.
    """

    numbers: NDArray[np.intp]
    lengths_s: Floats
    beats: Floats
    own: Floats

    @property
    def base(self) -> Floats:
        """Columns of the period and of the beat error; shape (N-1, 2)."""
        side = np.where(self.numbers % 2 == 0, -1.0, 1.0)
        both = np.stack([self.beats, np.diff(side)], axis=1)
        # One beat in each swing only: no beat error can be told.
        return both if np.any(both[:, 1]) else both[:, :1]

    def change(self, columns: Floats) -> Floats:
        """Return columns of the times, shape (N, C), as columns of the intervals, shape (N-1, C)."""
        return np.asarray(np.diff(columns, axis=0))


def intervals_of(times_s: Floats, numbers: NDArray[np.intp], sigmas_s: Floats | None = None) -> Intervals:
    """Return the intervals of one unbroken train of beats.

    Parameters
    ----------
    times_s : array (N,)
        Times of the beats, in order [s].
    numbers : int array (N,)
        Their numbers.
    sigmas_s : array (N,), optional
        Standard uncertainty of each time from noise in the sound [s].
    """
    beats = np.diff(numbers).astype(float)
    lengths_s = np.diff(times_s)
    plain = Intervals(numbers, lengths_s, beats, np.ones(len(times_s)))
    if sigmas_s is None or len(lengths_s) < 4:
        return plain
    usual_s = max(usual_scatter(plain.base, lengths_s), _LEAST_SCATTER_S)
    return Intervals(numbers, lengths_s, beats, 1.0 + np.square(sigmas_s / usual_s))


@dataclass(frozen=True, slots=True)
class Whitened:
    """Intervals made independent and of one variance, for one ratio of the two noises.

    Parameters
    ----------
    root : array (2, N-1)
        Band form of the lower Cholesky factor of their covariance.
    base, data : array (N-1, B), (N-1,)
        Columns and intervals, whitened.
    log_root : float
        Half the logarithm of the determinant of the covariance.
    """

    root: Floats
    base: Floats
    data: Floats
    log_root: float

    def whiten(self, columns: Floats) -> Floats:
        """Return further columns of the intervals, whitened; same shape."""
        return whiten(self.root, columns)

    def beside(self, columns: Floats) -> Whitened:
        """Return the same with whitened columns, shape (N-1, C), among those of period and beat error."""
        return Whitened(self.root, np.concatenate([self.base, columns], axis=1), self.data, self.log_root)


def whitened(intervals: Intervals, ratio: float) -> Whitened:
    """Return the intervals whitened for one ratio of walk to scatter."""
    count = len(intervals.beats)
    root = covariance_root(ratio * intervals.beats, intervals.own, np.arange(count))
    both = whiten(root, np.column_stack([intervals.base, intervals.lengths_s]))
    return Whitened(root, both[:, :-1], both[:, -1], half_log_determinant(root))


@dataclass(frozen=True, slots=True)
class Products:
    """All that the evidence of a pattern needs: products of its columns with period and beat error projected out.

    Parameters
    ----------
    gram : array (C, C)
        Products of the columns.
    along : array (C,)
        Their products with the intervals.
    rest : float
        Sum of squares of the intervals that period and beat error leave.
    freedom : int
        Intervals less parameters.
    log_common : float
        Part of the logarithm of the evidence that no pattern changes.
    """

    gram: Floats
    along: Floats
    rest: float
    freedom: int
    log_common: float

    def log_evidence(self, rest: Floats | float, log_size: Floats | float) -> Floats:
        """Return the logarithm of the evidence from what a pattern leaves and half its log determinant."""
        left = np.maximum(rest, _LEAST_VARIANCE)
        return np.asarray(self.log_common - log_size - 0.5 * self.freedom * np.log(left))

    @property
    def log_null(self) -> float:
        """Logarithm of the evidence of no pattern."""
        return float(self.log_evidence(self.rest, 0.0))


def products(white: Whitened, columns: Floats) -> Products:
    """Return the products of whitened columns of a pattern, shape (N-1, C)."""
    own = white.base.T @ white.base
    cross = np.linalg.solve(own, white.base.T @ np.column_stack([columns, white.data]))
    free = columns - white.base @ cross[:, :-1]
    data = white.data - white.base @ cross[:, -1]
    log_common = -white.log_root - 0.5 * float(np.linalg.slogdet(own)[1])
    return Products(free.T @ free, free.T @ data, float(data @ data), len(data) - white.base.shape[1], log_common)


def place_products(white: Whitened, places: NDArray[np.intp], turn: int) -> Products:
    """Return the products of one column for each beat of a turn, as `products` does of any columns.

    Where a column has few entries its products are sums, not those of full matrices: many times fewer operations, and
    none that a library spreads over processors which then wait for each other.

    Parameters
    ----------
    white : Whitened
        The intervals.
    places : int array (N,)
        Place in the turn of each beat that bounds them.
    turn : int
        Beats in a turn.
    """
    from scipy import sparse
    from scipy.linalg import lapack

    rows = np.arange(len(places) - 1)
    entries = np.repeat([1.0, -1.0], len(rows))
    spots = np.concatenate([places[1:], places[:-1]]), np.tile(rows, 2)
    across = sparse.csr_array((entries, spots), shape=(turn, len(rows)))
    own = white.base.T @ white.base
    data = white.data - white.base @ np.linalg.solve(own, white.base.T @ white.data)
    # Twice through the root of their covariance: its inverse.
    weighed = across @ lapack.dpbtrs(white.root, across.T.toarray(order="F"), lower=1, overwrite_b=1)[0]
    sides = across @ lapack.dtbtrs(white.root, np.column_stack([white.base, data]), uplo="L", trans="T")[0]
    base, along = sides[:, :-1], sides[:, -1]
    log_common = -white.log_root - 0.5 * float(np.linalg.slogdet(own)[1])
    gram = weighed - base @ np.linalg.solve(own, base.T)
    return Products(gram, along, float(data @ data), len(data) - white.base.shape[1], log_common)


def null_evidence(white: Whitened) -> float:
    """Return the logarithm of the evidence of no pattern."""
    return products(white, white.data[:, None]).log_null


def log_mean(values: Floats) -> float:
    """Return the logarithm of the mean of numbers given by their logarithms."""
    return log_sum(values) - float(np.log(np.size(values)))


def log_sum(values: Floats) -> float:
    """Return the logarithm of the sum of numbers given by their logarithms."""
    most = float(np.max(values))
    return most + float(np.log(np.sum(np.exp(np.asarray(values) - most))))


def evidence_of_many(made: Products, scales: Floats) -> Floats:
    """Return what `Pattern.evidence` does, of many columns of equal size at a few sizes; shape (S,)."""
    from scipy import linalg

    found = []
    for scale in scales:
        grown = scale**2 * made.gram
        grown[np.diag_indices_from(grown)] += 1.0
        root = linalg.cholesky(grown, lower=True, overwrite_a=True, check_finite=False)
        part = scale * linalg.solve_triangular(root, made.along, lower=True, check_finite=False)
        left = made.rest - float(part @ part)
        found.append(float(made.log_evidence(left, float(np.sum(np.log(np.diag(root)))))))
    return np.array(found)


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern of a plain shape, turned so that its columns are independent.

    Parameters
    ----------
    made : Products
        Of the columns of the pattern.
    values, along : array (C,)
        Information on each turned column, and its product with the intervals.
    turned : array (C, C)
        From columns to turned columns.
    """

    made: Products
    values: Floats
    along: Floats
    turned: Floats

    @staticmethod
    def of(made: Products, shape: Floats) -> Pattern:
        """Return the pattern of some columns and their standard deviations, each of shape (C,)."""
        values, vectors = np.linalg.eigh(shape[:, None] * made.gram * shape)
        turned = vectors.T * shape
        return Pattern(made, np.maximum(values, 0.0), turned @ made.along, turned)

    def grown(self, scales: Floats) -> Floats:
        """Return by how much the variance along each column exceeds that of noise; shape (S, C)."""
        return np.asarray(1.0 + np.square(scales)[:, None] * self.values)

    def evidence(self, scales: Floats = SCALES) -> Floats:
        """Return the logarithm of the evidence for each size of the pattern over the scatter; shape (S,)."""
        grown = self.grown(scales)
        left = self.made.rest - np.sum(np.square(scales)[:, None] * np.square(self.along) / grown, axis=1)
        return self.made.log_evidence(left, 0.5 * np.sum(np.log(grown), axis=1))

    def with_places(
        self, places: Products, cross: Floats, scales: Floats, slab: float, lags: NDArray[np.intp], alike: float
    ) -> tuple[Floats, Floats, Floats]:
        """Return the evidence of one bad place beside the pattern, or of two, their size and the information on it.

        Each has the shape (S, 1 + L, P): the place alone, then with the one that follows it by each lag.

        Parameters
        ----------
        places : Products
            Of one column for each place (P,).
        cross : array (P, C)
            Products of the columns of places and pattern.
        scales : array (S,)
            Sizes of the pattern over the scatter; 0 for none.
        slab : float
            Size of a bad place over the scatter.
        lags : int array (L,)
            How many places on the other one may be.
        alike : float
            Correlation of the sizes of two bad places before listening.
        """
        part = self.turned @ cross.T
        grown = self.grown(scales)
        taken = np.square(scales)[:, None] / grown
        left = (self.made.rest - np.sum(taken * np.square(self.along), axis=1))[:, None, None]
        size = 0.5 * np.sum(np.log(grown), axis=1)[:, None, None]
        known = places.gram - np.einsum("sc,cp,cq->spq", taken, part, part, optimize=True)
        along = (places.along - (taken * self.along) @ part)[:, None, :]
        here = np.arange(len(places.along))
        own = np.maximum(known[:, here, here], _LEAST_INFORMATION)[:, None, :]
        wide = 1.0 + slab**2 * own
        one = self.made.log_evidence(left - slab**2 * np.square(along) / wide, size + 0.5 * np.log(wide))
        there = (here + lags[:, None]) % len(here)
        far, both = own[:, 0, there], known[:, here, there]
        # Two sizes as their mean and what each has beside it: of these the prior knows apart.
        common, apart = own + far + 2.0 * both, own + far - 2.0 * both
        to_common, to_apart = slab * np.sqrt((1.0 + alike) / 2.0), slab * np.sqrt((1.0 - alike) / 2.0)
        first, second = 1.0 + to_common**2 * common, 1.0 + to_apart**2 * apart
        mixed = to_common * to_apart * (own - far)
        whole = np.maximum(first * second - np.square(mixed), 1.0)
        sums, gaps = along + along[:, 0, there], along - along[:, 0, there]
        taken_off = second * np.square(to_common * sums) - 2.0 * mixed * to_common * to_apart * sums * gaps
        taken_off = (taken_off + first * np.square(to_apart * gaps)) / whole
        two = self.made.log_evidence(left - taken_off, size + 0.5 * np.log(whole))
        common = np.maximum(common, _LEAST_INFORMATION)
        return (
            np.concatenate([one, two], axis=1),
            np.concatenate([along / own, sums / common], axis=1),
            np.concatenate([own, common], axis=1),
        )
