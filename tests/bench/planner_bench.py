"""How far the planner is from the best plan there is, on sub-bases small enough to solve exactly.

`python -m tests.bench.planner_bench`: the optimum by backward induction over every answer, remedy and level.
"""

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.reading import Knowledge, read_knowledge
from tests.bench.sub_bases import PLACES, UNKNOWN, WRONG, draw_sub_base
from tests.reasoning.exact_plan import Compared, compare

WORKERS = 2
SUB_BASES = 60
GOAL_MEAN, GOAL_WORST = 0.008, 0.04


@cache
def _knowledge() -> Knowledge:
    return read_knowledge(check=False)


Row = tuple[str, int, int, Compared]


def solve(number: int) -> Row:
    """Return place, causes, questions, and the planner beside the optimum."""
    sub = draw_sub_base(_knowledge(), number)
    return sub.where, len(sub.causes), len(sub.findings), compare(sub.problem)


def report(name: str, rows: list[Row]) -> None:
    """Print one line: excess over the optimum, and as a share of what the optimum costs over the told truth."""
    found = [row[3] for row in rows]
    excess = np.array([one.excess for one in found])
    least, told = sum(one.least for one in found), sum(one.told for one in found)
    avoidable = sum(one.excess * one.least for one in found) / max(least - told, 1e-9)
    print(
        f"{name:9s} {len(rows):4d} {100 * excess.mean():9.2f} ({100 * excess.std(ddof=1) / len(rows) ** 0.5:.2f})"
        f" {100 * excess.max():9.2f} {100 * avoidable:16.2f} {least / len(rows):9.1f} {told / len(rows):9.1f}"
    )


def main(arguments: list[str] | None = None) -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--sub-bases", type=int, default=SUB_BASES, help=f"how many (default {SUB_BASES})")
    chosen = options.parse_args(arguments)
    begin = time.perf_counter()
    with ProcessPoolExecutor(WORKERS) as pool:
        rows = list(pool.map(solve, range(chosen.sub_bases)))
    sizes = sorted({(row[1], row[2]) for row in rows})
    print(f"Planner beside the exact optimum: {len(rows)} sub-bases of the shipped knowledge, causes x questions")
    print("  " + ", ".join(f"{causes} x {questions}" for causes, questions in sizes) + ";")
    print(f"  {100 * WRONG:.0f} % wrong, {100 * UNKNOWN:.0f} % unknown, imperfect remedies once each, ladder.")
    print("place   number  mean excess %    worst % of the avoidable %   optimum  told truth (minutes)")
    for where in PLACES:
        report(where, [row for row in rows if row[0] == where])
    report("all", rows)
    cut = max(row[3].cut for row in rows)
    print(f"weight of rare states in which the planner was not followed to its end: at most {100 * cut:.0f} %")
    print(f"goal: mean at most {100 * GOAL_MEAN} %, worst at most {100 * GOAL_WORST} %")
    print(f"{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
