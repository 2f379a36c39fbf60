"""Sounds that are no clock: how often a figure is given all the same. `python -m tests.bench.hearing_no_clock`.

Synthetic sounds of fifteen kinds (tests/bench/other_sounds.py); speech by espeak-ng where it is on this machine; and
the recordings in folders named by `--folder`, short ones strung together. The goal is no figure in 99 of 100. A refusal
that names a clock of another kind (balance wheel, one tick a second, two clocks) is counted beside it.

Clips of clocks in the folder that STOPPED_CLOCK_CLIPS names are heard too and told in a table.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import shutil
import subprocess
import tempfile
import time
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import signal

from diagnose.errors import InputError
from diagnose.measurement import listen
from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.named_results import BALANCE, ONE_A_SECOND, TWO_CLOCKS
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from tests.bench.hearing_cost import ONE_THREAD
from tests.bench.other_sounds import KINDS, RATE_HZ, Floats, no_clock

SECONDS = 20.0
COUNT, FULL_COUNT = 6, 60
GOAL = 0.99
ASKED_FOR = ("speech", "babble", "espeak-ng", "rain", "dog", "engine", "music")
"""The goal is set for these; the others come nearer to a clock."""
ENDINGS = {".wav", ".ogg", ".mp3", ".flac", ".opus", ".aiff"}
LONGEST_S, GAP_S = 60.0, (0.05, 0.8)
VOICES = ("en", "en-us", "de", "fr", "es", "it", "pl", "en+f3", "en+m5", "nl")
SPOKEN = (
    "The clock in the hall has stopped again and nobody here knows why it does so every other week.",
    "One two three four five six seven eight nine ten eleven twelve.",
    "We moved it on Tuesday, from the dining room to the hall, and since then it will not run for an hour.",
    "Yes. No. Yes. No. Well, perhaps. Wait. I am looking at it now. There is a rod, and a round thing below.",
)


@dataclass(frozen=True, slots=True)
class Heard:
    """What one sound was taken for."""

    kind: str
    name: str
    figure: str = ""
    other_clock: str = ""
    seconds: float = np.nan


@dataclass(frozen=True, slots=True)
class Task:
    """One sound: synthetic by its seed, spoken by its number, or recorded."""

    kind: str
    number: int
    files: tuple[Path, ...] = ()


def heard(task: Task) -> Heard:
    """Return what a sound was taken for."""
    name = f"{task.kind}:{task.number}"
    if task.files:
        name = task.files[0].name
        samples = strung(task)
    elif task.kind == "espeak-ng":
        samples = spoken(task.number)
    else:
        samples = no_clock(task.kind, SECONDS, task.number)
    if not len(samples):
        return Heard(task.kind, f"{name} cannot be read")
    begun = time.process_time()
    beats = measure_beats(find_ticks(Recording(samples, float(RATE_HZ), len(samples) / RATE_HZ)))
    spent = time.process_time() - begun
    return Heard(task.kind, name, figure_of(beats), other_clock(beats), spent)


def figure_of(beats: Beats) -> str:
    """Return the figure given, in words, or nothing."""
    if beats.refused is not None or beats.beats_per_hour is None:
        return ""
    percent = "" if beats.beat_error_percent is None else f", {beats.beat_error_percent:.1f} % out"
    return f"{beats.beats_per_hour:.0f} beats an hour{percent} ({beats.quality}, {beats.beats} beats)"


def other_clock(beats: Beats) -> str:
    """Return the name of a refusal that takes a sound for a clock of another kind."""
    return beats.refused if beats.refused in (BALANCE, ONE_A_SECOND, TWO_CLOCKS) else ""


def strung(task: Task) -> Floats:
    """Return recordings one after another with gaps of chance, at the bench's rate."""
    import soundfile

    chance = np.random.default_rng(zlib.crc32(str(task.files[0]).encode()))
    parts: list[Floats] = []
    for file in task.files:
        try:
            samples, rate_hz = soundfile.read(file, frames=-1, always_2d=True)
        except soundfile.LibsndfileError:
            continue
        if not len(samples):
            continue
        slow = signal.resample_poly(samples.mean(axis=1), RATE_HZ, rate_hz)[: round(LONGEST_S * RATE_HZ)]
        parts += [slow, np.zeros(round(chance.uniform(*GAP_S) * RATE_HZ))]
    sound = np.concatenate(parts) if parts else np.empty(0)
    return sound + 1e-4 * chance.standard_normal(len(sound))


def spoken(number: int) -> Floats:
    """Return a sentence spoken by a machine."""
    import soundfile

    chance = np.random.default_rng(number)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "spoken.wav"
        words = " ".join(SPOKEN[int(place)] for place in chance.permutation(len(SPOKEN)))
        voice = VOICES[number % len(VOICES)]
        speed = str(int(chance.integers(120, 210)))
        subprocess.run(["espeak-ng", "-v", voice, "-s", speed, "-w", str(file), words], check=True, capture_output=True)
        samples, rate_hz = soundfile.read(file)
    sound = np.asarray(signal.resample_poly(samples, RATE_HZ, rate_hz))
    return sound + 1e-3 * chance.standard_normal(len(sound))


