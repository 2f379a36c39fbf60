"""How steadily a clock goes over shorter and longer times: the Allan family of deviations, and what they mean.

All work on phase: how far the times of the swings run ahead of even ones. A swing that was not heard is NaN and stays
a gap: no term over it is formed. The rate of a clock is scattered by each tick by itself, by wandering that is never
made up again, and by drift; how its deviation falls with the time it is averaged over tells which.

References
----------
Riley, W. J.: Handbook of Frequency Stability Analysis. NIST Special Publication 1065 (2008), sections 5.2 to 5.9.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError

Floats = NDArray[np.float64]
NoiseKind = Literal["scatter", "wander", "drift"]
LEAST_SWINGS = 128
"""Whole swings from which steadiness is told: fewer give two or three averaging times, and those poorly known."""
_LEAST_TERMS = 4
_SECONDS_PER_DAY = 86_400.0
_SCATTER_SLOPE, _DRIFT_SLOPE = -1.0, 0.25
"""Between scatter (-3/2 for the modified deviation), wandering (-1/2) and drift (+1): halves of the way, roughly."""
_TAIL = 3
_ALLAN_WEIGHTS, _HADAMARD_WEIGHTS = (1.0, -2.0, 1.0), (-1.0, 3.0, -3.0, 1.0)


@dataclass(frozen=True, slots=True)
class Deviation:
    """One deviation at one averaging time.

    Parameters
    ----------
    tau_s : float
        Averaging time [s].
    value : float
        The deviation: a share of the rate [1]; of the time deviation seconds [s]; NaN where it cannot be formed.
    terms : int
        How many differences it rests on.
    """

    tau_s: float
    value: float
    terms: int


Measure = Callable[[Floats, float, int], Deviation]


def _differences(phase_s: Floats, step: int, weights: tuple[float, ...], stride: int) -> Floats:
    """Return weighted sums over points `step` apart, begun at every `stride`-th; those over a gap left out."""
    count = len(phase_s) - (len(weights) - 1) * step
    if count < 1:
        return np.empty(0)
    made = sum(weight * phase_s[place * step : place * step + count] for place, weight in enumerate(weights))
    every = np.asarray(made)[::stride]
    return np.asarray(every[np.isfinite(every)])


def _root(squares: Floats, norm: float, tau_s: float) -> Deviation:
    if not len(squares):
        return Deviation(tau_s, float("nan"), 0)
    return Deviation(tau_s, float(np.sqrt(np.mean(np.square(squares)) / norm) / tau_s), len(squares))


def allan(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the Allan deviation of phase, shape (N,) [s], for `m` steps of `tau0_s` [s]."""
    return _root(_differences(phase_s, m, _ALLAN_WEIGHTS, m), 2.0, m * tau0_s)


