"""The report as a page: whole, self-contained, and in the customer's version without what is not for him."""

from __future__ import annotations

import dataclasses
import html
import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from diagnose.cases import events as ev
from diagnose.cases.case import read_case
from diagnose.consultation import Consultation
from diagnose.model.wording import Wording
from diagnose.reports import showing, standing, told, work
from diagnose.reports.report import html_report, write_report
from tests.reports.built import alarmed, cured, knowledge, limping, nothing_told, shown
from tests.reports.heard import everything

ALL = pytest.mark.parametrize("built", [limping, nothing_told, alarmed, cured], ids=lambda built: built.__name__)
NEVER_FOR_CUSTOMERS = ("deciban", "odds", "leak", "consultation", "in 10", "firing")


def plain(page: str) -> str:
    """Return the words of a page as a reader sees them."""
    body = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def test_the_report_has_complaint_causes_and_where_they_lie() -> None:
    words = plain(html_report(limping()))
    wording = Wording(knowledge())
    assert "we moved it to the hall and now it stops after some minutes & limps" in words
    for cause in shown()["causes"]:
        assert wording.cause(cause["id"]) in words
        assert wording.text(knowledge().subsystems[cause["subsystem"]].title) in words


def test_the_complaint_is_escaped() -> None:
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact(), "x")
    consultation.say("it says <script>alert(1)</script> & stops")
    for reader in ("staff", "customer"):
        page = html_report(consultation, reader)  # type: ignore[arg-type]
        assert "<script" not in page
        assert "&lt;script&gt;" in page


def test_the_report_names_the_step_the_stop_and_the_proof() -> None:
    words = plain(html_report(limping()))
    remedy = showing.best_remedy(limping())
    assert remedy is not None
    entry, wording = knowledge().remedies[remedy], Wording(knowledge())
    assert wording.say("stop-if") in words
    for step in entry.steps:
        assert step.do.staff in words
        if step.stop_if is not None:
            assert step.stop_if.text.staff in words
    assert wording.question(entry.proof[0].finding) in words


def test_recording_shows_split_and_uncertainty() -> None:
    words = plain(html_report(limping()))
    assert "larch-lane.flac" in words
    assert "56.4 : 43.6" in words


def test_left_and_not_told_are_four_different_things() -> None:
    rows = {row.asked: row for piece in told.answers_between(limping(), Wording(knowledge())) for row in piece.rows}
    wording = Wording(knowledge())

    def row(finding: str) -> told.AnswerRow:
        return rows[wording.short(finding)]

    assert row("pin-seen").answered == wording.say("report-left")
    assert row("overswing").answered == wording.say("cannot-tell")
    assert row("hands-clear").answered == wording.value("hands-clear", "clear")
    assert wording.say("think-so") in row("case-steady").known
    assert wording.short("leaf-shape") not in rows


def test_what_was_not_looked_at_is_told_and_what_was_is_not() -> None:
    lines = " ".join(told.not_looked_at(limping(), Wording(knowledge())))
    wording = Wording(knowledge())
    assert wording.short("leaf-shape") in lines
    assert wording.short("pin-seen") in lines
    assert wording.short("hands-clear") not in lines.split(", ")


def test_weights_on_paper_add_up_as_printed() -> None:
    for cause in standing.causes_on_paper(shown(), Wording(knowledge())):
        numbers = [float(text.replace("−", "-")) for text in (cause.prior, *(item.weight for item in cause.reasons))]
        total = float(cause.shown.replace("−", "-"))
        assert sum(numbers) == pytest.approx(total, abs=0.05 * (len(numbers) + 1))


def test_dangers_stand_first_and_framed() -> None:
    page = html_report(limping())
    cautions = work.cautions_on_paper(shown()["cautions"], Wording(knowledge()))
    levels = [item.level for item in cautions]
    assert levels == sorted(levels, key=work.LEVELS.index)
    assert page.count('class="frame danger"') == levels.count("danger") > 0


@ALL
@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_the_page_loads_nothing_from_elsewhere(built: Any, reader: Any) -> None:
    page = html_report(built(), reader)
    assert re.findall(r"https?://[^\s\"'<]+", page.replace('xmlns="http://www.w3.org/2000/svg"', "")) == []
    assert not re.search(r"<(script|link|iframe|img)\b|@import|url\((?!#)", page)


@ALL
@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_the_page_is_the_same_each_time(built: Any, reader: Any) -> None:
    assert html_report(built(), reader) == html_report(built(), reader)


@ALL
def test_a_customer_never_reads_words_of_the_reasoning(built: Any) -> None:
    page = html_report(built(), "customer").lower()
    for word in NEVER_FOR_CUSTOMERS:
        assert not re.search(rf"\b{word}", page), word


@ALL
def test_a_customer_never_reads_a_step_that_is_for_staff_only(built: Any) -> None:
    words = plain(html_report(built(), "customer"))
    shown_steps = 0
    for entry in knowledge().remedies.values():
        for step in entry.steps:
            shown_steps += step.do.customer is not None and step.do.customer in words
            if step.do.staff != step.do.customer:
                assert step.do.staff not in words
    if built in {alarmed, nothing_told, cured}:
        assert shown_steps == 0


