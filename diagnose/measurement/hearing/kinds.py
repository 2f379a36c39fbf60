"""Both kinds of beat heard together: the plainer kind shows where the fainter one must be."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.arrival import SEARCH_S, TEMPLATE_EVENTS, Arrivals, time_arrivals, time_more
from diagnose.measurement.hearing.faint import time_faint
from diagnose.measurement.hearing.mean_beat import NARROW_S, scatter_of
from diagnose.measurement.hearing.numbering import Lattice, follow
from diagnose.measurement.hearing.onsets import Onsets
from diagnose.measurement.hearing.reference import Reference, find_reference
from diagnose.measurement.hearing.swing import Swing
from diagnose.measurement.hearing.windows import TINY, Windows, noise_spectrum

_PLAIN_SHARE = 0.5
_STEADY_S = 6e-4
"""A clock whose beats scatter less than this lets the faint kind be looked for in a narrow place."""
_NARROWEST_S = 6e-4
_SEARCH_SIGMAS = 4.0
_FAINT_SIGNAL = 12.0
_CONTROL_PLACES = (0.45, 0.6)
_CLEARLY_HEARD = 1.6
"""A faint kind stands out this many times as far as noise does. Below it lay, in trials at 5 to -5 dB, 6 of 8 wrong
beat errors and 18 of 217 right ones."""
_PLAIN_QUANTILE = 0.8
_EDGE_S = 1.5
"""A faint kind stands out this many times as far as the noise in the gaps does; wrong ones came to 1.5 in trials."""
_NEIGHBORS = 7
_SILENT_SIGNAL = 5.0
_SILENT_SIGNAL_NARROW = 3.4
_NOISE_SIGNAL = 3.2
_SILENT_SHARE = 0.12
_SILENT_NEIGHBORS = 20
_GOING_NEIGHBORS = 4


@dataclass(frozen=True, slots=True)
class Kind:
    """All beats of one kind, tick or tock.

    Parameters
    ----------
    swings : int array (N,)
        Number of the swing each belongs to.
    arrivals : Arrivals
        Their times.
    reference : Reference
        Instant of the drop within the mean beat.
    heard : bool array (N,)
        Which of them sound; the others are silent.
    sameness : array (N,)
        How alike each is to the others of its kind, noise allowed for: 1 for the same shape, 0 for none in common.
    column : int
        Which of the two beats of a swing it is in the lattice.
    """

    swings: NDArray[np.intp]
    arrivals: Arrivals
    reference: Reference
    heard: NDArray[np.bool_]
    sameness: NDArray[np.float64]
    column: int = 0

    def times_s(self) -> NDArray[np.float64]:
        """Return the instants of the drop, shape (N,) [s]."""
        return self.arrivals.times_s + self.reference.instant_s

    def energy_db(self) -> float:
        """Return the energy of the mean beat [dB]."""
        return 10.0 * float(np.log10(np.sum(np.square(np.abs(self.arrivals.template))) + TINY))


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard of a clock.

    Parameters
    ----------
    kinds : tuple of Kind
        The two kinds of beat, one where only one in a swing can be heard, none where neither is sure.
    lattice : Lattice
        Where the beats were expected.
    likeness_of_kinds : float
        How alike the mean beats of the two kinds are, 1 for the same.
    """

    kinds: tuple[Kind, ...]
    lattice: Lattice
    likeness_of_kinds: float

    @property
    def share(self) -> float:
        """Share of the beats expected that are heard."""
        return float(np.mean(np.concatenate([kind.heard for kind in self.kinds]))) if self.kinds else 0.0


def hear_beats(windows: Windows, onsets: Onsets, swing: Swing) -> Heard:
    """Return the times of all beats that belong to a swing.

    Parameters
    ----------
    windows : Windows
        Access to the sound.
    onsets : Onsets
        Its detection functions.
    swing : Swing
        Period and phases of the full swing.
    """
    lattice = follow(swing.strength, onsets.first_s, swing)
    noise = noise_spectrum(windows, lattice.times_s[:, : swing.audible])
    rows, expected, first = [], [], []
    for kind in range(swing.audible):
        places_s = lattice.times_s[:, kind]
        inside = np.flatnonzero(windows.inside(places_s))
        if not len(inside):
            return Heard((), lattice, 0.0)
        height = lattice.heights[inside, kind]
        plain = height >= _PLAIN_SHARE * np.median(height)
        rows.append(inside)
        expected.append((places_s[inside], plain))
        first.append(time_arrivals(windows, places_s[inside], plain, noise))
    timed, search_s = first, SEARCH_S
    if swing.audible == 2:
        timed, search_s = _again_together(windows, expected, rows, first, noise)
    gaps_s = _gaps(lattice, swing)
    span_s = _span(timed)
    sure = [
        number
        for number, arrivals in enumerate(timed)
        if _is_heard(windows, arrivals, expected[number][0], span_s, gaps_s[number], noise, search_s)
    ]
    timed = [
        time_faint(arrivals, windows, noise, lattice.segments[own]) for arrivals, own in zip(timed, rows, strict=True)
    ]
    kinds = tuple(_kind(windows, rows[number], timed[number], number) for number in sure)
    alike = _alike(windows, timed[0], timed[1]) if len(kinds) == 2 else 0.0
    return Heard(kinds, lattice, alike)


