"""Cases played by posting forms; nothing is lost; danger comes first."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import InputError
from diagnose.model.reading import Knowledge
from diagnose.web.app import make_app
from tests.web.conftest import ADDRESS
from tests.web.examples import begun
from tests.web.forms_in_page import Form, form_for, forms_of

DOORS = ("stops", "fitting", "moved", "checking", "part", "alarm")
# What is the matter with the made-up clock; all other findings are as they should be.
TRUTH = {"tick-evenness": "limping", "moved-lately": "yes", "shorter-way": "right", "runs-for": "minutes"}
AT_LAST = {"tick-evenness": "even", "runs-for": "keeps-running"}
REMEDY = "set-the-beat-at-the-case"
# A person who has answered so much closes the case.
PATIENCE = 40


def begin(client: TestClient, token: str, door: str, **more: str) -> str:
    """Begin a case and return its address."""
    given = {"token": token, "door": door, "where": "visit", "clock": "Larch Lane 7", "staff": "MB", "reader": "staff"}
    page = client.post("/begin", data=given | more)
    assert page.status_code == 200, page.text
    return page.url.path


def filled(form: Form, knowledge: Knowledge, mended: bool) -> dict[str, list[str]]:
    """Return what a person would send who knows the made-up clock."""
    given: dict[str, list[str]] = {}
    for name, value in form.fields:
        given.setdefault(name, []).append(value)
    for finding in given.get("findings", []):
        entry = knowledge.findings[finding]
        usual = entry.normal or next(iter(entry.values))
        value = AT_LAST.get(finding) if mended else TRUTH.get(finding)
        given[f"value.{finding}"] = [value or usual]
        given[f"meant.{finding}"] = ["yes"]
    known = {"text": "it limps and stops after two minutes", "clock.family": "wall", "clock.drive": "spring"}
    known |= {"block": "2.00 mm", "slot": "2.06 mm"}
    for name in {*given, *form.choices}:
        if name in known:
            given[name] = [known[name]]
        elif name.startswith("person."):
            given[name] = ["no" if name.endswith("children") else "yes"]
        elif name.endswith("_tool"):
            given[name] = ["micrometer"]
    if form.act == "step":
        given["how"] = ["right"]
    elif form.act == "alarm":
        given["alarm"] = ["frayed-cable"]
    return given


def play(client: TestClient, knowledge: Knowledge, address: str, most: int = 60) -> list[str]:
    """Answer page after page by the first form of each, until the case is closed; return the acts in order."""
    acts: list[str] = []
    for _ in range(most):
        page = client.get(address).text
        form = forms_of(page)[0]
        if form.act == "say" and "say" in acts:
            form = form_for(page, "close")
        stuck = form.act in {"contact", "say"} and acts and acts[-1] == form.act
        if (stuck or len(acts) >= PATIENCE) and form.act != "clear":
            form = form_for(page, "close")
        mended = "step" in acts
        sent = client.post(form.action, data=filled(form, knowledge, mended), follow_redirects=False)
        assert sent.status_code == 303, (form, sent.text[:2000])
        acts.append(form.act)
        if form.act in {"close", "hand-over"}:
            return acts
    raise AssertionError(acts)


@pytest.mark.parametrize("door", DOORS)
def test_a_case_is_played_from_each_door_to_its_end(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, door: str
) -> None:
    address = begin(client, token, door)

    acts = play(client, knowledge, address)

    assert acts[-1] in {"close", "hand-over"}
    assert isinstance(store.events(address.rsplit("/", 1)[-1])[-1], ev.Concluded)
    assert knowledge.screen["closed-title"].staff in client.get(address).text


def test_a_limping_clock_is_cured_proved_and_handed_over_by_forms_alone(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    address = begin(client, token, "stops")

    acts = play(client, knowledge, address)

    assert {"say", "facts", "confirm", "walk", "step", "look", "hand-over"} <= set(acts)
    handed = [event for event in store.events(address.rsplit("/", 1)[-1]) if isinstance(event, ev.HandedOver)]
    assert len(handed) == 1


@pytest.mark.parametrize("door", DOORS)
def test_a_case_goes_on_after_the_program_was_started_again(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, recordings: Path, door: str
) -> None:
    address = begin(client, token, door)
    before = client.get(address).text
    form = forms_of(before)[0]
    client.post(form.action, data=filled(form, knowledge, False))
    before = client.get(address).text

    with TestClient(make_app(store, knowledge, recordings), base_url=ADDRESS) as again:
        after = again.get(address).text
        new = str(again.app.state.desk.token)  # type: ignore[attr-defined]

    assert after.replace(new, token) == before


def test_the_first_page_lists_the_cases_kept(client: TestClient, token: str) -> None:
    address = begin(client, token, "stops")

    page = client.get("/").text

    assert f'href="{address}"' in page and "larch-lane-7" in page


# ---- danger ----------------------------------------------------------------------------------------


def _told(consultation: Consultation) -> None:
    consultation.say("it stops after two minutes and limps")


def _limping(consultation: Consultation) -> None:
    consultation.answer("tick-evenness", "limping")


def _walking(consultation: Consultation) -> None:
    _limping(consultation)
    consultation.begin_walk(REMEDY)


def _done(consultation: Consultation) -> None:
    _limping(consultation)
    consultation.tried(REMEDY, "done")


def _cured(consultation: Consultation) -> None:
    _done(consultation)
    for proof in consultation.knowledge.remedies[REMEDY].proof:
        consultation.answer(proof.finding, proof.value)


def _closed(consultation: Consultation) -> None:
    consultation.conclude("unknown")


def _out_of_scope(consultation: Consultation) -> None:
    consultation.say("x")
    consultation.set_fact("clock", "family", "cuckoo")


STATES = {
    "complaint": ("stops", lambda consultation: None, moments.ComplaintMoment),
    "words to confirm": ("stops", _told, moments.ConfirmMoment),
    "first look": ("fitting", lambda consultation: None, moments.LookMoment),
    "fit": ("part", lambda consultation: None, moments.FitMoment),
    "list of alarms": ("alarm", lambda consultation: None, moments.PickAlarmMoment),
    "step": ("stops", _walking, moments.StepMoment),
    "proof": ("stops", _done, moments.ProofMoment),
    "cured": ("stops", _cured, moments.CuredMoment),
    "out of scope": ("stops", _out_of_scope, moments.ScopeMoment),
    "closed": ("stops", _closed, moments.ClosedMoment),
}


@pytest.mark.parametrize("reader", ["staff", "customer"])
@pytest.mark.parametrize("state", STATES)
def test_a_word_of_danger_gives_the_sentence_at_once_whatever_stands_there(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, state: str, reader: str
) -> None:
    door, prepare, kind = STATES[state]
    consultation = begun(knowledge, store, door)
    prepare(consultation)
    assert isinstance(consultation.moment, kind)
    client.cookies.set("reader", reader)

    page = client.post(
        f"/case/{consultation.kept_as}/say", data={"token": token, "text": "I see broken wires, the cable is frayed"}
    ).text

    entry = knowledge.alarms["frayed-cable"].say
    assert (entry.customer if reader == "customer" else entry.staff) in page
    assert not {"<select", "<textarea", 'type="radio"', 'type="text"'} & {part for part in ASKING if part in page}
    assert page.index('class="sentence"') < page.index("<h1")


ASKING = ("<select", "<textarea", 'type="radio"', 'type="text"')


def test_an_alarm_stays_until_a_person_says_it_was_dealt_with(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    address = f"/case/{consultation.kept_as}"
    client.post(f"{address}/alarm", data={"token": token, "alarm": "bang"})
    sentence = knowledge.alarms["bang"].say.staff
    assert sentence in client.get(address).text

    page = client.post(f"{address}/clear", data={"token": token, "alarm": "bang"}).text

    assert sentence not in page


# ---- nothing is lost, nothing is done twice ------------------------------------------------------------


def test_a_look_may_be_sent_with_some_of_it_unmarked(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store, "fitting", "visit")
    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "look")
    shown = [value for name, value in form.fields if name == "findings"]

    client.post(
        form.action,
        data={
            "token": token, "findings": shown, "value.leaf-shape": "flat", "value.pin-seen": "cannot-tell",
            "value.paper-in-fork": "later", "value.crutch-follows": "one-way", "think.crutch-follows": "1",
        },
    )  # fmt: skip

    answers = Consultation.resume(knowledge, store, str(consultation.kept_as)).answers
    states = {name: (answer.value, answer.state, answer.certainty) for name, answer in answers.items()}
    assert states == {
        "leaf-shape": ("flat", "said", "sure"),
        "pin-seen": (None, "cannot-tell", "sure"),
        "paper-in-fork": (None, "later", "sure"),
        "crutch-follows": ("one-way", "said", "think-so"),
    }


def test_six_looks_take_three_taps_each_at_most(client: TestClient, store: Store, knowledge: Knowledge) -> None:
    consultation = begun(knowledge, store, "fitting", "visit")

    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "look")

    # One tap for the value, one for "I think so", and one in all to send.
    assert [value for name, value in form.fields if name == "findings"] == list(knowledge.doors["fitting"].looks)
    assert all(f"value.{name}" in form.choices for name in knowledge.doors["fitting"].looks)


@pytest.mark.parametrize(
    ("act", "given"),
    [
        ("look", {"findings": "tick-evenness", "value.tick-evenness": "no-such-value", "think.tick-evenness": "1"}),
        ("look", {"findings": "tick-evenness"}),
        ("say", {"text": "word " * 2000}),
        ("say", {"text": ""}),
        ("step", {"remedy": REMEDY, "step": "0", "how": "sideways"}),
        ("tried", {"remedy": "no-such-remedy", "outcome": "done"}),
        ("tried", {"remedy": REMEDY, "outcome": "wonderful"}),
        ("walk", {"remedy": "no-such-remedy"}),
        ("facts", {"fields": "clock.family", "clock.family": "hourglass"}),
        ("facts", {"fields": "clock.color", "clock.color": "brown"}),
        ("take-back", {"finding": "no-such-finding"}),
        ("alarm", {"alarm": "no-such-alarm"}),
        ("contact", {"where": "moon"}),
        ("close", {"outcome": "wonderful"}),
        ("close", {"outcome": "cured", "cause": "no-such-cause"}),
        ("fit", {"block": "2 mm", "slot": "", "block_tool": "ruler", "slot_tool": "ruler"}),
        ("fit", {"block": "two", "slot": "2.1 mm", "block_tool": "ruler", "slot_tool": "ruler"}),
        ("fit", {"block": "2 mm", "slot": "2.1 mm", "block_tool": "eye", "slot_tool": "ruler"}),
        ("moved", {"side": "left", "amount": "-1"}),
        ("hear", {"times": "0.5 one 1.5"}),
        ("hear", {"times": "0.5 1.0 1.5"}),
        ("hear", {"bph": "many", "times": "1"}),
    ],
)
def test_what_cannot_be_taken_is_told_in_a_sentence_and_changes_nothing(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, act: str, given: dict[str, str]
) -> None:
    consultation = begun(knowledge, store)
    if act == "step":
        consultation.begin_walk(REMEDY)
    else:
        consultation.answer("moved-lately", "yes")
    before = store.events(str(consultation.kept_as))

    page = client.post(f"/case/{consultation.kept_as}/{act}", data={"token": token, **given})

    assert page.status_code == 422
    assert 'role="alert"' in page.text
    assert store.events(str(consultation.kept_as)) == before


def test_what_was_written_stands_in_the_page_again_after_a_fault(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store, "part", "workshop")

    page = client.post(
        f"/case/{consultation.kept_as}/fit",
        data={
            "token": token,
            "block": "0.079 <in>",
            "slot": "2.1 mm",
            "block_tool": "loupe",
            "slot_tool": "micrometer",
        },
    ).text

    assert 'value="0.079 &lt;in&gt;"' in page and 'value="2.1 mm"' in page
    assert '<option value="loupe" selected>' in page and '<option value="micrometer" selected>' in page


def test_marks_of_a_look_stand_in_the_page_again_where_it_could_not_be_kept(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    consultation = begun(knowledge, store, "fitting", "visit")
    form = form_for(client.get(f"/case/{consultation.kept_as}").text, "look")
    shown = [value for name, value in form.fields if name == "findings"]

    def full(*_: object) -> None:
        raise InputError("this could not be saved: the disk is full", do="Free some space, then do it again")

    monkeypatch.setattr(Store, "add", full)
    page = client.post(form.action, data={"token": token, "findings": shown, "value.leaf-shape": "wavy"})

    assert page.status_code == 422 and "the disk is full" in page.text
    assert 'name="value.leaf-shape" value="wavy" checked' in page.text


def test_a_second_click_on_a_step_does_not_skip_the_next_one(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.begin_walk(REMEDY)
    click = {"token": token, "remedy": REMEDY, "step": "0", "how": "right"}

    for _ in range(2):
        client.post(f"/case/{consultation.kept_as}/step", data=click)

    walk = Consultation.resume(knowledge, store, str(consultation.kept_as)).walk
    assert walk is not None and walk.step == 1


def test_an_answer_is_taken_back_and_changed_from_the_right_column(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    consultation.answer("knock", "double")
    address = f"/case/{consultation.kept_as}"

    client.post(f"{address}/look", data={"token": token, "findings": "tick-evenness", "value.tick-evenness": "even"})
    client.post(f"{address}/take-back", data={"token": token, "finding": "knock"})

    answers = Consultation.resume(knowledge, store, str(consultation.kept_as)).answers
    assert {name: answer.value for name, answer in answers.items()} == {"tick-evenness": "even"}


def test_not_so_is_an_answer_and_the_case_goes_on_from_it(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.begin_walk(REMEDY)
    steps = knowledge.remedies[REMEDY].steps
    number, way = next(
        (number, way)
        for number, step in enumerate(steps)
        for way, not_so in enumerate(step.not_so)
        if not_so.finding is not None and not_so.go == "rethink"
    )
    for _ in range(number):
        consultation.step_right()
    given = {"token": token, "remedy": REMEDY, "step": str(number), "how": f"not-so-{way}"}

    client.post(f"/case/{consultation.kept_as}/step", data=given)

    after = Consultation.resume(knowledge, store, str(consultation.kept_as))
    assert after.walk is None
    assert after.answers[str(steps[number].not_so[way].finding)].value == steps[number].not_so[way].value


def test_a_fit_says_its_chance_and_what_not_to_do(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store, "part", "workshop")

    page = client.post(
        f"/case/{consultation.kept_as}/fit",
        data={"token": token, "block": "2.0 mm", "slot": "2.1 mm", "block_tool": "ruler", "slot_tool": "ruler"},
    ).text

    # The chance is that of design's own example: block 2.0 mm, slot 2.1 mm, both by ruler.
    assert "0.59" in page and knowledge.screen["fit-never-force"].staff in page


def test_hand_over_values_are_kept_as_numbers_where_they_are_numbers(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    _cured(consultation)

    client.post(
        f"/case/{consultation.kept_as}/hand-over",
        data={"token": token, "split": "50.4 : 49.6", "beat error %": "0.8", "nut": "two turns down", "swing": ""},
    )

    events = store.events(str(consultation.kept_as))
    assert events[-2:] == (
        ev.HandedOver({"split": "50.4 : 49.6", "beat error %": 0.8, "nut": "two turns down"}),
        ev.Concluded("cured", None, ""),
    )


@pytest.mark.parametrize(
    "page", ["why", "why?cause=crutch-set-wrong", "opinion?cause=crutch-set-wrong", "tree", "file"]
)
def test_what_stands_beside_a_case_can_be_read(
    client: TestClient, store: Store, knowledge: Knowledge, page: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")

    assert client.get(f"/case/{consultation.kept_as}/{page}").status_code == 200


def test_whether_the_first_place_holds_is_told_on_demand(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    address = f"/case/{consultation.kept_as}"

    assert "of 50 trials" in client.get(f"{address}/why?holds=yes").text
    assert "of 50 trials" not in client.get(f"{address}/why").text
    assert f"{address}/why?holds=yes" in client.get(address).text


def test_before_any_answer_no_cause_is_in_the_first_place(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    consultation = begun(knowledge, store)

    assert "No cause is in the first place yet" in client.get(f"/case/{consultation.kept_as}/why?holds=yes").text


@pytest.mark.parametrize("page", [f"sheet/{REMEDY}", f"sheet/{REMEDY}/messages"])
def test_a_remedy_can_be_printed_and_sent(client: TestClient, page: str) -> None:
    assert client.get(f"/{page}").status_code == 200


@pytest.mark.parametrize(
    "page",
    [
        "nothing", "case/nothing", "case/nothing/why", "note/0123456789abcdef", "note/..%2f..", "sheet/nothing",
        "sheet/nothing/messages", "drawing/nothing", "drawing/..%2fdrawings.yaml", "static/..%2fapp.py",
        "case/nothing/why?cause=nothing",
    ],
)  # fmt: skip
def test_what_is_not_there_is_told_on_a_page(client: TestClient, page: str) -> None:
    assert client.get(f"/{page}").status_code == 404


def test_every_drawing_is_served_as_a_picture_that_runs_nothing(client: TestClient, knowledge: Knowledge) -> None:
    for name in knowledge.drawings:
        answer = client.get(f"/drawing/{name}")

        assert answer.headers["content-type"] == "image/svg+xml"
        assert "default-src 'none'" in answer.headers["content-security-policy"]
