"""Stop times and regulating on the page: in a case, and on two pages that stand alone."""

from __future__ import annotations

import pytest

from diagnose.coaching import noting
from diagnose.consultation import Consultation
from tests.web.examples import begun

REMEDY = "fit-the-nut"


def send(client, token, name, act, **fields):
    return client.post(f"/case/{name}/{act}", data={"token": token, **fields})


@pytest.fixture
def case(knowledge, store):
    consultation = begun(knowledge, store)
    consultation.say("it stops now and then")
    return consultation.kept_as


@pytest.fixture
def at_the_nut(knowledge, store, case):
    consultation = Consultation.resume(knowledge, store, case)
    consultation.begin_walk(REMEDY)
    while knowledge.remedies[REMEDY].steps[consultation.walk.step].act != "set-the-time":
        consultation.step_right()
    return case


def test_stop_times_of_a_form_answer_the_stop_pattern(client, token, case, knowledge, store):
    page = send(client, token, case, "stops", stops="1:05, 2:11, 5:27, 9:50").text
    assert "65 min 27 s" in page
    found = {item.finding: item.said for item in Consultation.resume(knowledge, store, case).assessment.findings}
    assert found["stop-pattern"] == "every-65-min"


def test_what_is_no_time_is_told_and_kept_in_the_form(client, token, case):
    answer = send(client, token, case, "stops", stops="now and then")
    assert answer.status_code == 422
    assert "is no stop time" in answer.text
    assert ">now and then</textarea>" in answer.text


def test_the_step_that_sets_the_time_asks_for_a_comparison(client, at_the_nut):
    page = client.get(f"/case/{at_the_nut}").text
    assert f'action="/case/{at_the_nut}/compared"' in page


def test_two_comparisons_give_a_turn_with_its_danger(client, token, at_the_nut):
    send(client, token, at_the_nut, "compared", when="2031-03-01T09:00", fast="right", set="1")
    page = send(client, token, at_the_nut, "compared", when="2031-03-02T09:00", fast="+4:00").text
    assert "front edge to the left" in page
    assert "bob" in page.lower()
    assert 'name="turn_done"' in page


def test_a_turn_is_noted_as_made_where_the_form_says_so(client, token, at_the_nut, knowledge, store):
    for when, fast, more in (
        ("01T09:00", "right", {}),
        ("02T09:00", "+4:00", {}),
        ("02T10:00", "right", {"turn_done": "1"}),
    ):
        send(client, token, at_the_nut, "compared", when=f"2031-03-{when}", fast=fast, **more)
    record = noting.record_of(Consultation.resume(knowledge, store, at_the_nut))
    assert [type(item).__name__ for item in record] == ["Comparison", "Comparison", "NutTurn", "Comparison"]


def test_another_turn_can_be_noted(client, token, at_the_nut, knowledge, store):
    send(client, token, at_the_nut, "turned", turn="1/2 down")
    assert noting.record_of(Consultation.resume(knowledge, store, at_the_nut))[-1].turns == -0.5


def test_a_comparison_without_a_size_is_refused_and_nothing_is_noted(client, token, at_the_nut, knowledge, store):
    answer = send(client, token, at_the_nut, "compared", when="2031-03-01T09:00", fast="some")
    assert answer.status_code == 422
    assert noting.record_of(Consultation.resume(knowledge, store, at_the_nut)) == ()


def test_stop_times_stand_alone_without_a_case(client):
    page = client.get("/stops", params={"stops": "1:57, 4:58, 9:56, 11:58"}).text
    assert "just before the hour" in page


def test_regulating_stands_alone_without_a_case(client):
    notes = "2031-03-01 09:00 set right\n2031-03-08 09:00 3 min fast"
    page = client.get("/regulate", params={"notes": notes, "family": "floor"}).text
    assert "It gains 3.0 min a week" in page
    assert "front edge to the left" in page


def test_a_wrong_note_is_told_on_the_page(client):
    answer = client.get("/regulate", params={"notes": "fast", "family": "floor"})
    assert answer.status_code == 422
    assert "does not begin with a day" in answer.text


def test_the_first_page_leads_to_both(client):
    page = client.get("/").text
    assert 'href="/stops"' in page
    assert 'href="/regulate"' in page
