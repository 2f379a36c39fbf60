"""The period of the beats where the escape wheel may not run true: a rate whose interval knows of the wheel.

A line through one turn of a wheel with a once-per-turn error of amplitude A is off by up to 6 A / (pi N) a beat, N the
beats of the turn, and its residuals do not show it. So the wheel stands in the model of the beats: every count of
teeth, a few sizes of the error, and none at all, each weighed by how well it explains the beats. Where the recording is
long enough the wheel is seen and taken out; where it is not, the interval is as much wider as it must be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement import turning
from diagnose.measurement.turning import Floats, Pattern, Whitened
from diagnose.measurement.wheel import TEETH
from diagnose.measurement.wheel_evidence import BEATS_PER_TOOTH, turn_columns

WHEEL_CHANCE = 0.5
"""Probability, before listening, that a wheel's error is large enough to matter (estimate-2026-11)."""
_FEW_TEETH = (20, 24, 28, 30, 33, 36, 40, 45)
"""Counts that stand for all where a recording holds too few turns to tell them apart."""
_TOLD_APART_TURNS = 2.5
_SMOOTH_HARMONICS = (1, 2)
_SMOOTH_SIZES = np.array([1.0, 0.5, 1.0, 0.5])
_LEAST_INTERVALS = 4
_LOW, _HIGH = 0.025, 0.975
_NORMAL_QUANTILE = 1.959964
_NEGLIGIBLE = 1e-7
_HALVINGS = 60


@dataclass(frozen=True, slots=True)
class WheelFit:
    """Period and unevenness of a train of beats, a wheel's error allowed for.

    Parameters
    ----------
    period_s, half_s : float
        Period of a beat; the interval that begins on an even beat is `period_s + 2 * half_s` [s].
    period_interval_s, half_interval_s : tuple of float
        Ends of the 95 % intervals [s].
    wheel_chance : float
        Probability that an error of the escape wheel is in the beats.
    """

    period_s: float
    half_s: float
    period_interval_s: tuple[float, float]
    half_interval_s: tuple[float, float]
    wheel_chance: float

    @property
    def period_sigma_s(self) -> float:
        """Standard uncertainty of the period; 1.96 times either way holds 95 % [s]."""
        return (self.period_interval_s[1] - self.period_interval_s[0]) / (2.0 * _NORMAL_QUANTILE)

    @property
    def half_sigma_s(self) -> float:
        """Standard uncertainty of `half_s` [s]."""
        return (self.half_interval_s[1] - self.half_interval_s[0]) / (2.0 * _NORMAL_QUANTILE)


@dataclass(frozen=True, slots=True)
class _Parts:
    """Possible explanations of the beats: logarithm of the weight, estimates (K, B) and their variances (K, B)."""

    logs: Floats
    means: Floats
    variances: Floats

    @staticmethod
    def joined(parts: list[_Parts]) -> _Parts:
        """Return all explanations in one."""
        return _Parts(
            np.concatenate([one.logs for one in parts]),
            np.concatenate([one.means for one in parts]),
            np.concatenate([one.variances for one in parts]),
        )


def fit_with_wheel(
    times_s: Floats,
    numbers: NDArray[np.intp],
    sigmas_s: Floats | None = None,
    chance: float = WHEEL_CHANCE,
) -> WheelFit | None:
    """Return period and unevenness of one unbroken train of beats, or None where there are too few.

    Parameters
    ----------
    times_s : array (N,)
        Times of the beats, in order, gross errors taken out [s].
    numbers : int array (N,)
        Their numbers; a silent beat leaves a gap.
    sigmas_s : array (N,), optional
        Standard uncertainty of each from noise in the sound [s].
    chance : float
        Probability, before listening, of an error of the wheel.
    """
    intervals = turning.intervals_of(times_s, numbers, sigmas_s)
    if len(intervals.beats) < _LEAST_INTERVALS + intervals.base.shape[1]:
        return None
    span = float(numbers[-1] - numbers[0])
    teeth = TEETH if span > _TOLD_APART_TURNS * BEATS_PER_TOOTH * TEETH[0] else _FEW_TEETH
    columns = np.concatenate(
        [intervals.change(turn_columns(numbers, BEATS_PER_TOOTH * count, _SMOOTH_HARMONICS)) for count in teeth],
        axis=1,
    )
    without, having = [], []
    for ratio in turning.RATIOS:
        white = turning.whitened(intervals, float(ratio))
        without.append(_plain(white))
        having.append(_of_wheels(white, white.whiten(columns), len(teeth)))
    none, wheel = _Parts.joined(without), _Parts.joined(having)
    # Each explanation's weight holds its share of the probability given before.
    ratios = np.log(len(turning.RATIOS))
    logs = np.concatenate([none.logs + np.log1p(-chance) - ratios, wheel.logs + np.log(chance) - ratios])
    share = np.exp(logs - turning.log_sum(logs))
    both = _Parts.joined([none, wheel])
    freedom = len(intervals.beats) - intervals.base.shape[1]
    found = [
        _interval(share, both.means[:, place], both.variances[:, place], freedom)
        for place in range(both.means.shape[1])
    ]
    means = share @ both.means
    half = (float(means[1]), found[1]) if len(means) > 1 else (0.0, (0.0, 0.0))
    return WheelFit(float(means[0]), half[0], found[0], half[1], float(share[len(none.logs) :].sum()))


