"""What a whole consultation costs, beside a technician with a fixed list and the told truth.

`python -m tests.bench.consultations_bench`: every way of working meets the same clocks, the same slips and the
same luck (see `consultations`), so that the differences are surer than the figures themselves.
"""

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.tables import compile_base
from tests.bench.consultations import (
    KINDS,
    Played,
    Player,
    World,
    fixed_order,
    play_fixed,
    play_planner,
    told_minutes,
)
from tests.bench.drawn_cases import ERRING, PERFECT, Erring, draw_case

CLOCK = ClockFacts(family="floor", drive="weight-cable", escapement="recoil")
SEED = 2031
WORKERS = 2
CONSULTATIONS = 50
PEOPLE: dict[str, Erring] = {"erring": ERRING, "perfect": PERFECT}
GOALS = {"workshop": 0.25, "visit": 0.20, "call": 0.15}
GOAL_OVER_TOLD = 1.35
WAYS = ("planner", "fixed order", "fixed, likeliest first")


@cache
def world(where: str, people: str) -> World:
    """Return a weight-driven floor clock at a place, with people who err or do not."""
    knowledge = read_knowledge(check=False)
    return World(compile_base(knowledge, CLOCK), knowledge, CLOCK, where, PEOPLE[people])


@cache
def _order(where: str, people: str) -> list[str]:
    return fixed_order(world(where, people))


@dataclass(frozen=True)
class Compared:
    """One clock by each way of working, and its minutes if the truth were told."""

    ways: tuple[Played, ...]
    told: float


def run_consultation(task: tuple[str, str, int]) -> Compared:
    """Play one clock in each way of working, on the same truth."""
    where, people, seed = task
    here = world(where, people)
    case = draw_case(here.base, np.random.default_rng(seed))

    def player() -> Player:
        return Player(here, case, seed + 1)

    order = _order(where, people)
    ways = (play_planner(player()), play_fixed(player(), order), play_fixed(player(), order, by_probability=True))
    return Compared(ways, told_minutes(player()))


def print_consultations(where: str, people: str, count: int, pool: ProcessPoolExecutor) -> None:
    """Print the minutes of whole consultations by each way of working."""
    tasks = [(where, people, SEED + 10 * number) for number in range(count)]
    compared = list(pool.map(run_consultation, tasks, chunksize=max(1, count // (8 * WORKERS))))
    price = world(where, people).knowledge.shop.refer_minutes[where]  # type: ignore[index]
    told = np.array([one.told for one in compared])
    rates = PEOPLE[people]
    wrong, unknown = 100 * rates.mean, 100 * rates.unknown
    print(
        f"\n{where}: {count} clocks, {wrong:.0f} % wrong, {unknown:.0f} % unknown; handing on costs {price:g} minutes"
    )
    print("                         minutes (s.e.)  over told  asking repairs handing on  questions cured here")
    planner = np.array([one.ways[0].minutes for one in compared])
    for place, name in enumerate(WAYS):
        played = [one.ways[place] for one in compared]
        minutes = np.array([one.minutes for one in played])
        parts = "".join(f"{np.mean([one.spent[kind] for one in played]):8.1f}" for kind in KINDS)
        cured = np.mean([one.end == "cured" for one in played])
        print(
            f"{name:24s} {minutes.mean():7.1f} ({_error(minutes):4.1f}) {minutes.mean() / told.mean():9.2f}  {parts}"
            f" {np.mean([one.questions for one in played]):12.1f} {cured:10.2f}"
        )
        if place:
            saved = 1 - planner.mean() / minutes.mean()
            goal = f"; goal {100 * GOALS[where]:.0f} %" if place == 1 and people == "erring" else ""
            less = (minutes - planner).mean()
            print(f"    planner: {less:.1f} minutes less ({_error(minutes - planner):.1f}), {100 * saved:.0f} %{goal}")
    goal = f"   (goal with perfect answers: planner at most {GOAL_OVER_TOLD})" if people == "perfect" else ""
    print(f"{'told truth':24s} {told.mean():7.1f} ({_error(told):4.1f}) {1.0:9.2f}{goal}")


def _error(values: np.ndarray) -> float:
    """Return the standard error of a mean."""
    return float(values.std(ddof=1) / len(values) ** 0.5)


def main(arguments: list[str] | None = None) -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clocks", type=int, default=CONSULTATIONS, help=f"at each place ({CONSULTATIONS})")
    options.add_argument("--where", choices=(*GOALS, "all"), default="all")
    options.add_argument("--people", choices=(*PEOPLE, "all"), default="all")
    chosen = options.parse_args(arguments)
    begin = time.perf_counter()
    print("Whole consultations. Cases drawn from the base flatter the base: compare the ways, promise nothing.")
    print("fixed order: forty looks, least opening and most telling for their time first, until .9; then the")
    print("planner's own row of repairs. Likeliest first: the remedy of the likeliest cause until none is left.")
    with ProcessPoolExecutor(WORKERS) as pool:
        for people in PEOPLE if chosen.people == "all" else (chosen.people,):
            for where in GOALS if chosen.where == "all" else (chosen.where,):
                print_consultations(where, people, chosen.clocks, pool)
    print(f"{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
