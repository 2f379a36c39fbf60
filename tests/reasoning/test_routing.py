"""Where the work should be done."""

import numpy as np
import pytest
from hypothesis import given, settings

from diagnose.reasoning.bringing import parts_for
from diagnose.reasoning.costs import ladder_of
from diagnose.reasoning.needs import prospects
from diagnose.reasoning.planning import Repairs, repairs_only
from diagnose.reasoning.routing import chance_of_cure, expected_work, route
from tests.reasoning.planner_cases import ranking_after, situation_after, small_base, small_knowledge, with_remedy
from tests.reasoning.small_cases import some_answers


def route_after(answers, where="call", **more):
    return route(small_base(), ranking_after(answers), small_knowledge(), situation_after(answers, where, **more))


def by_place(found):
    return {option.where: option for option in found.options}


def test_what_an_owner_can_put_right_stays_on_the_phone():
    found = route_after({"wound": "run-down", "runs-for": "seconds", "tick-evenness": "even"})
    assert found.best.where == "phone"


def test_what_only_a_technician_can_put_right_needs_a_visit():
    found = route_after({"tick-evenness": "limping", "runs-for": "minutes", "case-steady": "firm", "wound": "wound"})
    assert found.best.where == "visit"


def test_a_visit_cures_what_the_phone_cures_and_more():
    options = by_place(route_after({"runs-for": "minutes"}))
    assert options["phone"].cures <= options["visit"].cures <= options["workshop"].cures
    assert options["workshop"].cures <= options["specialist"].cures < 1.0


def test_from_the_workshop_there_is_only_the_workshop_and_the_specialist():
    assert [option.where for option in route_after({}, "workshop").options] == ["workshop", "specialist"]


def test_before_a_part_is_sent_stands_the_chance_that_it_is_needed():
    answers = {"leaf-shape": "creased-at-block"}
    ranking, knowledge, base = ranking_after(answers), small_knowledge(), small_base()
    remedy = knowledge.remedies["fit-new-suspension-spring"]
    needing = {
        number
        for number, name in enumerate(base.causes)
        if "suspension-spring" in knowledge.causes[name].parts
        or knowledge.remedies[knowledge.causes[name].remedies[0]] is remedy
    }
    needed = [weight for members, weight in zip(ranking.sets, ranking.weights, strict=True) if needing & set(members)]
    assert dict(route_after(answers).parts)["suspension-spring"] == pytest.approx(sum(needed), rel=1e-6)
    assert sum(needed) > 0.7


def test_the_chance_of_cure_counts_both_tries_and_every_need():
    knowledge, base = small_knowledge(), small_base()
    fitted, steadied = base.index["spring-kinked"], base.index["case-rocks"]
    sets = ((), (fitted,), (steadied,), tuple(sorted((fitted, steadied))))
    here = prospects(base, sets, knowledge, situation_after({}, "visit"))
    cures = here.merge @ chance_of_cure(here.repairs)
    works = {name: base.remedies[name].works for name in ("fit-new-suspension-spring", "make-the-case-steady")}
    twice = [1 - (1 - chance) ** 2 for chance in works.values()]
    assert cures == pytest.approx([1.0, twice[0], twice[1], twice[0] * twice[1], 0.0])


def test_on_a_call_causes_that_need_different_work_elsewhere_stay_apart():
    knowledge, base = small_knowledge(), small_base()
    sets = ((base.index["crutch-set-wrong"],), (base.index["spring-kinked"],))
    call = prospects(base, sets, knowledge, situation_after({}, "call"))
    assert not np.array_equal(call.merge[0], call.merge[1])
    assert call.repairs.handover_minutes > 0


def test_in_the_workshop_causes_beyond_it_are_all_handed_on_alike():
    from dataclasses import replace

    knowledge, base = small_knowledge(), small_base()
    nothing = replace(knowledge, remedies={})
    sets = ((base.index["crutch-set-wrong"],), (base.index["spring-kinked"],))
    bench = prospects(base, sets, nothing, situation_after({}, "workshop"))
    assert np.array_equal(bench.merge[0], bench.merge[1])


PART = {"leaf-shape": "creased-at-block"}


