"""The period of the full swing, and the two places in it where a beat sounds, without knowing the clock.

The power of the detection function at all multiples of a frequency is added up to 25 Hz (a harmonic sum), over a fine
grid of periods; pieces of a long recording are added without their phases, so that a clock may wander. Which multiple
is the full swing is told by what the fold looks like: a full swing has two beats in it, at least 0.27 of it apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.onsets import STEP_S, Onsets

SHORTEST_SWING_S = 0.18
"""Short enough for a balance wheel of 36,000 to 40,000 beats an hour, so that one is named and not misread."""
LONGEST_SWING_S = 2.85
_HIGHEST_HZ = 25.0
_LOWEST_HZ = 0.3
_PIECE_S = 30.0
_PIECES_MOST = 12
_OVERSAMPLING = 4
_SUBMULTIPLE_SHARE = 0.84
"""A whole fraction of the best period is taken when it keeps this share of the score."""
_PLAINEST_SHARE = 0.75
"""The period with the most sigmas goes before a long one that explains a little more (the seam of a loop does that)."""
_SUBMULTIPLES = (2, 3, 4, 5, 6, 7, 8)
_APART = 0.27
_NEARLY_EVEN = 0.05
_FOLD_BIN_S = 2e-3
_FOLD_SMOOTH_S = 8e-3
_SECOND_SHARE = 0.12
"""The second beat of a swing sounds at least this strong beside the first, in the detection function."""
_SECOND_SIGMA = 5.5
_FAST_S = 0.4
_SECOND_SHARE_FAST = 0.25
"""In a swing this short the echo of one beat lies where the other beat would be."""
_FAINT_SHARE = 0.04
_FAINT_SIGMA = 3.5
_NOMINAL_SPAN = 0.06
_NOMINAL_TRUST = 0.45
_REFINEMENTS = 2
_MAD_TO_SIGMA = 1.4826


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
    weights : array (B,)
        Weights of the bands that carry this period.
    nominal_ignored : bool
        The beats per hour that were given do not fit what is heard.
    """

    period_s: float
    phases: tuple[float, float]
    start_s: float
    audible: int
    doubled: bool
    score: float
    contrast: float
    weights: NDArray[np.float64]
    nominal_ignored: bool = False


def find_swing(onsets: Onsets, nominal: float | None = None) -> Swing | None:
    """Return the full swing that explains the sound best, or None where the sound is too short to have one.

    Parameters
    ----------
    onsets : Onsets
        Detection function of the recording.
    nominal : float, optional
        Beats per hour of the train, where known [1/h].
    """
    if onsets.bands.shape[1] * STEP_S < 2.5 * SHORTEST_SWING_S:
        return None
    weights = onsets.weights()
    strength = onsets.strength(weights)
    periods_s, scores = _scores(strength)
    if not len(periods_s):
        return None
    fundamental_s = _fundamental(periods_s, scores)
    weights = _band_weights(onsets, fundamental_s)
    strength = onsets.strength(weights)
    periods_s, scores = _scores(strength)
    fundamental_s = _fundamental(periods_s, scores)
    ignored = False
    if nominal is not None:
        hinted_s, ignored = _near_nominal(periods_s, scores, fundamental_s, 7200.0 / nominal)
        if not ignored:
            return _as_nominal(onsets, strength, weights, hinted_s, periods_s, scores)
    return _structure(onsets, strength, weights, fundamental_s, periods_s, scores, ignored)


def plainest_period(strength: NDArray[np.float64]) -> tuple[float, float] | None:
    """Return the shortest period that explains a detection function [s], and its score; None where too short."""
    periods_s, scores = _scores(strength)
    if not len(periods_s):
        return None
    period_s = _fundamental(periods_s, scores)
    return period_s, float(scores[_peak_near(periods_s, scores, period_s, 1e-3)])


