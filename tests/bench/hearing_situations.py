"""A clock and what else goes on: `python -m tests.bench.hearing_situations`.

The simulated clock of the training with its surroundings (talk, music, rain, a strike in the middle), with what a
recorder or a line does to the sound (clipping, gain control, lost packets, an edited loop), and with what it does
itself (one side silent, a swing that dies). "told": hearing was told the beats per hour. Each row gives F1 with the
constant delay taken out, the error of the beat error in ms, what was refused and why, and what was warned of most.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time
import zlib
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from diagnose.model.observations import ClockFacts
from diagnose.training import transmission as line
from diagnose.training.drop_plan import DropPlan, balance_wheel, lay_drops, one_a_second
from diagnose.training.simulated_clock import SimulatedClock
from diagnose.training.sound import Scene, render, together
from diagnose.training.surroundings import SURROUNDINGS, Beside
from diagnose.training.ticking import Ticking
from tests.bench.hearing_cost import ONE_THREAD
from tests.bench.hearing_scores import best_delay_s, f1_of
from tests.bench.hearing_scores import line as straight
from tests.bench.hearing_sounds import ERRORS, TRAINS, Floats

RATE_HZ, SECONDS, SNR_DB = 16_000, 30.0, 20.0
LEVELS_DB = (-20.0, -10.0, 0.0)
COUNT, FULL_COUNT = 2, 12
WARNINGS_SHOWN = 2


@dataclass(frozen=True, slots=True)
class Made:
    """A recording of a situation: its sound and where its drops are; its beat error, where it can be told [ms]."""

    samples: Floats
    drops_s: Floats
    error_ms: float
    beats_per_hour: float


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was heard."""

    f1: float
    error_ms: float
    refused: str
    warnings: tuple[str, ...]


def even_clock(number: int, **given: object) -> tuple[Ticking, Scene]:
    """Return drops of a clock of the grid and a quiet scene."""
    plan = DropPlan(TRAINS[number % len(TRAINS)], ERRORS[(number + 3) % len(ERRORS)], seconds=SECONDS)
    seed = 100 + number
    scene = Scene(rate_hz=RATE_HZ, snr_db=SNR_DB, seed=seed, manner="lifelike")
    return lay_drops(replace(plan, **given), seed), scene  # type: ignore[arg-type]


def beat_error_ms(ticking: Ticking) -> float:
    """Return the least-squares beat error of the drops that sound [ms]."""
    return 2e3 * abs(straight(ticking.times_s[ticking.heard], np.flatnonzero(ticking.heard))[1])


def plain(ticking: Ticking, samples: Floats) -> Made:
    """Return a recording whose drops are where the clock made them."""
    return Made(samples, ticking.times_s[ticking.heard], beat_error_ms(ticking), ticking.beats_per_hour)


def beside(kind: str, level_db: float, from_s: float = 0.0, to_s: float = np.inf) -> Callable[[int], Made]:
    """Return what makes a clock with something beside it."""

    def make(number: int) -> Made:
        ticking, scene = even_clock(number)
        return plain(ticking, render(ticking, replace(scene, beside=(Beside(kind, level_db, from_s, to_s),))))  # type: ignore[arg-type]

    return make


def through(way: Callable[[Floats, int], Floats]) -> Callable[[int], Made]:
    """Return what makes a clock heard through something that leaves its drops in their places."""

    def make(number: int) -> Made:
        ticking, scene = even_clock(number)
        return plain(ticking, way(render(ticking, scene), number))

    return make


def cut(cuts_of: Callable[[int], tuple[line.Cut, ...]]) -> Callable[[int], Made]:
    """Return what makes a recording that was cut."""

    def make(number: int) -> Made:
        ticking, scene = even_clock(number)
        cuts = cuts_of(number)
        samples = line.cut_together(render(ticking, scene), RATE_HZ, cuts)
        made = plain(ticking, samples)
        return replace(made, drops_s=line.instants_after(made.drops_s, cuts))

    return make


def gaps(number: int) -> tuple[line.Cut, ...]:
    """Return the cuts of a line that loses a fiftieth of a second now and then, for good."""
    starts = np.sort(np.random.default_rng(number).uniform(1, SECONDS - 1, 4))
    return line.left_out([(float(start), float(start) + 0.02) for start in starts], SECONDS)


def two_clocks(fainter_db: float) -> Callable[[int], Made]:
    """Return what makes a clock with another in the room."""

    def make(number: int) -> Made:
        ticking, scene = even_clock(number)
        other, _ = even_clock(number + 1)
        second = render(other, replace(scene, seed=scene.seed + 999))
        return plain(ticking, together(render(ticking, scene), second, fainter_db))

    return make


def of_itself(**given: object) -> Callable[[int], Made]:
    """Return what makes a clock that has something itself."""

    def make(number: int) -> Made:
        ticking, scene = even_clock(number, **given)
        return plain(ticking, render(ticking, scene))

    return make


def of_motion(**given: object) -> Callable[[int], Made]:
    """Return what makes a clock by the motion of its pendulum."""

    def make(number: int) -> Made:
        family = ("floor", "wall", "mantel")[number % 3]
        clock = SimulatedClock(ClockFacts(family=family), offset_deg=0.1 * (number % 5), seed=number, **given)  # type: ignore[arg-type]
        ticking = clock.run(SECONDS)
        scene = Scene(rate_hz=RATE_HZ, snr_db=SNR_DB + 10, seed=number, manner="lifelike")
        return plain(ticking, render(ticking, scene))

    return make


