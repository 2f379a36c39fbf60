"""Every demo case is replayed in full, with its recordings, and comes to what it says."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.case import Case, read_case
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge
from diagnose.reports.contract import ranked
from diagnose.settings import demo_folder

CASES = sorted(demo_folder().glob("*.yaml"))
KNOWN = {
    "before", "first", "within_three", "both", "remedy", "proved", "no_cause_above", "alarm", "out_of_scope",
    "contradiction",
}  # fmt: skip


@lru_cache(maxsize=64)
def replayed(path: Path) -> Consultation:
    knowledge = read_knowledge()
    return Consultation.replay(read_case(path, knowledge), knowledge)


def before_any_remedy(consultation: Consultation) -> Consultation:
    events = consultation.case.events
    cut = next((n for n, event in enumerate(events) if isinstance(event, ev.Tried)), len(events))
    case = consultation.case
    return Consultation(
        Case(case.id, case.door, case.edition, events[:cut], case.folder, case.title), consultation.knowledge
    )


def check_ranking(consultation: Consultation, expect: dict[str, Any]) -> None:
    causes = [item.cause for item in consultation.assessment.ranking.causes]
    if "first" in expect:
        assert causes[0] in expect["first"], causes[:5]
    if "within_three" in expect:
        assert set(expect["within_three"]) & set(causes[:3]), causes[:5]
    if "both" in expect:
        assert set(expect["both"]) <= set(causes[:3]), causes[:5]
    if "remedy" in expect:
        offered = [name for cause in causes[:3] for name in consultation.knowledge.causes[cause].remedies]
        assert expect["remedy"] in offered


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_demo_case_comes_to_what_it_expects(path: Path) -> None:
    consultation = replayed(path)
    expect = dict(consultation.case.expect)
    assert expect and set(expect) <= KNOWN
    check_ranking(before_any_remedy(consultation), expect.get("before", {}))
    check_ranking(consultation, expect)
    result = ranked(consultation)
    if expect.get("proved"):
        tried = [event.remedy for event in consultation.case.events if isinstance(event, ev.Tried)]
        proofs = consultation.knowledge.remedies[tried[-1]].proof
        said = {finding.finding: finding.said for finding in consultation.assessment.findings}
        assert all(said.get(proof.finding) == proof.value for proof in proofs), said
        assert result["nothing_wrong"] > 0.5
    if "no_cause_above" in expect:
        assert result["causes"][0]["probability"] <= expect["no_cause_above"]
    if "alarm" in expect:
        assert set(expect["alarm"]) <= set(consultation.alarms)
        assert isinstance(consultation.moment, moments.AlarmMoment)
    if expect.get("out_of_scope"):
        assert result["out_of_scope"]
        assert isinstance(consultation.moment, moments.ScopeMoment)
    if expect.get("contradiction"):
        assert result["contradictions"] or result["conflicts"]


def test_there_are_enough_cases_and_one_for_each_door() -> None:
    doors = {replayed(path).case.door for path in CASES}
    assert len(CASES) >= 14
    assert doors == set(read_knowledge().doors)


def test_six_recordings_are_heard() -> None:
    files = {
        event.file
        for path in CASES
        for event in replayed(path).case.events
        if isinstance(event, ev.Heard) and not event.beats["refused"]
    }
    assert len(files) >= 6


def test_two_cases_are_of_one_clock_two_weeks_apart() -> None:
    seen: dict[str, set[str]] = {}
    for path in CASES:
        case = replayed(path).case
        seen.setdefault(case.clock.id, set()).add(case.contact.when[:10])
    assert {"2031-03-12", "2031-03-26"} in seen.values()
