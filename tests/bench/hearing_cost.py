"""What hearing costs: times faster than real time on one core, and the most memory, each in a process of its own.

The process that decodes the file is counted in both.

`python -m tests.bench.hearing_cost [SECONDS ...]`: 40 s, ten minutes and, with `--full`, an hour. A long recording is
written piece by piece to a temporary file and read from there, as a person's would be.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.ticking import LEFT, RIGHT
from diagnose.training.voices import LONGEST_TICK_S, add_tick, lifelike_voice

RATE_HZ = 44_100
QUICK_S, FULL_S = (40.0, 600.0), (40.0, 600.0, 3600.0)
PIECE_S = 20.0
NOISE = 0.02
LEVEL = 0.25
SEED = 11
GOAL_TIMES, GOAL_MB = 100.0, 200.0

ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")

CHILD = """
import json, resource, sys, time
from diagnose.measurement import listen
OWN, OTHERS = resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN
def spent():
    return sum(used.ru_utime + used.ru_stime for used in map(resource.getrusage, (OWN, OTHERS)))
def most():
    # The process that decodes lives beside this one.
    return sum(resource.getrusage(whose).ru_maxrss for whose in (OWN, OTHERS)) / 1024
listen(sys.argv[2])
before, begun, clock = most(), spent(), time.perf_counter()
beats = listen(sys.argv[1])
told = [spent() - begun, time.perf_counter() - clock, before, most()]
print(json.dumps([*told, beats.beats, beats.beat_error_percent, beats.refused]))
"""
"""One short recording is heard first, so that what is loaded once is not counted against a long one."""


def write_recording(path: Path, seconds: float) -> None:
    """Write a recording of a clock, three percent out of beat, piece by piece."""
    import soundfile

    ticking = lay_drops(DropPlan(7200.0, 3.0, seconds=seconds), SEED)
    random = np.random.default_rng(SEED)
    voices = {side: lifelike_voice(random) for side in (RIGHT, LEFT)}
    piece = round(PIECE_S * RATE_HZ)
    carried = np.zeros(round((LONGEST_TICK_S + 0.1) * RATE_HZ))
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, "PCM_16") as file:
        for start in range(0, round(seconds * RATE_HZ), piece):
            samples = np.concatenate([carried, np.zeros(piece)])
            samples[piece:] = 0.0
            samples[: len(carried)] = carried
            start_s = start / RATE_HZ
            inside = (ticking.times_s >= start_s) & (ticking.times_s < start_s + PIECE_S)
            for time_s, side in zip(ticking.times_s[inside], ticking.sides[inside], strict=True):
                voice = voices[int(side)]
                add_tick(samples, RATE_HZ, float(time_s) - start_s, voice, LEVEL, np.ones(voice.gains.size))
            carried = samples[piece:]
            file.write(np.clip(samples[:piece] + NOISE * random.standard_normal(piece), -1, 1))


def cost(path: Path, short: Path) -> list[float]:
    """Return seconds of computing and of waiting, memory before and after [MiB], beats, beat error, refusal."""
    told = subprocess.run(
        [sys.executable, "-c", CHILD, str(path), str(short)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, **ONE_THREAD},
    )
    return list(json.loads(told.stdout))


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("seconds", nargs="*", type=float)
    parser.add_argument("--full", action="store_true", help="an hour as well")
    options = parser.parse_args(arguments)
    print(f"cost of hearing at 44.1 kHz, file read included (goals {GOAL_TIMES:.0f} x real time, {GOAL_MB:.0f} MB)")
    with tempfile.TemporaryDirectory() as folder:
        short = Path(folder) / "short.wav"
        write_recording(short, 10.0)
        for seconds in options.seconds or (FULL_S if options.full else QUICK_S):
            path = Path(folder) / "long.wav"
            write_recording(path, seconds)
            spent, passed, before, after, beats, percent, refused = cost(path, short)
            told = f"{beats} beats, {percent:.3f} % out" if percent is not None else f"{refused}"
            print(
                f"{seconds:>6.0f} s: {seconds / spent:5.0f} x real time ({spent:.2f} s of one core, {passed:.2f} s "
                f"passed), {after:.0f} MB at most, {before:.0f} MB before; {told}"
            )


if __name__ == "__main__":
    main()
