"""Whole consultations played with the full planner, beside a fixed order of questions and the told truth.

The same clock, the same slips of the tongue and the same luck with each remedy for every way of working: what
is said of a finding and whether a remedy works hang on the seed and on the finding or remedy alone.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from diagnose.model.entries import OPENED, Opened
from diagnose.model.observations import Answer, ClockFacts, Person
from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import Ladder, finding_minutes, level_of, shop_ladder, waiting_minutes
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.gates import Situation, may_do, tries_left
from diagnose.reasoning.needs import prospects
from diagnose.reasoning.next_step import Ask, Do, Enough, Plan, Wait, next_step
from diagnose.reasoning.planning import told_truth
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base
from diagnose.reasoning.weighing import gather
from diagnose.settings import DEFAULT, Parameters
from tests.bench.drawn_cases import ERRING, DrawnCase, Erring, draw_answer, draw_complaint, draw_value

ABLE = Person("yes", "yes", "yes", "yes", "no")
MOST_STEPS = 80
# The careful technician with a list: so many looks at most, and sure enough from this probability on.
MOST_FIXED, SURE_ENOUGH = 40, 0.9
# Below this chance a cause is not worth a repair on the off chance: the list ends there.
WORTH_A_TRY = 0.05
KINDS = ("asking", "repairs", "handing on")


@dataclass
class Played:
    """How a consultation went: minutes by kind, questions, remedies and its end."""

    spent: dict[str, float] = field(default_factory=lambda: dict.fromkeys(KINDS, 0.0))
    questions: int = 0
    remedies: int = 0
    end: str = "open"
    log: list[str] = field(default_factory=list)

    @property
    def minutes(self) -> float:
        """All minutes together."""
        return sum(self.spent.values())


@dataclass(frozen=True)
class World:
    """What stays the same over many clocks: the base, the place, how people err and what the planner knows of it."""

    base: Base
    knowledge: Knowledge
    clock: ClockFacts
    where: str
    erring: Erring = ERRING

    @property
    def parameters(self) -> Parameters:
        """The rates of this world, on a visit as on a call."""
        sure, unsure = max(self.erring.sure, LEAST_WRONG), max(self.erring.think_so, LEAST_WRONG)
        return replace(
            DEFAULT,
            wrong_sure=sure,
            wrong_think_so=unsure,
            wrong_sure_trained=sure,
            wrong_think_so_trained=unsure,
            wrong_read_off=self.erring.mean if self.erring.mean else LEAST_WRONG,
            unknown=self.erring.unknown,
        )


# Even where nobody errs the planner must not be certain of it.
LEAST_WRONG = 0.005


@dataclass
class Player:
    """One clock and the people at it."""

    world: World
    case: DrawnCase
    seed: int
    causes: frozenset[int] | None = None
    pieces: list[Piece] = field(default_factory=list)
    answers: dict[str, Answer] = field(default_factory=dict)
    known: dict[str, str] = field(default_factory=dict)
    closed: set[str] = field(default_factory=set)
    tried: dict[str, int] = field(default_factory=dict)
    opened: Opened = "outside"
    shows: dict[str, int] = field(default_factory=dict)
    place: str | None = None

    def __post_init__(self) -> None:
        self.causes = self.case.causes
        self.shows = dict(self.case.shows)
        self.base, self.knowledge = self.world.base, self.world.knowledge

    def random(self, kind: int, name: str) -> np.random.Generator:
        """Return the chance that hangs on nothing but this clock, the thing and how often it was changed."""
        order = list(self.base.tables if kind < 2 else self.base.remedies).index(name)
        return np.random.default_rng([self.seed, kind, order, self.tried.get(name, len(self.pieces))])

    def ranking(self) -> Ranking:
        """Return where the belief stands; a clock that still fails after a remedy is known not to be sound."""
        last = Piece(findings_from(self.answers.values(), (), self.knowledge, self.world.parameters))
        ranking = rank(self.base, [*self.pieces, last], self.world.parameters)
        return _still_faulty(ranking) if self.pieces else ranking

    def situation(self) -> Situation:
        """Return where one is."""
        return Situation(
            where=self.world.where,  # type: ignore[arg-type]
            person=ABLE,
            opened=self.opened,
            closed=frozenset(self.closed),
            tried=self.tried,
            clock=self.world.clock,
            values=dict(self.known),
            place=self.place,
        )

    def plan(self, only_acts: bool = False) -> Plan:
        """Return what the planner would do, or would do if nothing could be asked."""
        situation = self.situation()
        if only_acts:
            situation = replace(situation, closed=frozenset(self.base.tables))
        return next_step(self.base, self.ranking(), self.knowledge, situation, self.world.parameters)

    def ask(self, findings: tuple[str, ...], played: Played) -> None:
        """Find some things out side by side and take in what is said: every minute once, the longest wait once."""
        shop, ladder = self.knowledge.shop, self.ladder()
        wait = 0.0
        for finding in findings:
            entry = self.knowledge.findings[finding]
            here = waiting_minutes(entry.wait_hours, shop)
            wait = max(wait, here)
            played.spent["asking"] += finding_minutes(entry, shop, self.place) - here
            played.spent["asking"] += float(ladder.minutes[level_of(self.opened), level_of(entry.opened)])
            self.opened = OPENED[max(level_of(self.opened), level_of(entry.opened))]
            self.place = entry.place
            self._take_in(finding, played)
        played.spent["asking"] += wait

    def _take_in(self, finding: str, played: Played) -> None:
        table = self.base.tables[finding]
        said = draw_answer(self.shows[finding], len(table.values), self.random(0, finding), self.world.erring)
        self.closed.add(finding)
        played.questions += 1
        told = said.value is not None and self._has_sense(finding)
        if told:
            value = table.values[said.value]  # type: ignore[index]
            self.answers[finding] = Answer(finding, value, said.certainty, "told")  # type: ignore[arg-type]
            self.known[finding] = value
        played.log.append(f"ask {finding}: {self.known[finding] if told else 'cannot tell'}")

    def _has_sense(self, finding: str) -> bool:
        """Tell whether the gates of a finding are open in truth: a dead clock has no evenness of tick."""
        needs = self.knowledge.findings[finding].needs
        return all(
            self.base.tables[gate].values[self.shows[gate]] in allowed
            for gate, allowed in needs.items()
            if gate in self.base.tables
        )

    def complain(self) -> None:
        """Take in the complaint, which is true."""
        finding = draw_complaint(self.base, self.case, np.random.default_rng([self.seed, 9]))
        if finding is not None:
            value = self.base.tables[finding].values[self.shows[finding]]
            self.answers[finding] = Answer(finding, value, "sure", "told")
            self.known[finding] = value
            self.closed.add(finding)

    def ladder(self) -> Ladder:
        """Return what opening costs here."""
        return shop_ladder(self.knowledge, self.world.where, self.world.clock.family)  # type: ignore[arg-type]

    def do(self, remedy: str, minutes: float, played: Played) -> bool:
        """Do a remedy; return whether the clock is cured."""
        effect = self.base.remedies[remedy]
        works = self.random(2, remedy).random() < effect.works
        played.spent["repairs"] += minutes
        played.remedies += 1
        self.tried[remedy] = self.tried.get(remedy, 0) + 1
        mended = frozenset(effect.causes) & self.causes if self.causes and works else frozenset()
        played.log.append(f"do {remedy}")
        if self.causes is not None:
            self.causes = self.causes - mended
        if self.causes == frozenset():
            played.end = "cured"
            return True
        self._move_on(remedy, bool(mended))
        return False

    def _move_on(self, remedy: str, moved: bool) -> None:
        """Begin a new piece: what may have changed is asked anew, and shows anew where something was mended."""
        self.pieces.append(
            Piece(findings_from(self.answers.values(), (), self.knowledge, self.world.parameters), {}, remedy)
        )
        for name in self.base.remedies[remedy].stale:
            if moved:
                self.shows[name] = draw_value(self.base, name, self.causes, self.random(1, name))
            self.closed.discard(name)
            self.known.pop(name, None)
        self.answers = {}
        reach = level_of(self.knowledge.remedies[remedy].opened)
        here = self.ladder().after_repair(np.array(level_of(self.opened)), np.array(reach))
        self.opened = OPENED[int(here)]

    def hand_on(self, played: Played) -> bool:
        """Hand the clock on, at the shop's price and, on a call, with what it costs to come for the wrong cause."""
        played.end = "handed on"
        played.log.append("hand on")
        if self.causes == frozenset():
            return True
        shop = self.knowledge.shop
        played.spent["handing on"] += shop.refer_minutes[self.world.where]  # type: ignore[index]
        if self.world.where == "call" and not self._guessed():
            played.spent["handing on"] += shop.second_visit_minutes
        return True

    def _guessed(self) -> bool:
        """Tell whether what is thought likeliest needs what the clock in truth needs."""
        ranking = self.ranking()
        truth = tuple(sorted(self.causes)) if self.causes is not None else None
        sets = ranking.sets if truth is None else (*ranking.sets, truth)
        here = prospects(self.base, sets, self.knowledge, self.situation())
        weights = np.append(ranking.weights, np.zeros(len(sets) - len(ranking.sets)))
        classes = np.append(weights, ranking.other_weight) @ here.merge
        faulty = (here.repairs.needs >= 0).any(axis=1)
        row = -1 if truth is None else len(sets) - 1
        return bool(here.merge[row, int((classes * faulty).argmax())])


