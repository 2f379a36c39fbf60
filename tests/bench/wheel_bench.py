"""What else the sound says: the escape wheel, odd beats, intervals of the rate; each figure beside its goal.

    python -m tests.bench.wheel_bench

Times are made without sound: in 10 dB of noise the hearing adds some 0.01 to 0.02 ms to 0.15 ms of the clock's own
scatter. The count of teeth from a plain sine cannot be told better than its frequency can; that bound is printed
beside it (Rife, Boorstyn: Single-tone parameter estimation from discrete-time observations, IEEE Trans. Inf. Theory 20
(1974) 591-598: the variance of the frequency is 6 s^2 / (pi^2 A^2 N^3), s^2 the noise at that frequency).
"""

from __future__ import annotations

import time
from math import erf

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.fitting import fit_beats
from diagnose.measurement.noticing.odd_beats import doubled_beats, missed_beats
from diagnose.measurement.noticing.wheel import Wheel, find_wheel
from tests.measurement.noticing.turning_clock import BEAT_S, TurningClock, beats_of

TRIALS = 24
TOOTH_TRIALS = 100
NULL_TRIALS = 120
TURNS = 5
HEARING_MS = 0.02
JITTER_MS = float(np.hypot(0.15, HEARING_MS))
TEETH = range(24, 43)
LISTS = 20
BEATS = 400
DAY_S = 86_400.0
TWO_SIGMA = 1.959964


def clock_of(seed: int, **kinds: float | tuple[int, ...]) -> tuple[TurningClock, Wheel]:
    """Return a clock of five turns with its count of teeth drawn, and what is found of its wheel."""
    random = np.random.default_rng([seed, 3])
    teeth = int(random.integers(TEETH.start, TEETH.stop))
    clock = TurningClock(
        beats=2 * teeth * TURNS + 1,
        teeth=teeth,
        bad_tooth=int(random.integers(1, teeth + 1)),
        **{"jitter_ms": JITTER_MS, **kinds},  # type: ignore[arg-type]
    )
    times, number, _ = beats_of(clock, seed)
    return clock, find_wheel(times, number)


def bound_of_teeth(clock: TurningClock) -> float:
    """Return the chance that the count of teeth nearest to the best possible estimate of a sine is the right one."""
    turn, beats = 2 * clock.teeth, clock.beats
    noise_ms = np.hypot(clock.jitter_ms, clock.walk_ms / (2 * np.sin(np.pi / turn)))
    sigma = np.sqrt(6.0 / beats**3) * noise_ms / (np.pi * clock.wheel_ms)
    half = (1.0 / turn - 1.0 / (turn + 2)) / 2.0
    return erf(half / sigma / np.sqrt(2.0))


def print_wheels(title: str, **kinds: float | tuple[int, ...]) -> None:
    """Print one row: shares found, teeth right, and error of the amplitude."""
    found = [clock_of(seed, **kinds) for seed in range(TRIALS)]
    right = np.mean([wheel.teeth == clock.teeth for clock, wheel in found])
    held = np.mean([clock.teeth in (wheel.teeth, *wheel.teeth_also) for clock, wheel in found])
    amplitude = float(kinds["wheel_ms"])  # type: ignore[arg-type]
    errors = np.array([abs(1e3 * wheel.amplitude_s - amplitude) for _, wheel in found if wheel.found])
    bound = np.mean([bound_of_teeth(clock) for clock, _ in found])
    print(
        f"{title:<34} found {np.mean([wheel.found for _, wheel in found]):5.2f}  teeth right {right:5.2f} "
        f"(of a sine at most {bound:4.2f}; goal 0.95)  among those named {held:5.2f}  "
        f"amplitude within 0.05 ms {np.mean(errors <= 0.05):5.2f}  worst {errors.max():5.3f} ms"
    )


def print_teeth(title: str, **kinds: float | tuple[int, ...]) -> None:
    """Print how often a planted tooth is named."""
    found = [clock_of(seed, **kinds) for seed in range(TOOTH_TRIALS)]
    named = [wheel.bad_tooth is not None and wheel.bad_tooth.tooth == clock.bad_tooth for clock, wheel in found]
    other = [wheel.bad_tooth is not None and wheel.bad_tooth.tooth != clock.bad_tooth for clock, wheel in found]
    print(f"{title:<34} named {np.mean(named):5.2f} (goal 0.95)  another one named {np.mean(other):5.2f}")


