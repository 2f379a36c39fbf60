"""The full swing of a clock and the two places in it where a beat sounds.

Which multiple of the period is the full swing is told by what its fold looks like: a full swing has two beats in it,
at least 0.27 of it apart, so that a clock thirty percent out of beat is still read rightly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.onsets import STEP_S, Onsets
from diagnose.measurement.hearing.period import LONGEST_SWING_S, Period, best_piece, find_period, plainest_period

_APART = 0.27
_NEARLY_EVEN = 0.05
_FOLD_BIN_S = 2e-3
_FOLD_SMOOTH_S = 8e-3
_BESIDE = 0.08
_SECOND_SHARE = 0.12
"""The second beat of a swing sounds at least this strong beside the first, in the detection function."""
_SECOND_SIGMA = 5.5
_FAST_S = 0.4
_SECOND_SHARE_FAST = 0.25
"""In a swing this short the echo of one beat lies where the other beat would be."""
_FAINT_SHARE = 0.04
_FAINT_SIGMA = 3.5
_LOUD_SMOOTH_S = 0.012
_LOUD_SHARE = 0.11
_LOUD_SIGMA = 6.5
_MAD_TO_SIGMA = 1.4826
_HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Swing:
    """The full swing found in a recording.

    Parameters
    ----------
    period_s : float
        Period of the full swing, two beats [s].
    phases : tuple of two floats
        Where the two beats lie in the swing that starts at `start_s`, as shares of the period.
    start_s : float
        Start of the piece that was folded [s].
    audible : int
        2, or 1 where only one beat in a swing can be heard.
    doubled : bool
        Whether the period found was that of one beat and the swing was taken as twice that.
    score : float
        Harmonic score above that of noise, in standard deviations of noise.
    contrast : float
        Height of the weaker beat in the fold, in standard deviations of the rest of the fold.
    strength : array (F,)
        The detection function it was found in, one value a millisecond.
    weights : array (B,)
        Weights of the bands in it.
    nominal_ignored : bool
        The beats per hour that were given do not fit what is heard.
    beside : float, optional
        Ticks an hour of a plainer clock that was taken out to hear this one [1/h].
    by_loudness : bool
        Whether the detection function is the plain loudness and not the rises.
    """

    period_s: float
    phases: tuple[float, float]
    start_s: float
    audible: int
    doubled: bool
    score: float
    contrast: float
    strength: NDArray[np.float64]
    weights: NDArray[np.float64]
    nominal_ignored: bool = False
    beside: float | None = None
    by_loudness: bool = False


def find_swing(onsets: Onsets, nominal: float | None = None) -> Swing | None:
    """Return the full swing that explains the sound best, or None where the sound is too short to have one.

    Parameters
    ----------
    onsets : Onsets
        Detection functions of the recording.
    nominal : float, optional
        Beats per hour of the train, where known [1/h].
    """
    found = find_period(onsets)
    if found is None:
        return None
    if nominal is None:
        return _structure(onsets, found)
    hinted, ignored = found.near(2.0 * _HOUR_S / nominal)
    if ignored:
        return replace(_structure(onsets, found), nominal_ignored=True)
    return _given_swing(onsets, hinted)


def swing_among(
    onsets: Onsets, left: NDArray[np.float64], weights: NDArray[np.float64], nominal: float
) -> Swing | None:
    """Return the swing of a given train in what another clock has left, or None where it is not there.

    Parameters
    ----------
    onsets : Onsets
        Detection functions of the recording.
    left : array (F,)
        The detection function without the other clock's beats.
    weights : array (B,)
        Weights of the bands it was made with.
    nominal : float
        Beats per hour of the train [1/h].
    """
    found = plainest_period(left, weights)
    if found is None:
        return None
    hinted, ignored = found.near(2.0 * _HOUR_S / nominal)
    return None if ignored else _given_swing(onsets, hinted)


def _given_swing(onsets: Onsets, hinted: Period) -> Swing:
    """Return the swing whose period is that of a train that was given, one or both beats of it audible."""
    two = _has_two(hinted, must=True) or _faint_second(onsets, hinted)
    return _swing_from(onsets, hinted, hinted.period_s, doubled=False, audible=2 if two else 1)


def _structure(onsets: Onsets, found: Period) -> Swing:
    """Return the swing: the period itself where it holds two beats, else twice it."""
    too_long = 2.0 * found.period_s > LONGEST_SWING_S
    two = _has_two(found, must=too_long) or _faint_second(onsets, found)
    doubled = not two and not too_long
    period_s = 2.0 * found.period_s if doubled else found.period_s
    return _swing_from(onsets, found, period_s, doubled, audible=2 if two or doubled else 1)


def _swing_from(onsets: Onsets, found: Period, period_s: float, doubled: bool, audible: int) -> Swing:
    """Return the swing of one period, with its two phases."""
    piece, start = best_piece(found.strength, period_s)
    profile = fold(piece, period_s)
    first, second, share, sigmas = two_peaks(profile)
    if doubled:
        second = (first + 0.5 + _unevenness(profile, first)) % 1.0
    contrast = sigmas if audible == 2 else sigmas / max(share, 1e-9)
    return Swing(
        period_s,
        (first, second),
        onsets.first_s + start * STEP_S,
        audible,
        doubled,
        found.score,
        contrast,
        found.strength,
        found.weights,
        by_loudness=found.by_loudness,
    )


def fold(strength: NDArray[np.float64], period_s: float) -> NDArray[np.float64]:
    """Return the mean of the detection function over the phase of a period, smoothed; shape (bins,)."""
    bins = max(round(period_s / _FOLD_BIN_S), 16)
    phase = np.arange(len(strength)) * (STEP_S / period_s)
    index = ((phase - np.floor(phase)) * bins).astype(np.intp) % bins
    count = np.bincount(index, minlength=bins)
    profile = np.bincount(index, weights=strength, minlength=bins) / np.maximum(count, 1)
    width = max(round(_FOLD_SMOOTH_S / period_s * bins) | 1, 3)
    shape = np.hanning(width + 2)[1:-1]
    padded = np.concatenate([profile[-width:], profile, profile[:width]])
    smooth = np.convolve(padded, shape / shape.sum(), mode="same")
    return np.asarray(smooth[width:-width])


def two_peaks(profile: NDArray[np.float64]) -> tuple[float, float, float, float]:
    """Return both phases of a fold, the second height as a share of the first, and in sigmas of the rest."""
    bins = len(profile)
    first = int(np.argmax(profile))
    distance = np.abs((np.arange(bins) - first + bins // 2) % bins - bins // 2) / bins
    allowed = np.where(distance >= _APART, profile, -np.inf)
    second = int(np.argmax(allowed))
    away = np.abs((np.arange(bins) - second + bins // 2) % bins - bins // 2) / bins
    rest = profile[(distance > _BESIDE) & (away > _BESIDE)]
    middle = float(np.median(rest)) if len(rest) else 0.0
    spread = _MAD_TO_SIGMA * float(np.median(np.abs(rest - middle))) if len(rest) else 0.0
    height = float(profile[second]) - middle
    share = height / max(float(profile[first]) - middle, 1e-12)
    return first / bins, second / bins, share, height / max(spread, 1e-9)


def _unevenness(profile: NDArray[np.float64], first: float) -> float:
    """Return how far the second beat of a nearly even swing lies from the middle, as a share of the swing."""
    bins = len(profile)
    turned = np.roll(profile, -round(first * bins))
    reach = max(round(_NEARLY_EVEN * bins), 1)
    lobe = np.arange(-2 * reach, 2 * reach + 1)
    one = turned[lobe % bins] - np.median(profile)
    alike = [float(one @ turned[(lobe + bins // 2 + shift) % bins]) for shift in range(-reach, reach + 1)]
    return (int(np.argmax(alike)) - reach + bins // 2 - bins / 2.0) / bins


def _faint_second(onsets: Onsets, found: Period) -> bool:
    """Return whether a second beat shows in the plain loudness, where the noise is steady enough for that."""
    piece, _ = best_piece(onsets.joined(onsets.loud, np.sqrt(found.weights)), found.period_s)
    profile = fold(piece, found.period_s)
    width = max(round(_LOUD_SMOOTH_S / found.period_s * len(profile)), 1)
    turned = np.concatenate([profile, profile[:width]])
    smooth = np.convolve(turned, np.ones(width) / width, "same")[: len(profile)]
    _, _, share, sigmas = two_peaks(smooth)
    return share > _LOUD_SHARE and sigmas > _LOUD_SIGMA


def _has_two(found: Period, must: bool = False) -> bool:
    """Return whether two beats show in a fold, far enough apart to be the two of one swing.

    Where the period `must` be that of a full swing, a fainter second beat is believed.
    """
    piece, _ = best_piece(found.strength, found.period_s)
    _, _, share, sigmas = two_peaks(fold(piece, found.period_s))
    if must:
        return share > _FAINT_SHARE and sigmas > _FAINT_SIGMA
    least = _SECOND_SHARE if found.period_s >= _FAST_S else _SECOND_SHARE_FAST
    return share > least and sigmas > _SECOND_SIGMA