def _pieces(strength: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Return pieces of at most half a minute, spread over the recording."""
    size = round(_PIECE_S / STEP_S)
    if len(strength) <= 1.5 * size:
        return [strength]
    count = min(int(np.ceil(len(strength) / size)), _PIECES_MOST)
    starts = np.linspace(0, len(strength) - size, count).astype(int)
    return [strength[start : start + size] for start in starts]


def _scores(strength: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return periods [s] and their harmonic scores above noise, in standard deviations of noise."""
    pieces = _pieces(strength)
    length_s = len(pieces[0]) * STEP_S
    longest_s = min(LONGEST_SWING_S, length_s / 1.6)
    if longest_s <= SHORTEST_SWING_S:
        return np.empty(0), np.empty(0)
    step = 1.0 / (_OVERSAMPLING * length_s * _HIGHEST_HZ)
    periods_s = np.exp(np.arange(np.log(SHORTEST_SWING_S), np.log(longest_s), step))
    total = np.zeros(len(periods_s))
    count = np.zeros(len(periods_s))
    for piece in pieces:
        some, terms = _harmonic_sum(piece, periods_s)
        total += some
        count += terms
    return periods_s, (total - count) / np.sqrt(count)


def _harmonic_sum(
    piece: NDArray[np.float64], periods_s: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the summed power at the harmonics of each period, noise having 1 in each, and their number."""
    from scipy import fft

    size = fft.next_fast_len(len(piece) * _OVERSAMPLING, real=True)
    spectrum = fft.rfft(piece - piece.mean(), size)
    per_hz = size * STEP_S
    kept = int(_HIGHEST_HZ * per_hz) + 2
    power = np.square(np.abs(spectrum[:kept]))
    usual = np.median(power[int(_LOWEST_HZ * per_hz) :]) / np.log(2.0)
    power /= usual if usual > 0 else 1.0
    total = np.zeros(len(periods_s))
    terms = np.floor(_HIGHEST_HZ * periods_s)
    for harmonic in range(1, int(terms.max()) + 1):
        first = int(np.searchsorted(terms, harmonic))
        place = harmonic * per_hz / periods_s[first:]
        low = place.astype(np.intp)
        share = place - low
        total[first:] += power[low] * (1.0 - share) + power[low + 1] * share
    return total, np.maximum(terms, 1.0)


def _fundamental(periods_s: NDArray[np.float64], scores: NDArray[np.float64]) -> float:
    """Return the shortest whole fraction of the best period that keeps most of its score."""
    # The excess power itself is compared, not its number of sigmas: a fraction of a period has fewer harmonics.
    excess = scores * np.sqrt(np.floor(_HIGHEST_HZ * periods_s))
    best = int(np.argmax(excess))
    plainest = int(np.argmax(scores))
    if excess[plainest] > _PLAINEST_SHARE * excess[best]:
        best = plainest
    chosen = best
    for divisor in _SUBMULTIPLES:
        wanted_s = periods_s[best] / divisor
        if wanted_s < periods_s[0]:
            break
        index = _peak_near(periods_s, excess, wanted_s, 0.006)
        if excess[index] > _SUBMULTIPLE_SHARE * excess[best]:
            chosen = index
    return _refined(periods_s, scores, chosen)


def _peak_near(periods_s: NDArray[np.float64], scores: NDArray[np.float64], wanted_s: float, span: float) -> int:
    """Return the index of the highest score within a share `span` of a period."""
    low, high = np.searchsorted(periods_s, [wanted_s * (1 - span), wanted_s * (1 + span)])
    low = min(int(low), len(periods_s) - 1)
    return low + int(np.argmax(scores[low : max(int(high), low + 1)]))


def _refined(periods_s: NDArray[np.float64], scores: NDArray[np.float64], index: int) -> float:
    """Return the period at the top of a parabola through a peak and its neighbors [s]."""
    if not 0 < index < len(scores) - 1:
        return float(periods_s[index])
    before, here, after = scores[index - 1 : index + 2]
    bend = before - 2.0 * here + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    step = np.log(periods_s[index + 1] / periods_s[index])
    return float(periods_s[index] * np.exp(np.clip(shift, -1.0, 1.0) * step))


def _band_weights(onsets: Onsets, period_s: float) -> NDArray[np.float64]:
    """Return weights of the bands by how much of the period each carries on its own."""
    span = np.array([period_s])
    found = np.zeros(onsets.bands.shape[0])
    for number, band in enumerate(onsets.bands):
        spread = float(band.std())
        if spread == 0.0:
            continue
        for piece in _pieces(band.astype(np.float64)):
            total, terms = _harmonic_sum(piece, span)
            found[number] += max(float((total - terms)[0]), 0.0) / spread
    best = float(found.max())
    return found / best + 1e-3 if best > 0 else onsets.weights()


def _near_nominal(
    periods_s: NDArray[np.float64], scores: NDArray[np.float64], blind_s: float, swing_s: float
) -> tuple[float, bool]:
    """Return the best full swing near the nominal one, and whether something else fits far better."""
    excess = scores * np.sqrt(np.floor(_HIGHEST_HZ * periods_s))
    if not periods_s[0] < swing_s < periods_s[-1]:
        return swing_s, True
    index = _peak_near(periods_s, excess, swing_s, _NOMINAL_SPAN)
    blind = excess[_peak_near(periods_s, excess, blind_s, 1e-3)]
    return _refined(periods_s, scores, index), bool(excess[index] < _NOMINAL_TRUST * blind)


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
    rest = profile[(distance > 0.08) & (away > 0.08)]
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


def _best_piece(strength: NDArray[np.float64], period_s: float) -> tuple[NDArray[np.float64], int]:
    """Return the piece of the recording in which the period is plainest, and where it starts [steps]."""
    pieces = _pieces(strength)
    scores = [float(_harmonic_sum(piece, np.array([period_s]))[0][0]) for piece in pieces]
    best = int(np.argmax(scores))
    starts = np.linspace(0, len(strength) - len(pieces[0]), len(pieces)).astype(int)
    return pieces[best], int(starts[best])


def _swing_from(
    onsets: Onsets,
    strength: NDArray[np.float64],
    weights: NDArray[np.float64],
    period_s: float,
    score: float,
    doubled: bool,
    audible: int,
) -> Swing:
    """Return the swing of one period, with its two phases."""
    piece, start = _best_piece(strength, period_s)
    first, second, _, sigmas = two_peaks(fold(piece, period_s))
    start_s = onsets.first_s + start * STEP_S
    if doubled:
        second = (first + 0.5 + _unevenness(fold(piece, period_s), first)) % 1.0
    return Swing(period_s, (first, second), start_s, audible, doubled, score, sigmas, weights)


def _has_two(strength: NDArray[np.float64], period_s: float, must: bool = False) -> bool:
    """Return whether two beats show in a fold, far enough apart to be the two of one swing.

    Where the period `must` be that of a full swing, a fainter second beat is believed.
    """
    piece, _ = _best_piece(strength, period_s)
    _, _, share, sigmas = two_peaks(fold(piece, period_s))
    if must:
        return share > _FAINT_SHARE and sigmas > _FAINT_SIGMA
    least = _SECOND_SHARE if period_s >= _FAST_S else _SECOND_SHARE_FAST
    return share > least and sigmas > _SECOND_SIGMA


def _structure(
    onsets: Onsets,
    strength: NDArray[np.float64],
    weights: NDArray[np.float64],
    fundamental_s: float,
    periods_s: NDArray[np.float64],
    scores: NDArray[np.float64],
    ignored: bool,
) -> Swing:
    """Return the swing: the fundamental itself where it holds two beats, else twice it."""
    score = float(scores[_peak_near(periods_s, scores, fundamental_s, 1e-3)])
    two = _has_two(strength, fundamental_s, must=2.0 * fundamental_s > LONGEST_SWING_S)
    doubled = not two and 2.0 * fundamental_s <= LONGEST_SWING_S
    period_s = 2.0 * fundamental_s if doubled else fundamental_s
    audible = 2 if two or doubled else 1
    found = _swing_from(onsets, strength, weights, period_s, score, doubled, audible)
    if not ignored:
        return found
    return Swing(
        found.period_s, found.phases, found.start_s, found.audible, doubled, score, found.contrast, weights, True
    )


def _as_nominal(
    onsets: Onsets,
    strength: NDArray[np.float64],
    weights: NDArray[np.float64],
    swing_s: float,
    periods_s: NDArray[np.float64],
    scores: NDArray[np.float64],
) -> Swing:
    """Return the swing near the nominal period, with one or two audible beats."""
    score = float(scores[_peak_near(periods_s, scores, swing_s, 1e-3)])
    audible = 2 if _has_two(strength, swing_s, must=True) else 1
    return _swing_from(onsets, strength, weights, swing_s, score, False, audible)
