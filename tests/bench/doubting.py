"""What the benches of doubts stand on: right and wrong numbers, causes taken out, drawn cases."""

import os
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from diagnose.model.entries import CauseEntry
from diagnose.model.observations import Person
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import said_likelihood
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.tables import Base, compile_base
from diagnose.reasoning.values import Finding
from tests.bench.drawn_cases import WRONG, DrawnCase, draw_case
from tests.bench.greedy_policy import GreedyPolicy, Said
from tests.bench.reasoning_bench import CLOCK

SEED = 4711
ABLE = Person(reaches="yes", lifts="yes", helper="yes", tools="yes", children="no")
WORDS = ("improbable", "uncertain", "fifty-fifty", "expected", "probable", "certain")
# Numbers that are wrong: the rate of wrong answers by a quarter; links a word off, and missing.
RATE_OFF, LINKS_OFF, LINKS_MISSING = 0.25, 0.3, 0.1
# One in so many causes is taken out of the base, so that its clocks have a fault that is not on the list.
HELD_OUT_EVERY = 10


@cache
def loaded() -> tuple[Knowledge, Base]:
    """Return the knowledge and the base of a weight-driven floor clock."""
    knowledge = read_knowledge(check=False)
    return knowledge, compile_base(knowledge, CLOCK)


@cache
def policy(where: str, believes: str) -> GreedyPolicy:
    """Return a policy whose numbers are right, or wrong in a named way."""
    knowledge, _ = loaded()
    situation = Situation(where=where, person=ABLE, clock=CLOCK)  # type: ignore[arg-type]
    if believes in {"rate too low", "rate too high"}:
        factor = 1 - RATE_OFF if believes == "rate too low" else 1 + RATE_OFF
        wrong = {name: rate * factor for name, rate in WRONG.items()}
        return GreedyPolicy(loaded()[1], knowledge, situation, wrong)
    if believes == "links off":
        return GreedyPolicy(compile_base(spoiled(knowledge), CLOCK), knowledge, situation)
    if believes in {"held out", "held out with look-alikes"}:
        gone = held_out(believes != "held out")
        return GreedyPolicy(compile_base(without(gone, knowledge), CLOCK), knowledge, situation)
    return GreedyPolicy(loaded()[1], knowledge, situation)


def spoiled(knowledge: Knowledge) -> Knowledge:
    """Return the knowledge with three links in ten a word off and one in ten missing."""
    random = np.random.default_rng(SEED)

    def spoil(cause: CauseEntry) -> CauseEntry:
        shows = []
        for link in cause.shows:
            if random.random() < LINKS_MISSING:
                continue
            if random.random() < LINKS_OFF:
                place = WORDS.index(link.often) + int(random.choice([-1, 1]))
                link = link.model_copy(update={"often": WORDS[min(max(place, 0), len(WORDS) - 1)]})
            shows.append(link)
        total: dict[str, float] = {}
        for link in shows:
            total[link.finding] = total.get(link.finding, 0.0) + knowledge.probabilities[link.often].probability
        kept = tuple(link for link in shows if total[link.finding] <= 1.0)
        return cause.model_copy(update={"shows": kept})

    return replace(knowledge, causes={name: spoil(cause) for name, cause in knowledge.causes.items()})


@cache
def held_out(with_alikes: bool = False) -> frozenset[str]:
    """Return the causes that are taken out of the base: each by itself, or whole groups that look alike."""
    knowledge, base = loaded()
    names = [str(name) for name in np.random.default_rng(SEED).permutation(sorted(base.causes))]
    alone = names[::HELD_OUT_EVERY]
    if not with_alikes:
        return frozenset(alone)
    gone: set[str] = set()
    for name in names:
        group = {name} | {alike for alike in base.causes if look_alike(name, alike, knowledge)}
        if len(gone) < len(alone):
            gone |= group
    return frozenset(gone)


def look_alike(one: str, other: str, knowledge: Knowledge) -> bool:
    """Tell whether the entry of one of two causes names the other as its look-alike."""
    pairs = ((one, other), (other, one))
    return any(second == item.cause for first, second in pairs for item in knowledge.causes[first].mistaken_for)


def without(names: frozenset[str], knowledge: Knowledge) -> Knowledge:
    """Return the knowledge without some causes, and without the rules about them."""
    causes = {name: cause for name, cause in knowledge.causes.items() if name not in names}
    rules = {name: rule for name, rule in knowledge.rules.items() if rule.cause not in names}
    return replace(knowledge, causes=causes, rules=rules)


def cases_of(seed: int, count: int) -> tuple[list[DrawnCase], np.random.Generator]:
    """Return drawn cases and the generator for what is said of them."""
    random = np.random.default_rng(seed)
    return [draw_case(loaded()[1], random) for _ in range(count)], random


def findings_of(said: Sequence[Said], base: Base) -> tuple[Finding, ...]:
    """Return what was said as the ranking takes it in."""
    rows = []
    for item in said:
        values = base.tables[item.finding].values
        rows.append(
            Finding(
                item.finding,
                said_likelihood(item.value, len(values), WRONG[item.certainty]),
                values[item.value],
                1 - WRONG[item.certainty],
                "",
                "told",
            )
        )
    return tuple(rows)
