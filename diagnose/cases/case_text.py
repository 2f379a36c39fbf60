"""Writes a case as the text of a case file, so that a person can read it and the program reads it back."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import Any

from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.cases.facts import IMPLIED
from diagnose.model.observations import Answer


def case_to_yaml(case: Case) -> str:
    """Return a case as the text of a case file; reading it gives the same answers back."""
    import yaml

    body: dict[str, Any] = {"case": case.id}
    if case.title:
        body["title"] = case.title
    body |= {"door": case.door, "edition": case.edition}
    clock = {name: value for name, value in dataclasses.asdict(case.clock).items() if value not in {"unknown", None}}
    if case.sounds != "unknown":
        implied = IMPLIED[case.sounds].items()
        clock = {name: value for name, value in clock.items() if (name, value) not in implied}
        clock["sounds"] = case.sounds
    person = {name: value for name, value in dataclasses.asdict(case.person).items() if value != "unknown"}
    body["clock"] = clock
    if person:
        body["person"] = person
    said = [event.text for event in case.events if isinstance(event, ev.Said)]
    if said:
        body["said"] = said[0] if len(said) == 1 else said
    before = [dataclasses.asdict(event) for event in case.events if isinstance(event, ev.HandedBefore)]
    if before:
        body["before"] = {name: value for name, value in before[-1].items() if value not in ("", None)}
    body["contacts"] = _contacts_to_dict(case.events)
    body |= _pieces_to_dict(case.events)
    measured = [dataclasses.asdict(event.measurement) for event in case.events if isinstance(event, ev.Measured)]
    if measured:
        body["measured"] = measured
    again = {event.name: event.value for event in case.events if isinstance(event, ev.Again)}
    if again:
        body["again"] = again
    noted = [_noted_to_dict(event) for event in case.events if isinstance(event, ev.Noted)]
    if noted:
        body["noted"] = noted
    handed = [event.values for event in case.events if isinstance(event, ev.HandedOver)]
    body["handover"] = handed[-1] if handed else None
    ends = [event for event in case.events if isinstance(event, ev.Concluded)]
    body["outcome"] = {k: v for k, v in dataclasses.asdict(ends[-1]).items() if v} if ends else None
    return str(yaml.safe_dump(body, sort_keys=False, allow_unicode=True, width=100))


def _noted_to_dict(noted: ev.Noted) -> dict[str, Any]:
    body = {name: value for name, value in dataclasses.asdict(noted).items() if value is not None}
    return {**body, "rate": list(noted.rate)} if noted.rate is not None else body


def _contacts_to_dict(events: Iterable[ev.Event]) -> list[dict[str, Any]]:
    """Return the contacts, each with its homework and the date of the next."""
    contacts: dict[str, dict[str, Any]] = {}
    for event in events:
        if isinstance(event, ev.Contact):
            contacts[event.id] = dataclasses.asdict(event)
        elif isinstance(event, ev.ToldChecked) and event.contact in contacts:
            contacts[event.contact]["told_checked"] = True
        elif isinstance(event, ev.Closed) and event.contact in contacts:
            contacts[event.contact]["until"] = event.again
            if event.homework:
                contacts[event.contact]["homework"] = list(event.homework)
    return list(contacts.values())


def _pieces_to_dict(events: Iterable[ev.Event]) -> dict[str, Any]:
    """Return `answers`, `recordings` and `tried`, each answer in the piece it belongs to."""
    first: dict[str, Any] = {"answers": {}, "recordings": []}
    pieces = [first]
    for event in events:
        here = pieces[-1]
        if isinstance(event, Answer):
            here["answers"][event.finding] = _answer_to_dict(event)
        elif isinstance(event, ev.TakenBack):
            here["answers"].pop(event.finding, None)
        elif isinstance(event, ev.Heard) and event.within is None:
            heard = {"file": event.file, "contact": event.contact, "drawn_to": event.first_side, "made": event.made}
            here["recordings"].append({name: value for name, value in heard.items() if value not in (None, {})})
        elif isinstance(event, ev.SameClock):
            for heard in here["recordings"]:
                if heard["file"] == event.file:
                    heard["same_clock"] = "yes" if event.same else "no"
        elif isinstance(event, ev.Tried):
            head = {"remedy": event.remedy, "outcome": event.outcome, "contact": event.contact}
            pieces.append({**head, "answers": {}, "recordings": []})
    for piece in pieces:
        for name in ("answers", "recordings"):
            if not piece[name]:
                del piece[name]
    return {**first, "tried": pieces[1:]} if len(pieces) > 1 else first


def _answer_to_dict(answer: Answer) -> Any:
    value = answer.value if answer.state == "said" else answer.state
    if (answer.certainty, answer.source, answer.contact, answer.said) == ("sure", "told", "c1", None):
        return value
    return {"value": value} | {
        name: getattr(answer, name)
        for name, usual in (("certainty", "sure"), ("source", "told"), ("contact", "c1"), ("said", None))
        if getattr(answer, name) != usual
    }