def _gaps(lattice: Lattice, swing: Swing) -> tuple[float, float]:
    """Return the time from a beat of each kind to the next beat that can be heard [s]."""
    if swing.audible < 2:
        return swing.period_s, swing.period_s
    first_s = float(lattice.times_s[0, 1] - lattice.times_s[0, 0])
    return first_s, swing.period_s - first_s


def _span(timed: list[Arrivals]) -> tuple[float, float]:
    """Return from when to when the plainer kind sounds: a clock may stop in the middle of the recording [s]."""
    plainer = max(timed, key=lambda arrivals: float(np.quantile(arrivals.signal, _PLAIN_QUANTILE)))
    loud = plainer.times_s[plainer.signal >= _PLAIN_SHARE * np.quantile(plainer.signal, _PLAIN_QUANTILE)]
    return float(loud.min()) - _EDGE_S, float(loud.max()) + _EDGE_S


def _is_heard(
    windows: Windows,
    arrivals: Arrivals,
    expected_s: NDArray[np.float64],
    span_s: tuple[float, float],
    gap_s: float,
    noise: NDArray[np.float64],
    search_s: float,
) -> bool:
    """Return whether a kind of beat is really there: told from what the same search makes of the noise in the gaps.

    A mean made of noise is like the noise it was made of. So a faint kind must stand out clearly beside that.
    """
    within = (expected_s >= span_s[0]) & (expected_s <= span_s[1])
    if not within.any():
        return False
    signal = float(np.median(arrivals.signal[within]))
    if signal >= _FAINT_SIGNAL:
        return True
    chance = []
    for share in _CONTROL_PLACES:
        empty_s = expected_s[within] + share * gap_s
        empty_s = empty_s[windows.inside(empty_s)]
        if len(empty_s):
            found = time_arrivals(windows, empty_s, np.ones(len(empty_s), bool), noise, search_s)
            chance.append(float(np.median(found.signal)))
    return not chance or signal >= _CLEARLY_HEARD * float(np.mean(chance))


def _again_together(
    windows: Windows,
    expected: list[tuple[NDArray[np.float64], NDArray[np.bool_]]],
    rows: list[NDArray[np.intp]],
    first: list[Arrivals],
    noise: NDArray[np.float64],
) -> tuple[list[Arrivals], float]:
    """Return the times of both kinds, looked for where the plainer one shows that they must be, and how widely [s]."""
    signals = [float(np.median(arrivals.signal)) for arrivals in first]
    plainer = int(np.argmax(signals))
    places_s, plain = expected[plainer]
    shifts = first[plainer].times_s - places_s
    trend = _running_median(shifts)
    scatter_s = scatter_of(first[plainer].times_s[plain])
    if scatter_s > _STEADY_S or min(signals) >= _FAINT_SIGNAL or len(shifts) < 2 * _NEIGHBORS:
        return first, SEARCH_S
    search_s = float(np.clip(_SEARCH_SIGMAS * scatter_s, _NARROWEST_S, NARROW_S))
    again = []
    for (own_s, own_plain), own_rows in zip(expected, rows, strict=True):
        moved = own_s + np.interp(own_rows, rows[plainer], trend)
        again.append(time_arrivals(windows, moved, np.ones_like(own_plain), noise, search_s))
    return again, search_s


