"""Who may find out and do what where."""

import pytest

from diagnose.model.observations import Person
from diagnose.reasoning.gates import (
    LINE_MINUTES,
    Situation,
    apart,
    gate_met,
    may_do,
    may_find_out,
    may_reach,
    open_gates,
    takes_too_long,
    tries_left,
)
from tests.reasoning.planner_cases import ABLE, FLOOR, NOBODY, small_knowledge

CALL = Situation(where="call", person=ABLE, clock=FLOOR)
VISIT = Situation(where="visit", clock=FLOOR)
BENCH = Situation(where="workshop", clock=FLOOR)


def finding(name, **changes):
    return small_knowledge().findings[name].model_copy(update=changes)


def remedy(name, **changes):
    return small_knowledge().remedies[name].model_copy(update=changes)


def with_steps(name, status, **changes):
    entry = remedy(name, status=status)
    return entry.model_copy(update={"steps": tuple(step.model_copy(update=changes) for step in entry.steps)})


def test_a_danger_is_found_out_nowhere():
    for situation in (CALL, VISIT, BENCH):
        assert not may_find_out(finding("wound", risk="danger"), situation)


@pytest.mark.parametrize(
    ("who", "call", "visit", "bench"),
    [
        ("owner", True, True, True),
        ("owner-on-the-phone", True, True, True),
        ("technician", False, True, True),
        ("workshop", False, False, True),
    ],
)
def test_who_may_find_out_depends_on_the_place(who, call, visit, bench):
    entry = finding("wound", who=who)
    assert [may_find_out(entry, situation) for situation in (CALL, VISIT, BENCH)] == [call, visit, bench]


def test_what_an_owner_is_only_told_is_not_asked_on_a_call():
    assert not may_find_out(finding("wound", told=True), CALL)
    assert may_find_out(finding("wound", told=True), VISIT)


@pytest.mark.parametrize("field", ["reaches", "lifts", "helper", "tools"])
def test_what_is_not_known_of_a_person_counts_as_no(field):
    unknown = Person(**{"reaches": "yes", "lifts": "yes", "helper": "yes", "tools": "yes", field: "unknown"})
    denied = Person(**{"reaches": "yes", "lifts": "yes", "helper": "yes", "tools": "yes", field: "no"})
    hard = remedy("wind-it", opened="hood", tools=("a small screwdriver",), helper_needed=True)
    assert may_do(hard, CALL)
    for person in (unknown, denied):
        assert not may_do(hard, Situation(where="call", person=person, clock=FLOOR))


def test_nobody_unknown_opens_a_clock_beyond_its_door():
    anybody = Situation(where="call", person=NOBODY, clock=FLOOR)
    assert may_reach("door", anybody)
    assert not may_reach("hood", anybody)


def test_an_owner_never_takes_a_movement_out():
    assert may_reach("dial", CALL)
    assert not may_reach("movement-out", CALL)
    assert may_reach("movement-out", VISIT)


def test_a_remedy_with_one_step_for_a_technician_is_not_an_owners():
    assert may_do(remedy("wind-it"), CALL)
    assert not may_do(with_steps("wind-it", "reviewed", who="technician"), CALL)


@pytest.mark.parametrize("kind", ["under_load", "cannot_be_undone"])
def test_a_grave_step_reaches_an_owner_only_from_a_reviewed_entry(kind):
    assert not may_do(with_steps("wind-it", "draft", **{kind: True}), CALL)
    assert may_do(with_steps("wind-it", "reviewed", **{kind: True}), CALL)
    assert may_do(with_steps("wind-it", "draft", **{kind: True}), VISIT)


def test_a_trainee_leaves_grave_steps_to_others():
    trainee = Situation(where="visit", clock=FLOOR, staff="trainee")
    assert may_do(remedy("set-the-beat-at-the-crutch"), trainee)
    assert not may_do(remedy("fit-new-suspension-spring"), trainee)


def test_a_remedy_for_another_kind_of_clock_is_not_done():
    entry = remedy("wind-it")
    other = entry.model_copy(update={"applies": entry.applies.model_copy(update={"families": ("mantel",)})})
    assert not may_do(other, VISIT)


def test_a_remedy_is_tried_twice_at_most():
    assert tries_left("wind-it", CALL) == 2
    assert tries_left("wind-it", Situation(tried={"wind-it": 1})) == 1
    assert tries_left("wind-it", Situation(tried={"wind-it": 3})) == 0


def test_nobody_holds_the_line_over_three_minutes():
    assert not takes_too_long(finding("wound", minutes=LINE_MINUTES), CALL)
    assert takes_too_long(finding("wound", minutes=LINE_MINUTES + 0.5), CALL)
    assert not takes_too_long(finding("wound", minutes=LINE_MINUTES + 0.5), VISIT)


def test_what_takes_a_day_is_homework_everywhere():
    for situation in (CALL, VISIT, BENCH):
        assert takes_too_long(finding("wound", wait_hours=24), situation)


def test_on_a_visit_half_an_hour_passes_beside_other_work():
    assert takes_too_long(finding("wound", wait_hours=0.5), CALL)
    assert not takes_too_long(finding("wound", wait_hours=0.5), VISIT)


def test_an_answered_gate_decides():
    knowledge = small_knowledge()
    entry = finding("tick-evenness")
    assert gate_met(entry, Situation(values={"tick": "present"}), knowledge)
    assert not gate_met(entry, Situation(values={"tick": "silent"}), knowledge)


def test_an_unanswered_gate_is_taken_for_normal():
    knowledge = small_knowledge()
    assert gate_met(finding("tick-evenness"), Situation(), knowledge)
    assert not gate_met(finding("tick-evenness", needs={"tick": ("silent",)}), Situation(), knowledge)


def test_a_gate_that_nobody_can_tell_is_taken_for_normal():
    assert gate_met(finding("tick-evenness"), Situation(closed=frozenset({"tick"})), small_knowledge())


def test_a_circumstance_as_gate_must_be_answered():
    knowledge = small_knowledge()
    entry = finding("wound", needs={"part-fitted": ("suspension",)})
    assert not gate_met(entry, Situation(), knowledge)
    assert gate_met(entry, Situation(values={"part-fitted": "suspension"}), knowledge)


def test_open_gates_are_those_without_an_answer():
    assert open_gates(finding("tick-evenness"), Situation()) == ("tick",)
    assert open_gates(finding("tick-evenness"), Situation(values={"tick": "present"})) == ()


def test_a_question_and_its_open_gate_are_not_asked_in_one_breath():
    knowledge = small_knowledge()
    assert not apart("tick", "tick-evenness", CALL, knowledge)
    assert not apart("tick-evenness", "tick", CALL, knowledge)
    assert not apart("tick", "tick", CALL, knowledge)
    assert apart("tick", "wound", CALL, knowledge)


def test_a_gate_that_is_answered_no_longer_keeps_a_question_apart():
    ticking = Situation(where="call", person=ABLE, clock=FLOOR, values={"tick": "present"})
    assert apart("tick", "tick-evenness", ticking, small_knowledge())
