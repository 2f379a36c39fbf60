"""Rules about rules: each check finds a fault planted in the shipped knowledge, and the shipped knowledge has none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from diagnose.model.entries import Ground, Value, Words
from diagnose.model.lists import ExceptionEntry
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.review import CHECKS, review


def found(knowledge: Knowledge, check: str) -> set[str]:
    """Return the ids that a check finds and that nobody has excused."""
    chosen = tuple(item for item in CHECKS if item.id == check)
    remarks = review(knowledge, chosen)
    return {
        remark.fault.what.split("'")[1] for remark in remarks if remark.excused is None and remark.check.id == check
    }


def planted(collection: str, name: str, **changes: Any) -> Knowledge:
    """Return the shipped knowledge with one entry changed."""
    knowledge = read_knowledge()
    entries = dict(getattr(knowledge, collection))
    entries[name] = entries[name].model_copy(update=changes)
    return replace(knowledge, **{collection: entries})


def ground(finding: str, *values: str) -> Ground:
    """Return a ground of a rule."""
    return Ground.model_validate({"finding": finding, "is": values})


@pytest.mark.parametrize("check", [check.id for check in CHECKS])
def test_the_shipped_knowledge_passes(check: str) -> None:
    assert not found(read_knowledge(), check)


def test_every_exception_still_excuses_something() -> None:
    stale = [remark.fault for remark in review(read_knowledge()) if remark.check.id == "exception-without-use"]
    assert not stale


def test_an_exception_without_use_is_told() -> None:
    knowledge = read_knowledge()
    extra = ExceptionEntry.model_validate(
        {"check": "hard-to-read", "of": ["fork-tight"], "reason": "It was hard once."}
    )
    exceptions = {**knowledge.exceptions, "old": extra}
    positions = {**knowledge.positions, ("exceptions", "old"): ("knowledge/exceptions.yaml", 1, 1)}
    remarks = review(replace(knowledge, exceptions=exceptions, positions=positions))
    assert any("'old': excuses nothing" in remark.fault.what for remark in remarks)


def test_an_exception_turns_a_finding_into_one_with_a_reason() -> None:
    shipped = read_knowledge()
    remarks = [remark for remark in review(shipped) if remark.excused is not None]
    reasons = {entry.reason for entry in shipped.exceptions.values()}
    assert remarks and {remark.excused for remark in remarks} <= reasons


def test_two_causes_with_the_same_signature_are_found() -> None:
    shown = read_knowledge().causes["fork-tight"].shows
    assert found(planted("causes", "fork-loose", shows=shown), "same-signature")


def test_a_look_alike_that_nothing_tells_apart_is_found() -> None:
    shown = read_knowledge().causes["fork-tight"].shows
    assert "fork-loose" in found(planted("causes", "fork-loose", shows=shown), "look-alike-not-told-apart")


def test_a_look_alike_that_is_not_named_back_is_found() -> None:
    assert found(planted("causes", "fork-tight", mistaken_for=()), "look-alike-one-way") == {"fork-tight"}


def test_a_caution_nobody_names_is_found() -> None:
    knowledge = read_knowledge()
    cautions = {**knowledge.cautions, "idle": knowledge.cautions["bob-falls"]}
    positions = {**knowledge.positions, ("cautions", "idle"): ("knowledge/cautions/care.yaml", 1, 1)}
    assert found(replace(knowledge, cautions=cautions, positions=positions), "no-use") == {"idle"}


@pytest.mark.parametrize(
    "grounds",
    [
        (ground("tick", "present"), ground("tick", "silent")),
        (ground("tick", "silent"), ground("tick-evenness", "limping")),
    ],
    ids=["two values at once", "behind a shut gate"],
)
def test_a_rule_that_can_never_fire_is_found(grounds: tuple[Ground, ...]) -> None:
    assert found(planted("rules", "gallop-means-it-raced", when=grounds), "never-fires") == {"gallop-means-it-raced"}


def test_a_rule_that_is_never_silent_is_found() -> None:
    every = ground("tick", *read_knowledge().findings["tick"].values)
    assert found(planted("rules", "gallop-means-it-raced", when=(every,)), "never-silent") == {"gallop-means-it-raced"}


def test_a_rule_that_another_makes_needless_is_found() -> None:
    knowledge = read_knowledge()
    wide = knowledge.rules["gallop-means-it-raced"]
    narrow = wide.model_copy(update={"when": (*wide.when, ground("wound", "wound"))})
    rules = {**knowledge.rules, "again": narrow}
    positions = {**knowledge.positions, ("rules", "again"): ("knowledge/rules/beat.yaml", 1, 1)}
    assert found(replace(knowledge, rules=rules, positions=positions), "said-twice") == {"again"}


def test_findings_that_wait_for_one_another_are_found() -> None:
    knowledge = planted("findings", "tick", needs={"tick-evenness": ("even",)})
    assert found(knowledge, "needs-in-a-ring") == {"tick"}


def test_a_conclusion_that_proves_itself_is_found() -> None:
    knowledge = planted("rules", "gallop-means-it-raced", when=(ground("raced", "yes"),))
    assert found(knowledge, "infers-in-a-ring") == {"raced"}


def test_a_question_nobody_may_answer_is_found() -> None:
    assert "tick" in found(planted("findings", "tick", risk="danger"), "nobody-can-answer")


def test_a_cause_with_nothing_to_look_at_is_found() -> None:
    assert found(planted("causes", "fork-tight", shows=()), "nothing-to-look-at") == {"fork-tight"}


def test_a_number_nobody_can_ask_for_is_found() -> None:
    entry = read_knowledge().remedies["set-the-beat-at-the-case"]
    steps = (entry.steps[0].model_copy(update={"reckon": ("age",)}), *entry.steps[1:])
    knowledge = planted("remedies", "set-the-beat-at-the-case", steps=steps)
    assert found(knowledge, "nothing-to-reckon") == {"set-the-beat-at-the-case"}


def test_a_part_under_load_without_a_danger_is_found() -> None:
    knowledge = read_knowledge()
    name = next(key for key, entry in knowledge.remedies.items() if any(step.under_load for step in entry.steps))
    assert found(planted("remedies", name, cautions=()), "load-without-caution") == {name}


def test_a_grave_step_for_a_customer_from_a_draft_is_found() -> None:
    entry = read_knowledge().remedies["set-the-beat-at-the-case"]
    steps = (entry.steps[0].model_copy(update={"cannot_be_undone": True}), *entry.steps[1:])
    knowledge = planted("remedies", "set-the-beat-at-the-case", status="draft", steps=steps)
    assert found(knowledge, "draft-for-a-customer") == {"set-the-beat-at-the-case"}


def test_a_value_that_says_nobody_knows_is_found() -> None:
    values = dict(read_knowledge().findings["tick"].values)
    values["not-known"] = Value(staff="nobody has listened")
    assert found(planted("findings", "tick", values=values), "unknown-as-content") == {"tick"}


def test_a_text_above_the_reading_grade_is_found() -> None:
    hard = "Ascertain whether perpendicularity of the suspension assembly deteriorates progressively."
    words = Words(staff=f"{hard} {hard}")
    assert "tick" in found(planted("findings", "tick", question=words), "hard-to-read")


def test_a_figure_without_a_source_is_found() -> None:
    cause = read_knowledge().causes["fork-tight"]
    link = cause.shows[0].model_copy(update={"why": "Less than 0.2 mm is left.", "source": "practice"})
    knowledge = planted("causes", "fork-tight", shows=(link, *cause.shows[1:]), sources=("practice",))
    assert found(knowledge, "source-not-named") == {"fork-tight"}


def test_a_source_on_which_nothing_rests_is_found() -> None:
    knowledge = read_knowledge()
    sources = {**knowledge.sources, "idle": knowledge.sources["beckett"]}
    positions = {**knowledge.positions, ("sources", "idle"): ("knowledge/sources.yaml", 1, 1)}
    assert found(replace(knowledge, sources=sources, positions=positions), "source-not-used") == {"idle"}