def _still_faulty(ranking: Ranking) -> Ranking:
    """Return the ranking of a clock that is known not to be cured, as every way of working sees at once."""
    if () not in ranking.sets:
        return ranking
    sound = ranking.sets.index(())
    weights = np.delete(ranking.weights, sound)
    total = weights.sum() + ranking.other_weight
    return replace(
        ranking,
        sets=ranking.sets[:sound] + ranking.sets[sound + 1 :],
        weights=weights / total,
        other_weight=ranking.other_weight / total,
        none_of_these=ranking.none_of_these / total,
        nothing_wrong=0.0,
        causes=tuple(replace(one, probability=min(one.probability / total, 1.0)) for one in ranking.causes),
    )


def play_planner(player: Player) -> Played:
    """Play one consultation with the full planner."""
    played = Played()
    player.complain()
    for _ in range(MOST_STEPS):
        if _take(player, player.plan(), played):
            return played
    player.hand_on(played)
    return played


def _take(player: Player, plan: Plan, played: Played) -> bool:
    """Take the step of a plan; return whether the consultation is at its end."""
    step = plan.step
    match step:
        case Ask():
            player.ask((step.finding,), played)
            return False
        case Wait():
            player.ask(step.findings, played)
            return False
        case Do():
            return player.do(step.remedy, step.cost_minutes, played)
        case Enough():
            played.end = "nothing wrong"
            return player.causes == frozenset() or player.hand_on(played)
        case _:
            return player.hand_on(played)


