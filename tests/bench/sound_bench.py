"""Hearing beside two plain peak detectors: `python -m tests.bench.sound_bench`, under three minutes.

All sounds are seeded and synthetic, from the generator of the tests and from the simulated clock of the training. The
plain detectors are what a few lines of scipy give: a smoothed envelope and `find_peaks`, once with a threshold above
the noise and once with a prominence. They are told the beats per hour and get a robust fit of beats numbered outward
from the best one; hearing is told nothing. A detector of musical onsets is tried as well where that library is
installed. The true rate is the one the clock was given: what it wandered in so short a time is in every error.

Figures: F1 within 10 ms of the true drops (also with each detector's best constant delay taken out); median and 95th
percentile of the error of the beat error [ms]; median error of the rate [s/day]; seconds of computing for each sound.
"""

from __future__ import annotations

import importlib
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.recording import Recording
from diagnose.measurement.ticks import find_ticks
from diagnose.measurement.timing import measure_beats
from tests.measurement.synthetic_clock import Clock, found_share, phone, sound_of

Times = NDArray[np.float64]
Detector = Callable[[Times, float], Times]

TRAINS = (3600, 5400, 7200, 9000, 10800)
ERRORS = (0.0, 1.0, -2.0, 5.0, -10.0, 20.0, -30.0)
SNRS_DB = (20.0, 10.0, 0.0)
SOUNDS = 10
SECONDS = 24.0
TRAINING_SOUNDS = 8
DELAYS_S = np.linspace(-0.03, 0.03, 61)
NEAR_BEAT = 0.34
ROUNDS = 6
CUT_SIGMAS = 4.0
LEAST_BEATS = 6


@dataclass(frozen=True, slots=True)
class Sample:
    """One sound with its truth; the beat error in ms without a sign."""

    samples: Times
    rate_hz: float
    drops_s: Times
    beats_per_hour: float
    beat_error_ms: float
    rate_s_per_day: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one detector made of one sound; NaN where it gave no figure."""

    f1: float
    f1_delayed: float
    error_ms: float
    rate_error: float
    seconds: float


def truth_of(
    drops_s: Times, heard_s: Times, samples: Times, rate_hz: float, beats_per_hour: float, rate: float
) -> Sample:
    """Return a sound with the beat error that a perfect detector would find in its true drops."""
    number = np.arange(len(drops_s))
    design = np.stack([np.ones(len(number)), number, np.where(number % 2, 1.0, -1.0)], axis=1)
    half_s = float(np.linalg.lstsq(design, drops_s, rcond=None)[0][2])
    return Sample(samples, rate_hz, heard_s, beats_per_hour, 2e3 * abs(half_s), rate)


def sounds_of_tests(by_phone: bool, snr_db: float) -> list[Sample]:
    """Return the sounds of the tests' own generator at one loudness."""
    found = []
    for number in range(SOUNDS):
        clock = Clock(
            TRAINS[number % len(TRAINS)],
            ERRORS[number % len(ERRORS)],
            rate_s_per_day=60.0 * (-1) ** number,
            seconds=SECONDS,
            snr_db=snr_db,
            missing=0.05 if number % 3 == 1 else 0.0,
            doubles=0.3 if number % 3 == 2 else 0.0,
        )
        sound = sound_of(phone(clock) if by_phone else clock, seed=9000 + number)
        found.append(
            truth_of(
                sound.drops_s,
                sound.heard_drops_s,
                sound.samples,
                sound.rate_hz,
                clock.beats_per_hour,
                clock.rate_s_per_day,
            )
        )
    return found


def training_sounds() -> list[Sample]:
    """Return sounds of the simulated clock of the training, or none where it is not there."""
    try:
        simulated = importlib.import_module("diagnose.training.simulated_clock")
        voice = importlib.import_module("diagnose.training.sound")
        observations = importlib.import_module("diagnose.model.observations")
    except ImportError:
        return []
    found = []
    for number in range(TRAINING_SOUNDS):
        train = float(TRAINS[number % len(TRAINS)])
        facts = observations.ClockFacts("bench", "floor", beats_per_hour=train)
        clock = simulated.SimulatedClock(facts, offset_deg=0.05 * (number - 3), rate_s_per_day=-20.0, seed=number)
        ticking = clock.run(SECONDS)
        scene = voice.Scene(rate_hz=16_000, snr_db=(25.0, 12.0)[number % 2], seed=number)
        times = np.asarray(ticking.times_s)
        found.append(truth_of(times, times, voice.render(ticking, scene), 16_000.0, train, ticking.rate_s_per_day))
    return found


def envelope(samples: Times, rate_hz: float, smooth_s: float) -> Times:
    """Return the smoothed amplitude above 300 Hz."""
    from scipy import fft, signal

    high = signal.sosfiltfilt(signal.butter(4, 300.0, "high", fs=rate_hz, output="sos"), samples)
    size = fft.next_fast_len(len(high))
    amplitude = np.abs(signal.hilbert(high, size)[: len(high)])
    shape = np.hanning(int(smooth_s * rate_hz) | 1)
    return np.asarray(signal.fftconvolve(amplitude, shape / shape.sum(), "same"))


def peaks_above_noise(samples: Times, rate_hz: float) -> Times:
    """Return peaks above the median plus six times the robust spread of a 5 ms envelope [s]."""
    from scipy import signal

    level = envelope(samples, rate_hz, 0.005)
    middle = np.median(level)
    height = middle + 6.0 * 1.4826 * np.median(np.abs(level - middle))
    places, _ = signal.find_peaks(level, height=height, distance=int(0.1 * rate_hz))
    return np.asarray(places / rate_hz)


