"""Several contacts, hand-over and later cases of a clock, on the page."""

from __future__ import annotations

from starlette.testclient import TestClient

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge
from tests.test_several_contacts import begun as begun_here
from tests.test_several_contacts import handed_over, heard
from tests.web.examples import begun
from tests.web.forms_in_page import form_for, forms_of


def post(client: TestClient, token: str, consultation: Consultation, act: str, **given: object) -> str:
    """Send a form of a case and return the page that follows."""
    sent = client.post(f"/case/{consultation.kept_as}/{act}", data={"token": token, **given})
    assert sent.status_code == 200, sent.text[:2000]
    return sent.text


def again(knowledge: Knowledge, store: Store, consultation: Consultation) -> Consultation:
    return Consultation.resume(knowledge, store, str(consultation.kept_as))


def test_a_contact_is_closed_with_homework_and_the_message_can_be_copied(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.cannot_tell("stop-pattern")
    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "until")
    assert form.choices["homework"] == ["stop-pattern"]

    page = post(client, token, consultation, "until", chosen="1", homework="stop-pattern", again="2031-03-20")

    assert "Until Thursday, March 20:\n1. Each time it stops, write down the day" in page
    assert isinstance(again(knowledge, store, consultation).moment, moments.AwayMoment)


def test_the_next_contact_opens_with_the_homework(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.close_contact("2031-03-20", ("stop-pattern",))

    page = post(client, token, consultation, "contact", where="call")
    assert knowledge.screen["homework-title"].staff in page
    first = forms_of(page)[0]
    assert ("findings", "stop-pattern") in first.fields

    post(client, token, consultation, "look", findings="stop-pattern", **{"value.stop-pattern": "night-only"})
    assert again(knowledge, store, consultation).answers["stop-pattern"].value == "night-only"


def test_an_answer_says_how_it_is_known(client: TestClient, store: Store, knowledge: Knowledge, token: str) -> None:
    consultation = begun(knowledge, store)
    given = {"findings": "leaf-shape", "value.leaf-shape": list(knowledge.findings["leaf-shape"].values)[1]}

    post(client, token, consultation, "look", source="photo", **given)

    assert again(knowledge, store, consultation).answers["leaf-shape"].source == "photo"


def test_what_was_told_is_confirmed_put_right_or_left(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    consultation.answer("hook-seat", list(knowledge.findings["hook-seat"].values)[1])
    consultation.answer("case-steady", list(knowledge.findings["case-steady"].values)[1])
    page = post(client, token, consultation, "contact", where="visit")
    assert knowledge.screen["told-title"].staff in page

    page = post(
        client, token, consultation, "told",
        findings=["tick-evenness", "hook-seat", "case-steady"],
        **{"value.tick-evenness": "limping", "value.hook-seat": next(iter(knowledge.findings["hook-seat"].values))},
    )  # fmt: skip

    answers = again(knowledge, store, consultation).answers
    assert (answers["tick-evenness"].source, answers["hook-seat"].source) == ("seen", "seen")
    assert answers["hook-seat"].value == next(iter(knowledge.findings["hook-seat"].values))
    assert answers["case-steady"].source == "told"
    # What was left stays marked beside the work.
    assert page.count(f'<p class="told">{knowledge.screen["told-mark"].staff}</p>') == 1


def test_the_page_asks_whether_it_is_the_same_clock(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    consultation.take_heard(heard("b.flac", 9.0, 4320.0))
    assert knowledge.screen["same-clock-title"].staff in client.get(f"/case/{consultation.kept_as}").text

    post(client, token, consultation, "same-clock", same="no")

    assert again(knowledge, store, consultation).case.events[-1] == ev.SameClock("b.flac", same=False)


def test_hand_over_values_are_filled_in_and_kept_while_the_case_stays_open(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.take_heard(heard("even.flac", 1.2))
    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "hand-over-values")
    filled = {name: value for name, value in form.fields if name != "token"}
    assert (filled["split"], filled["beat error %"]) == ("50.6 : 49.4", "1.2")

    post(client, token, consultation, "hand-over-values", **{**filled, "swing": "38", "hangs on": "one screw"})

    kept = again(knowledge, store, consultation)
    assert kept.handed_over["swing"] == 38.0
    assert kept.handed_over["hangs on"] == "one screw"
    assert not isinstance(kept.moment, moments.ClosedMoment)


def test_a_later_case_opens_with_what_has_changed_and_names_the_case_before(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    first = handed_over(knowledge, store)
    second = begun_here(knowledge, store)

    page = client.get(f"/case/{second.kept_as}").text
    assert "63 days since hand-over" in page
    assert f'href="/case/{first.kept_as}"' in page

    page = post(client, token, second, "again", swing="26")
    assert "Swing: 38 then, 26 now" in page


def test_the_desk_shows_what_is_due_first_and_what_a_case_came_to(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    due = begun(knowledge, store)
    due.close_contact("2026-01-05", ("stop-pattern",))
    handed_over(knowledge, store)

    page = client.get("/").text

    assert page.index("due 2026-01-05") < page.index("closed: cured")
    assert knowledge.causes["crutch-set-wrong"].title.staff in page


def test_an_alarm_on_a_visit_does_not_send_a_visit(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    alarm = next(name for name, entry in knowledge.alarms.items() if entry.then == "visit")
    consultation = begun(knowledge, store, where="visit")
    consultation.raise_alarm(alarm)

    page = client.get(f"/case/{consultation.kept_as}").text

    assert knowledge.screen["alarm-then-visit"].staff not in page
    assert "made safe" in page


def test_a_wall_clock_gets_no_caution_of_a_tall_case_on_the_page(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    remedy = next(name for name, entry in knowledge.remedies.items() if "tall-case-tips" in entry.cautions)
    shown = {}
    for family in ("wall", "floor"):
        consultation = begun(knowledge, store, where="workshop")
        consultation.set_fact("clock", "family", family)
        consultation.answer("tick-evenness", "limping")
        consultation.begin_walk(remedy)
        shown[family] = client.get(f"/case/{consultation.kept_as}").text

    text = knowledge.cautions["tall-case-tips"].text.staff[:50]
    assert text in shown["floor"]
    assert text not in shown["wall"]


def test_what_it_sounds_is_chosen_with_kind_and_drive(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = Consultation.begin(knowledge, "stops", ev.Contact("c1", "visit"), "larch", store)
    consultation.say("it stops")
    assert "clock.sounds" in client.get(f"/case/{consultation.kept_as}").text

    post(
        client, token, consultation, "facts",
        fields=["clock.family", "clock.drive", "clock.sounds"],
        **{"clock.family": "wall", "clock.drive": "spring", "clock.sounds": "nothing"},
    )  # fmt: skip

    assert again(knowledge, store, consultation).case.clock.strike == "no-strike"


def test_no_fault_is_said_as_such(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    name = next((name for name, entry in knowledge.causes.items() if entry.no_fault), None)
    assert name is not None
    consultation = begun(knowledge, store, where="workshop")
    for fact in ("drive", "family"):
        allowed = getattr(knowledge.causes[name].applies, {"drive": "drives", "family": "families"}[fact])
        if allowed:
            consultation.set_fact("clock", fact, allowed[0])
    for link in knowledge.causes[name].shows:
        consultation.answer(link.finding, link.value)

    page = client.get(f"/case/{consultation.kept_as}/tree").text

    assert "this is how it is meant to be" in page
