"""Where the work should be done: on the phone, with a part sent, on a visit, in the workshop, by a specialist."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from diagnose.model.entries import RemedyEntry, Where
from diagnose.model.lists import ShopEntry
from diagnose.model.reading import Knowledge
from diagnose.reasoning.bringing import VanList, van_list
from diagnose.reasoning.costs import finding_minutes, hands_minutes, level_of, part_price, work_price
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.lookahead import NO_QUESTION_RATE, Question, minutes_per_nat
from diagnose.reasoning.part_needed import part_chances
from diagnose.reasoning.planning import Repairs, entropy_nats
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.tables import Base, Floats
from diagnose.reasoning.weighing import State, gather
from diagnose.settings import DEFAULT, Parameters

# A way that cures less often is not called the best, however quickly it is given up.
MORE_LIKELY_THAN_NOT = 0.5
# Below this a part is not named at all.
WORTH_NAMING = 0.01
# The rate of information at a place comes from so many of its questions, the most telling for their minutes.
RATE_CANDIDATES = 8
NOTHING_NATS = 1e-3


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
        Expected minutes all told: questions, work, the way there, and handing on what is not cured. By these
        the best way is chosen. [min]
    hands_minutes : float
        Expected time that hands are busy there: questions and work. [min]
    money : float
        What this way costs by itself, in the shop's currency; what is not cured costs more elsewhere.
    days : float
        Days until it is done [d].
    parts : tuple of str
        Parts that are sent or brought.
    cures_without : float, optional
        Chance that it is cured there if these parts are left out [1].
    """

    where: str
    cures: float
    minutes: float
    hands_minutes: float
    money: float
    days: float
    parts: tuple[str, ...] = ()
    cures_without: float | None = None


@dataclass(frozen=True, slots=True)
class Route:
    """The ways to have the clock cured, and what to bring.

    Parameters
    ----------
    options : tuple of RouteOption
        In the order phone, part, visit, workshop, specialist; only those open from here.
    best : RouteOption
        Of those that more likely than not cure it, the one with the fewest minutes.
    parts : tuple of (str, float)
        Parts with the chance that the cause is one that needs them, most likely first.
    van : VanList, optional
        What to put in the van; None in the workshop.
    """

    options: tuple[RouteOption, ...]
    best: RouteOption
    parts: tuple[tuple[str, float], ...]
    van: VanList | None = None


