"""How fast it answers: `--help`, the first question from cold, an answer to the next step, a voice note."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose import moments
from diagnose.cases.events import Contact
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.settings import demo_folder

RUNS = 5
CONSULTATIONS = 40
MOST_MOMENTS = 10
MILLISECONDS = 1000
# `ru_maxrss` counts in kilobytes on Linux.
KILOBYTES = 1024
PROMPT = "\n> "
CLOCKS = (("floor", "weight-cable"), ("wall", "spring"), ("mantel", "spring"))


def command_s(arguments: list[str], typed: str = "") -> float:
    """Return the least time a command takes over some runs, each from cold [s]."""
    times = []
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "STOPPED_CLOCK_DATA": folder}
        for _ in range(RUNS):
            start = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "diagnose", *arguments],
                input=typed,
                text=True,
                capture_output=True,
                check=True,
                env=environment,
            )
            times.append(time.perf_counter() - start)
    return min(times)


def first_question_s(door: str) -> float:
    """Return the least time from the start of the command until its first question stands on the screen [s]."""
    times = []
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "STOPPED_CLOCK_DATA": folder}
        for _ in range(RUNS):
            start = time.perf_counter()
            with subprocess.Popen(
                [sys.executable, "-m", "diagnose", "ask", "--door", door],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
                env=environment,
            ) as asking:
                shown = ""
                while asking.stdout is not None and PROMPT not in shown:
                    shown += asking.stdout.read(1)
                times.append(time.perf_counter() - start)
                asking.kill()
    return min(times)


# What a fresh process prints after four consultations: its greatest size.
_CONSULTING = """
import resource
from diagnose.model.reading import read_knowledge
from tests.bench.speed_bench import answer_to_moment_s
knowledge = read_knowledge()
for seed in range(4):
    answer_to_moment_s(knowledge, seed)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def memory_mb() -> float:
    """Return the greatest size of a fresh process that holds four consultations, hearing left out [MB]."""
    done = subprocess.run([sys.executable, "-c", _CONSULTING], text=True, capture_output=True, check=True)
    return int(done.stdout) / KILOBYTES


def answer_to_moment_s(knowledge: Knowledge, seed: int) -> list[float]:
    """Return the time from each answer to the next moment, in one consultation with drawn answers [s]."""
    draw = random.Random(seed)
    where = draw.choice(("call", "visit", "workshop"))
    consultation = Consultation.begin(knowledge, "stops", Contact(where=where))  # type: ignore[arg-type]
    family, drive = draw.choice(CLOCKS)
    consultation.set_fact("clock", "family", family)
    consultation.set_fact("clock", "drive", drive)
    for field in ("reaches", "lifts", "helper", "tools", "children"):
        consultation.set_fact("person", field, draw.choice(("yes", "no")))
    consultation.answer("tick-evenness", draw.choice(("even", "limping")))
    times = []
    for _ in range(MOST_MOMENTS):
        moment = consultation.moment
        if not isinstance(moment, moments.LookMoment):
            break
        for finding in moment.findings:
            consultation.answer(finding, draw.choice(list(knowledge.findings[finding].values)))
        # The time of the processor: what else runs on the machine meanwhile must not count.
        start = time.process_time()
        _ = consultation.moment
        times.append(time.process_time() - start)
    return times


def main() -> None:
    """Print the figures."""
    print("Speed")
    print(f"  diagnose --help                      {command_s(['--help']):6.2f} s   (goal under 0.2)")
    print(f"  first question from cold             {first_question_s('moved'):6.2f} s   (goal under 1)")
    look = command_s(["ask", "--door", "moved"], "a1 b2\na1 b1 c1 d1 e2\n")
    print(f"  the same, two answers and a look     {look:6.2f} s")
    note = command_s(["listen", str(demo_folder() / "larch-lane-before.flac"), "--drawn-to", "left"])
    print(f"  a 30 s voice note to its split       {note:6.2f} s   (goal 10)")
    knowledge = read_knowledge()
    answer_to_moment_s(knowledge, 0)
    times = [took for seed in range(1, CONSULTATIONS) for took in answer_to_moment_s(knowledge, seed)]
    p50, p95 = np.percentile(times, [50, 95]) * MILLISECONDS
    print(
        f"  answer to next step, {len(times)} answers     {p50:6.0f} ms median, {p95:.0f} ms p95   (goal p95 under 30)"
    )
    print(f"  memory of a process that consults     {memory_mb():6.0f} MB  (goal under 250)")
    start = time.perf_counter()
    read_knowledge.__globals__["_read_cached"].cache_clear()
    read_knowledge(Path(knowledge.folder))
    print(f"  all knowledge read and checked       {time.perf_counter() - start:6.2f} s")


if __name__ == "__main__":
    main()
