"""Small problems drawn from the shipped knowledge: a cause, its look-alikes, and what tells them apart."""

from dataclasses import dataclass, replace

import numpy as np

from diagnose.model.observations import ClockFacts, Person
from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import finding_minutes, level_of
from diagnose.reasoning.forecast import forecast_of, information_about_sets, members_of
from diagnose.reasoning.gates import MOST_TRIES, Situation, may_find_out, takes_too_long
from diagnose.reasoning.lookahead import Question
from diagnose.reasoning.needs import prospects
from diagnose.reasoning.tables import Base, compile_base
from tests.reasoning.exact_plan import SmallProblem

CLOCKS = (
    ClockFacts(family="floor", drive="weight-cable", escapement="recoil"),
    ClockFacts(family="wall", drive="spring", escapement="recoil"),
    ClockFacts(family="mantel", drive="spring", escapement="recoil"),
)
PLACES = ("visit", "workshop", "call")
ABLE = Person("yes", "yes", "yes", "yes", "no")
LEAST_CAUSES, MOST_CAUSES, MOST_QUESTIONS, MOST_REMEDIES = 6, 8, 8, 6
NONE_OF_THESE, WRONG, UNKNOWN = 0.05, 0.10, 0.15
# An exact optimum with more states takes too long.
MOST_STATES = 6e6


@dataclass(frozen=True)
class SubBase:
    """A problem with where it comes from."""

    where: str
    clock: ClockFacts
    causes: tuple[str, ...]
    findings: tuple[str, ...]
    problem: SmallProblem


def draw_sub_base(knowledge: Knowledge, number: int, seed: int = 2031, most_states: float = MOST_STATES) -> SubBase:
    """Return the sub-base of a number: places and kinds of clock in turn, everything else by its seed."""
    random = np.random.default_rng([seed, number])
    where, clock = PLACES[number % len(PLACES)], CLOCKS[number // len(PLACES) % len(CLOCKS)]
    base = compile_base(knowledge, clock)
    situation = Situation(where=where, person=ABLE, clock=clock)  # type: ignore[arg-type]
    causes = _look_alikes(base, knowledge, int(random.integers(LEAST_CAUSES, MOST_CAUSES + 1)), random)
    sets = [(cause,) for cause in causes]
    tried = dict.fromkeys(knowledge.remedies, MOST_TRIES - 1)
    some = _few_remedies(base, causes, knowledge, replace(situation, tried=tried))
    here = prospects(base, sets, some, replace(situation, tried=tried))
    prior = np.append((1 - NONE_OF_THESE) * base.odds[causes] / base.odds[causes].sum(), NONE_OF_THESE)
    findings, asked = _questions(base, knowledge, situation, sets, prior)
    problem = SmallProblem(prior, tuple(asked), here)
    while problem.states > most_states:
        findings, asked = findings[:-1], asked[:-1]
        problem = SmallProblem(prior, tuple(asked), here)
    return SubBase(where, clock, tuple(base.causes[cause] for cause in causes), tuple(findings), problem)


def _look_alikes(base: Base, knowledge: Knowledge, count: int, random: np.random.Generator) -> list[int]:
    """Return a cause that can be mended and those that share most of its findings, ties by chance."""
    shows = [{link.finding for link in knowledge.causes[name].shows} for name in base.causes]
    mendable = [number for number, name in enumerate(base.causes) if knowledge.causes[name].remedies]
    first = int(random.choice(mendable, p=base.odds[mendable] / base.odds[mendable].sum()))
    luck = random.random(len(shows))
    alike = [len(shows[first] & other) / max(len(shows[first] | other), 1) for other in shows]
    order = sorted(range(len(shows)), key=lambda other: (other != first, -alike[other], luck[other]))
    return order[:count]


def _few_remedies(base: Base, causes: list[int], knowledge: Knowledge, situation: Situation) -> Knowledge:
    """Return the knowledge with no more remedies than the exact optimum can weigh, the cheapest of them."""
    here = prospects(base, [(cause,) for cause in causes], knowledge, situation)
    useful = [name for name in here.remedies if set(base.remedies[name].causes) & set(causes)][:MOST_REMEDIES]
    kept = {name: entry for name, entry in knowledge.remedies.items() if name in useful or name not in here.remedies}
    return replace(knowledge, remedies=kept)


def _questions(
    base: Base, knowledge: Knowledge, situation: Situation, sets: list[tuple[int, ...]], prior: np.ndarray
) -> tuple[list[str], list[Question]]:
    """Return what may be asked here about these causes, the most telling for its minutes first."""
    forecast = forecast_of(base)
    entries = knowledge.findings
    allowed = [
        number
        for number, name in enumerate(forecast.findings)
        if may_find_out(entries[name], situation) and not takes_too_long(entries[name], situation)
    ]
    which = np.array(allowed, dtype=np.intp)
    true_values = forecast.true_values(members_of(sets, base), which)
    said = forecast.said(true_values, which, np.full(len(which), WRONG))
    minutes = np.array([finding_minutes(entries[forecast.findings[number]], knowledge.shop) for number in which])
    worth = information_about_sets(prior, said) / minutes
    best = np.argsort(-worth, kind="stable")[:MOST_QUESTIONS]
    names = [forecast.findings[int(which[place])] for place in best]
    asked = [
        Question(
            np.ascontiguousarray(said[:, place, : forecast.sizes[which[place]]].T),
            float(minutes[place]),
            level_of(entries[name].opened),
            UNKNOWN,
        )
        for place, name in zip(best, names, strict=True)
    ]
    return names, asked
