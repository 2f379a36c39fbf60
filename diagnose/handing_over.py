"""What a clock is handed over with: the fields, and what recordings and acts already tell of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from diagnose import contacts
from diagnose.cases import events as ev
from diagnose.model.reading import Knowledge
from diagnose.reasoning.changes import BEAT, NUMBERS, RATE, SPEED, SPLIT, SWING, Changes, Now, changes_since

ADJUSTER, NUT, HANGS_ON, PARTS, RECORDING = "adjuster", "nut", "hangs on", "parts", "recording"
# In the order in which they are asked and shown; the names stand in case files.
FIELDS = (SPLIT, BEAT, SPEED, RATE, SWING, ADJUSTER, NUT, HANGS_ON, PARTS, RECORDING)
# Outcomes after which a part stays in the clock.
PART_STAYS = frozenset({"done", "cured", "better", "no-change"})


def handover_defaults(events: Sequence[ev.Event], knowledge: Knowledge) -> dict[str, Any]:
    """Return what is known of the hand-over: the last good recording, the acts and the parts of this case.

    Parameters
    ----------
    events : sequence of Event
        The row.
    knowledge : Knowledge
        Names the parts of a remedy.
    """
    known: dict[str, Any] = {}
    for event in contacts.counted(events):
        if isinstance(event, ev.Heard) and contacts.speed_of(event.beats) is not None:
            known |= _of_recording(event)
        elif isinstance(event, ev.Again):
            known[event.name] = event.value
    known |= {ADJUSTER: _adjuster(events), PARTS: _parts(events, knowledge)}
    return {name: known[name] for name in FIELDS if known.get(name) not in (None, "")}


def _of_recording(heard: ev.Heard) -> dict[str, Any]:
    beats = heard.beats
    return {
        BEAT: beats.get("beat_error_percent"),
        SPLIT: beats.get("split"),
        SPEED: beats.get("beats_per_hour"),
        RATE: None if beats.get("nominal_guessed", True) else beats.get("rate_s_per_day"),
        RECORDING: heard.file,
    }


def _adjuster(events: Sequence[ev.Event]) -> str:
    """Return where each adjuster stands against where it was found, as far as acts were noted."""
    moved: dict[str, float] = {}
    for event in events:
        if isinstance(event, ev.Acted):
            sign = 1.0 if event.direction == "right" else -1.0
            moved[event.adjuster] = moved.get(event.adjuster, 0.0) + sign * event.amount_mm
    return ", ".join(
        f"{name} {abs(amount):.1f} mm {'right' if amount > 0 else 'left'}" for name, amount in moved.items() if amount
    )


def _parts(events: Sequence[ev.Event], knowledge: Knowledge) -> str:
    """Return the parts of the remedies that were done in this case."""
    done = [event.remedy for event in events if isinstance(event, ev.Tried) and event.outcome in PART_STAYS]
    names = dict.fromkeys(
        part for remedy in done if remedy in knowledge.remedies for part in knowledge.remedies[remedy].parts
    )
    return ", ".join(knowledge.parts[name].title.staff for name in names if name in knowledge.parts)


def value_of(field: str, text: str) -> str | float:
    """Return a hand-over value as it is kept: a number where later ones are compared with it.

    Parameters
    ----------
    field : str
        One of `FIELDS`.
    text : str
        As somebody typed it.
    """
    if field not in NUMBERS:
        return text
    try:
        return float(text.split()[0].replace(",", ".")) if text else text
    except ValueError:
        return text


def changes_of(events: Sequence[ev.Event], knowledge: Knowledge) -> Changes:
    """Return what has changed since the hand-over that an earlier case ended with.

    Only what was measured before anything was done in this case counts: afterwards it is our own change.

    Parameters
    ----------
    events : sequence of Event
        The row.
    knowledge : Knowledge
        The findings a change speaks for.
    """
    before = next((event for event in events if isinstance(event, ev.HandedBefore)), None)
    if before is None:
        return Changes()
    now = Now(contacts.date_of(""))
    for event in contacts.counted(events):
        if isinstance(event, ev.WalkBegun | ev.Tried):
            break
        if isinstance(event, ev.Contact):
            now = replace(now, when=contacts.date_of(event.when))
        elif isinstance(event, ev.Heard) and contacts.speed_of(event.beats) is not None:
            now = _heard(now, event.beats)
        elif isinstance(event, ev.Again):
            now = _measured(now, event)
    return changes_since(before.values, before.when, now, knowledge, before.cause)


def _measured(now: Now, event: ev.Again) -> Now:
    """Return how the clock is now, with one value of the hand-over measured again."""
    match event.name:
        case "beat error %":
            return replace(now, beat_percent=event.value, beat_unsure=None)
        case "rate s/day":
            return replace(now, rate=event.value, rate_unsure=None)
        case "beats per hour":
            return replace(now, beats_per_hour=event.value)
        case "swing":
            return replace(now, swing=event.value)
    return now


def _heard(now: Now, beats: dict[str, Any]) -> Now:
    unsure = beats.get("uncertainty") or {}
    guessed = beats.get("nominal_guessed", True)
    return replace(
        now,
        beat_percent=beats.get("beat_error_percent"),
        beat_unsure=unsure.get("beat_error_percent"),
        rate=now.rate if guessed else beats.get("rate_s_per_day"),
        rate_unsure=now.rate_unsure if guessed else unsure.get("rate_s_per_day"),
        beats_per_hour=beats.get("beats_per_hour"),
    )
