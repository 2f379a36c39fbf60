"""A clock with a hidden fault, and its owner: answers whatever is asked, as often wrong as people are.

Everything is a pure function of the seed, the hidden causes and the remedies tried: the same question
gets the same answer however often and in whatever order it is asked.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np

from diagnose.errors import InputError
from diagnose.model.entries import Where
from diagnose.model.observations import Answer, ClockFacts, Source
from diagnose.model.reading import Knowledge
from diagnose.reasoning.alarms import find_alarms
from diagnose.reasoning.assessment import base_for
from diagnose.reasoning.findings import chance_wrong
from diagnose.reasoning.gates import OWNERS
from diagnose.reasoning.tables import Base
from diagnose.settings import DEFAULT, Parameters

Side = Literal["left", "right"]

# Findings that name the early side; one side of one clock, so that they never speak against each other.
SIDED: Mapping[str, Mapping[str, Side]] = MappingProxyType(
    {
        "shorter-way": {"left": "left", "right": "right"},
        "long-gap-side": {"bob-left": "left", "bob-right": "right"},
    }
)
# Where an owner notices something unasked.
NOTICED_PLACES = frozenset({"told", "sound", "swing", "hands", "case-outside"})
MOST_FAULTS = 2
MOST_COMPLAINTS = 2
MOST_DRAWS = 1000


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the owner says unasked, in his own words; always true.

    Parameters
    ----------
    finding, value : str
        What it means.
    words : str
        How it is said.
    """

    finding: str
    value: str
    words: str


