"""Hearing through codecs and noise suppression: `python -m tests.bench.hearing_channels`.

The same recordings go each way and are heard from the file, as a person's would be. Three loudnesses: usual (highest
sample 6 dB below full scale), low (40 dB) and next to nothing (55 dB), where gates take ticks for silence; the quick
form leaves the middle one out.

F1 is within 10 ms after the constant delay of the way is taken out; it is that of all recordings, refused ones too. A
confident wrong number: the beat error wrong by more than 3 standard uncertainties and 2 ms, or the beats per hour by
more than half a percent, the quality not poor and no rival told.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from diagnose.errors import InputError
from diagnose.measurement import listen
from diagnose.measurement.figures.beats import Beats
from tests.bench.hearing_codecs import WAYS, NotHereError, Way
from tests.bench.hearing_cost import ONE_THREAD
from tests.bench.hearing_scores import best_delay_s, f1_of, scatter_ms, truth
from tests.bench.hearing_sounds import LEVEL, Cell, Floats, Sample, make_sample

LEVELS_DB, QUICK_LEVELS_DB = (-6, -40, -55), (-6, -55)
SNRS_DB = (20, 10)
FAMILIES = ("modes", "chirps")
SECONDS = 30.0
SIGMAS, WRONG_MS, WRONG_SHARE = 3.0, 2.0, 0.005
COUNT, FULL_COUNT = 1, 8


@dataclass(frozen=True, slots=True)
class Heard:
    """What was heard of one recording sent one way."""

    way: str
    level_db: int
    key: str
    f1: float = 0.0
    delay_ms: float = np.nan
    scatter_ms: float = np.nan
    error_ms: float = np.nan
    refused: str = ""
    wrong: bool = False
    missing: str = ""
    seconds: float = np.nan


def sent(task: tuple[int, int, Cell]) -> Heard:
    """Return what was heard of one recording after it was sent one way."""
    place, level_db, cell = task
    way = WAYS[place]
    sample = make_sample(cell)
    with tempfile.TemporaryDirectory() as folder:
        try:
            path = way.write(
                sample.samples * 10 ** (level_db / 20) / LEVEL, round(sample.rate_hz), Path(folder) / "sent"
            )
        except NotHereError as reason:
            return Heard(way.name, level_db, cell.key, missing=str(reason))
        begun = time.process_time()
        try:
            beats = listen(path)
        except InputError as error:
            return Heard(way.name, level_db, cell.key, refused=f"not read: {error}")
        return judged(way, level_db, sample, beats, time.process_time() - begun)


def judged(way: Way, level_db: int, sample: Sample, beats: Beats, seconds: float) -> Heard:
    """Return a result beside the truth."""
    found: Floats = np.array(beats.times_s)
    delay_s = best_delay_s(found, sample.heard_s)
    given = np.nan if beats.beat_error_ms is None else abs(beats.beat_error_ms)
    error_ms = abs(given - truth(sample)[0])
    return Heard(
        way.name,
        level_db,
        sample.key,
        f1_of(found - delay_s, sample.heard_s),
        1e3 * delay_s,
        scatter_ms(found, sample),
        error_ms,
        beats.refused or ("" if np.isfinite(given) else "no beat error"),
        confident_and_wrong(beats, sample, error_ms),
        seconds=seconds,
    )


def confident_and_wrong(beats: Beats, sample: Sample, error_ms: float) -> bool:
    """Return whether somebody would be misled."""
    if beats.quality in ("poor", "none") or beats.rivals_percent:
        return False
    sigma_ms = beats.uncertainty["beat_error_ms"] or 0.0
    off = abs((beats.beats_per_hour or sample.beats_per_hour) / sample.beats_per_hour - 1.0)
    return bool(error_ms > max(SIGMAS * sigma_ms, WRONG_MS)) or off > WRONG_SHARE


def rows(found: list[Heard]) -> Iterator[str]:
    """Yield one row for each way and level, and what is not here."""
    yield (
        f"{'way':<18}{'level':>6}{'n':>4} {'F1 mean':>8}{'worst':>7} {'delay ms':>9}{'scatter':>9} {'error ms':>9}"
        f"{'most':>8} {'wrong':>6} {'refused':>8}  reasons"
    )
    for way in WAYS:
        for level_db in LEVELS_DB:
            of_way = [one for one in found if (one.way, one.level_db) == (way.name, level_db)]
            if not of_way:
                continue
            if of_way[0].missing:
                yield f"{way.name:<18} {of_way[0].missing}"
                break
            yield row(way, level_db, of_way)


def row(way: Way, level_db: int, found: list[Heard]) -> str:
    """Return one row."""
    f1 = np.array([one.f1 for one in found])
    reasons = Counter(one.refused for one in found if one.refused)
    told = "; ".join(f"{count} {reason}" for reason, count in reasons.most_common(2))
    return (
        f"{way.name:<18}{level_db:>6}{len(found):>4} {f1.mean():>8.3f}{f1.min():>7.2f} "
        f"{middle([one.delay_ms for one in found]):>9.1f}{middle([one.scatter_ms for one in found]):>9.3f} "
        f"{middle([one.error_ms for one in found]):>9.2f}{middle([one.error_ms for one in found], 1.0):>8.2f} "
        f"{sum(one.wrong for one in found):>6} {sum(bool(one.refused) for one in found):>8}  {told[:90]}"
    )


def middle(values: list[float], share: float = 0.5) -> float:
    """Return a quantile of the figures that were given."""
    given = np.array(values)[np.isfinite(values)]
    return float(np.quantile(given, share)) if len(given) else np.nan


def tasks_of(options: argparse.Namespace) -> list[tuple[int, int, Cell]]:
    """Return every way, level and recording."""
    cells = [
        Cell(family, "full", snr_db, "clean", number, SECONDS)
        for number in range(options.count)
        for snr_db in SNRS_DB
        for family in FAMILIES
    ]
    return [
        (place, level_db, cell)
        for place, way in enumerate(WAYS)
        if not options.ways or any(word in way.name for word in options.ways)
        for level_db in options.levels
        for cell in cells
    ]


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_COUNT} times as many recordings")
    parser.add_argument("--count", type=int)
    parser.add_argument("--ways", nargs="+", help="only ways whose name holds one of these words")
    parser.add_argument("--levels", nargs="+", type=int, choices=LEVELS_DB)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args(arguments)
    options.count = options.count or (FULL_COUNT if options.full else COUNT)
    options.levels = options.levels or (LEVELS_DB if options.full else QUICK_LEVELS_DB)
    os.environ.update(ONE_THREAD)
    begun = time.perf_counter()
    tasks = tasks_of(options)
    if options.workers < 2:
        found = [sent(task) for task in tasks]
    else:
        with multiprocessing.get_context("forkserver").Pool(options.workers) as pool:
            found = pool.map(sent, tasks, chunksize=1)
    print(f"hearing through codecs and noise suppression, {SECONDS:.0f} s, at {SNRS_DB} dB")
    for line in rows(found):
        print(line)
    for one in found:
        if one.wrong:
            print(f"  confident and wrong: {one.way} at {one.level_db} dB, {one.key}: off by {one.error_ms:.1f} ms")
    print(f"{len(tasks)} recordings sent in {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
