"""What the tests of each topic share: causes beside look-alikes, published rows, and the ranking they are held to."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.rules import run_rules
from diagnose.reasoning.tables import Base, compile_base

Said = dict[str, str]


class Pair(NamedTuple):
    """A cause with what is said of it, and a look-alike with what is said of that (common practice, no source)."""

    clock: str
    cause: str
    said: Said
    look_alike: str
    said_of_look_alike: Said


class Published(NamedTuple):
    """A symptom with its cause and remedy as printed; `source` names text and place."""

    source: str
    clock: str
    said: Said
    cause: str
    remedy: str


def answers_in(text: str) -> Said:
    """Return answers from "finding=value finding=value"."""
    return dict(item.split("=") for item in text.split())


def twin(clock: str, cause: str, told: str, look_alike: str, told_of_look_alike: str) -> Pair:
    """Return a pair from answers written in a line."""
    return Pair(clock, cause, answers_in(told), look_alike, answers_in(told_of_look_alike))


def row_of(source: str, clock: str, told: str, cause: str, remedy: str) -> Published:
    """Return a published row from answers written in a line."""
    return Published(source, clock, answers_in(told), cause, remedy)


@lru_cache(maxsize=1)
def shipped() -> Knowledge:
    """Return the shipped knowledge; what entries say of each other is checked for all files at once elsewhere."""
    return read_knowledge(check=False)


@lru_cache(maxsize=8)
def base_of(family: str, escapement: str = "unknown") -> Base:
    """Return the tables for a striking clock of a family, with the drive that is usual for it."""
    drive = "weight-cable" if family == "floor" else "spring"
    return compile_base(shipped(), ClockFacts(family=family, drive=drive, strike="rack", escapement=escapement))


def ranked_in(base: Base, answers: Said) -> list[str]:
    """Return the causes, most likely first."""
    findings = findings_from([Answer(name, value) for name, value in answers.items()], (), shipped())
    conclusions = run_rules(findings, shipped(), base)
    inferred = tuple(item for item in conclusions.inferred if item.finding not in answers)
    used = tuple(item for item in (*findings, *inferred) if item.finding in base.tables)
    return [ranked.cause for ranked in rank(base, [Piece(used, conclusions.weights)]).causes]


def of_files(knowledge: Knowledge, collection: str, names: tuple[str, ...]) -> list[str]:
    """Return the ids of a collection that stand in these files."""
    files = {f"knowledge/{collection}/{name}.yaml" for name in names}
    return [key for (kind, key), place in knowledge.positions.items() if kind == collection and place[0] in files]


def fired_on(example: Said, knowledge: Knowledge, base: Base) -> set[str]:
    """Return the rules that fire on an example."""
    answers = [Answer(finding, value) for finding, value in example.items()]
    return {firing.rule for firing in run_rules(findings_from(answers, (), knowledge), knowledge, base).firings}