@dataclass(frozen=True, slots=True)
class HiddenClock:
    """A clock whose causes only the exercise knows.

    Parameters
    ----------
    knowledge : Knowledge
        The base it behaves by.
    facts : ClockFacts
        Which clock it is.
    causes : tuple of str
        What was wrong at the start.
    seed : int
        Seed of all chance.
    complaints : tuple of Complaint
        What the owner volunteers.
    known : mapping of str to str
        True values that are given and not drawn, such as those of a case file, until a remedy changes them.
    tried : tuple of str
        Remedies tried, in order.
    recording : Path, optional
        The recording that belongs to the clock before any remedy; one is made where None.
    drawn_to : str, optional
        The side from which the bob was let go in that recording.
    early : str, optional
        The side that comes early, where it is given and not drawn.
    parameters : Parameters
        How often answers are wrong, or cannot be given.
    """

    knowledge: Knowledge
    facts: ClockFacts
    causes: tuple[str, ...]
    seed: int
    complaints: tuple[Complaint, ...] = ()
    known: Mapping[str, str] = field(default_factory=dict)
    tried: tuple[str, ...] = ()
    recording: Path | None = None
    drawn_to: Side | None = None
    early: Side | None = None
    parameters: Parameters = DEFAULT

    @property
    def base(self) -> Base:
        """The tables by which it answers."""
        return base_for(self.knowledge, self.facts, self.parameters)

    @property
    def causes_now(self) -> tuple[str, ...]:
        """The causes that are left after the remedies tried."""
        return tuple(cause for cause in self.causes if cause in self._after_remedies()[0])

    @property
    def early_side(self) -> Side:
        """The side that comes early wherever the beat is uneven."""
        return self.early or ("left" if self._thrown("early side") < 1 / 2 else "right")

    def after(self, remedy: str) -> HiddenClock:
        """Return the clock after one more remedy, cured by it or not."""
        return replace(self, tried=(*self.tried, remedy))

    def cured_by_last(self) -> tuple[str, ...]:
        """Return the causes that the last remedy took away."""
        before = replace(self, tried=self.tried[:-1]).causes_now if self.tried else self.causes
        return tuple(cause for cause in before if cause not in self.causes_now)

    def true_value(self, finding: str) -> str:
        """Return what is so, drawn by P(value | causes).

        Parameters
        ----------
        finding : str
            A finding that the clock has a table for.
        """
        left, changes = self._after_remedies()
        change = changes.get(finding, 0)
        if change == 0 and finding in self.known:
            return self.known[finding]
        table = self.base.tables[finding]
        places = [self.base.index[cause] for cause in self.causes if cause in left]
        heights = np.cumsum(table.given(places))
        place = int(np.searchsorted(heights, self._thrown("truth", finding, change) * heights[-1], side="right"))
        value = table.values[min(place, len(table.values) - 1)]
        sides = SIDED.get(finding, {})
        if value not in sides:
            return value
        return next(name for name, side in sides.items() if side == self.early_side)

    def makes_sense(self, finding: str) -> bool:
        """Return whether what a finding needs is so: a silent clock has no even tick."""
        needs = self.knowledge.findings[finding].needs
        return all(
            self.makes_sense(gate) and self.true_value(gate) in allowed
            for gate, allowed in needs.items()
            if gate in self.base.tables
        )

    def answer(self, finding: str, where: Where, contact: str = "c1") -> Answer:
        """Return what is answered: mostly the truth, sometimes something else, sometimes "cannot tell".

        Parameters
        ----------
        finding : str
            What is asked or looked at.
        where : str
            On a call the owner tells; elsewhere trained hands see, but what happened is still told.
        contact : str
            Id of the contact.
        """
        source: Source = "told" if where == "call" or self.knowledge.findings[finding].place == "told" else "seen"
        change = self._after_remedies()[1].get(finding, 0)
        given = change == 0 and finding in self.known
        if not given and (
            not self.makes_sense(finding) or self._thrown("knows", finding, change, source) < self.parameters.unknown
        ):
            return Answer(finding, None, "sure", source, "cannot-tell", contact)
        value = self.true_value(finding)
        if not given and self._thrown("errs", finding, change, source) < chance_wrong(source, "sure", self.parameters):
            others = [other for other in self.base.tables[finding].values if other != value]
            value = others[int(self._thrown("instead", finding, change, source) * len(others))]
        words = next((item.words for item in self.complaints if item.finding == finding and not change), None)
        return Answer(finding, value, "sure", source, "said", contact, words)

    def _after_remedies(self) -> tuple[frozenset[str], dict[str, int]]:
        """Return the causes left, and how often each finding has been changed by a remedy.

        A remedy that cures nothing leaves what the clock does as it was; only what is touched may look otherwise.
        """
        left = frozenset(self.causes)
        changes: dict[str, int] = {}
        for number, remedy in enumerate(self.tried):
            effect = self.base.remedies[remedy]
            meant = {self.base.causes[place] for place in effect.causes} & left
            works = self.knowledge.remedies[remedy].cures and self._thrown("cures", remedy, number) < effect.works
            cured = meant if works else set()
            left -= cured
            for finding in effect.stale if cured else effect.changed:
                if cured or self.knowledge.findings[finding].place != "told":
                    changes[finding] = changes.get(finding, 0) + 1
        return left, changes

    def _thrown(self, *what: str | int) -> float:
        """Return a number from 0 to 1 that belongs to the seed and to what is thrown for."""
        key = zlib.crc32(repr(what).encode())
        return float(np.random.default_rng([self.seed, key]).random())


_KINDS: tuple[ClockFacts, ...] = (
    ClockFacts("clock", "floor", "weight-cable", "recoil", "rack", "one-tune", 3600),
    ClockFacts("clock", "floor", "weight-chain", "recoil", "rack", "no-chime", 3600),
    ClockFacts("clock", "wall", "spring", "recoil", "rack", "no-chime", 5400),
    ClockFacts("clock", "wall", "weight-cable", "deadbeat", "no-strike", "no-chime", 5400),
    ClockFacts("clock", "mantel", "spring", "recoil", "rack", "several-tunes", 7200),
    ClockFacts("clock", "mantel", "spring", "recoil", "count", "no-chime", 7200),
)


