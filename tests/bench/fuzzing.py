"""Sound files of every kind, spoilt at random: what reading them costs at worst, and that it never ends the program.

`python -m tests.bench.fuzzing` reads a thousand; the ordinary tests read a hundred of them.
"""

from __future__ import annotations

import multiprocessing
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import InputError
from diagnose.measurement.incoming.recording import read_recording
from tests.measurement.incoming.mutations_of_sound import spoilt
from tests.measurement.incoming.sound_kinds import PHONE, PLAIN, content

MUTATIONS = 1000
LONGEST_S = 30.0
MOST_BYTES = 1_000_000_000
_WORKERS = 2


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one spoilt file."""

    seed: int
    kind: str
    end: str
    seconds: float
    memory_bytes: int


def kind_of(seed: int) -> str:
    """Return the kind of file a seed spoils: each in turn."""
    kinds = [*PLAIN, *PHONE]
    return kinds[seed % len(kinds)]


def spoilt_file(seed: int) -> bytes:
    """Return the spoilt file of a seed."""
    return spoilt(content(kind_of(seed)), content(kind_of(7 * seed + 3)), seed)


def read_spoilt(seed: int) -> Outcome:
    """Read one spoilt file as the program does."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "note"
        path.write_bytes(spoilt_file(seed))
        before = time.perf_counter()
        try:
            recording = read_recording(path)
        except InputError as error:
            end = error.what
        else:
            end = "heard, cut short" if any("cut short" in said for said in recording.warnings) else "heard"
        return Outcome(seed, kind_of(seed), end, time.perf_counter() - before, _most_memory())


def _most_memory() -> int:
    """Return the most memory this process or one of its children has held so far [bytes], 0 where not known."""
    if sys.platform == "win32":
        return 0
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return unit * max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))


def fuzz(seeds: Iterable[int]) -> list[Outcome]:
    """Read spoilt files in processes of their own, so that one that ends its process is known.

    They come from a small server where there is one: a process that is split off from a large one counts its memory.
    """
    way = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(way)
    with ProcessPoolExecutor(_WORKERS, context, warnings.simplefilter, ("error",)) as pool:
        return list(pool.map(read_spoilt, seeds, chunksize=20))


def main() -> None:
    """Print the figures."""
    outcomes = fuzz(range(MUTATIONS))
    seconds = sorted(outcome.seconds for outcome in outcomes)
    print(f"Spoilt sound files: {len(outcomes)} of {len(PLAIN) + len(PHONE)} kinds, none ended the program")
    print(f"  seconds each: median {seconds[len(seconds) // 2]:.2f}, longest {seconds[-1]:.2f} (limit {LONGEST_S:.0f})")
    print(f"  most memory of a process: {max(outcome.memory_bytes for outcome in outcomes) / 1e6:.0f} MB (limit 1000)")
    for end, count in Counter(_kind_of_end(outcome.end) for outcome in outcomes).most_common():
        print(f"  {count:5d}  {end}")


def _kind_of_end(end: str) -> str:
    """Return an end without the kind of file and the numbers in it."""
    if "cannot be read" in end:
        return "begins like a sound file but cannot be read"
    if "samples a second" in end:
        return "a rate at which nobody records"
    for words in ("takes too long to decode", "makes its decoder fail"):
        if words in end:
            return words
    return end


if __name__ == "__main__":
    main()
