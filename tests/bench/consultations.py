"""Whole consultations played with the full planner, beside a fixed order of questions and the told truth."""

from dataclasses import dataclass, field, replace

import numpy as np

from diagnose.model.entries import OPENED, Opened
from diagnose.model.observations import Answer, ClockFacts, Person
from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import level_of, shop_ladder
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.needs import prospects
from diagnose.reasoning.next_step import Ask, Do, Enough, Plan, Refer, Wait, next_step
from diagnose.reasoning.planning import told_truth
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base
from tests.bench.drawn_cases import DrawnCase, draw_answer, draw_complaint, draw_value

ABLE = Person("yes", "yes", "yes", "yes", "no")
MOST_STEPS = 80
SURE_ENOUGH = 0.9
MOST_FIXED = 40


@dataclass
class Played:
    """How a consultation went."""

    minutes: float = 0.0
    questions: int = 0
    remedies: int = 0
    end: str = "open"
    log: list[str] = field(default_factory=list)


@dataclass
class Player:
    """One clock and the people at it."""

    base: Base
    knowledge: Knowledge
    clock: ClockFacts
    where: str
    case: DrawnCase
    random: np.random.Generator
    causes: frozenset[int] | None = None
    pieces: list[Piece] = field(default_factory=list)
    answers: dict[str, Answer] = field(default_factory=dict)
    closed: set[str] = field(default_factory=set)
    tried: dict[str, int] = field(default_factory=dict)
    opened: Opened = "outside"
    shows: dict[str, int] = field(default_factory=dict)
    place: str | None = None

    def __post_init__(self) -> None:
        self.causes = self.case.causes
        self.shows = dict(self.case.shows)

    def ranking(self) -> Ranking:
        last = Piece(findings_from(self.answers.values(), (), self.knowledge))
        return rank(self.base, [*self.pieces, last])

    def situation(self, closed: frozenset[str] | None = None) -> Situation:
        said = {name: answer.value for name, answer in self.answers.items() if answer.value is not None}
        return Situation(
            where=self.where,  # type: ignore[arg-type]
            person=ABLE,
            opened=self.opened,
            closed=frozenset(self.closed) if closed is None else closed,
            tried=self.tried,
            clock=self.clock,
            values=said,
            place=self.place,
        )

    def plan(self, only_acts: bool = False) -> Plan:
        every = frozenset(self.base.tables) if only_acts else None
        return next_step(self.base, self.ranking(), self.knowledge, self.situation(every))

    def answer(self, finding: str, played: Played) -> None:
        """Ask a finding and take in what is said."""
        table, entry = self.base.tables[finding], self.knowledge.findings[finding]
        said = draw_answer(self.shows[finding], len(table.values), self.random)
        self.closed.add(finding)
        if said.value is not None:
            value = table.values[said.value]
            self.answers[finding] = Answer(finding, value, said.certainty, "told")  # type: ignore[arg-type]
        self.opened = OPENED[max(level_of(self.opened), level_of(entry.opened))]
        self.place = entry.place
        played.questions += 1
        played.log.append(f"ask {finding}: {'cannot tell' if said.value is None else table.values[said.value]}")

    def complain(self) -> None:
        """Take in the complaint, which is true."""
        finding = draw_complaint(self.base, self.case, self.random)
        if finding is not None:
            value = self.base.tables[finding].values[self.shows[finding]]
            self.answers[finding] = Answer(finding, value, "sure", "told")
            self.closed.add(finding)

    def do(self, remedy: str, played: Played) -> bool:
        """Do a remedy; return whether the clock is cured."""
        effect = self.base.remedies[remedy]
        played.remedies += 1
        self.tried[remedy] = self.tried.get(remedy, 0) + 1
        if self.causes is not None and set(effect.causes) & self.causes and self.random.random() < effect.works:
            self.causes = self.causes - set(effect.causes)
        played.log.append(f"do {remedy}")
        if self.causes == frozenset():
            return True
        self._move_on(remedy)
        return False

    def _move_on(self, remedy: str) -> None:
        """Begin a new piece: what the remedy may have changed shows anew, and its proof is looked at."""
        stale = self.base.remedies[remedy].stale
        self.pieces.append(Piece(findings_from(self.answers.values(), (), self.knowledge), {}, remedy))
        for name in stale:
            self.shows[name] = draw_value(self.base, name, self.causes, self.random)
            self.closed.discard(name)
        self.answers = {}
        ladder = shop_ladder(self.knowledge, self.where, self.clock.family)  # type: ignore[arg-type]
        reach = level_of(self.knowledge.remedies[remedy].opened)
        here = ladder.after_repair(np.array(level_of(self.opened)), np.array(reach))
        self.opened = OPENED[int(here)]


