"""Where the work should be done: on the phone, with a part sent, on a visit, in the workshop, by a specialist."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from diagnose.model.entries import RemedyEntry, Where
from diagnose.model.lists import ShopEntry
from diagnose.model.reading import Knowledge
from diagnose.reasoning.bringing import WORTH_NAMING, VanList, van_list
from diagnose.reasoning.costs import finding_minutes, hands_minutes, level_of, part_price, work_price
from diagnose.reasoning.forecast import forecast_of, information_about_sets, members_of, wrong_rate
from diagnose.reasoning.gates import Situation, gate_met, may_find_out
from diagnose.reasoning.lookahead import NO_QUESTION_RATE, Question, minutes_per_nat
from diagnose.reasoning.needs import Prospects, prospects
from diagnose.reasoning.part_needed import part_chances
from diagnose.reasoning.planning import Repairs, entropy_nats, repairs_only, told_truth
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.tables import Base, Floats, Indices
from diagnose.settings import DEFAULT, Parameters

# A way that cures less often is not called the best, however quickly it is given up.
MORE_LIKELY_THAN_NOT = 0.5
# The rate of information at a place comes from so many of its questions, the most telling for their minutes.
RATE_CANDIDATES = 8
# What the questions tell is reckoned over so many of the weightiest sets.
RATE_SETS = 48
# A part is sent only where it adds at least so much to the chance of cure.
PART_ADDS = 0.01
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
    if part is None or cures < phone.cures + PART_ADDS:
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
    """The places where the clock may be worked on, with what may be asked and what would be said."""

    def __init__(
        self, base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation, parameters: Parameters
    ) -> None:
        self.base, self.ranking, self.knowledge = base, ranking, knowledge
        self.situation, self.parameters = situation, parameters
        weights = np.append(ranking.weights, ranking.other_weight)
        self.weights = weights / weights.sum()
        self.asked = self._asked()

    def _asked(self) -> _Asked:
        """Return what the questions tell, from the weightiest sets only: it is the price of a nat that is wanted."""
        forecast, shut = forecast_of(self.base), self.situation.closed | self.situation.later
        entries = self.knowledge.findings
        which = np.array(
            [
                number
                for number, name in enumerate(forecast.findings)
                if name not in shut and gate_met(entries[name], self.situation, self.knowledge)
            ],
            dtype=np.intp,
        )
        kept = np.sort(np.argsort(-self.weights[:-1], kind="stable")[:RATE_SETS])
        members = members_of([self.ranking.sets[number] for number in kept], self.base)
        wrong = np.array([self._wrong(forecast.findings[number]) for number in which])
        said = forecast.said(forecast.true_values(members, which), which, wrong)
        rows = np.append(kept, len(self.weights) - 1)
        weights = self.weights[rows] / self.weights[rows].sum()
        nats = information_about_sets(weights, said)
        names = tuple(forecast.findings[number] for number in which)
        return _Asked(names, forecast.sizes[which], rows, weights, said, nats)

    def _wrong(self, finding: str) -> float:
        return wrong_rate(self.knowledge.findings[finding], self.situation.where, self.parameters)

    def at(self, where: Where, brought: frozenset[str] = frozenset()) -> _Place:
        """Return a place; elsewhere the clock is shut, and a technician does the work."""
        here = self.situation
        there = replace(here, parts=here.parts | brought)
        if here.where != where:
            there = replace(there, where=where, staff="technician", opened="outside", place=None)
        return _Place(self, there, prospects(self.base, self.ranking.sets, self.knowledge, there))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What each question would tell, wherever it may be asked.

    Parameters
    ----------
    findings : tuple of str, Q
        The questions.
    sizes : ndarray of int, shape (Q,)
        How many values each has.
    rows : ndarray of int, shape (K,)
        The sets that are looked at, as rows of all sets.
    weights : ndarray, shape (K,)
        Their weights; they add up to 1.
    said : ndarray, shape (K, Q, V)
        Chance of each answer.
    nats : ndarray, shape (Q,)
        What each tells about the sets. [nat]
    """

    findings: tuple[str, ...]
    sizes: Indices
    rows: Indices
    weights: Floats
    said: Floats
    nats: Floats


