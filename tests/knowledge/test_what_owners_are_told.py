"""Cautions, findings, causes and remedies of case, power and hands: what owners are told, and in which words."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from diagnose.model.entries import RemedyEntry, Step, Words
from diagnose.model.observations import ClockFacts, Person, YesNo
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.gates import Situation, may_do

CAUSE_FILES = (
    "case", "pendulum", "power", "springs", "train", "hands", "surroundings",
    "train_bench", "train_wear", "power_cables", "power_springs", "winding",
)  # fmt: skip
FINDING_FILES = (
    "told", "told_events", "runs", "runs_rate", "sound", "swing", "case", "power", "hands", "movement",
    "weights_look", "winding", "power_bench", "train_bench",
)  # fmt: skip
REMEDY_FILES = (
    "setting_up", "unpacking", "case", "power", "power_bench", "hands", "motion_work", "movement", "pendulum",
    "train_bench", "train_wear", "power_cables", "power_springs", "winding",
)  # fmt: skip
OWNERS = {"owner", "owner-on-the-phone"}
MOST_ENTRIES, MOST_LINES, MOST_WAYS = 20, 300, 22


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


def _of_files(knowledge: Knowledge, collection: str, names: tuple[str, ...]) -> list[str]:
    files = {f"knowledge/{collection}/{name}.yaml" for name in names}
    return [key for (kind, key), place in knowledge.positions.items() if kind == collection and place[0] in files]


def _owners_steps(knowledge: Knowledge) -> Iterator[tuple[str, RemedyEntry, Step]]:
    for key in _of_files(knowledge, "remedies", REMEDY_FILES):
        remedy = knowledge.remedies[key]
        for step in remedy.steps:
            if (step.who or remedy.who) in OWNERS:
                yield key, remedy, step


def test_an_owner_is_told_when_to_stop_on_every_step(knowledge: Knowledge) -> None:
    steps = list(_owners_steps(knowledge))
    assert len(steps) > 30
    for key, _, step in steps:
        assert step.do.customer, key
        assert step.stop_if is not None and step.stop_if.text.customer, key


def test_an_owner_is_given_no_tool_no_load_and_nothing_for_ever(knowledge: Knowledge) -> None:
    steps = list(_owners_steps(knowledge))
    assert not [key for key, remedy, _ in steps if remedy.tools]
    assert not [key for key, _, step in steps if step.under_load or step.cannot_be_undone]


@pytest.mark.parametrize(
    ("family", "helper", "allowed"),
    [("floor", "no", False), ("unknown", "no", False), ("floor", "yes", True), ("mantel", "no", True)],
)
def test_nobody_packs_a_tall_case_alone(family: str, helper: YesNo, allowed: bool, knowledge: Knowledge) -> None:
    # Common practice, no source; tip-over figures: CPSC release of 26 November 2019.
    person = Person(reaches="yes", lifts="yes", helper=helper, tools="no")
    situation = Situation(where="call", person=person, clock=ClockFacts(family=family))
    assert may_do(knowledge.remedies["set-the-beat-at-the-case"], situation) is allowed


ASKED_OF_NOBODY = re.compile(r"(?<!not )(?<!or )\b(bend|squeeze|pry|climb|lift|unscrew|spray)\b", re.IGNORECASE)
REFUSED = re.compile(r"\b(not|never|nothing|no)\b", re.IGNORECASE)


def test_an_owner_never_bends_lifts_pries_or_climbs(knowledge: Knowledge) -> None:
    for key, _, step in _owners_steps(knowledge):
        for sentence in re.split(r"(?<=[.!?:])\s+", step.do.customer or ""):
            assert not ASKED_OF_NOBODY.search(sentence) or REFUSED.search(sentence), (key, sentence)


SIDE = re.compile(r"\b(?:to|on|from) (?:your |the )?(?:left|right)\b|\b(?:left|right) side\b|SHORT-way side")


def test_left_and_right_are_never_said_without_the_viewpoint(knowledge: Knowledge) -> None:
    steps = [
        (key, step.viewed_from)
        for key in _of_files(knowledge, "remedies", REMEDY_FILES)
        for step in knowledge.remedies[key].steps
        if SIDE.search(f"{step.do.staff} {step.do.customer or ''}")
    ]
    findings = [
        (key, entry.viewed_from)
        for key in _of_files(knowledge, "findings", FINDING_FILES)
        if SIDE.search(f"{(entry := knowledge.findings[key]).question.staff} {entry.question.customer or ''}")
    ]
    assert steps and findings
    assert not [key for key, viewed_from in (*steps, *findings) if viewed_from is None]


def _grade(text: str) -> float:
    """Return the reading grade: 0.39 words per sentence + 11.8 syllables per word - 15.59 (Kincaid, 1975)."""
    words = re.findall(r"[A-Za-z']+", text)
    sentences = max(1, len(re.findall(r"[.!?]+(?:\s|$)", text)))
    syllables = sum(max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e$", "", word.lower())))) for word in words)
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


def _said_to_customers(value: object) -> Iterator[str]:
    if isinstance(value, Words):
        yield value.customer or ""
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _said_to_customers(item)
    elif hasattr(value, "model_fields_set"):
        for name in type(value).model_fields:  # type: ignore[attr-defined]
            yield from _said_to_customers(getattr(value, name))


def test_what_a_customer_reads_is_easy_to_read(knowledge: Knowledge) -> None:
    entries = [
        *(("findings", key) for key in _of_files(knowledge, "findings", FINDING_FILES)),
        *(("remedies", key) for key in _of_files(knowledge, "remedies", REMEDY_FILES)),
        *(("cautions", key) for key in knowledge.cautions),
        *(("alarms", key) for key in knowledge.alarms),
    ]
    hard = {}
    for collection, key in entries:
        text = " ".join(part for part in _said_to_customers(getattr(knowledge, collection)[key]) if len(part) > 20)
        if len(text) > 60 and _grade(text) > 6:
            hard[key] = round(_grade(text), 1)
    assert not hard


def test_each_file_stays_short(knowledge: Knowledge) -> None:
    files = {place[0] for place in knowledge.positions.values()}
    mine = {
        f"knowledge/{folder}/{name}.yaml"
        for folder, names in (("causes", CAUSE_FILES), ("findings", FINDING_FILES), ("remedies", REMEDY_FILES))
        for name in names
    } | {f"knowledge/cautions/{name}.yaml" for name in ("cautions", "care", "alarms")}
    assert mine <= files
    for file in sorted(mine):
        lines = (knowledge.folder.parent / file).read_text(encoding="utf-8").count("\n")
        assert lines <= MOST_LINES, file
        assert sum(place[0] == file for place in knowledge.positions.values()) <= MOST_ENTRIES, file


def test_each_abnormal_value_has_three_to_twenty_two_ways_of_saying_it(knowledge: Knowledge) -> None:
    for key in _of_files(knowledge, "findings", FINDING_FILES):
        finding = knowledge.findings[key]
        least = 1 if finding.told else 3
        for name, value in finding.values.items():
            if finding.kind != "circumstance" and not value.normal:
                assert least <= len(value.said_like) <= MOST_WAYS, (key, name)
