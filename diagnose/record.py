"""Writes the row of events of one case: each is kept on disk before anything else happens."""

from __future__ import annotations

import dataclasses

from diagnose import contacts, history
from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.cases.store import Store
from diagnose.errors import UsageError
from diagnose.model.near_names import near
from diagnose.model.observations import Answer, Certainty, Measurement, Source
from diagnose.model.reading import Knowledge
from diagnose.settings import DEFAULT, Parameters


class Record:
    """What is written of a case: answers, and remedies that are walked step by step.

    Parameters
    ----------
    case, knowledge, store, kept_as, parameters
        As a `Consultation` takes them.
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
        source = source or self.source_of(finding)
        self._add(Answer(finding, value, certainty, source, "said", self.contact.id, said))

    def source_of(self, finding: str) -> Source:
        """Return how an answer to a finding is known here unless somebody says otherwise."""
        seen = self.contact.where != "call" and contacts.can_be_seen(finding, self.knowledge)
        return "seen" if seen else "told"

    def cannot_tell(self, finding: str) -> None:
        """Say that a finding cannot be told; it is not asked again."""
        self._known(finding)
        self._add(Answer(finding, None, state="cannot-tell", contact=self.contact.id))

    def later(self, finding: str) -> None:
        """Put a finding on the list for the visit."""
        self._known(finding)
        self._add(Answer(finding, None, state="later", contact=self.contact.id))

    def begin_walk(self, remedy: str, warned: bool = False) -> None:
        """Begin to walk a remedy, one step a screen; `warned` says that its cautions were shown before."""
        if remedy not in self.knowledge.remedies:
            raise UsageError(f"unknown remedy '{remedy}'{near(remedy, self.knowledge.remedies)}")
        self._add(ev.WalkBegun(remedy, self.contact.id, warned))

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
        rate = history.rate_in_walk(self.case.events, walk.remedy)
        self._add(ev.Tried(walk.remedy, outcome, self.contact.id))
        if heard and outcome in history.CUTS:
            self._add(dataclasses.replace(heard[-1], within=None))
        if rate is not None and outcome in history.CUTS:
            self.measure(Measurement("rate", *rate, "s/day", "hands", self.contact.id))

    def note(self, noted: ev.Noted) -> None:
        """Keep stop times, or notes of regulating."""
        self._add(noted)

    def measure(self, measurement: Measurement) -> None:
        """Take in a measured quantity."""
        self._add(ev.Measured(measurement))

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

    @property
    def contact(self) -> ev.Contact:
        """The contact that is under way."""
        return self.case.contact

    @property
    def walk(self) -> history.Walk | None:
        """The remedy being walked, or None."""
        return history.walk_of(self.case.events, self.knowledge)
