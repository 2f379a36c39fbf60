"""How much of spoiled knowledge the recorded cases notice: `python -m tests.bench.knowledge_bench`.

A link or a rule is spoiled, one at a time, and the cases that record its weight are asked again. What none of them
notices could go wrong in the files without anybody being told.
"""

import argparse
import os
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.reading import Knowledge, read_knowledge
from tests.bench.reasoning_bench import WORKERS
from tests.knowledge.mutations import count_links, count_rules
from tests.knowledge.odds_cases import TOLERANCE_DB, read, read_rules

SEED = 20310312
AT_ONCE = 10
# The least share that must be noticed; a word off may pass where both words weigh alike within the tolerance.
GOALS = {"deleted": 0.95, "flipped": 0.95, "two words off": 0.95, "one word off": 0.7, "ground gone": 0.95}
Counted = tuple[Counter[str], Counter[str]]


@cache
def loaded() -> Knowledge:
    """Return the knowledge, read once in each process."""
    return read_knowledge(check=False)


def links_of(causes: list[str]) -> Counted:
    """Return how many spoiled links of some causes there were, and how many were noticed."""
    return count_links(read(), loaded(), causes)


def rules_of(names: list[str]) -> Counted:
    """Return how often some rules were spoiled, and how often it was noticed."""
    return count_rules(read_rules(), loaded(), names)


def print_shares(what: str, counted: list[Counted]) -> None:
    """Print the share noticed of each way to spoil, with its goal."""
    tried: Counter[str] = sum((item[0] for item in counted), Counter())
    seen: Counter[str] = sum((item[1] for item in counted), Counter())
    for kind in sorted(tried):
        print(f"{what:6s}  {kind:14s}  {tried[kind]:6d}  {seen[kind] / tried[kind]:7.3f}  ({GOALS[kind]:g})")


def parts(names: list[str]) -> list[list[str]]:
    """Return the names in pieces, one for each task."""
    return [names[start : start + AT_ONCE] for start in range(0, len(names), AT_ONCE)]


def main() -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--every", type=int, default=1, help="spoil the links of one in so many causes (default 1)")
    options.add_argument("--rules", type=int, default=40, help="rules to spoil (default 40)")
    chosen = options.parse_args()
    begin = time.perf_counter()
    causes = sorted(loaded().causes)[:: chosen.every]
    drawn = np.random.default_rng(SEED).permutation(sorted(loaded().rules))[: chosen.rules]
    names = [str(name) for name in drawn]
    print(f"Spoiled knowledge: links of {len(causes)} causes, {len(names)} of {len(loaded().rules)} rules;")
    print(f"noticed where a recorded weight moves by more than {TOLERANCE_DB:g} dB, or a rule concludes another thing.")
    print("what    spoiled          tried  noticed  (goal)")
    with ProcessPoolExecutor(WORKERS) as pool:
        links, rules = pool.map(links_of, parts(causes)), pool.map(rules_of, parts(names))
        print_shares("links", list(links))
        print_shares("rules", list(rules))
    print(f"{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
