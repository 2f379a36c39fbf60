"""Hearing over a grid of recordings, beside general-purpose detectors: `python -m tests.bench.hearing_bench`.

The quick form (two minutes on one core) hears one recording in each cell, the full form (`--full`) eight. `--help`
tells how to measure a part of it. `--save KEY FILE` writes one recording, `--hear KEY` tells all about one.

Columns: F1 within 10 ms of the drops that sound, mean and worst; the same with the best constant delay taken out;
robust scatter of the instants within their kind; error of the beat error, |t1 - t2| / 2, median and 95th percentile;
wrong impacts (more than 5 ms off) and how many of them were flagged by a rival; median error of the rate that comes
from the instants alone, and median error of the rate given; refused, or no beat error given; seconds of computing.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.bench import hearing_sounds as sounds
from tests.bench.hearing_bound import print_bound
from tests.bench.hearing_cost import ONE_THREAD
from tests.bench.hearing_peers import peers
from tests.bench.hearing_scores import Outcome, by_hearing, by_peer
from tests.bench.hearing_sounds import Cell, make_sample

HEARING, TOLD = "hearing", "hearing, told"
PARTS = ("grid", "bound")
FULL_COUNT = 8
WORST_SHOWN = 12
HEAD = (
    f"{'band':<6}{'dB':>4} {'family':<8}{'detector':<18}{'n':>4} {'F1 mean':>8}{'worst':>7} {'delay out':>10}"
    f"{'worst':>7} {'scatter':>8} {'error ms':>9}{'95 %':>8} {'wrong':>6}{'flagged':>8} {'s/d inst':>9} {'s/d':>8}"
    f" {'none':>5} {'s each':>7}"
)


@dataclass(frozen=True, slots=True)
class Task:
    """One recording and what is to hear it."""

    cell: Cell
    with_peers: bool
    told: bool


def heard(task: Task) -> tuple[Cell, dict[str, Outcome]]:
    """Return what each detector made of one recording."""
    sample = make_sample(task.cell)
    found = {HEARING: by_hearing(sample)}
    if task.told:
        found[TOLD] = by_hearing(sample, told=True)
    if task.with_peers:
        found |= {name: by_peer(sample, detector) for name, detector in peers()[0].items()}
    return task.cell, found


def cells(options: argparse.Namespace) -> list[Cell]:
    """Return the cells asked for."""
    return [
        Cell(family, band, snr_db, variant, number, options.seconds)
        for band in options.bands
        for snr_db in options.snrs
        for family in options.families
        for variant in options.variants
        for number in range(options.first, options.first + options.count)
    ]


def in_parallel(tasks: list[Task], workers: int) -> Iterator[tuple[Cell, dict[str, Outcome]]]:
    """Yield what was heard, in any order."""
    if workers < 2:
        yield from map(heard, tasks)
        return
    with multiprocessing.get_context("forkserver").Pool(workers) as pool:
        yield from pool.imap_unordered(heard, tasks)


def row(cell: Cell, family: str, detector: str, outcomes: list[Outcome]) -> str:
    """Return one row of the table."""
    column = {
        name: np.array([getattr(one, name) for one in outcomes])
        for name in ("f1", "f1_delayed", "scatter_ms", "error_ms", "rate_error", "rate_detected", "seconds")
    }
    wrong = [one for one in outcomes if one.wrong]
    none = sum(1 for one in outcomes if not np.isfinite(one.error_ms))
    flagged = f"{sum(one.flagged for one in wrong)}/{len(wrong)}" if wrong and detector.startswith(HEARING) else "-"
    return (
        f"{cell.band:<6}{cell.snr_db:>4} {family:<8}{detector:<18}{len(outcomes):>4} {column['f1'].mean():>8.3f}"
        f"{column['f1'].min():>7.2f} {column['f1_delayed'].mean():>10.3f}{column['f1_delayed'].min():>7.2f}"
        f" {middle(column['scatter_ms']):>8.4f} {middle(column['error_ms']):>9.3f}"
        f"{middle(column['error_ms'], 0.95):>8.2f}"
        f" {len(wrong):>6}{flagged:>8} {middle(column['rate_detected']):>9.4f} {middle(column['rate_error']):>8.3g}"
        f" {none:>5} {column['seconds'].mean():>7.2f}"
    )


def middle(values: np.ndarray, share: float = 0.5) -> float:
    """Return a quantile of the figures that were given."""
    given = values[np.isfinite(values)]
    return float(np.quantile(given, share)) if len(given) else np.nan


def print_table(found: list[tuple[Cell, dict[str, Outcome]]], options: argparse.Namespace) -> None:
    """Print hearing by family and all detectors over all families, for each band and SNR."""
    print(HEAD)
    for band in options.bands:
        for snr_db in options.snrs:
            rows = [(cell, one) for cell, one in found if (cell.band, cell.snr_db) == (band, snr_db)]
            names = list(rows[0][1]) if rows else []
            for family in options.families if len(options.families) > 1 else ():
                of_family = [one[HEARING] for cell, one in rows if cell.family == family]
                print(row(rows[0][0], family, HEARING, of_family))
            for name in names:
                print(row(rows[0][0], "all", name, [one[name] for _, one in rows]))


def print_goals(found: list[tuple[Cell, dict[str, Outcome]]]) -> None:
    """Print the figures over several cells: beat error and wrong impacts from 0 dB, rate from 5 dB."""
    name = TOLD if found and TOLD in found[0][1] else HEARING
    loud = [one[name] for cell, one in found if cell.snr_db >= 0]
    louder = [one[name] for cell, one in found if cell.snr_db >= 5]
    if loud:
        errors = np.array([one.error_ms for one in loud])
        wrong = [one for one in loud if one.wrong]
        print(
            f"{name}, from 0 dB: beat error off by {middle(errors):.3f} ms (95 %: {middle(errors, 0.95):.2f}); wrong "
            f"impact in {len(wrong)} of {len(loud)} ({100 * len(wrong) / len(loud):.1f} %), "
            f"{sum(one.flagged for one in wrong)} of them flagged; rivals told in {sum(one.flagged for one in loud)}; "
            f"no beat error in {sum(not np.isfinite(one.error_ms) for one in loud)}"
        )
    if louder:
        print(f"{name}, from 5 dB: rate off by {middle(np.array([one.rate_detected for one in louder])):.4f} s/day")


def print_worst(found: list[tuple[Cell, dict[str, Outcome]]]) -> None:
    """Print the keys of the recordings that hearing did worst on."""
    poor = [
        one[HEARING]
        for _, one in found
        if one[HEARING].f1 < 0.98 or not one[HEARING].error_ms < 0.5 or one[HEARING].refused
    ]
    poor.sort(key=lambda one: (one.f1 >= 0.9, one.f1 if one.f1 < 0.9 else -np.nan_to_num(one.error_ms, nan=1e3)))
    for one in poor[:WORST_SHOWN]:
        print(
            f"  {one.key:<28} F1 {one.f1:.2f}, beat error off {one.error_ms:.2f} ms +- {one.sigma_ms:.2f}"
            f"{', rivals told' if one.flagged else ''}{', ' + one.refused if one.refused else ''}"
        )
    if len(poor) > WORST_SHOWN:
        print(f"  and {len(poor) - WORST_SHOWN} more with F1 under 0.98, beat error off by 0.5 ms, or none")


def options_of(arguments: list[str] | None) -> argparse.Namespace:
    """Return the options of the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_COUNT} recordings in each cell, three families")
    parser.add_argument("--parts", nargs="+", choices=PARTS, default=PARTS)
    parser.add_argument("--count", type=int, help="recordings in each cell")
    parser.add_argument("--first", type=int, default=0, help="number of the first recording in each cell")
    parser.add_argument("--families", nargs="+", choices=sounds.FAMILIES)
    parser.add_argument("--bands", nargs="+", choices=sounds.BANDS, default=sounds.BANDS)
    parser.add_argument("--snrs", nargs="+", type=int, choices=sounds.SNRS_DB, default=sounds.SNRS_DB)
    parser.add_argument("--variants", nargs="+", choices=sounds.VARIANTS, default=sounds.VARIANTS)
    parser.add_argument("--seconds", type=float, default=sounds.SECONDS, help="length of a recording")
    parser.add_argument("--no-peers", action="store_true", help="hearing alone")
    parser.add_argument("--told", action="store_true", help="hearing that is told the beats per hour as well")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--save", nargs=2, metavar=("KEY", "FILE"), help="write one recording as WAV")
    parser.add_argument("--hear", metavar="KEY", help="tell all about one recording")
    options = parser.parse_args(arguments)
    options.count = options.count or (FULL_COUNT if options.full else 1)
    options.families = options.families or (sounds.FAMILIES if options.full else sounds.FAMILIES[:2])
    return options


