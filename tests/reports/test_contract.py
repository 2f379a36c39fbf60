"""The plain values keep to the form that is promised, and their weights add up."""

from __future__ import annotations

import json
import math

import pytest

from diagnose.consultation import Consultation
from diagnose.model.wording import Wording
from diagnose.reports.contract import cautions_shown, ranked, stability_values
from diagnose.reports.standing import doubts_on_paper, stability_lines
from tests.reports.built import alarmed, cured, knowledge, limping, nothing_told, shown

PROMISED = {
    "case", "edition", "causes", "none_of_these", "together", "next", "route", "cautions", "contradictions",
    "out_of_scope",
}  # fmt: skip
EXTRAS = {"nothing_wrong", "left_out", "conflicts", "alarms"}
CAUSE = {"no_fault", "id", "title", "subsystem", "probability", "decibans", "because", "remedies"}
BECAUSE = {"finding", "value", "decibans", "text", "source"}
REMEDY = {"id", "steps", "who", "minutes", "cautions"}
KINDS = {"ask", "do", "wait", "enough", "danger", "refer"}
ALL = pytest.mark.parametrize("built", [limping, nothing_told, alarmed, cured], ids=lambda built: built.__name__)


@ALL
def test_the_keys_are_those_promised(built: object) -> None:
    result = ranked(built())  # type: ignore[operator]
    assert set(result) == PROMISED | EXTRAS
    for cause in result["causes"]:
        assert set(cause) == CAUSE
        assert set(cause["decibans"]) == {"prior", "shown"}
        assert all(set(item) >= BECAUSE for item in cause["because"])
        assert all(set(item) >= REMEDY for item in cause["remedies"])
    assert set(result["next"]) == {"kind", "id", "text", "cost_minutes", "saves_minutes"}
    assert result["next"]["kind"] in KINDS


@ALL
def test_probabilities_lie_between_0_and_1_and_causes_fall(built: object) -> None:
    result = ranked(built())  # type: ignore[operator]
    causes = [cause["probability"] for cause in result["causes"]]
    single = [result["none_of_these"], result["nothing_wrong"], result["left_out"]]
    assert all(0 <= value <= 1 for value in [*causes, *single])
    assert causes == sorted(causes, reverse=True)


@ALL
def test_prior_and_answers_add_up_to_the_odds_shown(built: object) -> None:
    for cause in ranked(built())["causes"]:  # type: ignore[operator]
        weights = [item["decibans"] for item in cause["because"]]
        assert cause["decibans"]["prior"] + math.fsum(weights) == pytest.approx(cause["decibans"]["shown"], abs=1e-6)
        odds = cause["probability"] / (1 - cause["probability"])
        assert 10 * math.log10(odds) == pytest.approx(cause["decibans"]["shown"], abs=1e-6)


def test_the_values_are_plain_json() -> None:
    assert json.loads(json.dumps(shown())) == shown()


def test_dangers_stand_before_care_and_notes() -> None:
    levels = [knowledge().cautions[name].level for name in cautions_shown(limping())]
    order = ["danger", "care", "note"]
    assert levels == sorted(levels, key=order.index)
    assert "danger" in levels


def test_an_alarm_brings_its_own_cautions_and_no_others() -> None:
    alarms = alarmed().alarms
    assert alarms
    named = {name for alarm in alarms for name in knowledge().alarms[alarm].cautions}
    assert set(cautions_shown(alarmed())) == named | set(alarmed().assessment.conclusions.warnings)


def test_a_clock_of_another_kind_is_out_of_scope() -> None:
    consultation = Consultation.begin(knowledge(), "stops")
    assert ranked(consultation)["out_of_scope"] is None
    consultation.set_fact("clock", "family", "cuckoo")
    assert ranked(consultation)["out_of_scope"] == knowledge().clocks["cuckoo"].why_not.staff  # type: ignore[union-attr]


def test_whether_the_first_place_holds_is_counted_over_fifty_trials() -> None:
    found = stability_values(limping())
    assert found is not None
    assert set(found) == {"share", "stable", "others", "draws"}
    assert found["draws"] == 50
    assert found["share"] + sum(found["others"].values()) == pytest.approx(1)
    assert found["stable"] == (found["share"] >= 0.9)


def test_where_nothing_is_answered_no_first_place_can_hold() -> None:
    assert stability_values(nothing_told()) is None


def test_a_first_place_that_holds_in_every_trial_is_called_stable() -> None:
    found = {"share": 1.0, "stable": True, "others": {}, "draws": 50}
    (line,) = stability_lines(found, Wording(knowledge()))
    assert line.startswith("Stable: the first place holds in 50 of 50 trials")


def test_a_first_place_that_gives_way_is_told_with_what_comes_first_instead() -> None:
    found = {"share": 0.62, "stable": False, "others": {"spring-kinked": 0.38}, "draws": 50}
    first, others = stability_lines(found, Wording(knowledge()))
    assert first.startswith("Not stable: the first place holds in only 31 of 50 trials")
    assert Wording(knowledge()).cause("spring-kinked") in others


def test_a_customer_reads_nothing_of_trials() -> None:
    found = {"share": 1.0, "stable": True, "others": {}, "draws": 50}
    assert stability_lines(found, Wording(knowledge(), "customer")) == ()


def test_a_doubtful_answer_says_whether_it_is_worth_asking_again() -> None:
    items = [item for built in (limping, cured) for item in ranked(built())["contradictions"]]
    assert all(set(item) == {"finding", "value", "probability_wrong", "ask_again"} for item in items)


def test_a_doubt_on_which_nothing_hangs_asks_nobody_to_look_again() -> None:
    idle = {"finding": "runs-for", "value": "minutes", "probability_wrong": 0.6, "ask_again": False}
    result = {"contradictions": [idle], "conflicts": []}
    (line,) = doubts_on_paper(result, Wording(knowledge()))
    assert "does not hang on it" in line
    assert doubts_on_paper(result, Wording(knowledge(), "customer")) == ()