def play_planner(player: Player) -> Played:
    """Play one consultation with the full planner."""
    played = Played()
    player.complain()
    for _ in range(MOST_STEPS):
        plan = player.plan()
        if _take(player, plan, played):
            return played
    return _handed_on(player, played)


def _take(player: Player, plan: Plan, played: Played) -> bool:
    """Take the step of a plan; return whether the consultation is at its end."""
    step = plan.step
    match step:
        case Ask():
            played.minutes += step.cost_minutes
            player.answer(step.finding, played)
            return False
        case Wait():
            played.minutes += step.cost_minutes
            for finding in step.findings:
                player.answer(finding, played)
            return False
        case Do():
            played.minutes += step.cost_minutes
            if player.do(step.remedy, played):
                played.end = "cured"
                return True
            return False
        case Enough():
            played.end = "nothing wrong"
            if player.causes != frozenset():
                _handed_on(player, played)
            return True
        case _:
            _handed_on(player, played)
            return True


def _handed_on(player: Player, played: Played) -> Played:
    price = player.knowledge.shop.refer_minutes[player.where]  # type: ignore[index]
    played.minutes += price if player.causes != frozenset() else 0.0
    played.end = "handed on"
    played.log.append("hand on")
    return played


def fixed_order(player: Player) -> list[str]:
    """Return the order in which an expert with a list asks: least opening first, then most telling for its time.

    One order for every clock, whatever has been answered.
    """
    knowledge, base = player.knowledge, player.base
    everything = next_step_information(player)
    return sorted(
        everything,
        key=lambda name: (level_of(knowledge.findings[name].opened), -everything[name], name),
    ) or list(base.tables)


def next_step_information(player: Player) -> dict[str, float]:
    """Return information per minute of each finding that may be asked, before anything is known."""
    from diagnose.reasoning.weighing import gather
    from diagnose.settings import DEFAULT

    start = replace(player.situation(), closed=frozenset(), values={})
    state = gather(player.base, rank(player.base, []), player.knowledge, start, DEFAULT)
    return {
        state.finding(number): float(state.nats[number]) / player.knowledge.findings[state.finding(number)].minutes
        for number in range(len(state.which))
    }


def play_fixed(player: Player, order: list[str]) -> Played:
    """Play one consultation with questions in a fixed order until the first place is sure, then remedies."""
    played = Played()
    player.complain()
    ladder = shop_ladder(player.knowledge, player.where, player.clock.family)  # type: ignore[arg-type]
    asked = 0
    for finding in order:
        if asked >= MOST_FIXED or player.ranking().causes[0].probability >= SURE_ENOUGH:
            break
        entry = player.knowledge.findings[finding]
        needs = entry.needs
        shut = any(
            name in player.answers and player.answers[name].value not in allowed for name, allowed in needs.items()
        )
        if finding in player.closed or shut:
            continue
        played.minutes += entry.minutes + ladder.minutes[level_of(player.opened), level_of(entry.opened)]
        player.answer(finding, played)
        asked += 1
    for _ in range(MOST_STEPS):
        if _take(player, player.plan(only_acts=True), played):
            return played
    return _handed_on(player, played)


def told_minutes(player: Player) -> float:
    """Return the expected minutes if the truth were known at once."""
    if player.case.causes is None:
        return float(player.knowledge.shop.refer_minutes[player.where])  # type: ignore[index]
    sets = (tuple(sorted(player.case.causes)),)
    here = prospects(player.base, sets, player.knowledge, player.situation())
    return float(told_truth(here.repairs)[0] @ here.merge[0])


def refers(plan: Plan) -> bool:
    """Tell whether a plan hands the clock on."""
    return isinstance(plan.step, Refer)
