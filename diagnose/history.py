"""Reads the row of events: what counts as evidence, what is being walked, what is still open."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from diagnose.cases import events as ev
from diagnose.contacts import counted
from diagnose.model.observations import Answer, ClockFacts, Measurement
from diagnose.model.reading import Knowledge
from diagnose.reasoning.alarms import find_alarms
from diagnose.reasoning.assessment import Stretch
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.facts_said import facts_in
from diagnose.reasoning.findings import chance_wrong, heard_findings, said_likelihood
from diagnose.reasoning.values import Finding

# Outcomes after which the clock is no longer what it was: they cut the row of answers.
CUTS = frozenset({"done", "cured", "better", "no-change", "worse"})
# Places whose findings are what the clock does, as against how a part looks.
SYMPTOM_PLACES = frozenset({"told", "sound", "swing"})
# Which finding asks for the early side, and what a recording that knows it answers.
EARLY_SIDE, SIDE_VALUES = "long-gap-side", {"right": "bob-right", "left": "bob-left"}
# Below so much out of beat no gap is plainly longer (common practice, no source: good under 3 %). [% of the swing]
PLAIN_PERCENT = 3.0
BEAT_ERROR = "beat-error"


@dataclass(frozen=True, slots=True)
class Walk:
    """A remedy that is being walked, the step that is next (counted from 0), and whether its cautions were shown."""

    remedy: str
    step: int
    warned: bool = False


def cuts(event: ev.Event, knowledge: Knowledge) -> bool:
    """Return whether a remedy was tried to its end and may have cured something."""
    if not isinstance(event, ev.Tried) or event.outcome not in CUTS:
        return False
    entry = knowledge.remedies.get(event.remedy)
    return entry is not None and entry.cures


def measurements_of(heard: ev.Heard) -> tuple[Measurement, ...]:
    """Return what a recording measured; nothing where it was refused."""
    beats = heard.beats
    if not beats or beats.get("refused"):
        return ()
    unsure = beats.get("uncertainty") or {}
    found = []
    error, error_u = beats.get("beat_error_percent"), unsure.get("beat_error_percent")
    if error is not None and error_u:
        sign = -1.0 if beats.get("early_side") == "left" else 1.0
        found.append(Measurement(BEAT_ERROR, sign * abs(error), error_u, "%", "recording", heard.contact))
    rate, rate_u = beats.get("rate_s_per_day"), unsure.get("rate_s_per_day")
    if rate is not None and rate_u and not beats.get("nominal_guessed", True):
        found.append(Measurement("rate", rate, rate_u, "s/day", "recording", heard.contact))
    return tuple(found)


def side_heard(heard: ev.Heard, knowledge: Knowledge) -> Finding | None:
    """Return which side is early by a recording, as the finding that asks for it; None where it does not tell.

    The side was counted from a bob drawn aside by hand: it is as likely wrong as a reading.
    """
    beats, entry = heard.beats or {}, knowledge.findings.get(EARLY_SIDE)
    value = SIDE_VALUES.get(beats.get("early_side", ""))
    error = beats.get("beat_error_percent")
    if entry is None or value not in entry.values or error is None or abs(error) < PLAIN_PERCENT:
        return None
    values = tuple(entry.values)
    wrong = chance_wrong("recording", "sure")
    return Finding(
        EARLY_SIDE, said_likelihood(values.index(value), len(values), wrong), value, 1 - wrong, "", "recording"
    )


class _Open:
    """A stretch that is being filled."""

    def __init__(self) -> None:
        self.answers: dict[str, Answer] = {}
        self.measurements: dict[str, Measurement] = {}
        self.weighed: dict[str, Finding] = {}

    def take(self, event: ev.Event, knowledge: Knowledge) -> None:
        """Add what one event tells."""
        if isinstance(event, Answer):
            self.answers.pop(event.finding, None)
            self.answers[event.finding] = event
            self.weighed.pop(event.finding, None)
        elif isinstance(event, ev.TakenBack):
            self.answers.pop(event.finding, None)
            self.weighed.pop(event.finding, None)
            self._drop_measured(event.finding, knowledge)
        elif isinstance(event, ev.Measured):
            self.measurements[event.measurement.quantity] = event.measurement
        elif isinstance(event, ev.Heard) and event.within is None:
            for measurement in measurements_of(event):
                self.measurements[measurement.quantity] = measurement
            self._take_side(event, knowledge)
            self._take_noticed(event, knowledge)
        elif isinstance(event, ev.Weighed) and event.finding in knowledge.findings:
            self.weighed[event.finding] = _weighed(event, knowledge)

    def _take_side(self, event: ev.Heard, knowledge: Knowledge) -> None:
        """Let the early side that a recording tells answer the question for it, where nobody has said it."""
        self._drop_side()
        found = side_heard(event, knowledge)
        if found is not None and found.finding not in self.answers:
            self.weighed[found.finding] = found

    def _take_noticed(self, event: ev.Heard, knowledge: Knowledge) -> None:
        """Let what else a recording tells answer the questions for it, where nobody has said it."""
        for found in heard_findings((event.beats or {}).get("noticed", ()), knowledge):
            if found.finding not in self.answers:
                self.weighed[found.finding] = found

    def _drop_side(self) -> None:
        known = self.weighed.get(EARLY_SIDE)
        if known is not None and known.source == "recording":
            del self.weighed[EARLY_SIDE]

    def _drop_measured(self, finding: str, knowledge: Knowledge) -> None:
        measured = knowledge.findings[finding].measured if finding in knowledge.findings else None
        if measured is not None:
            self.measurements.pop(measured.quantity, None)
            if measured.quantity == BEAT_ERROR:
                self._drop_side()

    def close(self, remedy: str | None) -> Stretch:
        answers = tuple(self.answers.values())
        return Stretch(answers, tuple(self.measurements.values()), tuple(self.weighed.values()), remedy)


def _weighed(event: ev.Weighed, knowledge: Knowledge) -> Finding:
    """Return a finding from chances that were worked out elsewhere."""
    values = knowledge.findings[event.finding].values
    likelihood = tuple(float(event.likelihood.get(value, 0.0)) for value in values)
    said = max(values, key=lambda value: event.likelihood.get(value, 0.0))
    return Finding(event.finding, likelihood, said, max(likelihood), event.because, event.source)


def stretches_of(
    events: Sequence[ev.Event],
    knowledge: Knowledge,
    assumed: Sequence[Answer] = (),
    changed: Sequence[Finding] = (),
) -> list[Stretch]:
    """Return the evidence between remedies.

    A remedy that changed nothing says that what the clock did before it still does: those answers are
    carried into the next stretch, as thought so rather than seen.

    Parameters
    ----------
    events : sequence of Event
        The row.
    knowledge : Knowledge
        Knows which findings are symptoms, and what proves a cure.
    assumed : sequence of Answer
        What the door itself tells; an answer replaces it.
    changed : sequence of Finding
        What has changed since an earlier hand-over; an answer replaces it.
    """
    stretches: list[Stretch] = []
    here = _Open()
    for answer in assumed:
        here.answers[answer.finding] = answer
    here.weighed |= {finding.finding: finding for finding in changed if finding.finding not in here.answers}
    for event in counted(events):
        if isinstance(event, ev.Tried) and cuts(event, knowledge):
            done = here.close(event.remedy)
            stretches.append(done)
            here = _Open()
            for answer in _carried(event, done, knowledge):
                here.answers[answer.finding] = answer
        else:
            here.take(event, knowledge)
    return [*stretches, here.close(None)]


def _carried(tried: ev.Tried, before: Stretch, knowledge: Knowledge) -> Iterable[Answer]:
    """Yield what the outcome of a remedy tells about the clock as it is now."""
    if tried.outcome == "cured":
        for proof in knowledge.remedies[tried.remedy].proof:
            yield Answer(proof.finding, proof.value, "think-so", "told", "said", tried.contact, tried.outcome)
    if tried.outcome in {"no-change", "worse"}:
        for answer in before.answers:
            entry = knowledge.findings.get(answer.finding)
            abnormal = entry and entry.kind != "circumstance" and answer.value != entry.normal
            if entry and abnormal and answer.state == "said" and entry.place in SYMPTOM_PLACES:
                yield Answer(answer.finding, answer.value, "think-so", "told", "said", tried.contact, tried.outcome)


def walk_of(events: Sequence[ev.Event], knowledge: Knowledge) -> Walk | None:
    """Return the remedy being walked, or None."""
    walk: Walk | None = None
    for event in events:
        if isinstance(event, ev.WalkBegun):
            walk = Walk(event.remedy, 0, event.warned)
        elif isinstance(event, ev.Tried):
            walk = None
        elif isinstance(event, ev.StepTaken) and walk is not None and event.remedy == walk.remedy:
            walk = _after_step(walk, event, knowledge)
    return walk


def _after_step(walk: Walk, event: ev.StepTaken, knowledge: Knowledge) -> Walk:
    if event.result == "right":
        return replace(walk, step=event.step + 1)
    if event.result == "back":
        return replace(walk, step=max(0, event.step - 1))
    return replace(walk, step=event.step)


def last_tried(events: Sequence[ev.Event], knowledge: Knowledge) -> ev.Tried | None:
    """Return the last remedy that was tried to its end, or None."""
    tried = [event for event in events if isinstance(event, ev.Tried) and cuts(event, knowledge)]
    return tried[-1] if tried else None


def since_last_tried(events: Sequence[ev.Event], knowledge: Knowledge) -> Sequence[ev.Event]:
    """Return the events after the last remedy that was tried to its end."""
    for number in range(len(events) - 1, -1, -1):
        if cuts(events[number], knowledge):
            return events[number + 1 :]
    return events


def current_answers(events: Iterable[ev.Event]) -> dict[str, Answer]:
    """Return the answer that counts for each finding in a piece of the row."""
    answers: dict[str, Answer] = {}
    for event in events:
        if isinstance(event, Answer):
            answers.pop(event.finding, None)
            answers[event.finding] = event
        elif isinstance(event, ev.TakenBack):
            answers.pop(event.finding, None)
    return answers


def undo_last(events: Sequence[ev.Event]) -> tuple[str | None, tuple[ev.Event, ...]]:
    """Return the finding whose answer was given last, or that was put aside last, and the events that undo it.

    The answer that stood before it counts again. Where it came with a step that was not so, the remedy is
    begun again and stands at that step.

    Parameters
    ----------
    events : sequence of Event
        Those since the last remedy.
    """
    put_aside = itertools.takewhile(lambda event: isinstance(event, ev.Dismissed), reversed(events))
    unmeant = tuple(event.finding for event in put_aside if isinstance(event, ev.Dismissed))
    if unmeant:
        # What was put aside in one go is offered again in one go.
        return unmeant[0], tuple(ev.TakenBack(finding) for finding in unmeant)
    answers = current_answers(events)
    step = not_so_last(events)
    if step is not None and not isinstance(events[-1], Answer):
        return step.remedy, tuple(_walk_up_to(step))
    if not answers:
        return None, ()
    last = next(reversed(answers))
    undoing: list[ev.Event] = [ev.TakenBack(last)]
    given = next(number for number in range(len(events) - 1, -1, -1) if events[number] == answers[last])
    before = current_answers(events[:given]).get(last)
    if before is not None:
        undoing.append(before)
    if step is not None:
        undoing.extend(_walk_up_to(step))
    return last, tuple(undoing)


def not_so_last(events: Sequence[ev.Event]) -> ev.StepTaken | None:
    """Return the step that was not so, where that is the last thing that was said, with what was seen instead."""
    left = list(events)
    for kind in (Answer, ev.Tried):
        if left and isinstance(left[-1], kind):
            left.pop()
    last = left[-1] if left else None
    return last if isinstance(last, ev.StepTaken) and last.result == "not-so" else None


def _walk_up_to(step: ev.StepTaken) -> Iterable[ev.Event]:
    """Yield the events that begin a remedy again and stand at a step."""
    yield ev.WalkBegun(step.remedy, warned=True)
    for number in range(step.step):
        yield ev.StepTaken(step.remedy, number, "right")


def open_alarms(events: Iterable[ev.Event], knowledge: Knowledge) -> tuple[str, ...]:
    """Return the alarms that were said, answered or picked and that nobody has dealt with."""
    open_: dict[str, None] = {}
    dealt_with: set[str] = set()
    spoken = ""
    for event in events:
        if isinstance(event, ev.AlarmSeen):
            open_.pop(event.alarm, None)
            if event.cleared:
                dealt_with.add(event.alarm)
            else:
                open_[event.alarm] = None
        text = event.text if isinstance(event, ev.Said) else event.said if isinstance(event, Answer) else None
        is_heard_already = isinstance(event, Answer) and bool(text) and str(text).lower() in spoken
        if is_heard_already:
            # An answer understood from words that were already searched: what was cleared stays cleared.
            text = None
        spoken += f" {text.lower()}" if text else ""
        open_ |= dict.fromkeys(find_alarms(text, knowledge) if text else ())
        if isinstance(event, Answer) and event.value is not None:
            for name, entry in knowledge.alarms.items():
                is_told = event.value in entry.also_when.get(event.finding, ())
                if is_told and not (is_heard_already and name in dealt_with):
                    open_[name] = None
    return tuple(open_)


def open_suggestions(events: Sequence[ev.Event], knowledge: Knowledge, clock: ClockFacts) -> tuple[Suggestion, ...]:
    """Return the findings that the words said may mean and that are neither answered nor dismissed."""
    settled: dict[str, str | None] = {}
    unmeant: set[str] = set()
    offered: dict[str, Suggestion] = {}
    for event in events:
        if isinstance(event, ev.Dismissed):
            unmeant.add(event.finding)
        elif isinstance(event, ev.TakenBack):
            unmeant.discard(event.finding)
        elif isinstance(event, Answer | ev.Weighed):
            settled[event.finding] = event.value if isinstance(event, Answer) else None
        elif isinstance(event, ev.Said):
            for item in facts_in(event.text, knowledge, clock):
                # Who says otherwise than was answered may have changed their mind: it is offered, never assumed.
                if settled.get(item.finding) not in {None, item.value}:
                    del settled[item.finding]
                    offered[item.finding] = item
                offered.setdefault(item.finding, item)
    return tuple(item for name, item in offered.items() if name not in settled and name not in unmeant)


def rate_in_walk(events: Sequence[ev.Event], remedy: str) -> tuple[float, float] | None:
    """Return the rate last noted since the walk of a remedy began, with its uncertainty [s/day]; None after a turn."""
    rate: tuple[float, float] | None = None
    for event in events:
        if isinstance(event, ev.WalkBegun | ev.Tried):
            rate = None
        elif isinstance(event, ev.Noted) and event.about == "rate" and event.within == remedy:
            rate = (event.rate[0], event.rate[1]) if event.rate is not None else None
    return rate


def heard_in_walk(events: Sequence[ev.Event], remedy: str) -> tuple[list[ev.Heard], list[ev.Acted]]:
    """Return what was heard and done since the walk of a remedy began."""
    heard: list[ev.Heard] = []
    acts: list[ev.Acted] = []
    for event in events:
        if isinstance(event, ev.WalkBegun | ev.Tried):
            heard, acts = [], []
        elif isinstance(event, ev.Heard) and event.within == remedy:
            heard.append(event)
        elif isinstance(event, ev.Acted):
            acts.append(event)
    return heard, acts
