"""Explanations add up, compare what they name, and say why."""

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings

from diagnose.errors import InputError
from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.evidence import items_of, shares_of_items, shares_of_sets
from diagnose.reasoning.explanation import (
    doubtful_answers,
    explain,
    why_not,
    why_this_question,
)
from diagnose.reasoning.findings import findings_from, said_likelihood
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.shares import decibans, fair_shares
from diagnose.reasoning.tables import Base, base_from, choice, circumstance, compile_base
from diagnose.reasoning.values import Finding
from diagnose.settings import Parameters
from tests.reasoning.small_cases import SMALL, SOME, case, small_knowledge, some_answers


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return small_knowledge()


@pytest.fixture(scope="module")
def base(knowledge: Knowledge) -> Base:
    return compile_base(knowledge, ClockFacts())


@pytest.fixture(scope="module")
def three() -> tuple[Base, tuple[Piece, ...], Ranking]:
    """Worked example W5: odds A .16, B .08, C .04, three findings, three answers."""
    base = base_from(
        {"A": 0.16, "B": 0.08, "C": 0.04},
        {
            "f": choice(["n", "u", "w"], {"A": {"u": 0.75}, "B": {"w": 0.5, "u": 0.25}}, leak={"u": 0.02, "w": 0.01}),
            "g": choice(["n", "x"], {"C": {"x": 0.85}, "A": {"x": 0.15}}, leak=0.03),
            "m": circumstance({"no": 0.8, "yes": 0.2}, {"A": {"no": 1.0, "yes": 5.0}}),
        },
    )
    findings = (
        Finding("m", said_likelihood(1, 2, 0.06), "yes"),
        Finding("f", said_likelihood(1, 3, 0.06), "u"),
        Finding("g", said_likelihood(0, 2, 0.26), "n"),
    )
    pieces = (Piece(findings),)
    return base, pieces, rank(base, pieces)


# Worked example W6, computed twice by exact enumeration of all sets.
@pytest.mark.parametrize(
    ("cause", "prior", "m", "f", "g", "shown"),
    [
        ("A", 0.7982, 3.1082, 4.6826, 0.0904, 8.6794),
        ("B", -3.8229, -2.3387, -2.6471, 0.4788, -8.3299),
    ],
)
def test_decibans_of_the_worked_example(
    three: tuple[Base, tuple[Piece, ...], Ranking],
    cause: str,
    prior: float,
    m: float,
    f: float,
    g: float,
    shown: float,
) -> None:
    base, pieces, ranking = three
    items, shares = shares_of_items([cause], base, pieces, ranking)
    share = {item.key: value for item, value in zip(items, shares[:, 0], strict=True)}
    probability = next(entry.probability for entry in ranking.causes if entry.cause == cause)
    assert decibans(float(base.prior[base.index[cause]])) == pytest.approx(prior, abs=5e-5)
    assert (share["m"], share["f"], share["g"]) == pytest.approx((m, f, g), abs=5e-5)
    assert decibans(probability) == pytest.approx(shown, abs=5e-5)


# Worked example W6: A alone against B alone, 3.0103 + 3.6657 + 4.3115 - .4395 = 10.5480.
def test_the_comparison_of_the_worked_example(three: tuple[Base, tuple[Piece, ...], Ranking]) -> None:
    base, pieces, _ = three
    items = items_of(base, pieces)
    prior, shares = shares_of_sets(base, items, {}, (0,), (1,))
    share = {item.key: value for item, value in zip(items, shares, strict=True)}
    assert prior == pytest.approx(3.0103, abs=5e-5)
    assert (share["m"], share["f"], share["g"]) == pytest.approx((3.6657, 4.3115, -0.4395), abs=5e-5)
    assert prior + shares.sum() == pytest.approx(10.5480, abs=5e-5)


# Worked example W6.
def test_the_chances_of_wrong_answers_of_the_worked_example(three: tuple[Base, tuple[Piece, ...], Ranking]) -> None:
    _, _, ranking = three
    wrong = {name: ranking.wrong[name] for name in ("m", "f", "g")}
    assert wrong == pytest.approx({"m": 0.062020, "f": 0.019751, "g": 0.080177}, abs=5e-7)


