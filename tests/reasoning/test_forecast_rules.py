"""The rules in the forecast: what the planner expects of an answer is what the ranking will make of it."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning import forecast_rules
from diagnose.reasoning.assessment import Stretch, assess, base_for
from diagnose.reasoning.forecast import members_of, wrong_rate
from diagnose.reasoning.forecast_rules import heard_by_rules
from diagnose.reasoning.gates import Situation
from diagnose.reasoning.weighing import gather
from diagnose.settings import DEFAULT
from tests.reasoning.planner_cases import ABLE

CLOCKS = (
    ClockFacts(family="floor", drive="weight-cable", escapement="recoil"),
    ClockFacts(family="mantel", drive="spring", escapement="recoil"),
)
# One certainty only, so that the mean rate of the forecast is the rate of the answer, and most of the sets.
ONE_RATE = replace(DEFAULT, wrong_think_so=DEFAULT.wrong_sure, kept_sets=400)
WEIGHING = {"exclude", "establish", "support", "weaken"}
NOTHING_SAID: dict[str, str] = {}


@cache
def knowledge():
    return read_knowledge(check=False)


def heard(clock, values=NOTHING_SAID):
    return heard_by_rules(base_for(knowledge(), clock, ONE_RATE), knowledge(), values, "call", ONE_RATE)


def state_and_shares(clock, answers=NOTHING_SAID):
    """Return the planner's state and the share of each cause in it."""
    given = tuple(Answer(name, value) for name, value in answers.items())
    assessed = assess([Stretch(given)], knowledge(), clock, ONE_RATE)
    situation = Situation(where="call", person=ABLE, clock=clock, closed=assessed.closed, values=dict(answers))
    state = gather(assessed.base, assessed.ranking, knowledge(), situation, ONE_RATE)
    return state, state.weights @ state.places


@pytest.mark.parametrize("clock", CLOCKS, ids=lambda clock: clock.family)
@pytest.mark.parametrize("answers", [{}, {"runs-for": "minutes"}], ids=["nothing said", "runs for minutes"])
def test_over_all_answers_each_cause_stays_as_probable_as_it_is(clock, answers):
    # reasoning.md section 4: sum_s P(s) P(c | s) = P(c), with the shipped rules in the forecast.
    state, shares = state_and_shares(clock, answers)
    joint = np.einsum("s,sqv,sp->qvp", state.weights, state.said, state.places)
    assert np.abs(joint.sum(axis=1) - shares).max() < 1e-12


@pytest.mark.parametrize("clock", CLOCKS, ids=lambda clock: clock.family)
def test_every_rule_with_one_ground_that_weighs_on_a_cause_is_in_the_forecast(clock):
    base = base_for(knowledge(), clock, ONE_RATE)
    expected = {
        (rule.when[0].finding, base.index[rule.cause])
        for rule in knowledge().rules.values()
        if rule.kind in WEIGHING and len(rule.when) == 1 and rule.cause in base.index
        if rule.when[0].finding in base.tables
    }
    assert expected
    assert {(one.finding, one.cause) for one in heard(clock)} == expected


def test_a_rule_of_two_grounds_is_in_the_forecast_once_the_first_is_met():
    clock, rule = CLOCKS[0], knowledge().rules["wear-does-not-come-with-a-new-part"]
    first, second = rule.when
    cause = base_for(knowledge(), clock, ONE_RATE).index[rule.cause]
    before = {(one.finding, one.cause) for one in heard(clock)}
    met = {(one.finding, one.cause) for one in heard(clock, {first.finding: first.is_[0]})}
    assert (second.finding, cause) not in before
    assert (second.finding, cause) in met


def ground_cases(clock):
    base = base_for(knowledge(), clock, ONE_RATE)
    askable = {one.finding for one in heard(clock)}
    return [(name, value) for name in sorted(askable) for value in base.tables[name].values]


def without_rules(state, question):
    """Return the forecast of one question as the links alone have it."""
    members = members_of([tuple(np.flatnonzero(row[:-2])) for row in state.places[:-1]], state.base)
    number = state.which[[question]]
    wrong = wrong_rate(knowledge().findings[state.finding(question)], "call", ONE_RATE)
    return state.forecast.said(state.forecast.true_values(members, number), number, np.array([wrong]))[:, 0]


def test_with_the_rules_the_forecast_is_nearer_to_what_the_ranking_then_says():
    clock = CLOCKS[0]
    state, _ = state_and_shares(clock)
    apart = {"with": [], "without": []}
    for name, value in ground_cases(clock):
        question = next((n for n in range(len(state.which)) if state.finding(n) == name), None)
        if question is None:
            continue
        spot = state.base.tables[name].values.index(value)
        _, shares = state_and_shares(clock, {name: value})
        causes = [one.cause for one in heard(clock) if one.finding == name]
        for kind, said in (("with", state.said[:, question]), ("without", without_rules(state, question))):
            weight = state.weights * said[:, spot]
            apart[kind] += np.abs(weight / weight.sum() @ state.places - shares)[causes].tolist()
    print(f"difference: {np.mean(apart['with']):.4f} with the rules, {np.mean(apart['without']):.4f} without")
    # The ranking does not raise a cause for an answer that no rule holds against it; the forecast does.
    assert np.mean(apart["with"]) < 0.9 * np.mean(apart["without"])
    assert max(apart["with"]) < 0.06


def test_what_another_case_has_answered_does_not_change_what_is_heard():
    clock = CLOCKS[0]
    forecast_rules._kept.clear()
    heard(clock, {"runs-for": "minutes"})
    after = {(one.finding, one.cause) for one in heard(clock)}
    forecast_rules._kept.clear()
    assert {(one.finding, one.cause) for one in heard(clock)} == after