def save(key: str, file: str) -> None:
    """Write one recording."""
    import soundfile

    sample = make_sample(sounds.cell_of(key))
    soundfile.write(file, sample.samples, round(sample.rate_hz), subtype="FLOAT")


def tell(key: str) -> None:
    """Print what was made of one recording by every detector."""
    cell = sounds.cell_of(key)
    sample = make_sample(cell)
    print(f"{key}: seed {cell.seed}, {sample.beats_per_hour:g} beats an hour, {sample.beat_error_percent:g} % out")
    for name, one in heard(Task(cell, True, True))[1].items():
        print(f"  {name:<18} {one}")


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    options = options_of(arguments)
    if options.save:
        save(*options.save)
        return
    if options.hear:
        tell(options.hear)
        return
    os.environ.update(ONE_THREAD)  # for the processes that hear: one core each
    if "grid" in options.parts:
        print_grid(options)
    if "bound" in options.parts:
        print_bound(options.count)


def print_grid(options: argparse.Namespace) -> None:
    """Measure the grid and print it."""
    begun = time.perf_counter()
    for line in peers()[1]:
        print(line)
    tasks = [Task(cell, not options.no_peers, options.told) for cell in cells(options)]
    found = sorted(in_parallel(tasks, options.workers), key=lambda one: one[0].key)
    print_table(found, options)
    print_goals(found)
    print_worst(found)
    print(f"{len(tasks)} recordings of {options.seconds:g} s in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
