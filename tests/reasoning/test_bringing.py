"""What to put in the van, and whether a part is likely enough to be sent."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.model.lists import PartSentEntry
from diagnose.reasoning.bringing import shortening_look, smallest_list, van_list
from diagnose.reasoning.part_needed import part_chances, part_needed, verdict_on
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import compile_base
from diagnose.reasoning.weighing import gather
from diagnose.settings import DEFAULT
from tests.reasoning.planner_cases import FLOOR, ranking_after, situation_after, small_base, small_knowledge


def f(*parts):
    return frozenset(parts)


def test_the_list_takes_two_parts_that_are_needed_together():
    # By hand: nothing 0.3, a and b together 0.4, c 0.2, d 0.1; nine in ten need a, b and c.
    needs = {f(): 0.3, f("a", "b"): 0.4, f("c"): 0.2, f("d"): 0.1}
    assert smallest_list(needs, 0.9) == (f("a", "b", "c"), True)
    assert smallest_list(needs, 0.7) == (f("a", "b"), True)
    assert smallest_list(needs, 0.3) == (f(), True)


def test_the_list_is_shorter_than_taking_the_likeliest_each_time():
    # Greedy by weight for each part takes c (0.30) first, then needs a and b too; a and b alone do.
    needs = {f("a"): 0.25, f("b"): 0.25, f("a", "b"): 0.2, f("c"): 0.3}
    assert smallest_list(needs, 0.7)[0] in {f("a", "b"), f("a", "c"), f("b", "c")}
    assert len(smallest_list(needs, 0.7)[0]) == 2


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.frozensets(st.sampled_from("abcdef"), max_size=3), st.floats(0.01, 1.0), min_size=1),
    st.sampled_from([0.5, 0.8, 0.9]),
)
def test_no_shorter_list_does(needs, share):
    chosen, exact = smallest_list(needs, share)
    enough = share * sum(needs.values())

    def covers(parts):
        return sum(weight for need, weight in needs.items() if need <= parts)

    assert exact
    assert covers(chosen) >= enough - 1e-9
    for shorter in combinations("abcdef", max(len(chosen) - 1, 0)):
        assert len(chosen) == 0 or covers(f(*shorter)) < enough + 1e-9


def van_after(answers, knowledge=None, **more):
    knowledge = knowledge or small_knowledge()
    return van_list(small_base(), ranking_after(answers), knowledge, situation_after(answers, **more))


def test_a_creased_leaf_puts_a_spring_and_its_chance_into_the_van():
    answers = {"leaf-shape": "creased-at-block"}
    van = van_after(answers)
    assert [part for part, _ in van.parts] == ["suspension-spring"]
    chances = part_chances(small_base(), ranking_after(answers), small_knowledge())
    assert van.parts[0][1] <= chances["suspension-spring"]
    assert van.covers >= small_knowledge().shop.cover


def test_the_list_says_what_it_leaves():
    answers = {"runs-for": "seconds"}
    shop = small_knowledge().shop.model_copy(update={"cover": 0.5})
    van = van_after(answers, replace(small_knowledge(), shop=shop))
    assert van.parts == ()
    assert {cause for cause, _ in van.left} == {"spring-kinked", "spring-cracked", "pin-missing"}
    assert 0 < van.unlisted < 1


def test_a_part_at_hand_is_not_put_on_the_list():
    assert van_after({"leaf-shape": "creased-at-block"}, parts=frozenset({"suspension-spring"})).parts == ()


def state_after(answers, where="call"):
    return gather(small_base(), ranking_after(answers), small_knowledge(), situation_after(answers, where), DEFAULT)


def test_the_look_that_shortens_the_list_most_is_the_best_of_all_looks_tried_one_by_one():
    answers = {"runs-for": "minutes", "tick-evenness": "even"}
    state, sets = state_after(answers, "visit"), ranking_after(answers).sets
    causes = {"spring-kinked", "spring-cracked", "pin-missing"}
    needing = [bool({small_base().causes[cause] for cause in members} & causes) for members in sets]

    def length(weights):
        with_part = sum(w for w, needed in zip(weights[:-1], needing, strict=True) if needed)
        return int(with_part > 0.1 * weights[:-1].sum())

    expected = {}
    for question in range(len(state.which)):
        after = [state.weights * state.said[:, question, value] for value in range(state.said.shape[2])]
        told = sum(weights.sum() * length(weights) for weights in after if weights.sum() > 0)
        expected[state.finding(question)] = (1 - state.unknown) * told + state.unknown
    look = shortening_look(state, sets)
    assert look is not None
    assert look.after == pytest.approx(min(expected.values()))
    assert look.after == pytest.approx(expected[look.finding])
    assert look.after < length(state.weights)


def test_no_look_shortens_an_empty_list():
    answers = {"wound": "run-down", "runs-for": "seconds", "leaf-shape": "flat", "leader-in-crutch": "engaged"}
    assert van_after(answers).parts == ()
    assert shortening_look(state_after(answers), ranking_after(answers).sets) is None


def test_a_part_that_is_unlikely_is_not_sold_and_a_likely_one_is_sent():
    sent = PartSentEntry(send_from=0.7, look_from=0.3)
    assert [verdict_on(chance, sent) for chance in (0.08, 0.3, 0.69, 0.7)] == [
        "do-not-sell", "look-first", "look-first", "send",
    ]  # fmt: skip


def test_the_chance_of_a_part_counts_what_is_not_on_the_list_against_it():
    answers = {"leaf-shape": "creased-at-block"}
    ranking, state = ranking_after(answers), state_after(answers, "visit")
    found = part_needed(state, ranking, "suspension-spring")
    assert found.chance == pytest.approx(part_chances(small_base(), ranking, small_knowledge())["suspension-spring"])
    assert found.chance + found.unlisted <= 1
    assert found.unlisted == pytest.approx(ranking.none_of_these, rel=0.2)
    assert (found.verdict, found.remedy, found.by_owner) == ("send", "fit-new-suspension-spring", False)


def test_what_one_look_would_do_to_a_part_is_what_asking_it_does():
    found = part_needed(
        state_after({"runs-for": "seconds"}, "visit"), ranking_after({"runs-for": "seconds"}), "suspension-spring"
    )
    assert found.look is not None
    assert found.look.sunk_to < found.chance < found.look.raised_to
    after = {"runs-for": "seconds", found.look.finding: found.look.raised_by}
    asked = part_chances(small_base(), ranking_after(after), small_knowledge())["suspension-spring"]
    # What is planned takes sure and think-so answers together, so that it stays a little behind a sure answer.
    assert asked == pytest.approx(found.look.raised_to, abs=0.1)


def test_without_any_cause_that_needs_it_a_part_has_no_chance_and_no_look():
    base = compile_base(small_knowledge(), FLOOR)
    ranking = rank(base, [Piece(())])
    state = gather(base, ranking, small_knowledge(), situation_after({}), DEFAULT)
    found = part_needed(state, ranking, "no-such-part")
    assert (found.chance, found.verdict, found.causes, found.look) == (0.0, "do-not-sell", (), None)
    assert np.isclose(float(state.weights.sum()), 1.0)


def test_tools_are_those_of_the_likely_remedies_likeliest_first():
    knowledge = small_knowledge()
    tooled = {
        name: entry.model_copy(update={"tools": tools})
        for (name, entry), tools in zip(
            knowledge.remedies.items(), [("file",), ("loupe", "tweezers"), (), (), ()], strict=False
        )
    }
    van = van_after({"leaf-shape": "creased-at-block"}, replace(knowledge, remedies={**knowledge.remedies, **tooled}))
    first = list(knowledge.remedies)[1]
    assert first == "fit-new-suspension-spring"
    assert van.tools[:2] == ("loupe", "tweezers")
