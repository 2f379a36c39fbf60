"""Only this machine's own page is served, and only its own forms are taken."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from diagnose.web.guard import why_refused
from tests.web.examples import begun


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8765", "127.0.0.1.evil.example", "", "[", "0.0.0.0"])
def test_a_page_asked_for_by_another_name_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8765", "localhost", "LOCALHOST:9000"])
def test_a_page_asked_for_on_this_machine_is_served(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "http://127.0.0.1.evil.example"},
        {"referer": "http://evil.example/127.0.0.1"},
    ],
)
def test_a_form_sent_from_another_page_is_refused(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, headers: dict[str, str]
) -> None:
    consultation = begun(knowledge, store)
    before = store.events(str(consultation.kept_as))

    answer = client.post(
        f"/case/{consultation.kept_as}/say", data={"token": token, "text": "it limps"}, headers=headers
    )

    assert answer.status_code == 403
    assert store.events(str(consultation.kept_as)) == before


@pytest.mark.parametrize("headers", [{}, {"origin": "http://127.0.0.1"}, {"referer": "http://127.0.0.1/case/x"}])
def test_a_form_of_this_page_is_taken(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, headers: dict[str, str]
) -> None:
    consultation = begun(knowledge, store)

    answer = client.post(
        f"/case/{consultation.kept_as}/say", data={"token": token, "text": "it limps"}, headers=headers
    )

    assert answer.status_code == 200


def test_an_origin_counts_before_a_referer() -> None:
    headers = {"host": "127.0.0.1", "origin": "http://evil.example", "referer": "http://127.0.0.1/"}

    assert why_refused("POST", headers) == "page-wrong-origin"


@pytest.mark.parametrize("guessed", ["", "guessed", "ü"])
def test_a_form_of_another_run_changes_nothing_and_loses_nothing(
    client: TestClient, store: Store, knowledge: Knowledge, guessed: str
) -> None:
    consultation = begun(knowledge, store)
    before = store.events(str(consultation.kept_as))

    answer = client.post(
        f"/case/{consultation.kept_as}/say", data={"token": guessed, "text": "it <b>limps</b> & stops"}
    )

    assert answer.status_code == 403
    assert store.events(str(consultation.kept_as)) == before
    assert "it &lt;b&gt;limps&lt;/b&gt; &amp; stops" in answer.text
    assert "<b>limps" not in answer.text


@pytest.mark.parametrize("address", ["/begin", "/case/x/say", "/case/x/hear"])
def test_a_form_is_never_taken_by_following_a_link(client: TestClient, address: str) -> None:
    assert client.get(address).status_code in {404, 405}


@pytest.mark.parametrize("page", ["/", "/nothing", "/static/page.js", "/static/page.css"])
def test_every_answer_forbids_what_is_not_ours(client: TestClient, page: str) -> None:
    headers = client.get(page).headers

    assert "default-src 'none'; script-src 'self'; style-src 'self'" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_what_was_said_is_shown_as_text_and_never_as_markup(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store)
    consultation.say('<script>alert(1)</script> "limps"')

    page = client.get(f"/case/{consultation.kept_as}").text

    assert "<script>alert" not in page and "&lt;script&gt;" in page


@pytest.mark.parametrize("here", ["//evil.example", "http://evil.example", "/\\evil.example", "javascript:alert(1)"])
def test_changing_the_words_never_leads_elsewhere(client: TestClient, token: str, here: str) -> None:
    answer = client.post("/words", data={"token": token, "here": here, "reader": "customer"}, follow_redirects=False)

    assert answer.headers["location"] == "/"


def test_whose_words_are_shown_is_remembered(client: TestClient, token: str, knowledge: Knowledge) -> None:
    page = client.post("/words", data={"token": token, "here": "/", "reader": "customer"}).text

    assert str(knowledge.doors["stops"].title.customer) in page


def test_nothing_of_the_page_comes_from_elsewhere(client: TestClient) -> None:
    for page in ("/", "/static/page.css", "/static/page.js"):
        text = client.get(page).text
        assert "http://" not in text.replace("http://127.0.0.1", "") and "https://" not in text and "//cdn" not in text