def overlapping_allan(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the overlapping Allan deviation of phase, shape (N,) [s], for `m` steps of `tau0_s` [s]."""
    return _root(_differences(phase_s, m, _ALLAN_WEIGHTS, 1), 2.0, m * tau0_s)


def hadamard(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the Hadamard deviation of phase, shape (N,) [s], which no even drift moves."""
    return _root(_differences(phase_s, m, _HADAMARD_WEIGHTS, m), 6.0, m * tau0_s)


def overlapping_hadamard(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the overlapping Hadamard deviation of phase, shape (N,) [s], for `m` steps of `tau0_s` [s]."""
    return _root(_differences(phase_s, m, _HADAMARD_WEIGHTS, 1), 6.0, m * tau0_s)


def modified_allan(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the modified Allan deviation of phase, shape (N,) [s]: phase averaged over `m` points first."""
    if len(phase_s) < m:
        return Deviation(m * tau0_s, float("nan"), 0)
    averaged = np.lib.stride_tricks.sliding_window_view(phase_s, m).mean(axis=1)
    return _root(_differences(averaged, m, _ALLAN_WEIGHTS, 1), 2.0, m * tau0_s)


def time_deviation(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the time deviation of phase, shape (N,) [s], in seconds."""
    made = modified_allan(phase_s, tau0_s, m)
    return Deviation(made.tau_s, made.value * made.tau_s / float(np.sqrt(3.0)), made.terms)


def total(phase_s: Floats, tau0_s: float, m: int) -> Deviation:
    """Return the total deviation of phase, shape (N,) [s]: both ends are mirrored, so long times are known better."""
    count = len(phase_s)
    if count < 3 or m > count - 1:
        return Deviation(m * tau0_s, float("nan"), 0)
    before = 2.0 * phase_s[0] - phase_s[count - 2 : 0 : -1]
    after = 2.0 * phase_s[-1] - phase_s[count - 2 : 0 : -1]
    longer = np.concatenate([before, phase_s, after])
    first = len(before) + 1 - m
    return _root(_differences(longer[first : first + count - 2 + 2 * m], m, _ALLAN_WEIGHTS, 1), 2.0, m * tau0_s)


MEASURES: dict[str, Measure] = {
    "allan": allan,
    "overlapping-allan": overlapping_allan,
    "modified-allan": modified_allan,
    "time": time_deviation,
    "hadamard": hadamard,
    "overlapping-hadamard": overlapping_hadamard,
    "total": total,
}


def phase_from_rates(shares: Floats, tau0_s: float) -> Floats:
    """Return the phase, shape (N+1,) [s], whose steps are rates given as shares, shape (N,), over `tau0_s` [s] each."""
    return np.concatenate([[0.0], np.cumsum(shares) * tau0_s])


def swing_phase(times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> tuple[Floats, float]:
    """Return how far the whole swings run from even ones [s], and the length of a swing [s].

    Only every second beat is taken, so that the beat error does not pass for noise; of the two kinds the one heard
    more often; of several pieces the longest. Swings not heard are NaN.

    Parameters
    ----------
    times_s, numbers, segments : array (N,)
        The beats.

    Raises
    ------
    UsageError
        Fewer than three whole swings.
    """
    from diagnose.measurement.noticing.wheel import longest_piece

    rows = longest_piece(numbers, segments)
    kind = int(np.argmax(np.bincount(numbers[rows] % 2, minlength=2)))
    rows = rows[numbers[rows] % 2 == kind]
    if len(rows) < _LEAST_TERMS:
        raise UsageError(f"{len(rows)} whole swings were heard", do="Record at least half a minute")
    swings = (numbers[rows] - numbers[rows[0]]) // 2
    slope_s, level_s = np.polyfit(swings, times_s[rows], 1)
    phase_s = np.full(int(swings[-1]) + 1, np.nan)
    phase_s[swings] = times_s[rows] - level_s - slope_s * swings
    return phase_s, float(slope_s)


@dataclass(frozen=True, slots=True)
class Steadiness:
    """How steadily a clock goes, told of long recordings only.

    Parameters
    ----------
    kind : str
        What rules the longest averaging times: "scatter" of single ticks (a longer recording still helps),
        "wander" (it helps slowly) or "drift" (the rate itself changes while one listens).
    tau_s : tuple of float
        Averaging times [s].
    rate_s_per_day : tuple of float
        By how much the rate over such a time differs from the next, as a standard deviation [s/day].
    """

    kind: NoiseKind
    tau_s: tuple[float, ...]
    rate_s_per_day: tuple[float, ...]


def steadiness(times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> Steadiness | None:
    """Return how steadily a clock goes, or None where the recording is too short to tell.

    Parameters
    ----------
    times_s, numbers, segments : array (N,)
        The beats: times [s], numbers, unbroken pieces.
    """
    if len(times_s) < LEAST_SWINGS:
        return None
    phase_s, swing_s = swing_phase(times_s, numbers, segments)
    if np.isfinite(phase_s).sum() < LEAST_SWINGS:
        return None
    octaves = 2 ** np.arange(int(np.log2(len(phase_s) / _LEAST_TERMS)) + 1)
    plain = [overlapping_allan(phase_s, swing_s, int(m)) for m in octaves]
    told = [one for one in plain if one.terms >= _LEAST_TERMS and one.value > 0]
    if len(told) < _TAIL:
        return None
    return Steadiness(
        _kind(phase_s, swing_s),
        tuple(one.tau_s for one in told),
        tuple(_SECONDS_PER_DAY * one.value for one in told),
    )


def _kind(phase_s: Floats, swing_s: float) -> NoiseKind:
    """Return what rules the longer averaging times, from how the modified deviation falls with them."""
    octaves = 2 ** np.arange(int(np.log2(len(phase_s) / (2 * _LEAST_TERMS))) + 1)
    made = [modified_allan(phase_s, swing_s, int(m)) for m in octaves]
    known = [one for one in made if one.terms >= _LEAST_TERMS and one.value > 0][-_TAIL:]
    if len(known) < 2:
        return "scatter"
    slope = np.polyfit(np.log([one.tau_s for one in known]), np.log([one.value for one in known]), 1)[0]
    if slope > _DRIFT_SLOPE:
        return "drift"
    return "wander" if slope > _SCATTER_SLOPE else "scatter"
