"""The one door for every screen: open, say, ask, answer, take back, listen, walk a remedy, conclude.

A consultation has state, and its state is the row of events of its case; everything shown is worked out
from that row.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from diagnose import history
from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.cases.facts import check_fact
from diagnose.cases.store import Store
from diagnose.errors import UsageError
from diagnose.mechanics.fit import FitAnswer
from diagnose.model.entries import OPENED
from diagnose.model.near_names import near
from diagnose.model.observations import Answer, Certainty, Source
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.moments import Moment
from diagnose.next_moment import moment_of
from diagnose.reasoning.assessment import Assessment, assess, part_for, plan_for, route_for, said_values, van_for
from diagnose.reasoning.bringing import VanList
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.gates import MOST_TRIES, Situation
from diagnose.reasoning.next_step import Plan, Route
from diagnose.reasoning.part_needed import PartNeeded
from diagnose.settings import DEFAULT, Parameters

# Files that hold times that were tapped or typed, not sound.
TAPPED = frozenset({".txt", ".csv"})
# What the answers of a fit say of the finding `block-against-slot`: a block that rocks is too thin.
AGAINST_SLOT = {
    "fits": ("goes-in-free", "goes-in-close"),
    "thinner": ("will-rock",),
    "thicker": ("only-after-opening",),
}


class Consultation:
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

    def __init__(
        self,
        case: Case,
        knowledge: Knowledge,
        store: Store | None = None,
        kept_as: str | None = None,
        parameters: Parameters = DEFAULT,
    ) -> None:
        self.case = case
        self.knowledge = knowledge
        self.parameters = parameters
        self.kept_as = kept_as
        self._store = store
        self._saved = len(case.events) if kept_as else 0
        self._assessed: tuple[int, Assessment] | None = None
        self._planned: tuple[int, Plan] | None = None

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
                event = _hear(case, event)
            events.append(event)
        return cls(dataclasses.replace(case, events=tuple(events)), knowledge, parameters=parameters)

    def _add(self, event: ev.Event) -> None:
        """Keep an event, then let it count; where it cannot be kept nothing changes."""
        if self._store is not None and self.kept_as is not None:
            self._store.add(self.kept_as, self._saved, event)
            self._saved += 1
        self.case = self.case.with_event(event)

    def _known(self, finding: str, value: str | None = None) -> None:
        findings = self.knowledge.findings
        if finding not in findings:
            raise UsageError(f"unknown finding '{finding}'{near(finding, findings)}")
        values = findings[finding].values
        if value is not None and value not in values:
            raise UsageError(
                f"'{finding}' has no value '{value}'{near(value, values)}", do=f"It has {', '.join(values)}"
            )

    def say(self, text: str) -> tuple[Suggestion, ...]:
        """Take in a complaint or remark, which may be empty; return the findings it may mean."""
        self._add(ev.Said(" ".join(text.split()), self.contact.id))
        return self.suggestions

    def dismiss(self, finding: str) -> None:
        """Say that a finding offered from the words is not what was meant."""
        self._add(ev.Dismissed(finding))

    def answer(
        self,
        finding: str,
        value: str,
        certainty: Certainty = "sure",
        source: Source | None = None,
        said: str | None = None,
    ) -> None:
        """Answer a finding; an answer given again replaces the one before."""
        self._known(finding, value)
        source = source or ("told" if self.contact.where == "call" else "seen")
        self._add(Answer(finding, value, certainty, source, "said", self.contact.id, said))

    def cannot_tell(self, finding: str) -> None:
        """Say that a finding cannot be told; it is not asked again."""
        self._known(finding)
        self._add(Answer(finding, None, state="cannot-tell", contact=self.contact.id))

    def later(self, finding: str) -> None:
        """Put a finding on the list for the visit."""
        self._known(finding)
        self._add(Answer(finding, None, state="later", contact=self.contact.id))

    def take_back(self, finding: str) -> None:
        """Let the answer to a finding no longer count."""
        self._known(finding)
        self._add(ev.TakenBack(finding))

    def back(self) -> str | None:
        """Take the last answer back, or the last step of a remedy; return what it was."""
        walk = self.walk
        if walk is not None and walk.step > 0:
            self._add(ev.StepTaken(walk.remedy, walk.step, "back"))
            return walk.remedy
        answers = history.current_answers(history.since_last_tried(self.case.events, self.knowledge))
        if not answers:
            return None
        last = next(reversed(answers))
        self._add(ev.TakenBack(last))
        return last

    def set_fact(self, about: Literal["clock", "person"], field: str, value: str) -> None:
        """Note something about the clock or the person at it."""
        check_fact(self.knowledge, about, field, value)
        self._add(ev.FactSet(about, field, value))

    def new_contact(self, contact: ev.Contact) -> None:
        """Go on in another call, visit or spell in the workshop."""
        self._add(contact)

    def clear_alarm(self, alarm: str) -> None:
        """Note that a person has dealt with an alarm."""
        self._add(ev.AlarmSeen(alarm, cleared=True))

    def raise_alarm(self, alarm: str) -> None:
        """Note an alarm picked from the list."""
        if alarm not in self.knowledge.alarms:
            raise UsageError(f"unknown alarm '{alarm}'{near(alarm, self.knowledge.alarms)}")
        self._add(ev.AlarmSeen(alarm))

    def listen_to(self, path: Path, first_side: Literal["left", "right"] | None = None) -> ev.Heard:
        """Return what a recording says, without taking it in."""
        walk = self.walk
        heard = ev.Heard(str(path), {}, first_side, walk.remedy if walk else None, self.contact.id)
        return _hear(self.case, heard)

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
        likelihood = {
            value: sum(answer.chances.get(name, 0.0) for name in names) for value, names in AGAINST_SLOT.items()
        }
        because = Wording(self.knowledge).say(f"fit-{answer.answer}", chance="").strip()
        self.weigh("block-against-slot", likelihood, because)

    def begin_walk(self, remedy: str) -> None:
        """Begin to walk a remedy, one step a screen."""
        if remedy not in self.knowledge.remedies:
            raise UsageError(f"unknown remedy '{remedy}'{near(remedy, self.knowledge.remedies)}")
        self._add(ev.WalkBegun(remedy, self.contact.id))

    def step_right(self) -> None:
        """Say that the step is right; after the last one the remedy has been tried."""
        walk = self._walking()
        self._add(ev.StepTaken(walk.remedy, walk.step, "right"))
        if walk.step + 1 >= len(self.knowledge.remedies[walk.remedy].steps):
            self.end_walk("done")

    def step_not_so(self, way: int) -> None:
        """Say what was seen instead; it is recorded, and the consultation goes on from it."""
        walk = self._walking()
        ways = self.knowledge.remedies[walk.remedy].steps[walk.step].not_so
        if not 0 <= way < len(ways):
            raise UsageError(f"this step has {len(ways)} ways on, none is number {way + 1}")
        self._add(ev.StepTaken(walk.remedy, walk.step, "not-so", way))
        chosen = ways[way]
        if chosen.go != "again":
            self._add(ev.Tried(walk.remedy, "not-so" if chosen.go == "rethink" else "stopped", self.contact.id))
        if chosen.finding is not None and chosen.value is not None:
            self.answer(chosen.finding, chosen.value)

    def stop_walk(self) -> None:
        """Leave the remedy: what ends the work was seen, or somebody wants to stop."""
        walk = self._walking()
        self._add(ev.StepTaken(walk.remedy, walk.step, "stopped"))
        self._add(ev.Tried(walk.remedy, "stopped", self.contact.id))

    def acted(self, act: ev.Acted) -> None:
        """Note one act of setting the beat."""
        self._add(act)

    def end_walk(self, outcome: ev.Outcome) -> None:
        """End the remedy; the last recording heard inside it now counts as what the clock does."""
        walk = self._walking()
        heard, _ = history.heard_in_walk(self.case.events, walk.remedy)
        self._add(ev.Tried(walk.remedy, outcome, self.contact.id))
        if heard and outcome in history.CUTS:
            self._add(dataclasses.replace(heard[-1], within=None))

    def tried(self, remedy: str, outcome: ev.Outcome) -> None:
        """Note a remedy that was tried without being walked."""
        if remedy not in self.knowledge.remedies:
            raise UsageError(f"unknown remedy '{remedy}'{near(remedy, self.knowledge.remedies)}")
        self._add(ev.Tried(remedy, outcome, self.contact.id))

    def _walking(self) -> history.Walk:
        walk = self.walk
        if walk is None:
            raise UsageError("no remedy is being walked", do="Begin one first")
        return walk

    def hand_over(self, values: Mapping[str, Any]) -> None:
        """Note the values with which the clock is handed over."""
        self._add(ev.HandedOver({name: value for name, value in values.items() if value not in {None, ""}}))

    def conclude(self, outcome: str, cause: str | None = None, note: str = "") -> None:
        """Enter what it came to; only a person can say "it was"."""
        if cause is not None and cause not in self.knowledge.causes:
            raise UsageError(f"unknown cause '{cause}'{near(cause, self.knowledge.causes)}")
        self._add(ev.Concluded(outcome, cause, note))

    @property
    def contact(self) -> ev.Contact:
        """The contact that is under way."""
        return self.case.contact

    @property
    def walk(self) -> history.Walk | None:
        """The remedy being walked, or None."""
        return history.walk_of(self.case.events, self.knowledge)

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
            stretches = history.stretches_of(self.case.events, self.knowledge, self.assumed)
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
        return van_for(self.assessment, self.knowledge, self.situation, self.parameters)

    def part_needed(self, part: str) -> PartNeeded:
        """Return how likely it is that the clock needs a part, before it is sent."""
        if part not in self.knowledge.parts:
            raise UsageError(f"unknown part '{part}'{near(part, self.knowledge.parts)}")
        return part_for(self.assessment, self.knowledge, self.situation, part, self.parameters)

    @property
    def moment(self) -> Moment:
        """What stands before the person now."""
        return moment_of(self)

    @property
    def handover_defaults(self) -> dict[str, Any]:
        """What the last good recording tells for the hand-over."""
        return history.handover_defaults(self.case.events)


def _hear(case: Case, heard: ev.Heard) -> ev.Heard:
    """Return the event with the beats of its recording."""
    from diagnose.measurement import listen
    from diagnose.measurement.beats import to_dict
    from diagnose.measurement.taps import beats_from_file

    path = Path(heard.file)
    if case.folder is not None and not path.is_absolute():
        path = case.folder / path
    hear = beats_from_file if path.suffix.lower() in TAPPED else listen
    beats = hear(path, nominal=case.clock.beats_per_hour, first_side=heard.first_side)
    return dataclasses.replace(heard, beats=to_dict(beats))
