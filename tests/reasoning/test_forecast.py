"""The forecast of answers: the stacked tables say what the single tables say."""

import itertools

import numpy as np
import pytest

from diagnose.reasoning.forecast import forecast_of, information_about_sets, members_of
from diagnose.reasoning.lookahead import information_nats
from tests.reasoning.planner_cases import ranking_after, small_base

BASE = small_base()
FORECAST = forecast_of(BASE)
SETS = tuple(members for size in range(4) for members in itertools.combinations(range(len(BASE.causes)), size))
EVERY = np.arange(len(FORECAST.findings))
TRUE = FORECAST.true_values(members_of(SETS, BASE), EVERY)


@pytest.mark.parametrize("name", list(BASE.tables))
def test_the_stacked_tables_agree_with_the_single_one(name):
    table = BASE.tables[name]
    number = FORECAST.findings.index(name)
    expected = np.array([table.given(members) for members in SETS])
    assert TRUE[:-1, number, : len(table.values)] == pytest.approx(expected, abs=1e-12)
    assert TRUE[-1, number, : len(table.values)] == pytest.approx(table.other, abs=1e-12)
    assert not TRUE[:, number, len(table.values) :].any()


def test_a_choice_of_findings_gives_the_same_as_all_of_them():
    some = np.array([3, 0, 5])
    assert FORECAST.true_values(members_of(SETS, BASE), some) == pytest.approx(TRUE[:, some])


def test_what_is_said_adds_up_to_one():
    said = FORECAST.said(TRUE, EVERY, np.full(len(EVERY), 0.1))
    assert said.sum(axis=2) == pytest.approx(1.0)


def test_what_is_said_is_the_truth_or_any_other_value_alike():
    # reasoning.md section 3: P(said s) = e/(V-1) + (1-e-e/(V-1)) P(s), here with V = 4 and e = .1.
    number = FORECAST.findings.index("runs-for")
    said = FORECAST.said(TRUE[:, [number]], np.array([number]), np.array([0.1]))[:, 0, :4]
    assert said == pytest.approx(0.1 / 3 + (1 - 0.1 - 0.1 / 3) * TRUE[:, number, :4])


def test_over_all_answers_the_weights_stay_what_they_are():
    ranking = ranking_after({"runs-for": "minutes"})
    weights = np.append(ranking.weights, ranking.other_weight)
    true_values = FORECAST.true_values(members_of(ranking.sets, BASE), EVERY)
    said = FORECAST.said(true_values, EVERY, np.full(len(EVERY), 0.1))
    after = (weights[:, None, None] * said).sum(axis=2)
    assert np.abs(after - weights[:, None]).max() < 1e-12


def test_information_is_that_between_answer_and_set():
    weights = np.full(len(SETS) + 1, 1 / (len(SETS) + 1))
    said = FORECAST.said(TRUE, EVERY, np.full(len(EVERY), 0.1))
    nats = information_about_sets(weights, said)
    for number in EVERY:
        assert nats[number] == pytest.approx(information_nats((weights[:, None] * said[:, number]).T), abs=1e-9)


def test_information_of_the_polybox_makes_x_the_best_probe():
    # de Kleer & Williams 1987, AIJ 32:97-130: A=3, B=2, C=2, D=3, E=3, F=10, G=12, p(fault)=.01; entropy
    # 1.3594 -> .3186 bits after probing X, checked by full enumeration. A set of faults that predicts no
    # value of the probe counts as predicting a value of its own.
    sets, weights = polybox_sets()
    entropy = -float((weights * np.log2(weights)).sum())
    minimal = {item for item in sets if not any(other < item for other in sets)}
    after = {probe: entropy - information_nats(polybox_joint(sets, weights, probe)) / np.log(2) for probe in "XYZ"}
    assert minimal == {frozenset(item.split()) for item in ("A1", "M1", "A2 M2", "M2 M3")}
    assert entropy == pytest.approx(1.3594, abs=5e-5)
    assert min(after, key=after.get) == "X"
    assert after["X"] == pytest.approx(0.3186, abs=5e-5)


def polybox_values(faults):
    """Return all (X, Y, Z) between 0 and 12 that the parts which are sound allow."""
    numbers = range(13)
    return [
        (x, y, z)
        for x in (numbers if "M1" in faults else [6])
        for y in (numbers if "M2" in faults else [6])
        for z in (numbers if "M3" in faults else [6])
        if ("A1" in faults or x + y == 10) and ("A2" in faults or y + z == 12)
    ]


def polybox_sets():
    parts = ("M1", "M2", "M3", "A1", "A2")
    every = [frozenset(item) for size in range(6) for item in itertools.combinations(parts, size)]
    sets = [item for item in every if polybox_values(item)]
    weights = np.array([0.01 ** len(item) * 0.99 ** (5 - len(item)) for item in sets])
    return sets, weights / weights.sum()


def polybox_joint(sets, weights, probe):
    place = "XYZ".index(probe)
    joint = np.zeros((14, len(sets)))
    for number, faults in enumerate(sets):
        possible = {values[place] for values in polybox_values(faults)}
        joint[possible.pop() if len(possible) == 1 else 13, number] = weights[number]
    return joint