def _running_median(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the median of each value with its neighbors on both sides."""
    padded = np.pad(values, _NEIGHBORS, mode="edge")
    views = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEIGHBORS + 1)
    return np.asarray(np.median(views, axis=1))


def _kind(windows: Windows, rows: NDArray[np.intp], arrivals: Arrivals, column: int) -> Kind:
    """Return one kind of beat with the instant of its drop and which beats are silent."""
    found = find_reference(arrivals.shape, arrivals.zero, arrivals.shape_hz, arrivals.noise_level, windows.rate_hz)
    return Kind(rows, arrivals, found, _sounding(arrivals), _sameness(windows, arrivals), column)


def _sounding(arrivals: Arrivals) -> NDArray[np.bool_]:
    """Return which beats of a kind sound; the others are silent."""
    loud = arrivals.loudness >= _SILENT_SHARE * _around(arrivals.loudness, _SILENT_NEIGHBORS)
    if arrivals.reach_s >= SEARCH_S:
        return np.asarray(loud & (arrivals.signal >= _SILENT_SIGNAL))
    # In so narrow a place a little is enough, but not where all beats around are no more than noise.
    going = _around(arrivals.signal, _GOING_NEIGHBORS) >= _NOISE_SIGNAL
    return np.asarray(loud & going & (arrivals.signal >= _SILENT_SIGNAL_NARROW))


def _around(values: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """Return the median of each value with so many neighbors on both sides, as many as there are."""
    return np.array([np.median(values[max(0, row - reach) : row + reach + 1]) for row in range(len(values))])


def hear_more(known: Heard, windows: Windows, lattice: Lattice, after: tuple[int, ...]) -> Heard:
    """Return further beats of kinds that are known, in the sound that follows.

    Parameters
    ----------
    known : Heard
        What was heard before.
    windows : Windows
        Access to the sound that follows.
    lattice : Lattice
        Where the beats are expected in it.
    after : tuple of int
        For each kind the last row of the lattice that was heard before.
    """
    noise = noise_spectrum(windows, lattice.times_s[:, [kind.column for kind in known.kinds]])
    kinds = []
    for kind, last in zip(known.kinds, after, strict=True):
        places_s = lattice.times_s[:, kind.column]
        rows = np.flatnonzero(windows.inside(places_s))
        rows = rows[rows > last]
        arrivals = time_more(kind.arrivals, windows, places_s[rows], noise)
        arrivals = time_faint(arrivals, windows, noise, lattice.segments[rows])
        kinds.append(
            replace(
                kind,
                swings=rows,
                arrivals=arrivals,
                heard=_sounding(arrivals),
                sameness=_likeness(windows, arrivals),
            )
        )
    return Heard(tuple(kinds), lattice, known.likeness_of_kinds)


def _sameness(windows: Windows, arrivals: Arrivals) -> NDArray[np.float64]:
    """Return how alike each beat is to the others of its kind, noise and its own share in the mean allowed for."""
    likeness = _likeness(windows, arrivals)
    # Sounds that have nothing in common are still like their mean by one over the root of their number.
    count = min(len(likeness), TEMPLATE_EVENTS)
    if count < 2:
        return np.zeros(len(likeness))
    own = (np.square(likeness) * count - 1.0) / (count - 1.0)
    return np.asarray(np.sqrt(np.maximum(own, 0.0)))


def _likeness(windows: Windows, arrivals: Arrivals) -> NDArray[np.float64]:
    """Return how alike each beat is to the mean beat of its kind, noise allowed for."""
    # A window of L samples holds L numbers of noise; the matched filter weighs one of them against the whole.
    possible = arrivals.signal / np.sqrt(np.square(arrivals.signal) + windows.length)
    return np.asarray(np.clip(arrivals.likeness / np.maximum(possible, TINY), 0.0, 1.0))


def _alike(windows: Windows, one: Arrivals, other: Arrivals) -> float:
    """Return the normalized correlation of the mean beats of both kinds at their best shift."""
    from scipy import fft

    product = one.template * np.conj(other.template)
    size = int(fft.next_fast_len(4 * windows.length, real=True))
    top = float(np.max(fft.irfft(product, size)) * size / 2.0)
    energies = [float(np.sum(np.square(np.abs(arrivals.template)))) for arrivals in (one, other)]
    # What noise there is in the mean beats makes them less alike than they are.
    clean = [_cleanness(windows, arrivals) for arrivals in (one, other)]
    whole = float(np.sqrt(energies[0] * energies[1] * clean[0] * clean[1]))
    return min(top / max(whole, TINY), 1.0)


def _cleanness(windows: Windows, arrivals: Arrivals) -> float:
    """Return the share of a mean beat's energy that is not noise."""
    signal = len(arrivals.signal) * float(np.median(np.square(arrivals.signal)))
    return signal / (signal + windows.length)