def test_a_visit_with_the_parts_cures_at_least_as_often_as_one_without():
    visit = by_place(route_after(PART))["visit"]
    assert visit.parts == ("suspension-spring",)
    assert visit.cures_without < visit.cures


@settings(max_examples=25, deadline=None)
@given(some_answers(small_knowledge()))
def test_going_further_never_cures_less_often(answers):
    options = by_place(route_after({answer.finding: answer.value for answer in answers}))
    rising = [options[name].cures for name in ("phone", "visit", "workshop", "specialist")]
    assert rising == sorted(rising)
    assert (options["visit"].cures_without or 0.0) <= options["visit"].cures


def test_expected_work_of_a_need_tries_twice_and_goes_on_to_the_next_remedy():
    # One need; the first remedy works 6 times in 10 and may be tried twice, the second 9 in 10, once.
    ladder = ladder_of(np.array([0.0, 4.0]), 1)
    repairs = Repairs(
        needs=np.array([[-1], [0]]),
        cures=np.array([[0.6, 0.9]]),
        minutes=np.array([10.0, 30.0]),
        reach=np.array([0, 1]),
        tries=np.array([2, 1]),
        ladder=ladder,
        refer_minutes=100.0,
    )
    minutes, price = expected_work(repairs, 0, np.array([10.0, 30.0]), np.array([5.0, 7.0]))
    # By hand: 10 x (1 + 0.4) + 0.4^2 x (30 + 4 for opening); parts: 5 + 0.16 x 7. Cured: 1 - 0.16 x 0.1.
    assert minutes == pytest.approx([0.0, 10 * 1.4 + 0.16 * 34])
    assert price == pytest.approx([0.0, 5 + 0.16 * 7])
    assert chance_of_cure(repairs) == pytest.approx([1.0, 1 - 0.16 * 0.1])


def test_money_and_days_of_a_visit_come_from_the_prices_of_the_shop():
    option, shop = by_place(route_after(PART))["visit"], small_knowledge().shop
    base, ranking = small_base(), ranking_after(PART)
    needing = {n for n, name in enumerate(base.causes) if "suspension-spring" in parts_for(name, small_knowledge())}
    used = sum(w for s, w in zip(ranking.sets, ranking.weights, strict=True) if needing & set(s))
    bought = option.money - shop.money.travel - shop.money.hour * option.hands_minutes / 60
    assert bought == pytest.approx(used * shop.money.part, rel=0.02)
    assert option.days == shop.days.visit


def test_on_a_visit_there_is_nothing_more_to_travel_or_to_wait_for():
    option, shop = by_place(route_after({}, "visit"))["visit"], small_knowledge().shop
    assert option.days == 0
    assert option.money < by_place(route_after({}, "call"))["visit"].money
    assert option.money >= shop.money.hour * option.hands_minutes / 60


def test_a_part_is_sent_only_where_the_owner_may_fit_one():
    assert "part" not in by_place(route_after(PART))
    knowledge = with_remedy(
        "fit-new-suspension-spring",
        who="owner",
        opened="door",
        steps=tuple(
            step.model_copy(update={"under_load": False})
            for step in small_knowledge().remedies["fit-new-suspension-spring"].steps
        ),
    )
    options = by_place(route(small_base(), ranking_after(PART), knowledge, situation_after(PART)))
    assert options["part"].parts == ("suspension-spring",)
    assert options["part"].cures > options["phone"].cures == options["part"].cures_without
    assert options["part"].money == pytest.approx(knowledge.shop.money.post + knowledge.shop.money.part)
    assert options["part"].days == knowledge.shop.days.post


def test_questions_never_make_a_place_dearer_than_repairs_without_them():
    answers = {"runs-for": "minutes"}
    here = prospects(small_base(), ranking_after(answers).sets, small_knowledge(), situation_after(answers, "workshop"))
    ranking = ranking_after(answers)
    weights = np.append(ranking.weights, ranking.other_weight)
    by_class = (weights / weights.sum()) @ here.merge
    without = repairs_only(here.repairs, by_class[None, :], np.array([0], dtype=np.intp))[0]
    assert by_place(route_after(answers, "workshop"))["workshop"].minutes < without
