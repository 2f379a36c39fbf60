"""Steps that break a post, a tooth or a finger when their order is wrong, and what a danger leads to."""

from __future__ import annotations

import pytest

from diagnose.model.entries import Step
from diagnose.model.observations import ClockFacts, Person
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.gates import Situation, may_do
from diagnose.reasoning.tables import compile_base


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


def _acts(knowledge: Knowledge, remedy: str) -> list[str]:
    return [step.do.staff for step in knowledge.remedies[remedy].steps]


def _number(acts: list[str], words: str) -> int:
    return next(number for number, act in enumerate(acts) if words in act)


def test_the_power_is_down_before_the_cock_that_carries_the_pallets_comes_off(knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks: the spring is let down before anything comes off.
    acts = _acts(knowledge, "tighten-the-cock")
    assert _number(acts, "every spring down") < _number(acts, "Screws out")


def test_the_power_is_down_before_an_escape_tooth_is_pegged(knowledge: Knowledge) -> None:
    # Common practice, no source.
    acts = _acts(knowledge, "clear-the-escape-tooth")
    assert "Power down" in acts[_number(acts, "peg the tooth")]


def test_a_post_closed_too_far_is_neither_squeezed_again_nor_pried(knowledge: Knowledge) -> None:
    # Common practice, no source.
    steps = knowledge.remedies["close-the-spread-post"].steps
    ways = [way for step in steps for way in step.not_so if way.value == "stops-at-mouth"]
    assert ways
    assert all(way.go == "stop" for way in ways)


def test_a_let_down_key_is_never_gripped_anew_nor_caught(knowledge: Knowledge) -> None:
    # Common practice, no source: a click that has failed does not hold between two grips.
    step = knowledge.remedies["renew-the-click"].steps[0]
    assert step.hold is not None and "no grip has to be changed" in step.hold.staff
    assert step.stop_if is not None and "never caught" in step.stop_if.text.staff


def test_ears_that_hold_are_chosen_before_the_spring_is_pinned(knowledge: Knowledge) -> None:
    acts = _acts(knowledge, "fit-ears-that-hold")
    assert _number(acts, "Choose the spring") < _number(acts, "Pin through cheek")


def _hanging_steps(knowledge: Knowledge) -> list[Step]:
    return [
        step
        for remedy in knowledge.remedies.values()
        for step in remedy.steps
        if "by their labels on their own hooks" in step.do.staff
    ]


def test_the_pulley_is_held_down_while_a_weight_is_hung_and_packing_comes_out_after_it(knowledge: Knowledge) -> None:
    # Common practice, no source: a slack cable crosses on its drum.
    steps = _hanging_steps(knowledge)
    assert steps
    for step in steps:
        assert step.hold is not None and "holds the pulley down" in step.hold.staff
        assert "hangs free before its cable packing or chain thread comes out" in step.do.staff


@pytest.mark.parametrize(("family", "drive"), [("wall", "spring"), ("mantel", "unknown"), ("mantel", "spring")])
def test_a_clock_without_weights_has_no_fault_of_cables_or_weights(
    family: str, drive: str, knowledge: Knowledge
) -> None:
    base = compile_base(knowledge, ClockFacts(family=family, drive=drive))
    assert not {"cable-crossed", "cable-frayed", "weight-wrong", "weights-swapped", "weights-sway"} & set(base.causes)


def _on_the_phone(family: str, tools: str, helper: str) -> Situation:
    person = Person(reaches="yes", lifts="yes", helper=helper, tools=tools)  # type: ignore[arg-type]
    return Situation(where="call", person=person, clock=ClockFacts(family=family))


@pytest.mark.parametrize("remedy", ["soft-block-and-refer", "still-the-crutch-and-refer"])
def test_a_clock_is_made_safe_by_somebody_who_never_used_a_tool(remedy: str, knowledge: Knowledge) -> None:
    assert may_do(knowledge.remedies[remedy], _on_the_phone("floor", "no", "no"))


@pytest.mark.parametrize("remedy", ["hang-the-bob", "seat-the-hook"])
@pytest.mark.parametrize(("family", "helper", "allowed"), [("floor", "no", False), ("floor", "yes", True),
                                                           ("mantel", "no", True)])  # fmt: skip
def test_a_heavy_bob_is_not_hung_by_one_owner_alone(
    remedy: str, family: str, helper: str, allowed: bool, knowledge: Knowledge
) -> None:
    # Common practice, no source: two hands at a heavy bob, a helper at the leader.
    assert may_do(knowledge.remedies[remedy], _on_the_phone(family, "no", helper)) is allowed


FALLS = {
    "hook-seat": {"half-on", "off"}, "pin-seen": {"missing", "one-side", "misses-spring"}, "block-rocks": {"creeps"},
    "leaf-cracked": {"cracked", "strip-missing", "broken"}, "post-state": {"crack", "loose-in-plate"},
    "ears-down": {"one-out", "both-out"}, "leader-when-slack": {"slips-off"}, "leaf-in-block": {"moves"},
    "cock-tight": {"loose"},
}  # fmt: skip


@pytest.mark.parametrize("finding", FALLS)
def test_each_sign_that_the_pendulum_may_fall_warns_of_it(finding: str, knowledge: Knowledge) -> None:
    warned = {
        value
        for rule in knowledge.rules.values()
        if rule.kind == "warn" and rule.caution == "bob-falls" and len(rule.when) == 1
        for ground in rule.when
        if ground.finding == finding
        for value in ground.is_
    }
    assert warned >= FALLS[finding]
