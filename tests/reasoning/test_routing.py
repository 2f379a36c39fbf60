"""Where the work should be done."""

import numpy as np
import pytest

from diagnose.reasoning.needs import prospects
from diagnose.reasoning.routing import chance_of_cure, route
from tests.reasoning.planner_cases import ranking_after, situation_after, small_base, small_knowledge


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
    assert options["specialist"].cures == 1.0


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