# [X] Chest clinic of Lauritzen & Spiegelhalter 1988, J. Royal Statistical Society B 50:157-224: the weight of
# evidence of the X-ray for lung cancer given dyspnoea, computed with pgmpy and pyAgrum: 11.560 dB.
def test_the_weight_of_evidence_of_the_chest_clinic() -> None:
    def chance(name: bool, probability: float) -> float:
        return probability if name else 1 - probability

    def lung_given(xray: bool | None) -> float:
        weight = {True: 0.0, False: 0.0}
        for asia, smoke, tub, lung, bronc in product([True, False], repeat=5):
            either = tub or lung
            joint = chance(asia, 0.01) * 0.5 * chance(tub, 0.05 if asia else 0.01)
            joint *= chance(lung, 0.1 if smoke else 0.01) * chance(bronc, 0.6 if smoke else 0.3)
            joint *= {(True, True): 0.9, (True, False): 0.8, (False, True): 0.7, (False, False): 0.1}[bronc, either]
            joint *= 1.0 if xray is None else chance(xray, 0.98 if either else 0.05)
            weight[lung] += joint
        return weight[True] / (weight[True] + weight[False])

    (share,) = fair_shares(1, lambda start, length: np.array([decibans(lung_given(True if length else None))]))
    assert share[0] == pytest.approx(11.560, abs=5e-4)


@settings(max_examples=40, deadline=None)
@given(some_answers(read_knowledge(SMALL)))
def test_prior_and_answers_add_up_to_the_odds_shown(answers: list[Answer]) -> None:
    knowledge = read_knowledge(SMALL)
    base = compile_base(knowledge, ClockFacts())
    pieces, ranking, conclusions = case(knowledge, base, *answers)
    for explained in explain(base.causes, base, pieces, ranking, knowledge, conclusions):
        total = explained.prior + math.fsum(reason.decibans for reason in explained.reasons)
        assert total == pytest.approx(explained.shown, abs=1e-9)
        assert explained.shown == pytest.approx(decibans(explained.probability), abs=1e-9)
        # All sets of up to three causes are told apart here, so that nothing hides in the prior.
        assert explained.prior == pytest.approx(decibans(float(base.prior[base.index[explained.cause]])), abs=1e-6)