def _plain(white: Whitened) -> _Parts:
    """Return the explanation without a wheel."""
    made = turning.products(white, np.zeros((len(white.data), 0)))
    inverse = np.linalg.inv(white.base.T @ white.base)
    mean = inverse @ (white.base.T @ white.data)
    variance = np.diag(inverse) * made.rest / made.freedom
    return _Parts(np.array([made.log_null]), mean[None], variance[None])


def _of_wheels(white: Whitened, columns: Floats, counts: int) -> _Parts:
    """Return the explanations by each count of teeth and size of the error; their weights add up to one before."""
    inverse = np.linalg.inv(white.base.T @ white.base)
    share = inverse @ (white.base.T @ np.column_stack([columns, white.data]))
    free = columns - white.base @ share[:, :-1]
    data = white.data - white.base @ share[:, -1]
    made = turning.products(white, columns[:, :0])
    width = len(_SMOOTH_SIZES)
    found = []
    for count in range(counts):
        own = slice(count * width, (count + 1) * width)
        gram, along = free[:, own].T @ free[:, own], free[:, own].T @ data
        pattern = Pattern.of(replace(made, gram=gram, along=along), _SMOOTH_SIZES)
        found.append(_of_wheel(pattern, share[:, own], share[:, -1], np.diag(inverse), counts))
    return _Parts.joined(found)


def _of_wheel(pattern: Pattern, share: Floats, plain: Floats, own: Floats, counts: int) -> _Parts:
    """Return the explanations by one count of teeth.

    Parameters
    ----------
    pattern : Pattern
        Of the wheel's columns (C,).
    share : array (B, C)
        By how much each of the columns passes for period and unevenness.
    plain, own : array (B,)
        Period and unevenness without a wheel, and their variance over that of the scatter.
    counts : int
        How many counts of teeth are tried.
    """
    moved = share @ pattern.turned.T
    known = np.square(turning.SCALES)[:, None] / pattern.grown(turning.SCALES)
    means = plain - (known * pattern.along) @ moved.T
    rest = pattern.made.rest - known @ np.square(pattern.along)
    variances = (own + known @ np.square(moved).T) * (rest / pattern.made.freedom)[:, None]
    return _Parts(pattern.evidence() - np.log(len(turning.SCALES) * counts), means, variances)


def _interval(share: Floats, means: Floats, variances: Floats, freedom: int) -> tuple[float, float]:
    """Return the ends of the 95 % interval of a mixture of Student distributions."""
    kept = share > _NEGLIGIBLE
    share, means, sigmas = share[kept] / share[kept].sum(), means[kept], np.sqrt(variances[kept])
    return _quantile(_LOW, share, means, sigmas, freedom), _quantile(_HIGH, share, means, sigmas, freedom)


def _quantile(wanted: float, share: Floats, means: Floats, sigmas: Floats, freedom: int) -> float:
    """Return a quantile of a mixture of Student distributions, by halving."""
    from scipy import special

    reach = float(special.stdtrit(freedom, 1.0 - _NEGLIGIBLE))
    low, high = float(np.min(means - reach * sigmas)), float(np.max(means + reach * sigmas))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        below = float(share @ special.stdtr(freedom, (middle - means) / sigmas))
        low, high = (middle, high) if below < wanted else (low, middle)
    return (low + high) / 2.0
