"""How often the 95 % intervals of rate and beat error hold the truth: `python -m tests.bench.hearing_coverage`.

The truth is what the clock was given, its own scatter, wander and wheel apart: that is what a person wants to know.
First from exact drops, over jitter, walk (what each beat adds for good), a once-per-turn error of a wheel of 30 teeth
and the number of beats; beside it the textbook interval of a line by least squares. Then from sound.
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import os
import time
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.fitting import fit_beats
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.sound import Scene, render
from diagnose.training.ticking import Ticking
from diagnose.training.wheelwork import TurnError, Wheelwork
from tests.bench.hearing_cost import ONE_THREAD

Floats = NDArray[np.float64]

JITTERS_MS, WALKS_MS, WHEELS_MS = (0.05, 0.15, 0.5), (0.0, 0.02, 0.1), (0.0, 0.3, 1.0)
BEATS, SOUND_BEATS = (60, 120, 300, 600, 1200), (60, 120, 240)
TEETH = 30
BEATS_PER_HOUR, PERCENT = 9000.0, 5.0
BEAT_S = 3600.0 / BEATS_PER_HOUR
TIMED_TO_S = 5e-6
WIDE = 1.959964
SNR_DB = 20.0
TRIALS, FULL_TRIALS = 12, 400
GOAL = (93.0, 97.0)


@dataclass(frozen=True, slots=True)
class Setting:
    """One way a clock scatters, and for how many beats it is heard."""

    jitter_ms: float
    walk_ms: float
    wheel_ms: float
    beats: int

    def drops(self, trial: int) -> tuple[Ticking, int]:
        """Return drops and the seed they were made with."""
        seed = zlib.crc32(f"{self.jitter_ms}:{self.walk_ms}:{self.wheel_ms}:{self.beats}:{trial}".encode())
        phase = np.random.default_rng(seed).uniform(0, 2 * np.pi)
        turn = TurnError(2 * TEETH, 1e-3 * self.wheel_ms, phase)
        seconds = 0.4 + (self.beats - 1) * BEAT_S + 0.25
        plan = DropPlan(
            BEATS_PER_HOUR,
            PERCENT,
            seconds=seconds,
            first_s=0.4,
            jitter_s=1e-3 * self.jitter_ms,
            walk_s=1e-3 * self.walk_ms,
            wheels=Wheelwork(TEETH, (turn,)),
        )
        return lay_drops(plan, seed), seed


Interval = tuple[float, float]
"""Both errors over their standard uncertainties: of the period, and of the beat error."""


def by_project(times_s: Floats, numbers: NDArray[np.intp]) -> Interval:
    """Return how many of its standard uncertainties the fit is off."""
    fit = fit_beats(times_s, numbers, np.full(len(times_s), TIMED_TO_S), np.zeros(len(times_s), np.intp))
    if fit is None:
        return np.nan, np.nan
    return off(fit.period_s, fit.half_s, fit.period_sigma_s, fit.half_sigma_s)


def by_textbook(times_s: Floats, numbers: NDArray[np.intp]) -> Interval:
    """Return how many standard uncertainties a straight line by least squares is off, by its own residuals."""
    design = np.stack([np.ones(len(numbers)), numbers, np.where(numbers % 2, 1.0, -1.0)], axis=1)
    solution = np.linalg.lstsq(design, times_s, rcond=None)[0]
    rest = times_s - design @ solution
    variance = float(rest @ rest) / (len(numbers) - design.shape[1])
    sigmas = np.sqrt(variance * np.diag(np.linalg.inv(design.T @ design)))
    return off(solution[1], solution[2], sigmas[1], sigmas[2])


def off(period_s: float, half_s: float, period_sigma_s: float, half_sigma_s: float) -> Interval:
    """Return how far period and beat error lie from the truth, in standard uncertainties."""
    true_half_s = BEAT_S * PERCENT / 200.0
    return abs(period_s - BEAT_S) / period_sigma_s, abs(abs(half_s) - true_half_s) / half_sigma_s


METHODS: dict[str, Callable[[Floats, NDArray[np.intp]], Interval]] = {
    "hearing": by_project,
    "least squares": by_textbook,
}


def from_times(task: tuple[Setting, int]) -> tuple[Setting, dict[str, NDArray[np.float64]]]:
    """Return the errors over their uncertainties of all trials of a setting, shape (trials, 2) a method."""
    setting, trials = task
    found: dict[str, list[Interval]] = {name: [] for name in METHODS}
    for trial in range(trials):
        times_s = setting.drops(trial)[0].times_s
        for name, method in METHODS.items():
            found[name].append(method(times_s, np.arange(len(times_s))))
    return setting, {name: np.array(rows) for name, rows in found.items()}


def from_sound(task: tuple[Setting, int]) -> tuple[Setting, dict[str, NDArray[np.float64]]]:
    """Return the errors over their uncertainties of recordings, shape (trials, 2); infinite where refused."""
    setting, trials = task
    rows = []
    for trial in range(trials):
        ticking, seed = setting.drops(trial)
        scene = Scene(rate_hz=16_000, snr_db=SNR_DB, seed=seed, manner="plain", impacts=1, noise="white")
        beats = measure_beats(find_ticks(Recording(render(ticking, scene), 16_000.0, ticking.seconds)))
        sigma_ms = beats.uncertainty["beat_error_ms"]
        if beats.beats_per_hour is None or beats.beat_error_ms is None or sigma_ms is None:
            rows.append((np.nan, np.nan))
            continue
        period_s = 3600.0 / beats.beats_per_hour
        sigma_s = beats.terms["rate_timing"] / 86_400.0 * period_s
        rows.append(off(period_s, beats.beat_error_ms / 2e3, sigma_s, sigma_ms / 2e3))
    return setting, {"sound": np.array(rows)}


Found = list[tuple[Setting, dict[str, NDArray[np.float64]]]]


def share_inside(rows: Iterable[NDArray[np.float64]]) -> str:
    """Return coverage of rate and of beat error over some settings, with the lowest and highest of a setting."""
    parts = [part[np.isfinite(part).all(axis=1)] for part in rows]
    parts = [part for part in parts if len(part)]
    if not parts:
        return f"{'-':>16} {'-':>16}"
    together = 100.0 * (np.concatenate(parts) < WIDE).mean(axis=0)
    single = np.array([100.0 * (part < WIDE).mean(axis=0) for part in parts])
    told = [f"{together[place]:5.1f} ({single[:, place].min():3.0f}-{single[:, place].max():3.0f})" for place in (0, 1)]
    return f"{told[0]:>16} {told[1]:>16}"


def print_table(found: Found, beats: tuple[int, ...]) -> None:
    """Print coverage by wheel error and number of beats, over jitter and walk, and over all."""
    names = list(found[0][1])
    print(f"{'':>15} " + " ".join(f"{name:^33}" for name in names))
    print(f"{'wheel ms':>8} {'beats':>6} " + " ".join(f"{'rate %':>16} {'beat error %':>16}" for _ in names))
    for wheel_ms, count in itertools.product(WHEELS_MS, beats):
        rows = [one for setting, one in found if (setting.wheel_ms, setting.beats) == (wheel_ms, count)]
        if rows:
            told = " ".join(share_inside([one[name] for one in rows]) for name in names)
            print(f"{wheel_ms:>8} {count:>6} {told}")
    print(f"{'all':>15} " + " ".join(share_inside([one[name] for _, one in found]) for name in names))


def settings(beats: tuple[int, ...]) -> list[Setting]:
    """Return every setting."""
    return [Setting(*each) for each in itertools.product(JITTERS_MS, WALKS_MS, WHEELS_MS, beats)]


def measured(method: Callable[[Any], Any], tasks: list[tuple[Setting, int]], workers: int) -> Iterator[Any]:
    """Yield what a method makes of each task."""
    if workers < 2:
        yield from map(method, tasks)
        return
    with multiprocessing.get_context("forkserver").Pool(workers) as pool:
        yield from pool.imap_unordered(method, tasks)


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_TRIALS} trials of a setting, 8 recordings")
    parser.add_argument("--trials", type=int)
    parser.add_argument("--sounds", type=int, help="recordings of each setting; 0 for none")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args(arguments)
    os.environ.update(ONE_THREAD)
    begun = time.perf_counter()
    trials = options.trials or (FULL_TRIALS if options.full else TRIALS)
    print(f"coverage of 95 % intervals (goal {GOAL[0]:.0f} to {GOAL[1]:.0f} %), lowest and highest setting in brackets")
    print(f"from exact drops, {trials} trials of a setting")
    tasks = [(setting, trials) for setting in settings(BEATS)]
    print_table(list(measured(from_times, tasks, options.workers)), BEATS)
    sounds = options.sounds if options.sounds is not None else (8 if options.full else 1)
    if sounds:
        print(f"from sound at {SNR_DB:.0f} dB, {sounds} recordings of a setting")
        tasks = [(setting, sounds) for setting in settings(SOUND_BEATS)]
        found = list(measured(from_sound, tasks, options.workers))
        print_table(found, SOUND_BEATS)
        refused = sum(int(np.isnan(one["sound"][:, 0]).sum()) for _, one in found)
        print(f"no figures in {refused} of {sounds * len(found)}")
    print(f"took {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
