"""What a detector made of a recording, against the truth: hits, scatter, beat error and rate.

The beat error in ms is |t1 - t2| / 2. Its truth is the least-squares beat error of the true drops, and that of the
rate likewise: what a clock does by its own scatter is no error of hearing.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.bench.hearing_peers import MAD_TO_SIGMA, Detector
from tests.bench.hearing_sounds import Sample

Floats = NDArray[np.float64]

WITHIN_S = 0.010
DELAY_MOST_S = 0.06
DELAY_STEP_S = 0.001
WRONG_MS = 5.0
NEAR_BEAT = 0.34
ROUNDS, CUT_SIGMAS, LEAST_BEATS = 6, 4.0, 6
SECONDS_PER_HOUR, SECONDS_PER_DAY = 3600.0, 86_400.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one detector made of one recording; NaN where it gave no figure.

    `rate_error` is against the least-squares rate of the true drops; `rate_detected` is the part of it that comes from
    the instants alone: one and the same straight line through the instants found and through the drops they stand for.
    """

    key: str
    f1: float
    f1_delayed: float
    scatter_ms: float
    error_ms: float
    rate_error: float
    rate_detected: float
    seconds: float
    refused: str = ""
    flagged: bool = False
    sigma_ms: float = np.nan
    quality: str = ""

    @property
    def wrong(self) -> bool:
        """Whether another impact was taken for the drop."""
        return bool(self.error_ms > WRONG_MS)