def other_clock(plan: DropPlan, alike: bool) -> Callable[[int], Made]:
    """Return what makes a clock that has no pendulum."""

    def make(number: int) -> Made:
        ticking = lay_drops(plan, number)
        scene = Scene(rate_hz=RATE_HZ, snr_db=SNR_DB, seed=number, manner="lifelike", alike=alike)
        return plain(ticking, render(ticking, scene))

    return make


SITUATIONS: dict[str, Callable[[int], Made]] = {
    "nothing": of_itself(),
    **{f"{kind} {level:.0f} dB": beside(kind, level) for kind in SURROUNDINGS for level in LEVELS_DB},
    "strike in the middle": beside("strike", 20.0, 12.0, 17.0),
    "chimes in the middle": beside("chimes", 20.0, 10.0, 18.0),
    "clipped 12 dB": through(lambda samples, _: line.clipped(samples, 12.0)),
    "gain control": through(lambda samples, _: line.gain_controlled(0.1 * samples, RATE_HZ)),
    "2 % packets lost": through(lambda samples, number: line.with_lost_packets(samples, RATE_HZ, 0.02, number)),
    "10 % packets lost": through(lambda samples, number: line.with_lost_packets(samples, RATE_HZ, 0.10, number)),
    "silence not sent": through(lambda samples, number: line.without_silence(samples, RATE_HZ, 25.0, number)),
    "four gaps of 20 ms": cut(gaps),
    "edited loop of 7.3 s": cut(lambda _: line.looped(4.0, 11.3, SECONDS)),
    "clock 10 dB fainter": two_clocks(10.0),
    "two clocks alike loud": two_clocks(0.0),
    "5 % beats silent": of_itself(silent_share=0.05),
    "30 % double": of_itself(doubled_share=0.3),
    "left side silent": of_motion(silent_side="left"),
    "swing dies": of_motion(power_lost_per_s=0.05, q=40.0),
    "balance wheel": other_clock(balance_wheel(SECONDS), False),
    "one tick a second": other_clock(one_a_second(SECONDS), True),
}


def heard(task: tuple[str, int, bool]) -> tuple[str, bool, Outcome]:
    """Return what was heard of one recording."""
    name, number, told = task
    made = SITUATIONS[name](zlib.crc32(name.encode()) % 1000 + number)
    nominal = made.beats_per_hour if told else None
    beats = measure_beats(
        find_ticks(Recording(made.samples, float(RATE_HZ), len(made.samples) / RATE_HZ), nominal), nominal
    )
    found = np.array(beats.times_s)
    error = np.nan if beats.beat_error_ms is None else abs(abs(beats.beat_error_ms) - made.error_ms)
    refused = beats.refused or ("" if np.isfinite(error) else "no beat error")
    f1 = f1_of(found - best_delay_s(found, made.drops_s), made.drops_s)
    return name, told, Outcome(f1, error, refused, beats.warnings)


def row(name: str, outcomes: list[Outcome]) -> str:
    """Return one row."""
    f1 = np.array([one.f1 for one in outcomes])
    errors = np.array([one.error_ms for one in outcomes])
    given = errors[np.isfinite(errors)]
    middle, most = (np.median(given), given.max()) if len(given) else (np.nan, np.nan)
    reasons = Counter(one.refused for one in outcomes if one.refused)
    warned = Counter(" ".join(warning.split()[:7]) for one in outcomes for warning in one.warnings)
    told = "; ".join(f"{count} {reason}" for reason, count in reasons.most_common(2))
    also = "; ".join(f"{count} {warning}" for warning, count in warned.most_common(WARNINGS_SHOWN))
    figures = f"{f1.mean():>7.3f}{f1.min():>6.2f}{middle:>8.2f}{most:>8.2f}{sum(reasons.values()):>5}"
    return f"{name:<24}{figures}  {told}  | {also}"


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_COUNT} recordings of each")
    parser.add_argument("--count", type=int)
    parser.add_argument("--only", nargs="+", help="only situations whose name holds one of these words")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args(arguments)
    count = options.count or (FULL_COUNT if options.full else COUNT)
    os.environ.update(ONE_THREAD)
    begun = time.perf_counter()
    names = [name for name in SITUATIONS if not options.only or any(word in name for word in options.only)]
    tasks = [(name, number, told) for name in names for number in range(count) for told in (False, True)]
    if options.workers < 2:
        found = [heard(task) for task in tasks]
    else:
        with multiprocessing.get_context("forkserver").Pool(options.workers) as pool:
            found = pool.map(heard, tasks, chunksize=2)
    print(f"a clock and what else goes on, {SECONDS:.0f} s, {count} of each, at {SNR_DB:.0f} dB")
    print(f"{'':<24}{'F1':>7}{'worst':>6}{'error':>8}{'most':>8}{'none':>5}  refused  | warned")
    for name in names:
        for told in (False, True):
            rows = [one for title, given, one in found if (title, given) == (name, told)]
            print(row("    told" if told else name, rows))
    for level in LEVELS_DB:
        ends = f" {level:.0f} dB"
        for told in (False, True):
            f1 = [one.f1 for title, given, one in found if title.endswith(ends) and given == told]
            if f1:
                print(
                    f"mean F1 of all surroundings at {abs(level):.0f} dB{', told' if told else ''}: {np.mean(f1):.3f}"
                )
    print(f"{len(tasks)} heard in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
