"""What holds of the whole knowledge, whatever its topic."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from diagnose.model.entries import Words
from diagnose.model.reading import read_knowledge
from diagnose.settings import knowledge_folder
from tests.knowledge import (
    test_beat_and_crutch,
    test_case_pendulum_room,
    test_case_power_hands,
    test_escapement_dial,
    test_hanging,
    test_power_train,
    test_regulating,
    test_strike_chime,
)

KNOWLEDGE = read_knowledge()
OWNERS = {"owner", "owner-on-the-phone"}
LEAST = {"causes": 45, "findings": 80, "cautions": 15, "alarms": 11, "drawings": 16, "sources": 10, "rules": 30}
SIDE = re.compile(
    r"\b(?:to|on|from) (?:your|the) (?:left|right)\b|\b(?:left|right) side\b(?! out)|left-hand|right-hand"
)
PROMISES = re.compile(r"\b(guaranteed?|certified|perfectly safe|completely safe|is safe to)\b", re.IGNORECASE)


def texts(value: object) -> Iterator[str]:
    """Every text that is shown of an entry."""
    if isinstance(value, Words):
        yield value.staff
        if value.customer:
            yield value.customer
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from texts(getattr(value, name))
    elif isinstance(value, dict):
        for item in value.values():
            yield from texts(item)
    elif isinstance(value, tuple | list):
        for item in value:
            yield from texts(item)


@pytest.mark.parametrize(("collection", "least"), LEAST.items())
def test_there_is_enough_of_each_kind(collection: str, least: int) -> None:
    assert len(getattr(KNOWLEDGE, collection)) >= least


def test_every_cause_has_a_case_where_it_must_come_first_and_a_look_alike_where_it_must_not() -> None:
    cased = set(test_hanging.CASES)
    cased |= {pair.case.first for pair in test_beat_and_crutch.PAIRS}
    cased |= {pair.cause for pair in test_case_power_hands.PAIRS}
    cased |= {pair.cause for pair in test_escapement_dial.PAIRS}
    cased |= {pair.cause for pair in test_power_train.PAIRS}
    cased |= {pair.cause for pair in test_case_pendulum_room.PAIRS}
    cased |= {pair.cause for pair in test_strike_chime.PAIRS}
    cased |= {pair.cause for pair in test_regulating.PAIRS}
    assert set(KNOWLEDGE.causes) <= cased


def test_every_step_for_an_owner_says_when_to_stop() -> None:
    without = [
        (name, number)
        for name, entry in KNOWLEDGE.remedies.items()
        for number, step in enumerate(entry.steps, 1)
        if (step.who or entry.who) in OWNERS and step.stop_if is None
    ]
    assert not without


def test_no_step_with_left_or_right_is_without_a_viewpoint() -> None:
    without = [
        (name, number)
        for name, entry in KNOWLEDGE.remedies.items()
        for number, step in enumerate(entry.steps, 1)
        if step.viewed_from is None and any(SIDE.search(text) for text in texts(step))
    ]
    assert not without


def test_no_finding_with_left_or_right_is_without_a_viewpoint() -> None:
    without = [
        name
        for name, entry in KNOWLEDGE.findings.items()
        if entry.viewed_from is None and any(SIDE.search(text) for text in texts(entry.question))
    ]
    assert not without


@pytest.mark.parametrize("collection", ["findings", "causes", "remedies", "cautions", "alarms", "rules", "parts"])
def test_nothing_is_promised(collection: str) -> None:
    for name, entry in getattr(KNOWLEDGE, collection).items():
        assert not [text for text in texts(entry) if PROMISES.search(text)], name


def test_the_word_stop_is_kept_for_danger() -> None:
    for name, entry in KNOWLEDGE.findings.items():
        assert not [text for text in texts(entry) if "STOP" in text], name


def test_every_remedy_belongs_to_a_cause() -> None:
    named = {remedy for cause in KNOWLEDGE.causes.values() for remedy in cause.remedies}
    # The whole order of hanging is walked on its own, by a technician who fits a pendulum.
    assert set(KNOWLEDGE.remedies) - named <= {"hang-the-pendulum"}


def test_every_caution_and_part_is_used() -> None:
    used: set[str] = set()
    for collection in ("findings", "causes", "remedies", "alarms"):
        for entry in getattr(KNOWLEDGE, collection).values():
            used |= set(getattr(entry, "cautions", ())) | set(getattr(entry, "parts", ()))
    used |= {str(rule.caution) for rule in KNOWLEDGE.rules.values()}
    assert set(KNOWLEDGE.parts) <= used
    assert set(KNOWLEDGE.cautions) <= used


def test_a_remedy_with_a_part_under_load_names_a_danger() -> None:
    for name, entry in KNOWLEDGE.remedies.items():
        if any(step.under_load for step in entry.steps):
            assert {KNOWLEDGE.cautions[caution].level for caution in entry.cautions} & {"danger", "care"}, name


@pytest.mark.parametrize("path", sorted(knowledge_folder().rglob("*.yaml")), ids=lambda path: path.name)
def test_a_file_is_short_enough_to_read(path: Path) -> None:
    assert len(path.read_text().splitlines()) <= 300


def test_every_finding_is_shown_by_a_cause_or_used_by_a_rule_or_a_step() -> None:
    used: set[str] = {link.finding for cause in KNOWLEDGE.causes.values() for link in cause.shows}
    used |= {name for cause in KNOWLEDGE.causes.values() for name in cause.raised_by}
    used |= {ground.finding for rule in KNOWLEDGE.rules.values() for ground in rule.when}
    used |= {str(rule.finding) for rule in KNOWLEDGE.rules.values()}
    assert set(KNOWLEDGE.findings) <= used


def test_the_words_staff_and_customer_see_are_kept_apart() -> None:
    never: dict[str, Any] = {
        key: entry.customer
        for key, entry in KNOWLEDGE.screen.items()
        if entry.customer and re.search(r"\b(decibans?|odds|leak|firing|ranking)\b", entry.customer, re.IGNORECASE)
    }
    assert not never
