"""The whole way of the data in one pure step: from answers to findings, rules, ranking and next step."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.model.observations import Answer, ClockFacts, Measurement
from diagnose.model.reading import Knowledge
from diagnose.reasoning.bringing import VanList, shortening_look, van_list
from diagnose.reasoning.changes import CHANGED
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.next_step import Plan, Route, Situation, next_step, route
from diagnose.reasoning.ranking import Piece, Ranking, effect_of, rank
from diagnose.reasoning.rules import Conclusions, run_rules
from diagnose.reasoning.tables import Base, compile_base
from diagnose.reasoning.values import Finding
from diagnose.reasoning.weighing import State, gather
from diagnose.settings import DEFAULT, Parameters


@dataclass(frozen=True, slots=True)
class Stretch:
    """What was told and measured between two remedies.

    Parameters
    ----------
    answers : tuple of Answer
        In the order given; a later answer to the same finding replaces an earlier one.
    measurements : tuple of Measurement
        Measured quantities.
    weighed : tuple of Finding
        Findings whose likelihood is already known, such as a fit.
    remedy : str, optional
        The remedy tried at the end; None for the last stretch.
    """

    answers: tuple[Answer, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    weighed: tuple[Finding, ...] = ()
    remedy: str | None = None


@dataclass(frozen=True, slots=True)
class Assessment:
    """Where a consultation stands.

    Parameters
    ----------
    base : Base
        The tables for this clock.
    pieces : tuple of Piece
        What went into the ranking, cut by remedies.
    findings : tuple of Finding
        What counts now: of all pieces, the newest of each.
    conclusions : Conclusions
        What the rules fired.
    ranking : Ranking
        The causes.
    closed : frozenset of str
        Findings that need not be asked.
    """

    base: Base
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    conclusions: Conclusions
    ranking: Ranking
    closed: frozenset[str]


NOTHING_FIRED = Conclusions(())
_bases: dict[tuple[int, ClockFacts, Parameters, bool], tuple[Knowledge, Base]] = {}
_MOST_BASES = 32


def base_for(knowledge: Knowledge, clock: ClockFacts, parameters: Parameters = DEFAULT, checkup: bool = False) -> Base:
    """Return the tables for a clock, made once for each kind of clock."""
    kind = replace(clock, id="", beats_per_hour=None)
    key = (id(knowledge), kind, parameters, checkup)
    if key not in _bases:
        if len(_bases) >= _MOST_BASES:
            _bases.clear()
        # The knowledge is kept beside its tables, so that its id cannot be given to another meanwhile.
        _bases[key] = (knowledge, compile_base(knowledge, kind, parameters, checkup))
    return _bases[key][1]


def assess(
    stretches: Sequence[Stretch],
    knowledge: Knowledge,
    clock: ClockFacts,
    parameters: Parameters = DEFAULT,
    checkup: bool = False,
) -> Assessment:
    """Rank the causes from all that was told, measured and tried.

    Parameters
    ----------
    stretches : sequence of Stretch
        The last one has no remedy.
    knowledge : Knowledge
        The base.
    clock : ClockFacts
        Which clock.
    parameters : Parameters
        The numbers of the reasoning.
    checkup : bool
        Nothing may be wrong: somebody only wants the clock checked.
    """
    base = base_for(knowledge, clock, parameters, checkup)
    pieces: list[Piece] = []
    current: dict[str, Finding] = {}
    known: dict[str, str | None] = {}
    closed: set[str] = set()
    conclusions = NOTHING_FIRED
    for stretch in stretches:
        findings = _findings(stretch, knowledge, parameters, known)
        current.update({finding.finding: finding for finding in findings})
        # Of what only a change speaks somebody may still be asked.
        closed |= {finding.finding for finding in findings if finding.source != CHANGED}
        closed |= {answer.finding for answer in stretch.answers if answer.state == "cannot-tell"}
        # Nothing told, nothing to fire: the first question need not wait for the rules to be made ready.
        conclusions = run_rules(tuple(current.values()), knowledge, base) if current else NOTHING_FIRED
        inferred = _inferred_here(conclusions, {finding.finding for finding in findings})
        usable = tuple(finding for finding in (*findings, *inferred) if finding.finding in base.tables)
        pieces.append(Piece(usable, conclusions.weights, stretch.remedy))
        if stretch.remedy is not None:
            stale = effect_of(stretch.remedy, knowledge, base).stale
            current = {name: finding for name, finding in current.items() if name not in stale}
            known = {name: value for name, value in known.items() if name not in stale}
            closed -= stale
    ranking = rank(base, pieces or [Piece(())], parameters)
    closed |= _gates_passed(current, knowledge)
    return Assessment(base, tuple(pieces), tuple(current.values()), conclusions, ranking, frozenset(closed))


def _gates_passed(current: Mapping[str, Finding], knowledge: Knowledge) -> set[str]:
    """Return the findings whose only value that leaves an answered one its sense is thereby known.

    Who says how even the tick is has heard it tick; nobody is asked whether it ticks.
    """
    answered = (knowledge.findings[name] for name, finding in current.items() if finding.source != CHANGED)
    return {gate for entry in answered for gate, allowed in entry.needs.items() if len(allowed) == 1}


def _inferred_here(conclusions: Conclusions, answered: set[str]) -> tuple[Finding, ...]:
    """Return what follows from something answered in this stretch; what followed before was counted then."""
    grounds = {
        firing.finding: {name for name, _ in firing.grounds} for firing in conclusions.firings if firing.kind == "infer"
    }
    return tuple(item for item in conclusions.inferred if grounds.get(item.finding, set()) & answered)


def _findings(
    stretch: Stretch, knowledge: Knowledge, parameters: Parameters, known: dict[str, str | None]
) -> list[Finding]:
    """Return the findings of a stretch whose gates are open; `known` gathers the said values."""
    findings = {
        finding.finding: finding
        for finding in findings_from(stretch.answers, stretch.measurements, knowledge, parameters)
    }
    findings.update({finding.finding: finding for finding in stretch.weighed})
    known.update({name: finding.said for name, finding in findings.items()})
    return [finding for finding in findings.values() if gate_open(knowledge, finding.finding, known)]


def gate_open(knowledge: Knowledge, finding: str, known: Mapping[str, str | None]) -> bool:
    """Return False where a finding makes no sense because of what is known of another.

    A gate that nobody has answered is open: the finding would not have been answered otherwise.
    """
    needs = knowledge.findings[finding].needs
    return all(known.get(other) is None or known[other] in allowed for other, allowed in needs.items())


def plan_for(
    assessment: Assessment, knowledge: Knowledge, situation: Situation, parameters: Parameters = DEFAULT
) -> Plan:
    """Return the next step from where a consultation stands."""
    situation = replace(situation, closed=situation.closed | assessment.closed)
    return next_step(assessment.base, assessment.ranking, knowledge, situation, parameters)


def route_for(assessment: Assessment, knowledge: Knowledge, situation: Situation) -> Route:
    """Return where the work should be done."""
    situation = replace(situation, closed=situation.closed | assessment.closed)
    return route(assessment.base, assessment.ranking, knowledge, situation)


def state_for(
    assessment: Assessment, knowledge: Knowledge, situation: Situation, parameters: Parameters = DEFAULT
) -> State:
    """Return what may be asked now and what would be said: what a look at a part or a list of parts rests on."""
    situation = replace(situation, closed=situation.closed | assessment.closed)
    return gather(assessment.base, assessment.ranking, knowledge, situation, parameters)


def van_for(assessment: Assessment, state: State) -> VanList:
    """Return what to put in the van, with the look that would shorten the list most."""
    found = van_list(assessment.base, assessment.ranking, state.knowledge, state.situation)
    return replace(found, look=shortening_look(state, assessment.ranking.sets))


def said_values(findings: Iterable[Finding]) -> dict[str, str]:
    """Return what was said of each finding."""
    return {finding.finding: finding.said for finding in findings if finding.said is not None}
