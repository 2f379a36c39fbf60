"""Every kind of moment is shown, to staff and to a customer."""

from __future__ import annotations

from typing import get_args

import pytest
from starlette.testclient import TestClient

from diagnose import moments
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.contacts import TwoSpeeds
from diagnose.model.entries import Words
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Reader, Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.complaint import Suggestion
from diagnose.reasoning.told_only import Told
from diagnose.web.desk import HERE
from diagnose.web.views import template_of
from tests.web.examples import begun

READERS: tuple[Reader, ...] = ("staff", "customer")
REMEDY = "set-the-beat-at-the-case"
FINDINGS = ("tick-evenness", "crutch-follows")
PLAN = steps.Plan(
    steps.Do(REMEDY, 12.0, 3.0, 0.6), (steps.Do("wind-it", 2.0, 1.0, 0.1),), 0.97, True, 20.0,
    homework=(steps.Ask("runs-for", 1.0, 1.0, 0.1),),
)  # fmt: skip
WHY = (Words(staff="It helps to tell one from another.", customer="It helps us to see more."),) * len(FINDINGS)
MOMENTS: tuple[moments.Moment, ...] = (
    moments.AlarmMoment("frayed-cable"),
    moments.PickAlarmMoment(("bang", "frayed-cable")),
    moments.ScopeMoment("It has no pendulum."),
    moments.FactsMoment("clock", ("family", "drive")),
    moments.FactsMoment("person", ("reaches", "lifts", "helper", "tools", "children")),
    moments.ComplaintMoment(),
    moments.ConfirmMoment((Suggestion("tick-evenness", "limping", 90.0, "it limps"),)),
    moments.FitMoment(),
    moments.LookMoment("sound", FINDINGS, WHY, PLAN),
    moments.AdviceMoment(REMEDY, PLAN),
    moments.StepMoment(REMEDY, 0),
    moments.ProofMoment(REMEDY, FINDINGS),
    moments.CuredMoment(REMEDY),
    moments.WaitMoment(FINDINGS, 72.0, PLAN),
    moments.ReferMoment("visit", PLAN),
    moments.EnoughMoment(PLAN),
    moments.ClosedMoment("cured"),
    moments.AwayMoment("2031-03-20", ("stop-pattern", "runs-for")),
    moments.HomeworkMoment(FINDINGS),
    moments.ToldMoment(
        (Told("tick-evenness", "limping", 0.2, 0.4, 19.0), Told("crutch-follows", "one-way", 0.1, 0.1, 2.0))
    ),
    moments.SameClockMoment(TwoSpeeds("b.flac", 3600.0, 4320.0)),
)


def words_expected(moment: moments.Moment, wording: Wording) -> str:
    """Return a phrase that must stand on the page of a moment."""
    knowledge = wording.knowledge
    match moment:
        case moments.AlarmMoment():
            return wording.text(knowledge.alarms[moment.alarm].say)
        case moments.PickAlarmMoment():
            return wording.text(knowledge.alarms["frayed-cable"].title)
        case moments.ScopeMoment():
            return moment.reason
        case moments.FactsMoment():
            return wording.say(f"fact-{moment.fields[-1]}")
        case moments.ComplaintMoment():
            return wording.text(knowledge.doors["stops"].opening)
        case moments.ConfirmMoment():
            return wording.value("tick-evenness", "limping")
        case moments.AwayMoment():
            return knowledge.screen["homework-stop-pattern"].customer or ""
        case moments.ToldMoment():
            return wording.short("crutch-follows")
        case moments.LookMoment() | moments.ProofMoment() | moments.WaitMoment() | moments.HomeworkMoment():
            return wording.question("crutch-follows")
        case moments.AdviceMoment() | moments.CuredMoment() if wording.reader == "staff":
            return wording.text(knowledge.remedies[REMEDY].title)
        case moments.StepMoment():
            return wording.text(knowledge.remedies[REMEDY].steps[0].do)
        case _:
            return wording.say(KEYS[type(moment)])


KEYS: dict[type, str] = {
    moments.SameClockMoment: "same-clock-no",
    moments.FitMoment: "fit-title",
    moments.AdviceMoment: "page-walk",
    moments.CuredMoment: "cured-title",
    moments.ReferMoment: "refer-title",
    moments.EnoughMoment: "enough-known",
    moments.ClosedMoment: "closed-title",
}


def test_the_examples_hold_every_kind_of_moment() -> None:
    assert {type(moment) for moment in MOMENTS} == set(get_args(moments.Moment))


def test_every_kind_of_moment_has_a_template_and_no_template_is_left_over() -> None:
    needed = {template_of(moment) for moment in MOMENTS}

    assert needed == {f"moments/{path.name}" for path in (HERE / "templates" / "moments").iterdir()}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("moment", MOMENTS, ids=lambda moment: type(moment).__name__)
def test_a_moment_says_what_it_is_about(
    client: TestClient,
    store: Store,
    knowledge: Knowledge,
    monkeypatch: pytest.MonkeyPatch,
    moment: moments.Moment,
    reader: Reader,
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    if isinstance(moment, moments.StepMoment):
        consultation.begin_walk(REMEDY)
    monkeypatch.setattr(Consultation, "moment", property(lambda self: moment))
    client.cookies.set("reader", reader)

    page = client.get(f"/case/{consultation.kept_as}")

    assert page.status_code == 200
    assert escaped(words_expected(moment, Wording(knowledge, reader))) in page.text


def escaped(text: str) -> str:
    """Return a text as it stands in a page."""
    from markupsafe import escape

    return str(escape(text))


def test_a_customer_is_shown_no_number_of_the_reasoning(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    client.cookies.set("reader", "customer")

    page = client.get(f"/case/{consultation.kept_as}").text

    assert " in 10" not in page and "1 in " not in page


def test_staff_on_a_call_read_what_to_say_to_the_customer(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store, "fitting")
    shown = consultation.moment
    assert isinstance(shown, moments.LookMoment)
    sentence = knowledge.findings[shown.findings[0]].question.customer

    page = client.get(f"/case/{consultation.kept_as}").text

    assert sentence is not None and escaped(sentence) in page


def test_a_risky_step_from_an_entry_nobody_reviewed_is_kept_from_a_customer(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    name, number = next(
        (name, number)
        for name, entry in knowledge.remedies.items()
        for number, step in enumerate(entry.steps)
        if step.do.customer is None
    )
    consultation = begun(knowledge, store)
    consultation.answer("moved-lately", "yes")
    consultation.begin_walk(name)
    for _ in range(number):
        consultation.step_right()
    client.cookies.set("reader", "customer")

    page = client.get(f"/case/{consultation.kept_as}").text

    assert escaped(knowledge.remedies[name].steps[number].do.staff) not in page
    assert knowledge.screen["leave-to-us"].customer in page  # type: ignore[operator]