def matched(found_s: Floats, true_s: Floats, within_s: float = WITHIN_S) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return places of found and true instants that belong together, the closest first, each used once."""
    low = np.searchsorted(found_s, true_s - within_s)
    high = np.searchsorted(found_s, true_s + within_s, side="right")
    pairs = [
        (abs(found_s[at] - true_s[row]), at, row) for row in range(len(true_s)) for at in range(low[row], high[row])
    ]
    taken: dict[int, int] = {}
    used: set[int] = set()
    for _, at, row in sorted(pairs):
        if at not in taken and row not in used:
            taken[at] = row
            used.add(row)
    places = sorted(taken)
    return np.array(places, np.intp), np.array([taken[at] for at in places], np.intp)


def f1_of(found_s: Floats, true_s: Floats) -> float:
    """Return F1 within 10 ms."""
    if not len(found_s) or not len(true_s):
        return 0.0
    return 2.0 * len(matched(found_s, true_s)[0]) / (len(found_s) + len(true_s))


def best_delay_s(found_s: Floats, true_s: Floats) -> float:
    """Return the constant delay that most of the found instants have [s]."""
    if not len(found_s) or len(true_s) < 2:
        return 0.0
    after = np.clip(np.searchsorted(true_s, found_s), 1, len(true_s) - 1)
    early, late = found_s - true_s[after - 1], found_s - true_s[after]
    off = np.where(np.abs(early) < np.abs(late), early, late)
    counts, edges = np.histogram(off, np.arange(-DELAY_MOST_S, DELAY_MOST_S + DELAY_STEP_S, DELAY_STEP_S))
    middle = edges[np.argmax(np.convolve(counts, np.ones(5), "same"))] + DELAY_STEP_S / 2
    near = off[np.abs(off - middle) < WITHIN_S]
    return float(np.median(near)) if len(near) else 0.0


def scatter_ms(found_s: Floats, sample: Sample) -> float:
    """Return the robust standard deviation of the instants within their kind, constant delays taken out [ms]."""
    delay_s = best_delay_s(found_s, sample.heard_s)
    places, rows = matched(found_s - delay_s, sample.heard_s)
    kinds = sample.ticking.sides[sample.ticking.heard][rows]
    off = found_s[places] - sample.heard_s[rows]
    rest = [off[kinds == kind] - np.median(off[kinds == kind]) for kind in np.unique(kinds)]
    return float(1e3 * MAD_TO_SIGMA * np.median(np.abs(np.concatenate(rest)))) if rest else np.nan


def line(times_s: Floats, numbers: NDArray[np.intp]) -> tuple[float, float]:
    """Return period and half the alternation of numbered instants by least squares, outliers left out [s]."""
    design = np.stack([np.ones(len(numbers)), numbers, np.where(numbers % 2, 1.0, -1.0)], axis=1)
    used = np.ones(len(numbers), bool)
    solution = np.full(3, np.nan)
    for _ in range(ROUNDS):
        if used.sum() < LEAST_BEATS:
            return np.nan, np.nan
        solution = np.linalg.lstsq(design[used], times_s[used], rcond=None)[0]
        rest = times_s - design @ solution
        used = np.abs(rest) <= CUT_SIGMAS * (MAD_TO_SIGMA * np.median(np.abs(rest[used])) + 1e-5)
    return float(solution[1]), float(solution[2])


def numbered(times_s: Floats, beats_per_hour: float) -> tuple[Floats, NDArray[np.intp]]:
    """Return the instants that fit a train and their numbers, counted outward from the one that fits the most."""
    beat_s = SECONDS_PER_HOUR / beats_per_hour
    if len(times_s) < LEAST_BEATS:
        return np.empty(0), np.empty(0, np.intp)
    off = (times_s[None, :] - times_s[: 2 * LEAST_BEATS, None]) / beat_s
    fitting = np.abs(off - np.round(off)) < NEAR_BEAT
    start = int(np.argmax(fitting.sum(axis=1)))
    return times_s[fitting[start]], np.round(off[start])[fitting[start]].astype(np.intp)


def rate_of(period_s: float, beats_per_hour: float) -> float:
    """Return the rate of a period against a train, + gains [s/day]."""
    return SECONDS_PER_DAY * (SECONDS_PER_HOUR / beats_per_hour / period_s - 1.0)


def truth(sample: Sample) -> tuple[float, float]:
    """Return beat error [ms] and rate [s/day] of the drops that sound, as a perfect detector would give them."""
    period_s, half_s = line(sample.heard_s, np.flatnonzero(sample.ticking.heard))
    return 2e3 * abs(half_s), rate_of(period_s, sample.beats_per_hour)


def rate_detected(times_s: Floats, numbers: NDArray[np.intp], sample: Sample) -> float:
    """Return how far the rate of instants lies from that of the drops they stand for [s/day]."""
    delay_s = best_delay_s(times_s, sample.heard_s)
    places, rows = matched(times_s - delay_s, sample.heard_s)
    if len(places) < LEAST_BEATS:
        return np.nan
    true = line(sample.heard_s[rows], np.flatnonzero(sample.ticking.heard)[rows])[0]
    found = line(times_s[places], numbers[places])[0]
    return rate_of(found, sample.beats_per_hour) - rate_of(true, sample.beats_per_hour)


def by_peer(sample: Sample, detector: Detector) -> Outcome:
    """Return the figures of a peer, which is told the train and gets a robust straight line."""
    begun = time.process_time()
    found = np.sort(detector(sample.samples, sample.rate_hz))
    spent = time.process_time() - begun
    times, numbers = numbered(found, sample.beats_per_hour)
    period_s, half_s = line(times, numbers)
    error_ms, rate = truth(sample)
    plain = f1_of(found, sample.heard_s)
    return Outcome(
        sample.key,
        plain,
        max(plain, f1_of(found - best_delay_s(found, sample.heard_s), sample.heard_s)),
        scatter_ms(found, sample),
        abs(2e3 * abs(half_s) - error_ms),
        abs(rate_of(period_s, sample.beats_per_hour) - rate),
        abs(rate_detected(times, numbers, sample)),
        spent,
    )


def by_hearing(sample: Sample, told: bool = False) -> Outcome:
    """Return the figures of hearing, which is told nothing of the train unless asked for."""
    nominal = sample.beats_per_hour if told else None
    begun = time.process_time()
    ticks = find_ticks(Recording(sample.samples, sample.rate_hz, sample.seconds), nominal)
    beats = measure_beats(ticks, nominal)
    spent = time.process_time() - begun
    error_ms, rate = truth(sample)
    plain = f1_of(ticks.times_s, sample.heard_s)
    given = np.nan if beats.beat_error_ms is None else abs(beats.beat_error_ms)
    own = np.nan if beats.beats_per_hour is None else SECONDS_PER_HOUR / beats.beats_per_hour
    sigma = beats.uncertainty.get("beat_error_ms")
    return Outcome(
        sample.key,
        plain,
        max(plain, f1_of(ticks.times_s - best_delay_s(ticks.times_s, sample.heard_s), sample.heard_s)),
        scatter_ms(ticks.times_s, sample),
        abs(given - error_ms),
        abs(rate_of(own, sample.beats_per_hour) - rate),
        abs(rate_detected(ticks.times_s, ticks.numbers, sample)),
        spent,
        beats.refused or ("" if np.isfinite(given) else "no beat error"),
        bool(beats.rivals_percent),
        np.nan if sigma is None else sigma,
        beats.quality,
    )