def draw_clock(knowledge: Knowledge, seed: int, facts: ClockFacts | None = None) -> HiddenClock:
    """Return a clock with one or two hidden causes, drawn as often as they come in, that shows something.

    Parameters
    ----------
    knowledge : Knowledge
        The base.
    seed : int
        Which clock; at least 0.
    facts : ClockFacts, optional
        Of which kind; drawn too where None.
    """
    random = np.random.default_rng([seed, zlib.crc32(b"clock")])
    facts = facts or _KINDS[int(random.integers(len(_KINDS)))]
    base = base_for(knowledge, facts)
    for _ in range(MOST_DRAWS):
        clock = HiddenClock(knowledge, facts, draw_causes(base, random), seed, known=always_so(knowledge, base))
        told = with_complaints(clock)
        if told.complaints:
            return told
    raise InputError(f"no clock with a complaint in {MOST_DRAWS} draws", "exercise", "Give another seed")


def with_complaints(clock: HiddenClock) -> HiddenClock:
    """Return the clock with what its owner volunteers, which is true."""
    complaints = complaints_of(clock)
    said = {item.finding: item.value for item in complaints}
    return replace(clock, complaints=complaints, known={**clock.known, **said})


def draw_causes(base: Base, random: np.random.Generator) -> tuple[str, ...]:
    """Return one or two causes, by the odds of the base; most often one."""
    chance = base.odds / (1 + base.odds)
    while True:
        there = np.flatnonzero(random.random(len(chance)) < chance)
        if 1 <= len(there) <= MOST_FAULTS:
            return tuple(base.causes[place] for place in there)


def always_so(knowledge: Knowledge, base: Base) -> dict[str, str]:
    """Return what holds for every clock of an exercise: it is of a kind this is made for."""
    grounds = {ground.finding for rule in knowledge.rules.values() if rule.kind == "refer" for ground in rule.when}
    normal = {name: knowledge.findings[name].normal for name in grounds if name in base.tables}
    return {name: value for name, value in normal.items() if value is not None}


def complaints_of(clock: HiddenClock) -> tuple[Complaint, ...]:
    """Return one or two true things that the owner says unasked, none where nothing strikes him."""
    noticed = [name for name in sorted(clock.base.tables) if _strikes_the_owner(clock, name)]
    random = np.random.default_rng([clock.seed, zlib.crc32(b"complaints")])
    most = int(random.integers(1, MOST_COMPLAINTS + 1))
    in_any_order = [noticed[int(place)] for place in random.permutation(len(noticed))]
    # What the fault itself shows comes first: nobody rings up about a trifle that every clock may have.
    in_order = sorted(in_any_order, key=lambda name: not _comes_of(clock, name))
    if not in_order or not _comes_of(clock, in_order[0]):
        return ()
    return tuple(_said(clock, finding, random) for finding in in_order[:most])


def _said(clock: HiddenClock, finding: str, random: np.random.Generator) -> Complaint:
    value = clock.true_value(finding)
    phrases = _phrases(clock.knowledge, finding, value)
    return Complaint(finding, value, phrases[int(random.integers(len(phrases)))])


def _comes_of(clock: HiddenClock, finding: str) -> bool:
    """Return whether any of the hidden causes shows in a finding."""
    table = clock.base.tables[finding]
    return any(table.row[clock.base.index[cause]] >= 0 for cause in clock.causes)


def _strikes_the_owner(clock: HiddenClock, finding: str) -> bool:
    entry = clock.knowledge.findings[finding]
    if entry.normal is None or entry.told or entry.who not in OWNERS or entry.place not in NOTICED_PLACES:
        return False
    value = clock.true_value(finding)
    return value != entry.normal and clock.makes_sense(finding) and bool(_phrases(clock.knowledge, finding, value))


def _phrases(knowledge: Knowledge, finding: str, value: str) -> tuple[str, ...]:
    """Return the ways people say a value; none that sounds an alarm, which would end all asking."""
    key = (id(knowledge), finding, value)
    if key not in _calm:
        said_like = knowledge.findings[finding].values[value].said_like
        calm = tuple(phrase for phrase in said_like if not find_alarms(phrase, knowledge))
        # The knowledge is kept beside its phrases, so that its id cannot be given to another meanwhile.
        _calm[key] = (knowledge, calm)
    return _calm[key][1]


_calm: dict[tuple[int, str, str], tuple[Knowledge, tuple[str, ...]]] = {}
