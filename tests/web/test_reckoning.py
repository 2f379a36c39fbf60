"""Questions with a number for an answer, on the page: the list, a form, an answer, what was typed wrong."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest

from diagnose.cases.events import Heard
from diagnose.reckoning.questions import QUESTIONS
from diagnose.web.desk import READER_COOKIE
from tests.web.examples import begun


@pytest.fixture
def customer(client):
    client.cookies.set(READER_COOKIE, "customer")
    return client


def test_the_first_page_leads_to_the_questions(client):
    assert 'href="/reckon"' in client.get("/").text


def test_every_question_is_on_the_list_and_has_its_form(client, knowledge):
    listed = client.get("/reckon").text
    for name, question in QUESTIONS.items():
        assert f'href="/reckon/{name}"' in listed
        page = client.get(f"/reckon/{name}").text
        assert knowledge.screen[f"reckon-ask-{name}"].staff in page.replace("&#39;", "'")
        for field in question.fields:
            assert f'name="{field.name}"' in page


def test_a_form_that_was_filled_in_is_answered_above_it(client):
    page = client.get("/reckon/length", params={"beats": "3600"}).text
    assert "993.6 mm (39.12 in)" in page  # derived at 9.80665 (CGPM 1901)
    assert page.index('role="status"') < page.index('<form method="get"')
    assert 'value="3600"' in page


def test_the_danger_stands_before_the_shim(client, knowledge):
    page = client.get("/reckon/shim", params={"error": "10", "family": "floor"}).text.replace("&#39;", "'")
    assert page.index(knowledge.cautions["tall-case-tips"].text.staff) < page.index('role="status"')


def test_what_is_wrong_names_its_field_and_keeps_what_was_typed(client):
    answer = client.get("/reckon/nut", params={"out": "3 min fast", "beats": "3600", "pitch": "0.7"})
    assert answer.status_code == 422
    assert "Travel of the nut in one turn: &#39;0.7&#39; has no unit" in answer.text
    assert 'value="3 min fast"' in answer.text
    assert 'role="status"' not in answer.text


def test_one_of_two_that_is_missing_names_both(client):
    answer = client.get("/reckon/nut", params={"out": "3 min fast"})
    assert answer.status_code == 422
    assert "Length of the pendulum" in answer.text.split("</h1>")[1].split("<form")[0]


def test_what_is_seldom_given_is_folded_away_until_it_is_given(client):
    folded, given = (
        client.get("/reckon/spring", params=more).text
        for more in ({}, {"old": "0.1 x 10 x 25 mm", "new": "0.12 mm", "mass": "6", "beats": "3600", "leaves": "2"})
    )
    assert "<details>" in folded
    assert "<details open>" in given


def test_an_unknown_question_is_said_to_be_none(client):
    answer = client.get("/reckon/age")
    assert answer.status_code == 404
    assert "There is no such question." in answer.text


def test_a_customer_sees_the_questions_of_use_to_them_in_their_words(customer):
    listed = customer.get("/reckon").text
    assert 'href="/reckon/warmth"' in listed
    assert 'href="/reckon/trains"' not in listed
    page = customer.get("/reckon/warmth", params={"warmer": "10 C"}).text
    assert "your clock loses about 0.6 minutes a week" in page
    assert customer.get("/reckon/trains").status_code == 404


def test_what_was_typed_is_shown_as_text_and_never_as_markup(client):
    answer = client.get("/reckon/length", params={"beats": "<b>3600</b>"})
    assert answer.status_code == 422
    assert "<b>3600" not in answer.text


# ---- at a step of a remedy ------------------------------------------------------------------------------------


@pytest.fixture
def at_the_pendulum(knowledge, store):
    consultation = begun(knowledge, store, where="workshop")
    consultation.say("it loses")
    heard = {"beats_per_hour": 5390.0, "uncertainty": {"beats_per_hour": 0.5}, "beat_error_percent": 1.0}
    consultation.take_heard(Heard("a.flac", heard))
    consultation.begin_walk("find-the-right-pendulum")
    return consultation.kept_as


def test_a_step_tells_the_pendulum_that_the_heard_beat_implies(client, at_the_pendulum):
    page = client.get(f"/case/{at_the_pendulum}").text
    # derived: 441.61 mm at 5400, times the square of 5400 / 5390
    assert "For 5390 beats an hour the pendulum is 443.2 mm" in page
    assert "A clock made for 5400" in page


def test_the_form_of_a_step_is_filled_in_with_what_the_case_knows(client, at_the_pendulum):
    page = client.get("/reckon/length", params={"beats": "5390 +- 0.5"}).text
    assert 'value="5390 +- 0.5"' in page
    assert f"/reckon/length?{urlencode({'beats': '5390 +- 0.5'})}" in client.get(f"/case/{at_the_pendulum}").text


def test_a_form_that_a_case_filled_in_only_in_part_is_not_blamed(client):
    answer = client.get("/reckon/by-hand", params={"family": "floor", "fill": "1"})
    assert answer.status_code == 200
    assert 'role="alert"' not in answer.text
    assert '<option value="floor" selected>' in answer.text


def test_a_customer_is_shown_no_numbers_at_a_step(customer, at_the_pendulum):
    assert "443.2 mm" not in customer.get(f"/case/{at_the_pendulum}").text
