"""What cannot all be true is named, and an answer counts once for a cause."""

import math
from pathlib import Path

import pytest
import yaml

from diagnose.errors import KnowledgeError
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import Base, compile_base
from tests.reasoning.small_cases import (
    SMALL,
    fresh,
    ids,
    read_small,
    rule,
    said,
    small_folder,
    small_knowledge,
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return small_knowledge()


@pytest.fixture(scope="module")
def base(knowledge: Knowledge) -> Base:
    return compile_base(knowledge, ClockFacts())


def test_a_stated_contradiction_names_rule_and_grounds(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, wound="run-down", runs_for="keeps-running")
    (contradiction,) = fresh(findings, knowledge, base).contradictions
    assert contradiction.name == "cannot-both-be"
    assert contradiction.rules == ("run-down-cannot-keep-running",)
    assert contradiction.grounds == (("wound", "run-down"), ("runs-for", "keeps-running"))


def test_an_answer_against_an_inference_is_named(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, weights_height="at-the-bottom", wound="wound")
    (contradiction,) = fresh(findings, knowledge, base).contradictions
    assert contradiction.name == "inferred-otherwise"
    assert set(contradiction.grounds) == {("weights-height", "at-the-bottom"), ("wound", "wound")}


def test_two_inferences_against_each_other_are_named_and_leave_no_answer(tmp_path: Path) -> None:
    knowledge, base = read_small(
        tmp_path,
        up=rule("infer", "weights-height", "well-up", finding="wound", value="wound"),
        down=rule("infer", "works-by", "battery", finding="wound", value="run-down"),
    )
    conclusions = fresh(said(knowledge, weights_height="well-up", works_by="battery"), knowledge, base)
    (inferred,) = conclusions.inferred
    assert [item.name for item in conclusions.contradictions] == ["inferred-twice"]
    assert inferred.said is None
    assert inferred.likelihood == pytest.approx((0.5, 0.5))


def test_a_cause_both_seen_and_excluded_is_a_named_contradiction(tmp_path: Path) -> None:
    knowledge, base = read_small(
        tmp_path,
        seen=rule("establish", "pallets", "dry", cause="not-wound"),
        out=rule("exclude", "moved-lately", "no", cause="not-wound"),
    )
    conclusions = fresh(said(knowledge, pallets="dry", moved_lately="no"), knowledge, base)
    assert [item.name for item in conclusions.contradictions] == ["established-and-excluded"]
    assert math.isfinite(conclusions.weights["not-wound"])


def test_two_causes_seen_that_exclude_each_other_are_a_named_contradiction(tmp_path: Path) -> None:
    folder = small_folder(
        tmp_path,
        {
            "one": rule("establish", "pallets", "dry", cause="not-wound"),
            "two": rule("establish", "moved-lately", "no", cause="weights-sway"),
        },
    )
    text = (folder / "causes.yaml").read_text()
    old = "{finding: weights-sway, value: sway, often: probable,"
    text = text.replace(old, f"{{finding: wound, value: never-ending, often: certain, why: Test.}}\n      - {old}")
    (folder / "causes.yaml").write_text(text)
    findings = (folder / "findings.yaml").read_text()
    findings = findings.replace(
        "wound: {staff: wound, normal: true}",
        "wound: {staff: wound, normal: true}, never-ending: {staff: never ending}",
    )
    (folder / "findings.yaml").write_text(findings)
    rules = yaml.safe_load((folder / "rules.yaml").read_text())
    rules["rules"]["one"]["silent_on"] = [{"pallets": "smooth"}]
    rules["rules"]["two"]["silent_on"] = [{"moved-lately": "yes"}]
    (folder / "rules.yaml").write_text(yaml.safe_dump(rules))
    knowledge = read_knowledge(folder)
    base = compile_base(knowledge, ClockFacts())
    conclusions = fresh(said(knowledge, pallets="dry", moved_lately="no"), knowledge, base)
    (contradiction,) = conclusions.contradictions
    assert contradiction.name == "established-apart"
    assert "wound" in contradiction.because


def test_everything_excluded_is_a_named_contradiction_and_the_ranking_stays_finite(tmp_path: Path) -> None:
    causes = read_knowledge(SMALL).causes
    knowledge, base = read_small(
        tmp_path, **{f"out-{cause}": rule("exclude", "works-by", "battery", cause=cause) for cause in causes}
    )
    findings = said(knowledge, works_by="battery")
    conclusions = fresh(findings, knowledge, base)
    ranking = rank(base, [Piece(findings, conclusions.weights)])
    assert [item.name for item in conclusions.contradictions] == ["all-excluded"]
    assert all(math.isfinite(entry.probability) for entry in ranking.causes)


def test_of_two_rules_on_one_answer_the_stronger_counts(tmp_path: Path) -> None:
    knowledge, base = read_small(
        tmp_path,
        little=rule("support", "pallets", "dry", cause="not-wound", factor="little"),
        clearly=rule("support", "pallets", "dry", cause="not-wound", factor="clearly"),
    )
    conclusions = fresh(said(knowledge, pallets="dry"), knowledge, base)
    assert sorted(ids(conclusions, "support")) == ["clearly", "little"]
    assert conclusions.weights == {"not-wound": 4.0}


def test_two_rules_on_different_answers_both_count(tmp_path: Path) -> None:
    knowledge, base = read_small(
        tmp_path,
        one=rule("support", "pallets", "dry", cause="not-wound", factor="little"),
        two=rule("support", "moved-lately", "no", cause="not-wound", factor="clearly"),
    )
    conclusions = fresh(said(knowledge, pallets="dry", moved_lately="no"), knowledge, base)
    assert conclusions.weights == {"not-wound": 8.0}


def test_an_answer_and_what_is_inferred_from_it_count_once(tmp_path: Path) -> None:
    knowledge, base = read_small(
        tmp_path,
        first=rule("infer", "weights-height", "at-the-bottom", finding="wound", value="run-down"),
        direct=rule("support", "weights-height", "at-the-bottom", cause="case-rocks", factor="clearly"),
        through=rule("support", "wound", "run-down", cause="case-rocks", factor="clearly"),
    )
    conclusions = fresh(said(knowledge, weights_height="at-the-bottom"), knowledge, base)
    assert conclusions.weights == {"case-rocks": 4.0}


def test_the_reader_refuses_support_on_top_of_a_link(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="a second time"):
        read_small(tmp_path, twice=rule("support", "wound", "run-down", cause="not-wound", factor="little"))
