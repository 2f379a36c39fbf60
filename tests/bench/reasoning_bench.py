"""How well the reasoning does on cases drawn from its own knowledge: `python -m tests.bench.reasoning_bench`."""

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.tables import Base, compile_base
from tests.bench.consultations import ABLE
from tests.bench.drawn_cases import draw_case
from tests.bench.greedy_policy import BATCH, GreedyPolicy, calibration_error, expected_noise

CLOCK = ClockFacts(family="floor", drive="weight-cable", escapement="recoil")
CHECKPOINTS = (5, 8, 12, 16, 24)
SEED = 2031
WORKERS = 2
FLATTERS = "Cases drawn from the base flatter the base: these figures compare methods, they promise nothing."


@cache
def loaded() -> tuple[Knowledge, Base]:
    """Return the knowledge and the base of a weight-driven floor clock."""
    knowledge = read_knowledge(check=False)
    return knowledge, compile_base(knowledge, CLOCK)


def run_batch(task: tuple[str, int, int, bool]) -> list[tuple[int, np.ndarray]]:
    """Return, for each checkpoint, a row (on the list, first, three, confidence, right) for each case."""
    where, seed, count, complaint_first = task
    _, base = loaded()
    random = np.random.default_rng(seed)
    policy = _policy(where)
    cases = [draw_case(base, random) for _ in range(count)]
    listed = np.array([bool(case.causes) for case in cases])
    return [
        (stand.answers, np.stack([listed, stand.first, stand.three, stand.confidence, stand.right]).astype(float))
        for stand in policy.run(cases, CHECKPOINTS, random, complaint_first)
    ]


@cache
def _policy(where: str) -> GreedyPolicy:
    knowledge, base = loaded()
    return GreedyPolicy(base, knowledge, Situation(where=where, person=ABLE, clock=CLOCK))  # type: ignore[arg-type]


def print_table(where: str, cases: int, complaint_first: bool, pool: ProcessPoolExecutor) -> None:
    """Print how often the first place and the first three are right after so many answers."""
    starts = enumerate(range(0, cases, BATCH))
    tasks = [(where, SEED + number, min(BATCH, cases - start), complaint_first) for number, start in starts]
    rows: dict[int, list[np.ndarray]] = {}
    for batch in pool.map(run_batch, tasks):
        for answers, row in batch:
            rows.setdefault(answers, []).append(row)
    begun = "one true complaint at the start" if complaint_first else "no complaint at the start"
    print(f"\n{where}: {cases} cases, 10 % wrong and 15 % unknown answers, {begun}.")
    if complaint_first:
        print("The complaint is always true here, yet is weighed as 6 % wrong: that makes confidence too low.")
    print("Questions by a fast stand-in for the planner: the most telling one, opening and minutes left out.")
    print("answers  first  first three  confidence - hits  calibration error (noise taken off)")
    for answers in sorted(rows):
        listed, first, three, confidence, right = np.concatenate(rows[answers], axis=1)
        if len(listed) != cases:
            raise SystemExit(f"only {len(listed)} of {cases} cases came to {answers} answers")
        on_list = listed > 0
        error = calibration_error(confidence, right)
        noise = expected_noise(confidence, np.random.default_rng(SEED))
        print(
            f"{answers:7d}  {first[on_list].mean():5.3f}  {three[on_list].mean():11.3f}"
            f"  {confidence.mean() - right.mean():+17.3f}  {error:17.3f} ({max(0.0, error - noise):.3f})"
        )


def main() -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--cases", type=int, default=5000, help="cases of the table (default 5000)")
    options.add_argument("--where", choices=("call", "visit", "workshop"), default="visit")
    options.add_argument("--no-complaint", action="store_true", help="begin the table without a complaint")
    chosen = options.parse_args()
    begin = time.perf_counter()
    knowledge, base = loaded()
    print(f"knowledge {knowledge.edition}: {len(base.causes)} causes, {len(base.tables)} findings for this clock.")
    print(FLATTERS)
    with ProcessPoolExecutor(WORKERS) as pool:
        print_table(chosen.where, chosen.cases, not chosen.no_complaint, pool)
    print(f"\n{FLATTERS}\n{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
