"""What a desk meets first: what is due, danger, and nothing asked or said twice."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge
from tests.web.examples import begun
from tests.web.forms_in_page import form_for, forms_of
from tests.web.test_contacts_shown import again, post

LIST = "Artikel;Block (mm);Dicke (mm)\nA 1;2,0;0,10\n"


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))


def uneven(side: str, percent: float) -> ev.Heard:
    """Return a recording that was heard, out of beat by so much and early on a side."""
    beats = {"beat_error_percent": percent, "early_side": side, "uncertainty": {"beat_error_percent": 0.2}}
    return ev.Heard("note.wav", json.loads(json.dumps(beats)), "left", None, "c1")


def closed_until(knowledge: Knowledge, store: Store, day: str) -> Consultation:
    consultation = begun(knowledge, store)
    consultation.later("stop-pattern")
    consultation.close_contact(day, ("stop-pattern",))
    return consultation


def test_what_is_due_stands_before_the_doors(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    due = closed_until(knowledge, store, "2020-01-02")
    page = client.get("/").text

    assert page.index(f'href="/case/{due.kept_as}"') < page.index('id="doors"')


def test_what_is_not_due_yet_does_not_stand_there(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    closed_until(knowledge, store, "2999-01-02")

    assert 'id="due"' not in client.get("/").text


def test_the_door_of_danger_comes_first(client: TestClient, knowledge: Knowledge) -> None:
    page = client.get("/").text
    others = [page.index(f'class="door-{name}"') for name in knowledge.doors if name != "alarm"]

    assert page.index('class="door-alarm"') < min(others)


def test_a_customer_sees_no_other_clock(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    due = closed_until(knowledge, store, "2020-01-02")
    client.cookies.set("reader", "customer")

    assert str(due.kept_as) not in client.get("/").text


def test_homework_is_not_left_for_the_visit(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = closed_until(knowledge, store, "2020-01-02")
    title = knowledge.screen["page-left-title"].staff

    assert title not in client.get(f"/case/{consultation.kept_as}").text


def test_a_single_look_offers_once_to_leave_it(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "look")
    findings = [value for name, value in form.fields if name == "findings"]
    offered = ["later" in form.choices[f"value.{name}"] for name in findings]

    assert offered == ([False] if len(findings) == 1 else [True] * len(findings))


def test_a_checked_clock_with_nothing_wrong_is_handed_over_in_one_press(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store, "checking", "workshop")
    for finding in knowledge.doors["checking"].looks:
        consultation.answer(finding, str(knowledge.findings[finding].normal))
    assert 'name="nothing_found"' in client.get(f"/case/{consultation.kept_as}").text

    post(client, token, consultation, "hand-over-values", swing="28", nothing_found="1")

    now = again(knowledge, store, consultation)
    assert now.handed_over["swing"] == 28
    assert now.case.events[-1] == ev.Concluded("nothing-found", None, "")


def test_a_clock_with_a_likely_fault_is_not_handed_over_so(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")

    assert 'name="nothing_found"' not in client.get(f"/case/{consultation.kept_as}").text


def test_hand_over_values_that_were_kept_are_said(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    kept = knowledge.screen["page-values-kept"].staff.format(count=1)

    assert kept in post(client, token, consultation, "hand-over-values", swing="28")


def test_a_heading_that_no_size_was_found_for_is_named(client: TestClient, token: str) -> None:
    client.post("/part/list", data={"token": token, "part": "suspension-spring", "list": LIST})
    page = client.get("/part").text

    assert "leaf thickness" in page[page.index('class="fault"') :] and "Dicke (mm)" in page


def test_the_early_side_that_was_heard_is_not_asked_for(knowledge: Knowledge, store: Store) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(uneven("right", 12.8))
    found = {finding.finding: finding.said for finding in consultation.assessment.findings}

    assert found["long-gap-side"] == "bob-right"
    assert "long-gap-side" in consultation.assessment.closed


@pytest.mark.parametrize(("side", "percent"), [("unknown", 12.8), ("right", 1.1)])
def test_an_early_side_not_known_or_an_even_beat_leaves_it_open(
    knowledge: Knowledge, store: Store, side: str, percent: float
) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(uneven("left", 12.8))
    consultation.take_heard(uneven(side, percent))

    assert "long-gap-side" not in consultation.assessment.closed


def test_what_somebody_said_of_the_side_stands_over_the_recording(knowledge: Knowledge, store: Store) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("long-gap-side", "bob-left")
    consultation.take_heard(uneven("right", 12.8))

    assert consultation.answers["long-gap-side"].value == "bob-left"
    assert [f.said for f in consultation.assessment.findings if f.finding == "long-gap-side"] == ["bob-left"]


def test_no_mark_of_the_program_is_quoted_to_a_customer(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    consultation.say("it goes tick-tock ... tick-tock and stops after ten minutes")
    page = client.get(f"/case/{consultation.kept_as}").text

    assert forms_of(page)[0].act == "confirm"
    assert "#gapped" not in page and "tick-tock ... tick-tock" in page


def test_a_value_that_is_a_yes_has_no_second_yes(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    consultation.say("we moved it to another room and it limps")
    client.cookies.set("reader", "customer")

    assert "Yes: Yes" not in client.get(f"/case/{consultation.kept_as}").text
