"""The one door for every screen: open, say, ask, answer, take back, listen, walk a remedy, conclude.

A consultation has state, and its state is the row of events of its case; everything shown is worked out
from that row.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from diagnose import contacts, handing_over, history
from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.cases.facts import check_fact
from diagnose.cases.store import NO_NAME, Kept, Store
from diagnose.errors import UsageError
from diagnose.homework import homework_now
from diagnose.mechanics.fit import FitAnswer
from diagnose.model.entries import OPENED
from diagnose.model.near_names import near
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.moments import AdviceMoment, Moment
from diagnose.next_moment import moment_of
from diagnose.reasoning.assessment import Assessment, assess, plan_for, route_for, said_values, state_for, van_for
from diagnose.reasoning.bringing import VanList
from diagnose.reasoning.changes import NUMBERS, Changes
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.facts_said import against_slot
from diagnose.reasoning.gates import MOST_TRIES, Situation
from diagnose.reasoning.next_step import Plan, Route
from diagnose.reasoning.part_needed import PartNeeded, part_needed
from diagnose.reasoning.told_only import Told, dearest_first
from diagnose.reasoning.weighing import State
from diagnose.record import Record
from diagnose.settings import DEFAULT, Parameters
from diagnose.taking_in import heard_again


class Consultation(Record):
    """One case at work.

    Parameters
    ----------
    case : Case
        Where it begins; its events are replayed, never changed.
    knowledge : Knowledge
        The base.
    store : Store, optional
        Where each further event is kept before anything else happens.
    kept_as : str, optional
        Its id in the store.
    parameters : Parameters
        The numbers of the reasoning.
    """

    _assessed: tuple[int, Assessment] | None = None
    _planned: tuple[int, Plan] | None = None
    _gathered: tuple[int, State] | None = None
    _told: tuple[int, tuple[Told, ...]] | None = None

    @classmethod
    def begin(
        cls,
        knowledge: Knowledge,
        door: str,
        contact: ev.Contact | None = None,
        clock_id: str = "clock",
        store: Store | None = None,
    ) -> Consultation:
        """Begin a consultation by one of the doors; kept from its first event where a store is given."""
        if door not in knowledge.doors:
            doors = ", ".join(knowledge.doors)
            raise UsageError(f"no door '{door}'{near(door, knowledge.doors)}", do=f"There are {doors}")
        kept_as = store.begin(clock_id, door, knowledge.edition) if store else None
        consultation = cls(Case(kept_as or clock_id, door, knowledge.edition), knowledge, store, kept_as)
        consultation._add(contact or ev.Contact())
        consultation._add(ev.FactSet("clock", "id", clock_id))
        before = store.handed_before(clock_id) if store else None
        known = store.clock_facts(clock_id) if store else ()
        for fact in known:
            consultation._add(fact)
        if before is not None:
            consultation._add(before)
        return consultation

    @classmethod
    def resume(cls, knowledge: Knowledge, store: Store, kept_as: str) -> Consultation:
        """Go on with a consultation that was kept."""
        door, edition = store.door_and_edition(kept_as)
        return cls(Case(kept_as, door, edition, store.events(kept_as)), knowledge, store, kept_as)

    @classmethod
    def replay(cls, case: Case, knowledge: Knowledge, parameters: Parameters = DEFAULT) -> Consultation:
        """Replay a case file, hearing its recordings."""
        events: list[ev.Event] = []
        for event in case.events:
            if isinstance(event, ev.Heard) and not event.beats:
                event = heard_again(case, event)
            events.append(event)
        return cls(dataclasses.replace(case, events=tuple(events)), knowledge, parameters=parameters)

    def say(self, text: str) -> tuple[Suggestion, ...]:
        """Take in a complaint or remark, which may be empty; return the findings it may mean."""
        self._add(ev.Said(" ".join(text.split()), self.contact.id))
        return self.suggestions

    def confirm(self, item: Suggestion, certainty: Literal["sure", "think-so"] = "sure") -> None:
        """Take in a finding that was offered from the words said, as it was meant."""
        if item.chances:
            self.weigh(item.finding, dict(item.chances), item.words)
        else:
            self.answer(item.finding, item.value, certainty, said=item.words)

    def dismiss(self, finding: str) -> None:
        """Say that a finding offered from the words is not what was meant."""
        self._add(ev.Dismissed(finding))

    def take_back(self, finding: str) -> None:
        """Let the answer to a finding no longer count."""
        self._known(finding)
        self._add(ev.TakenBack(finding))

    def back(self) -> str | None:
        """Take the last answer back, or the last step of a remedy; return what it was.

        An answer that stood before it counts again. Where the answer came from a step that was not so, the
        remedy goes on at that step.
        """
        walk = self.walk
        events = history.since_last_tried(self.case.events, self.knowledge)
        if walk is not None and walk.step > 0 and history.not_so_last(events) is None:
            self._add(ev.StepTaken(walk.remedy, walk.step, "back"))
            return walk.remedy
        taken, undoing = history.undo_last(events)
        for event in undoing:
            self._add(event)
        return taken

    def set_fact(self, about: Literal["clock", "person"], field: str, value: str) -> None:
        """Note something about the clock or the person at it."""
        check_fact(self.knowledge, about, field, value)
        self._add(ev.FactSet(about, field, value))

    def new_contact(self, contact: ev.Contact) -> None:
        """Go on in another call, visit or spell in the workshop."""
        self._add(contact)

    def close_contact(self, again: str = "", homework: Sequence[str] | None = None) -> ev.Closed:
        """End this contact until a date; the homework is asked first in the next one.

        Parameters
        ----------
        again : str
            Date of the next contact, ISO 8601; by default as long as the homework takes.
        homework : sequence of str, optional
            Findings the owner watches, at most three; by default those that tell most.
        """
        names = tuple(self.homework if homework is None else homework)
        for name in names:
            self._known(name)
        if len(names) > contacts.MOST_HOMEWORK:
            raise UsageError(f"{len(names)} things to watch are too many", do=f"At most {contacts.MOST_HOMEWORK}")
        hours = max((self.knowledge.findings[name].wait_hours for name in names), default=0.0)
        closed = ev.Closed(self.contact.id, again or contacts.date_after(self.contact.when, hours), names)
        self._add(closed)
        return closed

    def told_was_checked(self) -> None:
        """Note that what was only told has been gone through at the clock."""
        self._add(ev.ToldChecked(self.contact.id))

    def same_clock(self, same: bool) -> None:
        """Say whether the last recording, of another speed than the one before, is of this clock."""
        speeds = contacts.two_speeds(self.case.events)
        if speeds is None:
            raise UsageError("no two recordings of different speed are waiting for a word")
        self._add(ev.SameClock(speeds.file, same))

    def measured_again(self, name: str, value: float) -> None:
        """Note a value of the hand-over that was measured again."""
        if name not in NUMBERS:
            raise UsageError(f"no hand-over value '{name}'", do=f"One of {', '.join(sorted(NUMBERS))}")
        self._add(ev.Again(name, value, self.contact.id))

    def clear_alarm(self, alarm: str) -> None:
        """Note that a person has dealt with an alarm."""
        self._add(ev.AlarmSeen(alarm, cleared=True))

    def raise_alarm(self, alarm: str) -> None:
        """Note an alarm picked from the list."""
        if alarm not in self.knowledge.alarms:
            raise UsageError(f"unknown alarm '{alarm}'{near(alarm, self.knowledge.alarms)}")
        self._add(ev.AlarmSeen(alarm))

    def listen_to(
        self,
        path: Path,
        first_side: Literal["left", "right"] | None = None,
        made: Mapping[str, Any] | None = None,
        progress: Callable[[float, float], None] | None = None,
    ) -> ev.Heard:
        """Return what a recording says, without taking it in; `made` and `progress` as `heard_again` knows them."""
        walk = self.walk
        within = walk.remedy if walk else None
        heard = ev.Heard(str(path), {}, first_side, within, self.contact.id, dict(made or {}))
        return heard_again(self.case, heard, progress)

    def hear(self, path: Path, first_side: Literal["left", "right"] | None = None) -> ev.Heard:
        """Hear a recording and take it in; inside a remedy it tells how the remedy goes."""
        return self.take_heard(self.listen_to(path, first_side))

    def take_heard(self, heard: ev.Heard) -> ev.Heard:
        """Take in a recording that was heard elsewhere, or beats that were tapped or counted."""
        self._add(heard)
        return heard

    def weigh(self, finding: str, likelihood: Mapping[str, float], because: str) -> None:
        """Take in a finding whose values are known with chances, such as a fit."""
        self._known(finding)
        self._add(ev.Weighed(finding, dict(likelihood), because, contact=self.contact.id))

    def take_fit(self, answer: FitAnswer) -> None:
        """Let the fit of a block and a slot count, with its chances."""
        because = Wording(self.knowledge).say(f"fit-{answer.answer}", chance="").strip()
        self.weigh("block-against-slot", against_slot(answer), because)

    def begin_walk(self, remedy: str, warned: bool = False) -> None:
        """Begin to walk a remedy; what was advised just now has shown its cautions already."""
        moment = self.moment
        super().begin_walk(remedy, warned or (isinstance(moment, AdviceMoment) and moment.remedy == remedy))

    def hand_over(self, values: Mapping[str, Any]) -> None:
        """Note the values with which the clock is handed over."""
        self._add(ev.HandedOver({name: value for name, value in values.items() if value not in {None, ""}}))

    def conclude(self, outcome: str, cause: str | None = None, note: str = "") -> None:
        """Enter what it came to; only a person can say "it was"."""
        if cause is not None and cause not in self.knowledge.causes:
            raise UsageError(f"unknown cause '{cause}'{near(cause, self.knowledge.causes)}")
        self._add(ev.Concluded(outcome, cause, note))

    @property
    def answers(self) -> dict[str, Answer]:
        """The answer that counts for each finding since the last remedy."""
        return history.current_answers(history.since_last_tried(self.case.events, self.knowledge))

    @property
    def alarms(self) -> tuple[str, ...]:
        """Alarms that were said or picked and that nobody has dealt with."""
        return history.open_alarms(self.case.events, self.knowledge)

    @property
    def suggestions(self) -> tuple[Suggestion, ...]:
        """Findings that the words said may mean and that are neither answered nor dismissed."""
        return history.open_suggestions(self.case.events, self.knowledge, self.case.clock)

    @property
    def assumed(self) -> tuple[Answer, ...]:
        """What the door itself tells, such as that a part was fitted."""
        door = self.knowledge.doors[self.case.door]
        return tuple(Answer(name, value, "sure", "told") for name, value in door.assume.items())

    @property
    def assessment(self) -> Assessment:
        """Findings, rules and ranking as they stand."""
        count = len(self.case.events)
        if self._assessed is None or self._assessed[0] != count:
            changed = self.changes.findings
            stretches = history.stretches_of(self.case.events, self.knowledge, self.assumed, changed)
            checkup = self.knowledge.doors[self.case.door].checkup
            assessment = assess(stretches, self.knowledge, self.case.clock, self.parameters, checkup)
            self._assessed = (count, assessment)
        return self._assessed[1]

    @property
    def situation(self) -> Situation:
        """Where the work is done, by whom, and what is already closed."""
        answers = self.answers
        tried: dict[str, int] = {}
        for event in self.case.events:
            if isinstance(event, ev.Tried):
                # What cannot be done here is not offered again: it counts as often as a remedy is tried at most.
                more = 1 if event.outcome in history.CUTS else MOST_TRIES
                tried[event.remedy] = tried.get(event.remedy, 0) + more
        answered = [name for name, answer in answers.items() if answer.state == "said"]
        findings = self.knowledge.findings
        return Situation(
            where=self.contact.where,
            person=self.case.person,
            opened=max((findings[name].opened for name in answered), key=OPENED.index, default="outside"),
            closed=frozenset(name for name, answer in answers.items() if answer.state != "later"),
            later=frozenset(name for name, answer in answers.items() if answer.state == "later"),
            tried=tried,
            clock=self.case.clock,
            values=said_values(self.assessment.findings),
            place=findings[answered[-1]].place if answered else None,
            warned=frozenset(self.assessment.conclusions.warnings),
        )

    @property
    def plan(self) -> Plan:
        """The next step and what else could be done."""
        count = len(self.case.events)
        if self._planned is None or self._planned[0] != count:
            plan = plan_for(self.assessment, self.knowledge, self.situation, self.parameters)
            self._planned = (count, plan)
        return self._planned[1]

    @property
    def route(self) -> Route:
        """Where the work should be done."""
        return route_for(self.assessment, self.knowledge, self.situation)

    @property
    def van(self) -> VanList:
        """What to put in the van, and the look that would shorten the list."""
        return van_for(self.assessment, self._state)

    def part_needed(self, part: str) -> PartNeeded:
        """Return how likely it is that the clock needs a part, before it is sent."""
        if part not in self.knowledge.parts:
            raise UsageError(f"unknown part '{part}'{near(part, self.knowledge.parts)}")
        return part_needed(self._state, self.assessment.ranking, part)

    @property
    def _state(self) -> State:
        """What may be asked now and what would be said, made once for each event."""
        count = len(self.case.events)
        if self._gathered is None or self._gathered[0] != count:
            self._gathered = (count, state_for(self.assessment, self.knowledge, self.situation, self.parameters))
        return self._gathered[1]

    @property
    def moment(self) -> Moment:
        """What stands before the person now."""
        return moment_of(self)

    @property
    def handover_defaults(self) -> dict[str, Any]:
        """What recordings, acts and remedies already tell for the hand-over."""
        return handing_over.handover_defaults(self.case.events, self.knowledge)

    @property
    def handed_over(self) -> dict[str, Any]:
        """The values with which the clock was handed over in this case; empty where it was not."""
        handed = [event.values for event in self.case.events if isinstance(event, ev.HandedOver)]
        return handed[-1] if handed else {}

    @property
    def earlier(self) -> tuple[Kept, ...]:
        """The cases kept of this clock, newest first, with what they came to; none of a clock without a name."""
        clock = self.case.clock.id
        return self._store.kept(clock) if self._store is not None and clock != NO_NAME else ()

    @property
    def homework(self) -> tuple[str, ...]:
        """What the owner can watch until the next contact, at most three, what tells most first."""
        return homework_now(self)

    @property
    def told_only(self) -> tuple[Told, ...]:
        """What was told on a call and not looked at yet, dearest first."""
        count = len(self.case.events)
        if self._told is None or self._told[0] != count:
            self._told = (count, self._dearest_first())
        return self._told[1]

    def _dearest_first(self) -> tuple[Told, ...]:
        told = contacts.told_only(self.case.events, self.answers, self.knowledge)
        pairs = [(answer.finding, answer.value or "") for answer in told]
        here, where = self.assessment, self.contact.where
        return dearest_first(pairs, here.base, here.pieces, here.ranking, self.knowledge, where, self.parameters)

    @property
    def changes(self) -> Changes:
        """What has changed since an earlier case on this clock was handed over; nothing where there was none."""
        return handing_over.changes_of(self.case.events, self.knowledge)
