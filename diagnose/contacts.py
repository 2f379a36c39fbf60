"""Reads the row of events for what spans several contacts: homework, what was only told, other clocks' recordings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from diagnose.cases import events as ev
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge

MOST_HOMEWORK = 3
# Homework that noted times answer.
NOTED_FOR = {"stops": ("stop-pattern", "repeats-with"), "rate": ("rate", "rate-steady")}
# Findings of this place can only be told by the owner: there is nothing to look at.
ONLY_TOLD = "told"
# Beats per hour of one clock differ by less between two recordings, however its nut was turned [1].
SAME_CLOCK_SHARE = 0.01
# So many standard uncertainties of both recordings are granted besides.
GRANTED_DEVIATIONS = 3.0
SECONDS_A_DAY, HOURS_A_DAY = 86_400.0, 24.0


@dataclass(frozen=True, slots=True)
class TwoSpeeds:
    """Two recordings of one case whose beats per hour do not go together.

    Parameters
    ----------
    file : str
        The later recording.
    before, now : float
        Beats per hour of the earlier and the later one.
    """

    file: str
    before: float
    now: float


# ---- homework ----------------------------------------------------------------------------------------


def closed_until(events: Sequence[ev.Event]) -> ev.Closed | None:
    """Return how the last contact was closed, or None where one is under way."""
    for event in reversed(events):
        if isinstance(event, ev.Closed):
            return event
        if isinstance(event, ev.Contact | ev.Concluded):
            return None
    return None


def open_homework(events: Sequence[ev.Event], knowledge: Knowledge) -> tuple[str, ...]:
    """Return the findings that were homework and that the contact after it has not taken up yet."""
    asked: dict[str, None] = {}
    for event in events:
        if isinstance(event, ev.Closed):
            asked = dict.fromkeys(name for name in event.homework if name in knowledge.findings)
        elif isinstance(event, Answer | ev.Weighed):
            asked.pop(event.finding, None)
        elif isinstance(event, ev.Noted):
            # Noted times answer what they were noted for, and more closely than a word does.
            for name in NOTED_FOR[event.about]:
                asked.pop(name, None)
    return tuple(asked) if closed_until(events) is None else ()


def date_after(when: str, hours: float) -> str:
    """Return the date of the next contact: whole days after this one, at least one day [ISO 8601].

    Parameters
    ----------
    when : str
        When the contact began; today where it does not say.
    hours : float
        How long the longest homework takes. [h]
    """
    return (date_of(when) + timedelta(days=max(1, math.ceil(hours / HOURS_A_DAY)))).isoformat()


def date_of(when: str) -> date:
    """Return the day of a contact; today where it does not say."""
    try:
        return date.fromisoformat(when[:10])
    except ValueError:
        return date.today()


# ---- told, and not yet looked at ---------------------------------------------------------------------


def told_only(events: Sequence[ev.Event], answers: Mapping[str, Answer], knowledge: Knowledge) -> tuple[Answer, ...]:
    """Return the answers that were told on a call and that somebody at the clock could look at.

    Parameters
    ----------
    events : sequence of Event
        The row: it knows which contact was a call.
    answers : mapping of str to Answer
        The answer that counts for each finding.
    knowledge : Knowledge
        Knows what only an owner can tell.
    """
    calls = {event.id for event in events if isinstance(event, ev.Contact) and event.where == "call"}
    return tuple(
        answer
        for name, answer in answers.items()
        if answer.state == "said"
        and answer.source == "told"
        and answer.contact in calls
        and name in knowledge.findings
        and can_be_seen(name, knowledge)
    )


def can_be_seen(finding: str, knowledge: Knowledge) -> bool:
    """Return whether somebody at the clock sees or hears a finding, rather than being told it."""
    entry = knowledge.findings[finding]
    return entry.place != ONLY_TOLD and entry.kind != "circumstance"


def told_checked(events: Sequence[ev.Event]) -> bool:
    """Return whether what was told was gone through in the contact under way."""
    for event in reversed(events):
        if isinstance(event, ev.ToldChecked):
            return True
        if isinstance(event, ev.Contact):
            return False
    return False


# ---- one clock ---------------------------------------------------------------------------------------


def counted(events: Sequence[ev.Event]) -> Sequence[ev.Event]:
    """Return the events without the recordings that turned out to be of another clock."""
    others, _ = _recordings(events)
    return [event for number, event in enumerate(events) if number not in others] if others else events


def two_speeds(events: Sequence[ev.Event]) -> TwoSpeeds | None:
    """Return the recordings that may be of two clocks and of which nobody has said so or otherwise."""
    return _recordings(events)[1]


def _recordings(events: Sequence[ev.Event]) -> tuple[frozenset[int], TwoSpeeds | None]:
    """Return the positions of recordings of another clock, and the two that nobody has judged."""
    others: set[int] = set()
    last: dict[str, Any] | None = None
    open_: tuple[int, dict[str, Any], TwoSpeeds] | None = None
    for number, event in enumerate(events):
        if isinstance(event, ev.Heard) and speed_of(event.beats) is not None:
            if last is not None and _apart(last, event.beats):
                found = TwoSpeeds(event.file, last["beats_per_hour"], event.beats["beats_per_hour"])
                open_ = (number, event.beats, found)
            else:
                last, open_ = event.beats, None
        elif isinstance(event, ev.SameClock) and open_ is not None and event.file == open_[2].file:
            if event.same:
                last = open_[1]
            else:
                others.add(open_[0])
            open_ = None
    return frozenset(others), open_[2] if open_ else None


def speed_of(beats: Mapping[str, Any]) -> float | None:
    """Return the beats per hour of a recording that could be heard."""
    return None if not beats or beats.get("refused") else beats.get("beats_per_hour")


def _apart(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    before, now = one["beats_per_hour"], other["beats_per_hour"]
    unsure = math.hypot(*((beats.get("uncertainty") or {}).get("rate_s_per_day") or 0.0 for beats in (one, other)))
    return bool(abs(now / before - 1.0) > SAME_CLOCK_SHARE + GRANTED_DEVIATIONS * unsure / SECONDS_A_DAY)
