"""How often people who are coached set the beat and the time, beside the best there is and beside a textbook.

`python -m tests.bench.coaching_bench [--clocks N]`: the simulation is in `tests.coaching.adjusting` and
`tests.coaching.regulating`, the optimum in `tests.bench.coaching_optimum`.
"""

import argparse
import os
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.coaching import next_act
from diagnose.coaching.set_the_time import AIM_S_PER_WEEK
from tests.bench.coaching_optimum import Game, best_share
from tests.coaching.adjusting import AtTheClock, OnTheLine, Person, by_the_textbook, set_the_beat
from tests.coaching.regulating import Hands, by_the_table, regulate

WORKERS = 2
CLOCKS = 100
GOAL = 0.95
LENGTHS_MM, READ_S = (994.0, 250.0, 160.0), (6.0, 2.0)
ERRORS = (7, 10, 13, 16, 19)
"""First beat errors at which the optimum is computed; those of the simulated clocks lie evenly over 6 to 20 percent."""

SLIPS = Person(slips=0.2)
PEOPLE = (
    ("every fifth act the wrong way, side told when asked", SLIPS),
    ("the same, and they look which way it went when asked", replace(SLIPS, looks=0.9)),
    ("the same, but the side is never told", replace(SLIPS, looks=0.9, learns_side=0.0)),
    ("side never told, and nobody looks", replace(SLIPS, learns_side=0.0)),
    ("no act goes the wrong way", Person()),
    ("every fifth person always the other way, looks", Person(mirrored=0.2, looks=0.9)),
)
ON_THE_LINE = replace(SLIPS, side_wrong=0.0)


def _end(row):
    person, seed, policy, place = row
    session = set_the_beat(seed, person, policy=policy, place=place)
    return session.percents[-1], len(session.acts), len(session.asked)


def beat_row(pool, name, person, count, policy=next_act, place=AtTheClock):
    """Print a row: below 5 % for those who are content with that, below 3 % for those who go on."""
    ends = []
    for content in (True, False):
        rows = [(replace(person, content=content), seed, policy, place) for seed in range(count)]
        ends.append(np.array(list(pool.map(_end, rows, chunksize=20))))
    five, three = float(np.mean(ends[0][:, 0] < 5)), float(np.mean(ends[1][:, 0] < 3))
    print(f"  {name:62s} {five:9.3f} {three:9.3f} {ends[0][:, 1].mean():6.2f} {ends[0][:, 2].mean():7.2f}")


def bound_row(pool, name, game):
    """Print what is possible at best."""
    five, three = (
        np.mean(list(pool.map(best_share, [replace(game, limit=limit)] * len(ERRORS), ERRORS))) for limit in (5.0, 3.0)
    )
    print(f"  {name:62s} {five:9.3f} {three:9.3f}")


def beat_table(pool, count):
    """Print how often the beat is in after three acts at most."""
    print(
        f"Beat in within three acts, {count} simulated clocks a row; spread of a share about {0.22 / count**0.5:.3f}."
    )
    print(f"  goal {GOAL:.2f}; below 5 % for who is content with that, below 3 % for who goes on until then")
    print(f"  {'simulated clocks':62s} below 5 % below 3 %   acts   asked")
    for name, person in PEOPLE:
        beat_row(pool, name, person, count)
    beat_row(pool, "textbook size toward one side, back if worse; every fifth wrong", SLIPS, count, by_the_textbook)
    print("  a clock with a straight answer, where the best possible is known")
    beat_row(pool, "coached, every fifth act the wrong way", ON_THE_LINE, count, place=OnTheLine)
    bound_row(pool, "best possible, side told with each beat, answer unknown", Game())
    bound_row(pool, "best possible, side and answer known", Game(gain_spread=0.0))
    beat_row(pool, "coached, side never told", replace(ON_THE_LINE, learns_side=0.0), count, place=OnTheLine)
    bound_row(pool, "best possible, side never told", Game(sided=False, side_at_first=False))
    beat_row(pool, "textbook", ON_THE_LINE, count, by_the_textbook, OnTheLine)


def _regulated(row):
    seed, length_mm, hands, known = row
    session = regulate(seed, length_mm, hands, answer_known=known)
    return 7 * abs(session.rate), session.turns, session.compares, session.days


def _by_table(row):
    seed, length_mm, hands, _ = row
    session = regulate(seed, length_mm, hands, policy=by_the_table)
    return 7 * abs(session.rate), session.turns, session.compares, session.days


def time_table(pool, count):
    """Print how often the time is set after three comparisons and three turns at most."""
    print(f"Time set within {AIM_S_PER_WEEK:.0f} s a week, three comparisons and turns at most; {count} clocks a row.")
    print(f"  goal {GOAL:.2f}; thread and rod unknown, hand, room, play of the nut and reading err")
    print("  pendulum, reading    by hands  with recordings  answer known  by the table   comparisons     days")
    for length_mm in LENGTHS_MM:
        for read_s in READ_S:
            kinds = (
                (_regulated, Hands(read_s=read_s), False),
                (_regulated, Hands(read_s=read_s, records=True), False),
                (_regulated, Hands(read_s=read_s), True),
                (_by_table, Hands(read_s=read_s), False),
            )
            ends = [
                np.array(list(pool.map(which, [(seed, length_mm, hands, known) for seed in range(count)], chunksize=9)))
                for which, hands, known in kinds
            ]
            hands_, both, known, table = (float(np.mean(end[:, 0] <= AIM_S_PER_WEEK)) for end in ends)
            print(
                f"  {length_mm:5.0f} mm {read_s:4.0f} s {hands_:13.3f} {both:16.3f} {known:13.3f} {table:13.3f}"
                f"     {ends[0][:, 2].mean():.1f} / {ends[1][:, 2].mean():.1f}"
                f" {ends[0][:, 3].mean():5.1f} / {ends[1][:, 3].mean():.1f}"
            )


def main(arguments: list[str] | None = None) -> None:
    """Run the bench."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--clocks", type=int, default=CLOCKS, help=f"simulated clocks a row (default {CLOCKS})")
    chosen = options.parse_args(arguments)
    begin = time.perf_counter()
    with ProcessPoolExecutor(WORKERS) as pool:
        beat_table(pool, chosen.clocks)
        print()
        time_table(pool, chosen.clocks)
    print(f"{time.perf_counter() - begin:.0f} seconds.")


if __name__ == "__main__":
    main()