def false_alarms() -> float:
    """Return the share of clocks with a true wheel of which an error is told."""
    alarms = 0
    for seed in range(NULL_TRIALS):
        random = np.random.default_rng([seed, 8])
        clock = TurningClock(
            beats=int(random.integers(120, 400)),
            jitter_ms=float(random.choice([0.05, 0.15, 0.5])),
            walk_ms=float(random.choice([0.0, 0.02, 0.1])),
            silent=float(random.choice([0.0, 0.05])),
        )
        alarms += find_wheel(*beats_of(clock, seed)[:2]).found
    return alarms / NULL_TRIALS


def processor_s(beats: int = 1200) -> float:
    """Return the longest time of the processor that a search of so many beats takes, with a wheel error and without."""
    took = []
    for clock in (TurningClock(beats), TurningClock(beats, bad_ms=0.5), TurningClock(beats, wheel_ms=0.5)):
        times, number, _ = beats_of(clock, 3)
        begun = time.process_time()
        find_wheel(times, number)
        took.append(time.process_time() - begun)
    return max(took)


def hits(found: NDArray[np.bool_], true: NDArray[np.bool_]) -> tuple[int, int, int]:
    """Return hits, false ones and missed ones."""
    return int((found & true).sum()), int((found & ~true).sum()), int((~found & true).sum())


def print_odd_beats() -> None:
    """Print precision and recall of missed and doubled beats on true lists."""
    counts = {"missed beats": np.zeros(3, int), "doubled beats": np.zeros(3, int)}
    number = np.arange(BEATS)
    for seed in range(LISTS):
        random = np.random.default_rng([seed, 4])
        times = BEAT_S * number + random.normal(0.0, 1.5e-4, BEATS)
        silent = random.random(BEATS) < 0.05
        silent[[0, -1]] = False
        heard = number[~silent]
        found = np.isin(number, missed_beats(times[heard], heard, np.zeros(len(heard), int), np.empty((0, 2))))
        counts["missed beats"] += hits(found, silent)
        double = random.random(BEATS) < 0.3
        late = random.uniform(0.015, 0.06, int(double.sum()))
        # The tick itself has a second impact, always at the same time; that is none.
        clicks = np.sort(np.concatenate([times, times[::2] + 0.022, times[double] + late]))
        counts["doubled beats"] += hits(doubled_beats(times, number, clicks, BEAT_S), double)
    for name, (hit, false, missed) in counts.items():
        print(f"{name:<34} precision {hit / (hit + false):6.3f}  recall {hit / (hit + missed):6.3f} (goal 0.98 each)")


def print_intervals() -> None:
    """Print how often the 95 % interval of the rate holds the truth, with and without a wheel error."""
    for amplitude in (0.0, 0.3, 1.0):
        held, widths = [], []
        for seed in range(40):
            random = np.random.default_rng([seed, 6])
            clock = TurningClock(
                beats=int(random.choice([60, 120, 300])),
                teeth=int(random.integers(TEETH.start, TEETH.stop)),
                wheel_ms=amplitude,
                jitter_ms=float(random.choice([0.05, 0.15, 0.5])),
                walk_ms=float(random.choice([0.0, 0.02, 0.1])),
            )
            times, beats, _ = beats_of(clock, seed)
            fit = fit_beats(times, beats, np.full(len(times), 1e-6), np.zeros(len(times), int))
            if fit is None:
                continue
            held.append(abs(fit.period_s - BEAT_S) <= TWO_SIGMA * fit.period_sigma_s)
            widths.append(DAY_S * fit.period_sigma_s / BEAT_S)
        print(
            f"{f'rate, wheel error {amplitude:.1f} ms':<34} 95 % interval holds it in {np.mean(held):5.2f} "
            f"(goal 0.93-0.97)  median uncertainty {np.median(widths):6.3f} s/day"
        )


def main() -> None:
    """Print all figures."""
    begun = time.perf_counter()
    print_wheels("sine 0.2 ms, walk 0.02 ms", wheel_ms=0.2)
    print_wheels("sine 0.2 ms, no walk", wheel_ms=0.2, walk_ms=0.0)
    print_wheels("sine 0.2 ms, teeth scatter 0.1 ms", wheel_ms=0.2, scatter_of_teeth_ms=0.1)
    print_wheels("sine 0.5 ms, walk 0.02 ms", wheel_ms=0.5)
    print_teeth("tooth 0.5 ms, two beats that follow", bad_ms=0.5)
    print_teeth("tooth 0.5 ms, two beats 15 apart", bad_ms=0.5, bad_beats=(0, 15))
    print_teeth("tooth 0.5 ms, one of its beats", bad_ms=0.5, bad_beats=(0,))
    print(f"{'true wheels':<34} false alarms {false_alarms():6.3f} (goal 0.01)")
    print(f"{'1200 beats':<34} searched in {processor_s():5.2f} s of the processor (goal 1)")
    print_odd_beats()
    print_intervals()
    print(f"took {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
