"""What a plan is put together from."""

from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.assessment import Stretch, assess, plan_for
from diagnose.reasoning.gates import LINE_MINUTES, Situation
from diagnose.reasoning.plan_parts import LEAST_CHANCE, without_unlikely
from diagnose.reasoning.steps import Ask, Do, Refer
from tests.reasoning.planner_cases import ABLE

CLOCK = ClockFacts(family="floor", drive="weight-cable", escapement="recoil")
PROBABLE = {"a": 0.4, "b": 0.05, "c": 0.02, "d": 0.01}


@cache
def knowledge():
    return read_knowledge(check=False)


def do(name):
    return Do(name, 10.0, 5.0, 0.1)


def kept(names):
    steps = [Ask("wound", 1.0, 2.0, 0.1), *map(do, names), Refer("visit", 150.0)]
    return [step.remedy for step in without_unlikely(steps, PROBABLE.__getitem__) if isinstance(step, Do)]


def test_remedies_for_what_is_hardly_there_are_not_offered():
    assert kept("abcd") == ["a", "b"]
    assert kept("cadb") == ["a", "b"]


def test_two_remedies_remain_however_unlikely_the_best_of_them():
    assert kept("cad") == ["c", "a"]
    assert kept("dc") == ["d", "c"]


def test_questions_and_handing_on_stay_whatever_the_remedies():
    steps = [Ask("wound", 1.0, 2.0, 0.1), *map(do, "abcd"), Refer("visit", 150.0)]
    assert [step for step in without_unlikely(steps, PROBABLE.__getitem__) if not isinstance(step, Do)] == [
        steps[0],
        steps[-1],
    ]


@st.composite
def told(draw):
    """Up to five answers an owner may give, drawn from the shipped findings."""
    names = draw(st.lists(st.sampled_from(sorted(knowledge().findings)), max_size=5, unique=True))
    return {name: draw(st.sampled_from(sorted(knowledge().findings[name].values))) for name in names}


def plan_on_a_call(answers):
    given_answers = tuple(Answer(name, value) for name, value in answers.items())
    assessed = assess([Stretch(given_answers)], knowledge(), CLOCK)
    situation = Situation(where="call", person=ABLE, clock=CLOCK, values=answers)
    return assessed, plan_for(assessed, knowledge(), situation)


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(told())
def test_no_plan_on_a_call_holds_the_line_for_more_than_three_minutes(answers):
    _, plan = plan_on_a_call(answers)
    entries = knowledge().findings
    asked = [ask.finding for ask in plan.look] or [plan.step.finding] if isinstance(plan.step, Ask) else []
    assert sum(entries[name].minutes for name in asked) <= LINE_MINUTES
    others = [step.finding for step in plan.others if isinstance(step, Ask)]
    assert all(entries[name].minutes <= LINE_MINUTES and entries[name].wait_hours == 0 for name in [*asked, *others])
    assert all(
        entries[ask.finding].minutes > LINE_MINUTES or entries[ask.finding].wait_hours > 0 for ask in plan.homework
    )


@pytest.mark.parametrize("answers", [{"runs-for": "minutes"}, {"rate": "loses"}, {"tick-evenness": "limping"}])
def test_what_else_could_be_done_is_for_causes_that_are_there(answers):
    assessed, plan = plan_on_a_call(answers)
    there = {one.cause: one.probability for one in assessed.ranking.causes}
    does = [step.remedy for step in plan.others if isinstance(step, Do)]
    mended = {name: [assessed.base.causes[c] for c in assessed.base.remedies[name].causes] for name in does}
    likely = [name for name in does if sum(there[cause] for cause in mended[name]) >= LEAST_CHANCE]
    assert len(likely) == len(does) or len(does) <= 2