def test_a_customer_gets_the_steps_of_what_is_to_be_done_now_and_no_sooner() -> None:
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact(), "x")
    consultation.begin_walk("wind-it")
    assert knowledge().remedies["wind-it"].steps[0].do.customer in plain(html_report(consultation, "customer"))
    assert showing.advised(consultation, "wind-it")
    assert not showing.advised(nothing_told(), "wind-it")


def test_a_person_who_may_not_do_it_gets_no_steps() -> None:
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact(), "x")
    consultation.set_fact("clock", "family", "floor")
    consultation.set_fact("person", "helper", "no")
    assert not showing.owner_may_do(consultation, "set-the-beat-at-the-case")
    consultation.set_fact("person", "helper", "yes")
    consultation.set_fact("person", "lifts", "yes")
    consultation.set_fact("person", "reaches", "yes")
    assert showing.owner_may_do(consultation, "set-the-beat-at-the-case")


@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_an_alarm_comes_first_and_no_step_follows(reader: Any) -> None:
    page = html_report(alarmed(), reader)
    alarm = knowledge().alarms[alarmed().alarms[0]]
    words = plain(page)
    assert Wording(knowledge(), reader).text(alarm.say) in words
    assert page.index('class="stop"') < page.index("<section")
    assert 'class="step"' not in page


def test_a_closed_case_says_what_a_person_entered_and_no_next_step() -> None:
    words = plain(html_report(cured()))
    assert "two cards under the left foot" in words
    assert "50.4 : 49.6" in words
    assert Wording(knowledge()).text(knowledge().remedies["make-the-case-steady"].title) in words
    assert standing.next_on_paper(cured(), Wording(knowledge())) == ()


def test_answers_before_and_after_a_remedy_stand_apart() -> None:
    before, after = told.answers_between(cured(), Wording(knowledge()))
    assert [row.answered for row in before.rows][-1] == knowledge().findings["tick-evenness"].values["limping"].staff
    assert [row.answered for row in after.rows] == [knowledge().findings["tick-evenness"].values["even"].staff]


def test_nothing_known_on_the_list_is_said_where_it_is_likeliest() -> None:
    result = dict(shown()) | {"none_of_these": 0.99, "nothing_wrong": 0.0}
    wording = Wording(knowledge())
    assert standing.in_short(limping(), result, wording) == (wording.say("nothing-fits"),)


def test_doubtful_answers_and_conflicts_are_told() -> None:
    result = dict(shown()) | {
        "contradictions": [{"finding": "runs-for", "value": "minutes", "probability_wrong": 0.5, "ask_again": True}],
        "conflicts": [{"because": "One of them is wrong.", "grounds": [["tick", "silent"], ["runs-for", "days"]]}],
    }
    doubt, conflict = standing.doubts_on_paper(result, Wording(knowledge()))
    assert "One to ten minutes" in doubt
    assert "5 in 10" in doubt
    assert "One of them is wrong." in conflict


def test_files_for_staff_are_drawing_page_values_case_and_pictures(tmp_path: Path) -> None:
    paths = write_report(limping(), tmp_path)
    names = [path.name for path in paths]
    assert names == [*(f"larch-lane.{end}" for end in ("svg", "html", "json", "yaml")), "larch-lane-swing.svg"]
    assert json.loads(paths[2].read_text(encoding="utf-8"))["causes"][0]["id"] == shown()["causes"][0]["id"]
    assert yaml.safe_load(paths[3].read_text(encoding="utf-8"))["case"] == "larch-lane"


def test_the_case_file_written_reads_back(tmp_path: Path) -> None:
    path = write_report(cured(), tmp_path)[3]
    case = read_case(path, knowledge())
    assert case.clock == cured().case.clock


def test_files_for_a_customer_hold_no_figures(tmp_path: Path) -> None:
    paths = write_report(limping(), tmp_path, reader="customer")
    names = [path.name for path in paths]
    assert names == ["larch-lane-customer.svg", "larch-lane-customer.html", "larch-lane-customer-swing.svg"]


def test_a_case_named_like_a_path_stays_in_its_folder(tmp_path: Path) -> None:
    case = dataclasses.replace(nothing_told().case, id="../../etc/a b")
    paths = write_report(Consultation(case, knowledge()), tmp_path / "out")
    assert {path.parent for path in paths} == {tmp_path / "out"}
    assert paths[0].name == "etc-a-b.svg"


def heard_twice() -> Consultation:
    """A case in which the beat was heard before and after."""
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact("c1", "call"), "weir-row")
    consultation.take_heard(ev.Heard("before.flac", everything(), "left"))
    consultation.take_heard(ev.Heard("after.flac", everything(), "left"))
    return consultation


def test_the_last_recording_has_all_its_pictures_and_the_one_before_its_split() -> None:
    before, after = told.heard_on_paper(heard_twice(), Wording(knowledge()))
    assert [picture.name for picture in before.pictures] == ["swing"]
    assert [picture.name for picture in after.pictures] == ["swing", "intervals", "ticks", "wheel"]


def test_a_customer_has_the_swing_split_of_each_recording_alone() -> None:
    heard = told.heard_on_paper(heard_twice(), Wording(knowledge(), "customer"))
    assert [[picture.name for picture in item.pictures] for item in heard] == [["swing"], ["swing"]]


def test_the_pictures_stand_in_the_page_of_the_report_with_no_id_twice() -> None:
    page = html_report(heard_twice())
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert page.count("<figure>") == 5
    assert len(ids) == len(set(ids))