def fixed_order(world: World) -> list[str]:
    """Return the order in which an expert with a list asks: least opening first, then most telling for its time.

    One order for every clock, whatever has been answered; what the common causes show stands early in it.
    """
    start = Player(world, DrawnCase(frozenset(), {}), 0).situation()
    state = gather(world.base, rank(world.base, []), world.knowledge, start, world.parameters)
    findings = world.knowledge.findings
    worth = {
        state.finding(number): float(state.nats[number])
        / finding_minutes(findings[state.finding(number)], world.knowledge.shop)
        for number in range(len(state.which))
    }
    return sorted(worth, key=lambda name: (level_of(findings[name].opened), -worth[name], name))


def play_fixed(player: Player, order: list[str], by_probability: bool = False) -> Played:
    """Play one consultation with questions in a fixed order until the first place is sure, then remedies.

    With `by_probability` the remedy of the likeliest cause comes next, and the clock is handed on when nothing
    is left that is worth a try; otherwise the planner orders the remedies by what they cost and mend.
    """
    played = Played()
    player.complain()
    asked = 0
    for finding in order:
        if asked >= MOST_FIXED or _sure(player.ranking()):
            break
        needs = player.knowledge.findings[finding].needs
        shut = any(name in player.known and player.known[name] not in allowed for name, allowed in needs.items())
        if finding in player.closed or shut:
            continue
        player.ask((finding,), played)
        asked += 1
    for _ in range(MOST_STEPS):
        if by_probability:
            if _repair_likeliest(player, played):
                return played
        elif _take(player, player.plan(only_acts=True), played):
            return played
    player.hand_on(played)
    return played


def _sure(ranking: Ranking) -> bool:
    return max(ranking.causes[0].probability, ranking.nothing_wrong, ranking.none_of_these) >= SURE_ENOUGH


def _repair_likeliest(player: Player, played: Played) -> bool:
    """Try what the likeliest cause that can be mended here names first; return whether that was the end."""
    ranking, situation, knowledge = player.ranking(), player.situation(), player.knowledge
    if ranking.nothing_wrong > max(ranking.causes[0].probability, ranking.none_of_these):
        played.end = "nothing wrong"
        return player.causes == frozenset() or player.hand_on(played)
    minutes = prospects(player.base, ranking.sets, knowledge, situation)
    for cause in ranking.causes:
        if cause.probability < WORTH_A_TRY:
            break
        for name in knowledge.causes[cause.cause].remedies:
            entry = knowledge.remedies[name]
            if name in minutes.remedies and may_do(entry, situation) and tries_left(name, situation):
                repairs = minutes.repairs
                number = minutes.remedies.index(name)
                opening = repairs.ladder.minutes[level_of(player.opened), repairs.reach[number]]
                return player.do(name, float(repairs.minutes[number] + opening), played)
    return player.hand_on(played)


def told_minutes(player: Player) -> float:
    """Return the expected minutes if the truth were known at once."""
    if player.case.causes is None:
        return float(player.knowledge.shop.refer_minutes[player.world.where])  # type: ignore[index]
    sets = (tuple(sorted(player.case.causes)),)
    here = prospects(player.base, sets, player.knowledge, player.situation())
    return float(told_truth(here.repairs)[0] @ here.merge[0])