@dataclass(frozen=True, slots=True)
class _Place:
    """A place with what can be asked and done there.

    Parameters
    ----------
    places : _Places
        What all places share.
    situation : Situation
        The place.
    here : Prospects
        What can be done here, whatever parts there are.
    only : frozenset of str, optional
        Where given, these are all the parts there are; otherwise any can be had.
    """

    places: _Places
    situation: Situation
    here: Prospects
    only: frozenset[str] | None = None

    def with_parts(self, parts: frozenset[str]) -> _Place:
        """Return the same place where no other parts can be had."""
        return replace(self, only=parts)

    @property
    def entries(self) -> list[RemedyEntry]:
        """The remedies that may be done here, whatever parts there are."""
        return [self.places.knowledge.remedies[name] for name in self.here.remedies]

    @property
    def repairs(self) -> Repairs:
        """What can be done here with the parts there are."""
        repairs = self.here.repairs
        if self.only is None:
            return repairs
        useful = np.array([float(set(entry.parts) <= self.only) for entry in self.entries])
        return replace(repairs, cures=repairs.cures * useful[None, :])

    @property
    def by_class(self) -> Floats:
        """Weights of the classes of sets, shape (N,)."""
        return np.asarray(self.places.weights @ self.here.merge)

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
        repairs, weights, shop = self.repairs, self.by_class, self.places.knowledge.shop
        level = level_of(self.situation.opened)
        planned, busy = self._rates(repairs)
        levels = np.array([level], dtype=np.intp)
        entropy = float(entropy_nats(weights[None, :])[0])
        asked = float(weights @ told_truth(repairs)[level]) + planned * entropy
        minutes = min(asked, float(repairs_only(repairs, weights[None, :], levels)[0]))
        work, bought = expected_work(repairs, level, *self._prices())
        # No more than all told: where guessing is cheaper than asking, so much is not asked.
        hands = min(minutes, float(weights @ work) + busy * entropy)
        if self.situation.where != "call":
            # On the phone the parts sent are paid for already, and a call costs the same however long it is.
            money += work_price(hands, shop) + float(weights @ bought)
        return RouteOption(name, self.cures, minutes + way, hands, money, days, parts)

    def _prices(self) -> tuple[Floats, Floats]:
        """Return the hands-on minutes of one try of each remedy, and the price of its parts, both shape (R,)."""
        shop = self.places.knowledge.shop
        minutes = np.array([hands_minutes(entry, shop) for entry in self.entries])
        return minutes, np.array([sum(part_price(part, shop) for part in entry.parts) for entry in self.entries])

    def _rates(self, repairs: Repairs) -> tuple[float, float]:
        """Return what a nat costs here: in minutes as the plan counts them, and in minutes of busy hands.

        Where nothing tells anything, no hands are busy asking.
        """
        asked, knowledge = self.places.asked, self.places.knowledge
        telling = [
            number
            for number in np.flatnonzero(asked.nats >= NOTHING_NATS).tolist()
            if may_find_out(knowledge.findings[asked.findings[number]], self.situation)
        ]
        entries = [knowledge.findings[asked.findings[number]] for number in telling]
        cost = np.array([finding_minutes(entry, knowledge.shop, self.situation.place) for entry in entries])
        best = np.argsort(-asked.nats[telling] / cost, kind="stable")[:RATE_CANDIDATES].tolist() if telling else []
        hands = np.array([entry.minutes for entry in entries])
        unknown, level = self.places.parameters.unknown, level_of(self.situation.opened)
        tables = [np.ascontiguousarray(asked.said[:, telling[n], : asked.sizes[telling[n]]].T) for n in best]
        rates = []
        for minutes in (cost, hands):
            questions = [
                Question(table, float(minutes[n]), level_of(entries[n].opened), unknown)
                for n, table in zip(best, tables, strict=True)
            ]
            merge = self.here.merge[asked.rows]
            rates.append(minutes_per_nat(questions, asked.weights, merge, repairs.ladder, level))
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
