"""The period that explains a detection function best: a harmonic sum, blind to what kind of clock it is.

The power of the detection function at all multiples of a frequency is added up to 25 Hz over a fine grid of periods;
pieces of a long recording are added without their phases, so that a clock may wander.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.onsets import STEP_S, Onsets

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
_NOMINAL_SPAN = 0.06
_NOMINAL_TRUST = 0.45
_WEAK_SCORE = 60.0
"""Below this score the plain loudness is tried beside the rises: it is the better of the two in steady noise."""


@dataclass(frozen=True, slots=True)
class Period:
    """A period found in a detection function, with what it was found in.

    Parameters
    ----------
    period_s : float
        The shortest period that explains it [s].
    score : float
        Harmonic score above that of noise, in standard deviations of noise.
    strength : array (F,)
        The detection function.
    weights : array (B,)
        Weights of the bands in it.
    periods_s, scores : arrays (P,)
        All periods tried and their scores.
    by_loudness : bool
        Whether it was found in the plain loudness and not in the rises.
    """

    period_s: float
    score: float
    strength: NDArray[np.float64]
    weights: NDArray[np.float64]
    periods_s: NDArray[np.float64]
    scores: NDArray[np.float64]
    by_loudness: bool = False

    def near(self, swing_s: float) -> tuple[Period, bool]:
        """Return the best period near a nominal swing, and whether something else fits far better."""
        excess = self.scores * np.sqrt(np.floor(_HIGHEST_HZ * self.periods_s))
        if not self.periods_s[0] < swing_s < self.periods_s[-1]:
            return self, True
        index = _peak_near(self.periods_s, excess, swing_s, _NOMINAL_SPAN)
        blind = excess[_peak_near(self.periods_s, excess, self.period_s, 1e-3)]
        found_s = _refined(self.periods_s, self.scores, index)
        found = replace(self, period_s=found_s, score=float(self.scores[index]))
        return found, bool(excess[index] < _NOMINAL_TRUST * blind)


def find_period(onsets: Onsets) -> Period | None:
    """Return the shortest period that explains a recording, or None where it is too short to have one.

    Parameters
    ----------
    onsets : Onsets
        Detection functions of the recording.
    """
    rises = _find_in(onsets, onsets.bands, onsets.weights())
    if rises is None or rises.score >= _WEAK_SCORE:
        return rises
    plain = _find_in(onsets, onsets.loud, onsets.weights())
    return replace(plain, by_loudness=True) if plain is not None and plain.score > rises.score else rises


def _find_in(onsets: Onsets, bands: NDArray[np.float32], weights: NDArray[np.float64]) -> Period | None:
    """Return the period found in one kind of detection function, its bands weighed twice."""
    if bands.shape[1] * STEP_S < 2.5 * SHORTEST_SWING_S:
        return None
    strength = onsets.joined(bands, weights)
    periods_s, scores = _scores(strength)
    if not len(periods_s):
        return None
    weights = _band_weights(bands, _fundamental(periods_s, scores), weights)
    return plainest_period(onsets.joined(bands, weights), weights)


def best_piece(strength: NDArray[np.float64], period_s: float) -> tuple[NDArray[np.float64], int]:
    """Return the piece of the recording in which the period is plainest, and where it starts [steps]."""
    pieces = _pieces(strength)
    scores = [float(_harmonic_sum(piece, np.array([period_s]))[0][0]) for piece in pieces]
    best = int(np.argmax(scores))
    starts = np.linspace(0, len(strength) - len(pieces[0]), len(pieces)).astype(int)
    return pieces[best], int(starts[best])


def plainest_period(strength: NDArray[np.float64], weights: NDArray[np.float64]) -> Period | None:
    """Return the shortest period that explains a detection function, or None where it is too short to have one.

    Parameters
    ----------
    strength : array (F,)
        The detection function, one value a millisecond.
    weights : array (B,)
        Weights of the bands it was made with.
    """
    periods_s, scores = _scores(strength)
    if not len(periods_s):
        return None
    period_s = _fundamental(periods_s, scores)
    score = float(scores[_peak_near(periods_s, scores, period_s, 1e-3)])
    return Period(period_s, score, strength, weights, periods_s, scores)


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


def _band_weights(bands: NDArray[np.float32], period_s: float, before: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return weights of the bands by how much of the period each carries on its own."""
    span = np.array([period_s])
    found = np.zeros(bands.shape[0])
    for number, band in enumerate(bands):
        spread = float(band.std())
        if spread == 0.0:
            continue
        for piece in _pieces(band.astype(np.float64)):
            total, terms = _harmonic_sum(piece, span)
            found[number] += max(float((total - terms)[0]), 0.0) / spread
    best = float(found.max())
    return found / best + 1e-3 if best > 0 else before