def route(
    base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation, parameters: Parameters = DEFAULT
) -> Route:
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
    parameters : Parameters
        The numbers of the reasoning.

    Notes
    -----
    Expected minutes at each place are the planner's V = min(repairs only, told truth + rate x entropy), with
    the questions that can be asked there. A chance of cure counts every try of every remedy that may be done
    there with the parts at hand; a set of causes is cured where all its needs are met.
    """
    places = _Places(base, ranking, knowledge, situation, parameters)
    shop, options = knowledge.shop, list[RouteOption]()
    van = van_list(base, ranking, knowledge, situation) if situation.where != "workshop" else None
    if situation.where == "call":
        options.extend(_from_afar(places, shop))
    if van is not None:
        options.append(_visit(places, van, shop))
    bench = places.at("workshop")
    journeys = {"call": 2, "visit": 1, "workshop": 0}[situation.where]
    way = journeys * shop.second_visit_minutes
    travel = journeys * shop.money.travel
    workshop = bench.option("workshop", way, travel, shop.days.bench_queue if journeys else 0.0)
    options.append(workshop)
    options.append(_specialist(workshop, ranking, shop, way, travel))
    worth_it = [option for option in options if option.cures >= MORE_LIKELY_THAN_NOT] or options[-1:]
    best = min(worth_it, key=lambda option: (option.minutes, option.where))
    chances = part_chances(base, ranking, knowledge)
    likely = sorted(((part, chance) for part, chance in chances.items() if chance >= WORTH_NAMING), key=_most_likely)
    return Route(tuple(options), best, tuple(likely), van)


def _most_likely(item: tuple[str, float]) -> tuple[float, str]:
    return -item[1], item[0]


def _from_afar(places: _Places, shop: ShopEntry) -> list[RouteOption]:
    """Return what can be done on the phone, and with the one part that mends most sent."""
    call = places.at("call")
    at_hand = places.situation.parts
    phone = call.with_parts(at_hand).option("phone", 0.0, shop.money.call, 0.0)
    part, cures = call.best_part(at_hand)
    if part is None or cures <= phone.cures:
        return [phone]
    sent = shop.money.call + shop.money.post + part_price(part, shop)
    with_part = call.with_parts(at_hand | {part}).option("part", 0.0, sent, shop.days.post, (part,))
    return [phone, replace(with_part, cures_without=phone.cures)]


def _visit(places: _Places, van: VanList, shop: ShopEntry) -> RouteOption:
    """Return what a visit comes to with the parts of the list in the van."""
    afar = places.situation.where == "call"
    brought = frozenset(part for part, _ in van.parts)
    visit = places.at("visit", brought)
    way, travel, days = (shop.second_visit_minutes, shop.money.travel, shop.days.visit) if afar else (0.0, 0.0, 0.0)
    at_hand = places.situation.parts
    option = visit.with_parts(at_hand | brought).option("visit", way, travel, days, tuple(p for p, _ in van.parts))
    return replace(option, cures_without=visit.with_parts(at_hand).cures) if brought else option


def _specialist(
    workshop: RouteOption, ranking: Ranking, shop: ShopEntry, way_minutes: float, travel: float
) -> RouteOption:
    """Return what a specialist comes to: most of what the workshop cannot cure too."""
    wrong_share = float(1.0 - ranking.nothing_wrong)
    cures = workshop.cures + shop.specialist_cures * (1.0 - workshop.cures)
    minutes = shop.refer_minutes["workshop"] * wrong_share + way_minutes
    return RouteOption("specialist", cures, minutes, 0.0, shop.money.specialist + travel, shop.days.specialist)


class _Places:
    """The places where the clock may be worked on, each made ready once."""

    def __init__(
        self, base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation, parameters: Parameters
    ) -> None:
        self.base, self.ranking, self.knowledge = base, ranking, knowledge
        self.situation, self.parameters = situation, parameters

    def at(self, where: Where, brought: frozenset[str] = frozenset()) -> _Place:
        """Return a place; elsewhere the clock is shut, and a technician does the work."""
        here = self.situation
        there = replace(here, parts=here.parts | brought)
        if here.where != where:
            there = replace(there, where=where, staff="technician", opened="outside", place=None)
        return _Place(gather(self.base, self.ranking, self.knowledge, there, self.parameters))


@dataclass(frozen=True, slots=True)
class _Place:
    """A place with what can be asked and done there.

    Parameters
    ----------
    state : State
        From `gather`.
    only : frozenset of str, optional
        Where given, these are all the parts there are; otherwise any can be had.
    """

    state: State
    only: frozenset[str] | None = None

    def with_parts(self, parts: frozenset[str]) -> _Place:
        """Return the same place where no other parts can be had."""
        return replace(self, only=parts)

    @property
    def entries(self) -> list[RemedyEntry]:
        """The remedies that may be done here, whatever parts there are."""
        return [self.state.knowledge.remedies[name] for name in self.state.prospects.remedies]

    @property
    def repairs(self) -> Repairs:
        """What can be done here with the parts there are."""
        repairs = self.state.prospects.repairs
        if self.only is None:
            return repairs
        useful = np.array([float(set(entry.parts) <= self.only) for entry in self.entries])
        return replace(repairs, cures=repairs.cures * useful[None, :])

    @property
    def by_class(self) -> Floats:
        """Weights of the classes of sets, shape (N,)."""
        return np.asarray(self.state.weights @ self.state.prospects.merge)

    @property
    def cures(self) -> float:
        """Chance that all is cured here [1]."""
        return float(chance_of_cure(self.repairs) @ self.by_class)

    def best_part(self, at_hand: frozenset[str]) -> tuple[str | None, float]:
        """Return the part with which most is cured here, and how much; None where no remedy here needs one."""
        parts = sorted({part for entry in self.entries for part in entry.parts} - at_hand)
        cures = {part: self.with_parts(at_hand | {part}).cures for part in parts}
        best = max(parts, key=lambda part: cures[part], default=None)
        return best, cures[best] if best is not None else 0.0

    def option(self, name: str, way: float, money: float, days: float, parts: tuple[str, ...] = ()) -> RouteOption:
        """Return what the work comes to here; `way` in minutes and `money` are added."""
        repairs, weights, state = self.repairs, self.by_class, self.state
        shop = state.knowledge.shop
        planned, busy = self._rates(repairs)
        outlook = replace(state.prospects, repairs=repairs).outlook(planned)
        level = np.array([state.level], dtype=np.intp)
        minutes = float(outlook.value(state.weights[None, :], level)[0])
        work, bought = expected_work(repairs, state.level, *self._prices())
        # No more than all told: where guessing is cheaper than asking, so much is not asked.
        hands = min(minutes, float(weights @ work) + busy * float(entropy_nats(weights[None, :])[0]))
        if state.situation.where != "call":
            # On the phone the parts sent are paid for already, and a call costs the same however long it is.
            money += work_price(hands, shop) + float(weights @ bought)
        return RouteOption(name, self.cures, minutes + way, hands, money, days, parts)

    def _prices(self) -> tuple[Floats, Floats]:
        """Return the hands-on minutes of one try of each remedy, and the price of its parts, both shape (R,)."""
        shop = self.state.knowledge.shop
        minutes = np.array([hands_minutes(entry, shop) for entry in self.entries])
        return minutes, np.array([sum(part_price(part, shop) for part in entry.parts) for entry in self.entries])

    def _rates(self, repairs: Repairs) -> tuple[float, float]:
        """Return what a nat costs here: in minutes as the plan counts them, and in minutes of busy hands.

        Where nothing tells anything, no hands are busy asking.
        """
        state = self.state
        shop, place = state.knowledge.shop, state.situation.place
        telling = np.flatnonzero(state.nats >= NOTHING_NATS)
        entries = [state.knowledge.findings[state.finding(question)] for question in telling]
        cost = np.array([finding_minutes(entry, shop, place) for entry in entries])
        best = np.argsort(-state.nats[telling] / cost, kind="stable")[:RATE_CANDIDATES] if len(telling) else telling
        sizes = state.forecast.sizes[state.which]

        def questions(minutes: Floats) -> list[Question]:
            return [
                Question(
                    np.ascontiguousarray(state.said[:, telling[n], : sizes[telling[n]]].T),
                    float(minutes[n]),
                    level_of(entries[n].opened),
                    state.unknown,
                )
                for n in best
            ]

        hands = np.array([entry.minutes for entry in entries])
        rates = [
            minutes_per_nat(questions(minutes), state.weights, state.prospects.merge, repairs.ladder, state.level)
            for minutes in (cost, hands)
        ]
        return rates[0], rates[1] if rates[1] < NO_QUESTION_RATE else 0.0


def chance_of_cure(repairs: Repairs) -> Floats:
    """Return the chance, shape (N,), that each class is cured by all tries of all remedies there are."""
    failed = np.prod((1.0 - repairs.cures) ** repairs.tries, axis=1)
    met = np.where(repairs.needs >= 0, 1.0 - failed[repairs.needs], 1.0)
    return np.asarray(np.prod(met, axis=1))


def expected_work(repairs: Repairs, level: int, minutes: Floats, price: Floats) -> tuple[Floats, Floats]:
    """Return how long hands are busy with each class once it is known, and what its parts cost.

    Parameters
    ----------
    repairs : Repairs
        What can be done; its remedies are taken in their order, each as often as it may be tried, until the
        need is met. Only what goes deeper than before is opened.
    level : int
        How far the clock is open.
    minutes, price : ndarray, shape (R,)
        Hands-on minutes of one try, and the price of the parts, which are used once.

    Returns
    -------
    minutes, price : ndarray, shape (N,)
        Nothing for a class that cannot be cured here: it is handed on. [min, currency]
    """
    works, tries = repairs.cures, repairs.tries[None, :]
    failed = (1.0 - works) ** tries
    # Chance that the remedies before have all failed, shape (G, R).
    reached = np.concatenate([np.ones((len(works), 1)), np.cumprod(failed, axis=1)[:, :-1]], axis=1)
    reached = np.where((works > 0) & (tries > 0), reached, 0.0)
    times = np.where(works > 0, (1.0 - failed) / np.where(works > 0, works, 1.0), 0.0)
    opening = np.where(reached > 0, repairs.ladder.minutes[level, repairs.reach][None, :], 0.0)
    before = np.concatenate([np.zeros((len(works), 1)), np.maximum.accumulate(opening, axis=1)[:, :-1]], axis=1)
    busy = (reached * (times * minutes[None, :] + np.maximum(opening - before, 0.0))).sum(axis=1)
    paid = (reached * price[None, :]).sum(axis=1)
    counts = (repairs.needs >= 0) & ~repairs.hopeless[:, None]
    each = [np.where(counts, value[repairs.needs], 0.0).sum(axis=1) for value in (busy, paid)]
    return each[0], each[1]
