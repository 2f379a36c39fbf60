"""The pictures of a beat stand on the page once a recording is heard: all for staff, the swing split for a customer."""

from __future__ import annotations

import re

from starlette.testclient import TestClient

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from tests.reports.heard import evenly, everything
from tests.web.examples import begun, ticking

TITLES = ("picture-swing-title", "picture-course-title", "picture-tick-title")
SOUND = ticking()


def headings(text: str) -> list[str]:
    """Headings of the pictures on a page, as a screen reader says them."""
    return re.findall(r'<title id="[^"]+">([^<]+)</title>', text)


def note_of(client: TestClient, token: str) -> str:
    given = {"token": token, "side": "left", "bph": "5400", "family": "wall"}
    return str(client.post("/note", data=given, files={"recording": ("note.wav", SOUND, "audio/wav")}).url.path)


def test_a_voice_note_shows_its_pictures_beneath_what_to_do(
    client: TestClient, token: str, knowledge: Knowledge
) -> None:
    text = client.get(note_of(client, token)).text

    assert headings(text) == [knowledge.screen[title].staff for title in TITLES]
    assert text.index('id="act"') < text.index('id="pictures"')


def test_a_customer_sees_the_swing_split_alone(client: TestClient, token: str, knowledge: Knowledge) -> None:
    note = note_of(client, token)
    page = client.post("/words", data={"token": token, "reader": "customer", "here": note})

    assert headings(page.text) == [knowledge.screen["picture-swing-title"].customer]


def test_a_case_shows_the_pictures_of_what_was_heard_just_now_and_then_no_more(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(ev.Heard("larch.flac", everything(), "left"))
    address = f"/case/{consultation.kept_as}"

    assert len(headings(client.get(address).text)) == 4
    consultation.answer("runs-for", "minutes")
    assert headings(client.get(address).text) == []


def test_the_report_of_a_case_holds_them_all(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(ev.Heard("before.flac", evenly(), "left"))
    consultation.take_heard(ev.Heard("after.flac", everything(), "left"))

    text = client.get(f"/case/{consultation.kept_as}/tree").text

    # Before the last recording the swing split alone.
    swing = knowledge.screen["picture-swing-title"].staff
    assert headings(text).count(swing) == 2
    assert len([title for title in headings(text) if title != swing and "rank" not in title]) == 3


def test_what_could_not_be_measured_has_no_pictures(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    refused = {**everything(), "refused": "two clocks", "way_out": "Stop the other clock."}
    consultation.take_heard(ev.Heard("larch.flac", refused, "left"))

    text = client.get(f"/case/{consultation.kept_as}").text

    assert headings(text) == []
    assert 'class="pictures' not in text
