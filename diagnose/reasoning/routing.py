"""Where the work should be done: on the phone, with a part sent, on a visit, in the workshop, by a specialist."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from diagnose.model.entries import Where
from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import level_of
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.needs import Prospects, prospects
from diagnose.reasoning.planning import Repairs, repairs_only
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.tables import Base, Floats

# A part that is at least this likely to be needed is worth bringing.
WORTH_BRINGING = 0.1
# Below this a part is not named at all.
WORTH_NAMING = 0.01


@dataclass(frozen=True, slots=True)
class RouteOption:
    """One way to have the clock cured.

    Parameters
    ----------
    where : str
        phone, part (sent to the customer), visit, workshop or specialist.
    cures : float
        Chance that it is cured there [1].
    minutes : float
        Expected minutes, with the way there and with handing on what is not cured. [min]
    """

    where: str
    cures: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Route:
    """The ways to have the clock cured, and what to bring.

    Parameters
    ----------
    options : tuple of RouteOption
        In the order phone, part, visit, workshop, specialist; only those open from here.
    best : RouteOption
        The one with the fewest minutes.
    parts : tuple of (str, float)
        Parts with the chance that the cause is one that needs them, most likely first.
    """

    options: tuple[RouteOption, ...]
    best: RouteOption
    parts: tuple[tuple[str, float], ...]


def route(base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation) -> Route:
    """Return where the clock should be cured, as far as is known now.

    Parameters
    ----------
    base : Base
        The tables for this clock.
    ranking : Ranking
        Where the belief stands.
    knowledge : Knowledge
        Remedies, parts and the shop's prices.
    situation : Situation
        Where one is now.

    Returns
    -------
    Route
        A first floor: repairs in the best order without further questions, at each place.
    """
    weights = np.append(ranking.weights, ranking.other_weight)
    weights = weights / weights.sum()
    shop = knowledge.shop
    options: list[RouteOption] = []
    travel = shop.second_visit_minutes
    if situation.where == "call":
        for name, with_parts in (("phone", False), ("part", True)):
            here = prospects(base, ranking.sets, _choose(knowledge, base, with_parts), situation)
            options.append(_option(name, here, weights, level_of(situation.opened), 0.0))
        if options[1].cures <= options[0].cures:
            del options[1]
    if situation.where in {"call", "visit"}:
        way = travel if situation.where == "call" else 0.0
        options.append(_elsewhere("visit", base, ranking, knowledge, situation, weights, way))
    way = 0.0 if situation.where == "workshop" else 2 * travel
    options.append(_elsewhere("workshop", base, ranking, knowledge, situation, weights, way))
    wrong_share = float(1.0 - ranking.nothing_wrong)
    options.append(RouteOption("specialist", 1.0, shop.refer_minutes["workshop"] * wrong_share + way))
    best = min(options, key=lambda option: (option.minutes, option.where))
    return Route(tuple(options), best, _parts(base, ranking, knowledge))


def _choose(knowledge: Knowledge, base: Base, with_parts: bool) -> Knowledge:
    """Return the knowledge with or without the remedies that need a part."""
    kept = {name: entry for name, entry in knowledge.remedies.items() if with_parts or not entry.parts}
    return replace(knowledge, remedies=kept)


def _elsewhere(
    where: Where,
    base: Base,
    ranking: Ranking,
    knowledge: Knowledge,
    situation: Situation,
    weights: Floats,
    way_minutes: float,
) -> RouteOption:
    """Return what the work would come to at another place, parts brought along."""
    parts = situation.parts | {name for name, chance in _parts(base, ranking, knowledge) if chance >= WORTH_BRINGING}
    staff = situation.staff if situation.where == where else "technician"
    there = replace(situation, where=where, parts=frozenset(parts), staff=staff)
    opened = situation.opened if situation.where == where else "outside"
    return _option(where, prospects(base, ranking.sets, knowledge, there), weights, level_of(opened), way_minutes)


def _option(name: str, here: Prospects, weights: Floats, level: int, way_minutes: float) -> RouteOption:
    by_class = weights @ here.merge
    minutes = float(repairs_only(here.repairs, by_class[None, :], np.array([level], dtype=np.intp))[0])
    return RouteOption(name, float(chance_of_cure(here.repairs) @ by_class), minutes + way_minutes)


def chance_of_cure(repairs: Repairs) -> Floats:
    """Return the chance, shape (N,), that each class is cured by all tries of all remedies there are."""
    failed = np.prod((1.0 - repairs.cures) ** repairs.tries, axis=1)
    met = np.where(repairs.needs >= 0, 1.0 - failed[repairs.needs], 1.0)
    return np.asarray(np.prod(met, axis=1))


def _parts(base: Base, ranking: Ranking, knowledge: Knowledge) -> tuple[tuple[str, float], ...]:
    """Return the parts with the chance that at least one cause which needs them is there."""
    needed = [_parts_for(cause, knowledge) for cause in base.causes]
    chance: dict[str, float] = {}
    for members, weight in zip(ranking.sets, ranking.weights, strict=True):
        for part in {part for cause in members for part in needed[cause]}:
            chance[part] = chance.get(part, 0.0) + float(weight)
    total = float(ranking.weights.sum() + ranking.other_weight)
    likely = {part: weight / total for part, weight in chance.items() if weight / total >= WORTH_NAMING}
    return tuple(sorted(likely.items(), key=lambda item: (-item[1], item[0])))


def _parts_for(cause: str, knowledge: Knowledge) -> frozenset[str]:
    """Return the parts that a cause names, and those of the remedy it names first."""
    entry = knowledge.causes[cause]
    first = (knowledge.remedies[name] for name in entry.remedies[:1] if name in knowledge.remedies)
    return frozenset(entry.parts) | {part for remedy in first for part in remedy.parts}
