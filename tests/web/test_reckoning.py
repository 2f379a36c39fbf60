"""Questions with a number for an answer, on the page: the list, a form, an answer, what was typed wrong."""

from __future__ import annotations

import pytest

from diagnose.reckoning.questions import QUESTIONS
from diagnose.web.desk import READER_COOKIE


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