def test_the_shares_do_not_depend_on_the_order_of_the_answers(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(knowledge, base, *SOME)
    backwards = (Piece(pieces[0].findings[::-1], pieces[0].weights),)
    one = explain(["not-wound"], base, pieces, ranking, knowledge, conclusions)
    two = explain(["not-wound"], base, backwards, rank(base, backwards), knowledge, conclusions)
    assert [(reason.finding, pytest.approx(reason.decibans)) for reason in one[0].reasons] == [
        (reason.finding, reason.decibans) for reason in two[0].reasons
    ]


def test_the_shares_are_the_mean_over_all_rotations_and_their_reverses() -> None:
    # Odds of a game with four players in which each pair gains together, by plain enumeration of the orders.
    pairs = {(0, 1): 3.0, (1, 2): -2.0, (2, 3): 1.5, (0, 3): 0.25}

    def worth(players: frozenset[int]) -> float:
        return sum(gain for pair, gain in pairs.items() if players >= set(pair)) + 0.7 * len(players)

    orders = [[(start + step) % 4 for step in range(4)] for start in range(4)]
    orders += [order[::-1] for order in orders]
    expected = np.zeros(4)
    for order in orders:
        for place, player in enumerate(order):
            expected[player] += worth(frozenset(order[: place + 1])) - worth(frozenset(order[:place]))
    shares = fair_shares(
        4, lambda start, length: np.array([worth(frozenset((start + step) % 4 for step in range(length)))])
    )
    assert shares[:, 0] == pytest.approx(expected / len(orders))


def test_the_shares_add_up_across_a_remedy_too(knowledge: Knowledge, base: Base) -> None:
    before = findings_from(SOME, [], knowledge)
    after = findings_from([Answer("runs-for", "minutes"), Answer("tick-evenness", "even")], [], knowledge)
    pieces = (Piece(before, remedy="set-the-beat-at-the-crutch"), Piece(after))
    ranking = rank(base, pieces)
    (explained,) = explain(["crutch-set-wrong"], base, pieces, ranking, knowledge)
    total = explained.prior + math.fsum(reason.decibans for reason in explained.reasons)
    assert len(explained.reasons) == len(before) + len(after)
    assert total == pytest.approx(explained.shown, abs=1e-9)


def test_an_answer_says_why_in_the_words_of_its_link(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(knowledge, base, Answer("tick-evenness", "limping"))
    (explained,) = explain(["crutch-set-wrong"], base, pieces, ranking, knowledge, conclusions)
    (reason,) = explained.reasons
    assert (reason.text, reason.source, reason.known) == (
        "The pallets drop late on one side.",
        "mechanics",
        "told",
    )


def test_a_rule_says_why_in_its_own_words(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(
        knowledge, base, Answer("part-fitted", "suspension"), Answer("moved-lately", "yes")
    )
    (explained,) = explain(["leader-outside-crutch"], base, pieces, ranking, knowledge, conclusions)
    reason = explained.reasons[0]
    assert (reason.finding, reason.known) == (None, "silent-after-fitting")
    assert reason.text.startswith("A leader that was taken out")
    assert reason.decibans > 3


def test_an_answer_that_another_cause_explains_says_so(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(knowledge, base, Answer("leader-in-crutch", "beside"))
    (explained,) = explain(["case-rocks"], base, pieces, ranking, knowledge, conclusions)
    assert explained.reasons[0].text == "It is explained by other causes, which leaves less for this one."


def test_without_answers_there_is_only_the_prior(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(knowledge, base)
    (explained,) = explain(["case-rocks"], base, pieces, ranking, knowledge, conclusions)
    assert (explained.reasons, explained.prior) == ((), explained.shown)


def test_a_cause_that_the_clock_has_not_is_refused(knowledge: Knowledge) -> None:
    weights = compile_base(knowledge, ClockFacts(drive="weight-cable"))
    pieces, ranking, conclusions = case(knowledge, weights)
    with pytest.raises(InputError, match="'mainspring-tired' does not fit this clock"):
        explain(["mainspring-tired"], weights, pieces, ranking, knowledge, conclusions)


def test_a_comparison_adds_up_to_the_weights_of_the_two_sets(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(knowledge, base, *SOME)
    compared = why_not("crutch-set-wrong", "spring-kinked", base, pieces, ranking, knowledge, conclusions)
    weight = dict(zip(ranking.sets, ranking.weights, strict=True))
    one, other = (tuple(base.index[cause] for cause in causes) for causes in (compared.one, compared.other))
    total = compared.prior + math.fsum(reason.decibans for reason in compared.reasons)
    assert total == pytest.approx(compared.total, abs=1e-12)
    assert compared.total == pytest.approx(10 * math.log10(weight[one] / weight[other]), abs=1e-9)


def test_the_two_sets_compared_do_not_hold_each_other(knowledge: Knowledge, base: Base) -> None:
    pieces, ranking, conclusions = case(
        knowledge, base, Answer("case-steady", "rocks"), Answer("leaf-shape", "creased-at-block")
    )
    compared = why_not("case-rocks", "spring-kinked", base, pieces, ranking, knowledge, conclusions)
    assert "spring-kinked" not in compared.one
    assert "case-rocks" not in compared.other


def test_a_question_says_which_likely_causes_it_tells_apart(knowledge: Knowledge, base: Base) -> None:
    _, ranking, _ = case(knowledge, base, Answer("tick-evenness", "limping"))
    sentence = why_this_question("leaf-shape", base, ranking, knowledge)
    assert sentence == "It helps us to tell a thin arm that is set to one side from a kinked thin strip."


def test_staff_are_told_in_their_own_words(knowledge: Knowledge, base: Base) -> None:
    _, ranking, _ = case(knowledge, base, Answer("tick-evenness", "limping"))
    sentence = why_this_question("leaf-shape", base, ranking, knowledge, customer=False)
    assert sentence == "It helps us to tell a crutch set out of beat from a kinked suspension spring."


def test_a_question_about_one_unlikely_cause_names_it(knowledge: Knowledge, base: Base) -> None:
    _, ranking, _ = case(knowledge, base, Answer("tick-evenness", "limping"))
    sentence = why_this_question("pin-seen", base, ranking, knowledge)
    assert sentence == "It helps us to see whether the cause is a missing small pin at the top."


def test_an_answer_against_all_others_is_doubted(knowledge: Knowledge, base: Base) -> None:
    _, ranking, _ = case(
        knowledge,
        base,
        Answer("leader-in-crutch", "beside", source="seen"),
        Answer("tick", "present", "think-so"),
        Answer("runs-for", "seconds"),
    )
    doubts = doubtful_answers(ranking)
    assert [doubt.finding for doubt in doubts] == ["tick"]
    assert doubts[0].wrong >= 0.4


def test_at_most_three_answers_are_doubted_most_suspect_first(knowledge: Knowledge, base: Base) -> None:
    _, ranking, _ = case(knowledge, base, *SOME)
    doubts = doubtful_answers(ranking, Parameters(ask_again=0.0))
    assert len(doubts) == 3
    assert [doubt.wrong for doubt in doubts] == sorted((ranking.wrong[name] for name in ranking.wrong), reverse=True)[
        :3
    ]