def tasks_of(options: argparse.Namespace) -> Iterator[Task]:
    """Yield every sound."""
    for kind in options.kinds or KINDS:
        for number in range(options.first, options.first + options.count):
            yield Task(kind, number)
    if options.kinds:
        return
    if shutil.which("espeak-ng"):
        for number in range(options.first, options.first + options.count):
            yield Task("espeak-ng", number)
    else:
        print("espeak-ng is not here: no speech by it")
    for folder in options.folder:
        yield from recorded(Path(folder), options.most)


def recorded(folder: Path, most: int) -> Iterator[Task]:
    """Yield the recordings of a folder, those of one kind together until they are long enough; at most so many."""
    import soundfile

    by_place: dict[Path, list[Path]] = defaultdict(list)
    for file in sorted(folder.rglob("*")):
        if file.suffix.lower() in ENDINGS and file.is_file():
            by_place[file.parent].append(file)
    chance = np.random.default_rng(1)
    rows: list[Task] = []
    for place, files in by_place.items():
        chance.shuffle(files)  # type: ignore[arg-type]
        row: list[Path] = []
        length_s = 0.0
        for file in files:
            try:
                length_s += soundfile.info(file).duration
            except soundfile.LibsndfileError:
                continue
            row.append(file)
            if length_s >= SECONDS:
                rows.append(Task(place.name, len(rows), tuple(row)))
                row, length_s = [], 0.0
        if length_s > SECONDS / 3:
            rows.append(Task(place.name, len(rows), tuple(row)))
    for at in chance.permutation(len(rows))[:most]:
        yield rows[int(at)]


def print_table(found: list[Heard]) -> None:
    """Print a row for each kind, and each figure that was given."""
    print(f"{'kind':<24}{'n':>5} {'figure':>7} {'other clock':>12} {'s each':>7}")
    for kind, rows in sorted(grouped(found).items()):
        figures = sum(bool(one.figure) for one in rows)
        others = sum(bool(one.other_clock) for one in rows)
        print(
            f"{kind[:23]:<24}{len(rows):>5} {figures:>7} {others:>12} {np.nanmean([one.seconds for one in rows]):>7.2f}"
        )
    wrong = [one for one in found if one.figure]
    print(f"no figure in {without_figure(found)} (goal {100 * GOAL:.0f} %)")
    asked = [one for one in found if one.kind in ASKED_FOR]
    if asked:
        print(f"no figure in {without_figure(asked)} of speech, rain, dogs, engines and music")
    for one in wrong:
        print(f"  {one.kind}, {one.name}: {one.figure}")
    others = Counter(f"{one.kind}: {one.other_clock}" for one in found if one.other_clock)
    for told, count in others.most_common():
        print(f"  named {told}, {count} times")


def without_figure(found: list[Heard]) -> str:
    """Return the share that gave no figure, in words."""
    share = 1 - sum(bool(one.figure) for one in found) / max(len(found), 1)
    return f"{100 * share:.1f} % of {len(found)}"


def grouped(found: list[Heard]) -> dict[str, list[Heard]]:
    """Return what was heard by kind."""
    rows: dict[str, list[Heard]] = defaultdict(list)
    for one in found:
        rows[one.kind].append(one)
    return rows


def print_clips(folder: Path) -> None:
    """Print what was made of each clip in a folder."""
    print(f"clips in {folder}")
    for file in sorted(folder.iterdir()):
        if file.suffix.lower() not in ENDINGS:
            continue
        try:
            beats = listen(file)
        except InputError as error:
            print(f"  {file.name:<24} {error}")
            continue
        told = figure_of(beats) or f"{beats.refused}: {beats.reason}"
        rivals = f"; by another impact {', '.join(f'{one:.1f} %' for one in beats.rivals_percent)}" * bool(
            beats.rivals_percent
        )
        print(f"  {file.name:<24} {told}{rivals}")


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_COUNT} sounds of a kind")
    parser.add_argument("--count", type=int)
    parser.add_argument("--first", type=int, default=0, help="number of the first sound of a kind")
    parser.add_argument("--kinds", nargs="+", choices=list(KINDS), help="only these synthetic ones")
    parser.add_argument("--folder", nargs="+", default=[], help="folders of recordings that are no clocks")
    parser.add_argument("--most", type=int, default=200, help="at most so many from a folder")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args(arguments)
    options.count = options.count or (FULL_COUNT if options.full else COUNT)
    os.environ.update(ONE_THREAD)
    begun = time.perf_counter()
    tasks = list(tasks_of(options))
    if options.workers < 2:
        found = [heard(task) for task in tasks]
    else:
        with multiprocessing.get_context("forkserver").Pool(options.workers) as pool:
            found = list(pool.imap_unordered(heard, tasks, chunksize=4))
    print(f"sounds that are no clock, {SECONDS:.0f} s each, in {time.perf_counter() - begun:.0f} s")
    print_table(found)
    clips = os.environ.get("STOPPED_CLOCK_CLIPS")
    if clips and Path(clips).is_dir():
        print_clips(Path(clips))


if __name__ == "__main__":
    main()
