"""Who may do what where: the gates that no price opens."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from diagnose.model.entries import OPENED, CautionEntry, FindingEntry, Opened, RemedyEntry, Step, Where
from diagnose.model.observations import ClockFacts, Person
from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import level_of
from diagnose.reasoning.tables import fits

# A remedy is tried at most twice; then it goes elsewhere.
MOST_TRIES = 2
# Nobody holds the line for one finding longer than this; what takes longer is homework or waits for a visit. [min]
LINE_MINUTES = 3.0
# On a visit and at the bench one looks at something else meanwhile, up to this long. [h]
VISIT_WAIT_HOURS = 1.0
OWNERS = frozenset({"owner", "owner-on-the-phone"})
ON_A_VISIT = OWNERS | {"technician"}
NOBODY_KNOWN = Person()
ANY_CLOCK = ClockFacts()
PROVED = frozenset({"reviewed", "proven"})


@dataclass(frozen=True, slots=True)
class Situation:
    """Where the work is done, by whom, and what is already known, tried or put off.

    Parameters
    ----------
    where : str
        call, visit or workshop.
    person : Person
        On a call: what the one at the clock can do; an unknown counts as no.
    opened : str
        How far the clock is open now.
    closed : frozenset of str
        Findings answered, or that nobody can tell: never asked again.
    later : frozenset of str
        Findings put on the visit list: not asked now.
    tried : mapping of str to int
        How often each remedy was tried.
    staff : str
        technician, trainee or phone.
    clock : ClockFacts
        Which clock; its family says how far open it can run.
    values : mapping of str to str
        What was said of the findings that are answered: it opens and shuts the gates of others.
    place : str, optional
        The place one is looking at now.
    parts : frozenset of str
        Parts that are at hand.
    warned : frozenset of str
        Cautions that the rules have raised from what was seen.
    """

    where: Where = "call"
    person: Person = NOBODY_KNOWN
    opened: Opened = "outside"
    closed: frozenset[str] = frozenset()
    later: frozenset[str] = frozenset()
    tried: Mapping[str, int] = field(default_factory=dict)
    staff: str = "technician"
    clock: ClockFacts = ANY_CLOCK
    values: Mapping[str, str] = field(default_factory=dict)
    place: str | None = None
    parts: frozenset[str] = frozenset()
    warned: frozenset[str] = frozenset()


def may_reach(opened: Opened, situation: Situation) -> bool:
    """Tell whether the clock may be opened so far here.

    On a call nothing behind the door without reaching it from the floor, nothing behind the hood without
    having used small tools, and never a movement out of its case.
    """
    if situation.where != "call":
        return True
    level = level_of(opened)
    if level <= level_of("door"):
        return True
    if situation.person.reaches != "yes":
        return False
    if level <= level_of("hood"):
        return True
    return level <= level_of("dial") and situation.person.tools == "yes"


def may_find_out(entry: FindingEntry, situation: Situation) -> bool:
    """Tell whether a finding may be asked or looked for here; never where that is a danger."""
    if entry.risk == "danger":
        return False
    if situation.where == "call":
        return not entry.told and entry.who in OWNERS and may_reach(entry.opened, situation)
    return entry.who in ON_A_VISIT or situation.where == "workshop"


def takes_too_long(entry: FindingEntry, situation: Situation) -> bool:
    """Tell whether a finding is homework: it needs waiting, or longer than anybody holds the line."""
    if situation.where == "call":
        return entry.wait_hours > 0 or entry.minutes > LINE_MINUTES
    return entry.wait_hours > VISIT_WAIT_HOURS


def may_do(entry: RemedyEntry, situation: Situation) -> bool:
    """Tell whether a remedy may be done here, by the one at the clock."""
    if not fits(entry.applies, situation.clock):
        return False
    grave = any(step.under_load or step.cannot_be_undone for step in entry.steps)
    if situation.where != "call":
        trained = situation.staff != "trainee" or not grave
        return trained and (entry.who in ON_A_VISIT or situation.where == "workshop")
    person = situation.person
    if entry.who not in OWNERS or any(step.who not in OWNERS | {None} for step in entry.steps):
        return False
    if grave and entry.status not in PROVED:
        return False
    if _takes_two(entry, situation.clock) and not (person.helper == "yes" and person.lifts == "yes"):
        return False
    if entry.tools and person.tools != "yes":
        return False
    return may_reach(entry.opened, situation)


def _takes_two(entry: RemedyEntry, clock: ClockFacts) -> bool:
    """Tell whether a helper is needed: always, or for this family; an unknown family may be a tall case."""
    return (
        entry.helper_needed
        or clock.family in entry.helper_families
        or (clock.family == "unknown" and bool(entry.helper_families))
    )


def fitting_cautions(
    names: Iterable[str], knowledge: Knowledge, clock: ClockFacts, person: Person = NOBODY_KNOWN
) -> tuple[str, ...]:
    """Return the cautions that concern this clock and this person, each once; what is unknown leaves them standing.

    Parameters
    ----------
    names : iterable of str
        Ids of cautions.
    knowledge : Knowledge
        Says what each is about.
    clock, person
        As far as known.
    """
    return tuple(
        name
        for name in dict.fromkeys(names)
        if name in knowledge.cautions and _concerns(knowledge.cautions[name], clock, person)
    )


def _concerns(entry: CautionEntry, clock: ClockFacts, person: Person) -> bool:
    known = {field: getattr(person, field) for field in entry.person}
    return fits(entry.applies, clock) and all(
        value == "unknown" or value in entry.person[field] for field, value in known.items()
    )


def step_cautions(entry: RemedyEntry, step: Step, knowledge: Knowledge) -> tuple[str, ...]:
    """Return the cautions that stand again at a step: its own, or the dangers of the remedy where it is under load."""
    if step.cautions or not step.under_load:
        return step.cautions
    return tuple(name for name in entry.cautions if knowledge.cautions[name].level == "danger")


def tries_left(remedy: str, situation: Situation) -> int:
    """Return how often a remedy may still be tried."""
    return max(0, MOST_TRIES - situation.tried.get(remedy, 0))


def gate_met(entry: FindingEntry, situation: Situation, knowledge: Knowledge) -> bool:
    """Tell whether what is known leaves a finding meaning something.

    A gate that is answered must have an allowed value. One that is not must allow its normal value, which
    is then taken for granted; how likely that is the planner checks against the ranking.
    """
    for name, allowed in entry.needs.items():
        said = situation.values.get(name)
        if said is not None:
            if said not in allowed:
                return False
        elif knowledge.findings[name].normal not in allowed:
            return False
    return True


def open_gates(entry: FindingEntry, situation: Situation) -> tuple[str, ...]:
    """Return the findings whose value a finding takes for granted."""
    return tuple(name for name in entry.needs if name not in situation.values)


def apart(one: str, other: str, situation: Situation, knowledge: Knowledge) -> bool:
    """Tell whether two findings can be asked in one breath: neither is the other, nor its gate still open."""
    findings = knowledge.findings
    before_one, before_other = (open_gates(findings[name], situation) for name in (one, other))
    return one != other and one not in before_other and other not in before_one


def deepest(one: Opened, other: Opened) -> Opened:
    """Return the deeper of two levels."""
    return OPENED[max(level_of(one), level_of(other))]
