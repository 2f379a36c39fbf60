"""The next step on the shipped knowledge: sensible to a person, and in time."""

import time
from functools import cache

import pytest

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.assessment import Stretch, assess
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.gates import OWNERS, Situation
from diagnose.reasoning.next_step import Ask, next_step
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import compile_base
from tests.reasoning.planner_cases import ABLE, NOBODY, asked_in, done_in

FLOOR = ClockFacts(family="floor", drive="weight-cable", escapement="recoil")
STORIES = (
    {"runs-for": "minutes", "part-fitted": "suspension"},
    {"moved-lately": "yes", "tick-evenness": "limping"},
    {"squeak": "squeak"},
    {"stops-when-people-walk": "yes"},
    {"spring-breaks-again": "yes", "leaf-cracked": "cracked"},
)


@cache
def shipped():
    knowledge = read_knowledge(check=False)
    return knowledge, compile_base(knowledge, FLOOR)


@cache
def planned(story, where, person):
    knowledge, base = shipped()
    answers = dict(STORIES[story])
    ranking = rank(base, [Piece(findings_from([Answer(*item) for item in answers.items()], (), knowledge))])
    situation = Situation(where=where, person=person, closed=frozenset(answers), values=answers, clock=FLOOR)
    return ranking, situation, next_step(base, ranking, knowledge, situation)


@pytest.mark.parametrize("story", range(len(STORIES)))
@pytest.mark.parametrize("where", ["call", "visit", "workshop"])
def test_nothing_closed_or_dangerous_is_asked(story, where):
    knowledge, _ = shipped()
    _, _, plan = planned(story, where, ABLE)
    assert not asked_in(plan) & set(STORIES[story])
    assert all(knowledge.findings[name].risk != "danger" for name in asked_in(plan))


@pytest.mark.parametrize("story", range(len(STORIES)))
def test_on_a_call_an_owner_of_whom_nothing_is_known_only_looks_through_the_door(story):
    knowledge, _ = shipped()
    _, _, plan = planned(story, "call", NOBODY)
    assert asked_in(plan)
    for name in asked_in(plan):
        entry = knowledge.findings[name]
        assert entry.who in OWNERS and not entry.told
        assert entry.opened in {"outside", "door"}
    assert all(knowledge.remedies[name].who in OWNERS for name in done_in(plan))


def test_a_new_spring_that_stops_after_minutes_is_listened_to_first():
    # The tick decides between a beat that is out and a part that is wrong, and it costs a minute.
    knowledge, _ = shipped()
    _, _, plan = planned(0, "call", ABLE)
    assert isinstance(plan.step, Ask)
    assert knowledge.findings[plan.step.finding].place in {"sound", "swing"}
    assert plan.step.cost_minutes <= 3


def test_the_look_gives_a_reason_for_each_of_its_questions():
    _, base = shipped()
    _, _, plan = planned(0, "call", ABLE)
    for ask in plan.look:
        assert ask.information_nats > 0
        assert len(ask.separates) == 2
        assert set(ask.separates) <= set(base.causes)


@pytest.mark.parametrize("story", range(len(STORIES)))
@pytest.mark.parametrize("where", ["call", "visit"])
def test_a_look_never_asks_what_makes_sense_only_after_another_of_its_questions(story, where):
    knowledge, _ = shipped()
    _, situation, plan = planned(story, where, ABLE)
    look = {ask.finding for ask in plan.look}
    for name in look:
        assert not look & (set(knowledge.findings[name].needs) - set(situation.values)), name


@pytest.mark.parametrize("said", ["tick-evenness", "louder-side", "knock"])
def test_who_says_how_it_ticks_is_not_asked_whether_it_ticks(said):
    knowledge, _ = shipped()
    value = next(name for name, entry in knowledge.findings[said].values.items() if not entry.normal)
    assert "tick" in assess((Stretch((Answer(said, value),)),), knowledge, FLOOR).closed
    assert "tick" not in assess((Stretch((Answer("squeak", "squeak"),)),), knowledge, FLOOR).closed


def test_a_clock_that_runs_an_hour_is_still_asked_how_long_it_runs():
    # Who tells the rate says no more than that it runs for hours at least: how long is still worth asking.
    knowledge, _ = shipped()
    assert "runs-for" not in assess((Stretch((Answer("rate", "gains"),)),), knowledge, FLOOR).closed


def test_the_step_is_chosen_in_time_at_a_hundred_causes():
    # Goal: 30 ms at the 95th percentile on a quiet machine (the bench prints it). Here the work itself is timed,
    # in seconds of this thread and the best of five, so that a busy machine does not decide the test.
    knowledge, base = shipped()
    assert len(base.causes) >= 90
    for story in range(len(STORIES)):
        ranking, situation, _ = planned(story, "visit", ABLE)
        times = []
        for _ in range(5):
            begin = time.thread_time()
            next_step(base, ranking, knowledge, situation)
            times.append(time.thread_time() - begin)
        assert min(times) < 0.2