def peaks_by_prominence(samples: Times, rate_hz: float) -> Times:
    """Return peaks whose prominence is a quarter of the loudest part of a 10 ms envelope [s]."""
    from scipy import signal

    level = envelope(samples, rate_hz, 0.010)
    wanted = 0.25 * (np.percentile(level, 99.5) - np.median(level))
    places, _ = signal.find_peaks(level, prominence=wanted, distance=int(0.1 * rate_hz))
    return np.asarray(places / rate_hz)


def musical_onsets(samples: Times, rate_hz: float) -> Times:
    """Return onsets found by a library for music, with its own defaults [s]."""
    librosa = importlib.import_module("librosa")
    return np.asarray(librosa.onset.onset_detect(y=samples.astype(np.float32), sr=rate_hz, units="time"))


def detectors() -> dict[str, Detector]:
    """Return the plain detectors that can be run here."""
    found: dict[str, Detector] = {"scipy peaks above noise": peaks_above_noise, "scipy prominence": peaks_by_prominence}
    try:
        importlib.import_module("librosa")
    except ImportError:
        return found
    return {**found, "librosa onsets": musical_onsets}


def numbered_fit(times_s: Times, beats_per_hour: float) -> tuple[float, float]:
    """Return beat error [ms] and rate [s/day] of a plain list of times, generously: the train is told."""
    beat_s = 3600.0 / beats_per_hour
    if len(times_s) < LEAST_BEATS:
        return np.nan, np.nan
    off = (times_s[None, :] - times_s[: 2 * LEAST_BEATS, None]) / beat_s
    fitting = np.abs(off - np.round(off)) < NEAR_BEAT
    start = int(np.argmax(fitting.sum(axis=1)))
    number, kept = np.round(off[start])[fitting[start]], times_s[fitting[start]]
    design = np.stack([np.ones(len(number)), number, np.where(number % 2, 1.0, -1.0)], axis=1)
    used = np.ones(len(number), bool)
    solution = np.full(3, np.nan)
    for _ in range(ROUNDS):
        if used.sum() < LEAST_BEATS:
            return np.nan, np.nan
        solution = np.linalg.lstsq(design[used], kept[used], rcond=None)[0]
        rest = kept - design @ solution
        used = np.abs(rest) < CUT_SIGMAS * (1.4826 * np.median(np.abs(rest[used])) + 1e-5)
    return 2e3 * abs(solution[2]), 86_400.0 * (beat_s / solution[1] - 1.0)


def outcome(sample: Sample, times_s: Times, error_ms: float, rate: float, seconds: float) -> Outcome:
    """Return one detector's figures against the truth."""
    delayed = max(found_share(times_s - delay, sample.drops_s) for delay in DELAYS_S[::3])
    plain = found_share(times_s, sample.drops_s)
    return Outcome(
        plain,
        max(plain, delayed),
        abs(error_ms - sample.beat_error_ms),
        abs(rate - sample.rate_s_per_day),
        seconds,
    )


def by_detector(sample: Sample, detector: Detector) -> Outcome:
    """Return the figures of a plain detector."""
    begun = time.process_time()
    times = detector(sample.samples, sample.rate_hz)
    spent = time.process_time() - begun
    return outcome(sample, times, *numbered_fit(times, sample.beats_per_hour), spent)


def by_hearing(sample: Sample) -> Outcome:
    """Return the figures of hearing, which is told nothing of the train."""
    begun = time.process_time()
    beats = measure_beats(find_ticks(Recording(sample.samples, sample.rate_hz, len(sample.samples) / sample.rate_hz)))
    spent = time.process_time() - begun
    per_hour = beats.beats_per_hour or np.nan
    error = np.nan if beats.beat_error_ms is None else abs(beats.beat_error_ms)
    rate = 86_400.0 * (per_hour / sample.beats_per_hour - 1.0)
    return outcome(sample, np.array(beats.times_s), error, rate, spent)


def print_rows(title: str, samples: list[Sample]) -> None:
    """Print one row for each detector over some sounds."""
    methods: dict[str, Callable[[Sample], Outcome]] = {"hearing (told nothing)": by_hearing}
    for name, detector in detectors().items():
        methods[name] = lambda sample, detector=detector: by_detector(sample, detector)  # type: ignore[misc]
    for name, method in methods.items():
        found = [method(sample) for sample in samples]
        errors = np.array([one.error_ms for one in found])
        given = errors[np.isfinite(errors)]
        middle, most = np.quantile(given, [0.5, 0.95]) if len(given) else (np.nan, np.nan)
        rates = np.array([one.rate_error for one in found])
        rate = np.median(rates[np.isfinite(rates)]) if np.isfinite(rates).any() else np.nan
        print(
            f"{title:<22} {name:<24} {np.mean([one.f1 for one in found]):6.3f} "
            f"{np.mean([one.f1_delayed for one in found]):6.3f} {middle:9.2f} {most:9.2f} {rate:9.3f} "
            f"{len(found) - len(given):5d} {np.mean([one.seconds for one in found]):8.2f}"
        )


def main() -> None:
    """Print all figures."""
    begun = time.perf_counter()
    print(
        f"{'sounds':<22} {'detector':<24} {'F1':>6} {'delay':>6} {'error ms':>9} {'95 % ms':>9} {'s/day':>9} "
        f"{'none':>5} {'s each':>8}"
    )
    for by_phone, name in ((False, "microphone 44.1 kHz"), (True, "telephone 8 kHz")):
        for snr_db in SNRS_DB:
            print_rows(f"{name.split()[0]} {snr_db:.0f} dB", sounds_of_tests(by_phone, snr_db))
    training = training_sounds()
    if training:
        print_rows("simulated 16 kHz", training)
    print(f"took {time.perf_counter() - begun:.0f} s; 'delay' is F1 with the best constant delay taken out")


if __name__ == "__main__":
    main()
