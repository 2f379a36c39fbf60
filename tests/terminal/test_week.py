"""Stories of one invented shop, typed line by line: what is shown, and where it ends."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from diagnose import moments
from diagnose.cases.events import Contact
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal.talk import Talk


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(f"sqlite:///{tmp_path / 'cases.sqlite'}")


def begun(knowledge: Knowledge, where: str, clock: str, store: Store | None = None) -> Consultation:
    contact = Contact("c1", where, "2031-03-10T09:00", "MB")
    return Consultation.begin(knowledge, "stops", contact, clock, store)


def typed(consultation: Consultation, *lines: str) -> str:
    """Type these lines; return all that was shown, on one line."""
    shown = io.StringIO()
    rest = iter(lines)
    console = Console(file=shown, width=200)
    Talk(consultation, Wording(consultation.knowledge, "staff"), console, lambda _: next(rest, None)).run()
    return " ".join(shown.getvalue().split())


def first(consultation: Consultation) -> str:
    return consultation.assessment.ranking.causes[0].cause


# ---- two faults at once: the beat is off and the hands rub; the first remedy does not cure --------------------


TWO_FAULTS = ("limps and the minute hand scrapes on the hour hand, stops after a few hours", "a2 b3", "a b c")


def test_of_two_faults_the_one_that_is_left_comes_first_after_the_other_is_mended(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "tinkers-hill")

    shown = typed(consultation, *TWO_FAULTS)
    assert '"the minute hand scrapes on the hour hand" -> Touch each other' in shown

    shown = typed(consultation, "tried set-the-beat-at-the-case done", "a1 b4")

    assert "What proves the cure" in shown
    assert first(consultation) == "hands-touch"
    assert not isinstance(consultation.moment, moments.CuredMoment)


# ---- it stops at the same time each day: stop times told, homework, called back the next day ---------------------


def test_stop_times_in_free_speech_stand_for_the_stop_pattern(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "call", "glovers-end")

    shown = typed(consultation, "it stopped at 4:10 pm on Monday, 4:12 pm on Tuesday and 4:09 pm on Wednesday")

    assert "About 4:10." in shown
    assert "These times now stand for the answer to the stop pattern." in shown
    assert "stop-pattern" not in {item.finding for item in consultation.suggestions}


def test_homework_given_until_tomorrow_is_the_first_thing_asked_in_the_same_case(
    knowledge: Knowledge, store: Store
) -> None:
    consultation = begun(knowledge, "call", "glovers-end", store)
    typed(consultation, "it stops now and then", "a1 b2 c2", "a1 b1 c1 d2 e2")
    consultation.cannot_tell("stop-pattern")

    shown = typed(consultation, "until tomorrow")
    assert "Until Tuesday, March 11" in shown

    again = Consultation.resume(knowledge, store, consultation.kept_as)
    again.new_contact(Contact("c2", "call", "2031-03-11T10:00", "IT"))
    assert isinstance(again.moment, moments.HomeworkMoment)
    shown = typed(again, "times 4:10 pm, 4:12 pm, 4:09 pm")
    assert "About 4:10." in shown
    assert not isinstance(again.moment, moments.HomeworkMoment)


# ---- an owner who contradicts himself, and one slip of the finger ------------------------------------------------


def test_what_is_said_against_an_answer_is_offered_and_replaces_it_once_confirmed(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "mercers-gap")
    typed(consultation, "it stops after five minutes", "a1 b2 c2", "y")
    assert consultation.answers["runs-for"].value == "minutes"

    shown = typed(consultation, "say no wait it goes for hours", "y")

    assert "Some minutes over ten up to some hours" in shown
    assert consultation.answers["runs-for"].value == "hours"


def test_the_same_words_again_ask_nothing_again(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "mercers-gap")
    typed(consultation, "it stops after five minutes", "a1 b2 c2", "y", "say it stops after five minutes")

    assert not consultation.suggestions


def test_back_offers_again_what_an_empty_line_put_aside(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "mercers-gap")
    typed(consultation, "it stops after five minutes and it limps", "a1 b2 c2")
    offered = consultation.suggestions
    typed(consultation, "")
    assert offered
    assert not consultation.suggestions

    typed(consultation, "back")

    assert consultation.suggestions == offered


# ---- a part that was sent did not help; then a visit ---------------------------------------------------------------


def test_on_the_visit_what_was_told_is_shown_as_told_and_a_look_replaces_it(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "call", "vicars-walk")
    typed(
        consultation, "we put in the new suspension spring you posted and it dies after two minutes",
        "a1 b1 c3", "a1 b1 c1 d1 e2", "y", "a3 b1",
    )  # fmt: skip

    shown = typed(consultation, "visit")
    assert "Told on the phone, not yet looked at" in shown
    assert "Beat: Limping (over 5 %)" in shown

    rows = [row.finding for row in consultation.moment.rows]
    typed(consultation, f"{'abcdefgh'[rows.index('tick-evenness')]}1")
    answer = consultation.answers["tick-evenness"]
    assert (answer.value, answer.source) == ("even", "seen")


# ---- a danger told half way ----------------------------------------------------------------------------------------


def test_a_bang_told_half_way_stops_everything_at_once(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "call", "nailers-row")
    shown = typed(
        consultation, "it only runs a day or so", "a2 b3 c2", "a1 b1 c2 d2 e2", "y", "there was a bang when I wound it"
    )

    assert "please do not wind it again, not even to try" in shown
    assert isinstance(consultation.moment, moments.AlarmMoment)
    typed(consultation, "clear", "y")
    assert consultation.answers["winding-feel"].value == "bang"
    # Confirmed from the same words, and dealt with: the danger is not called out a second time.
    assert not isinstance(consultation.moment, moments.AlarmMoment)


# ---- what a screen holds -------------------------------------------------------------------------------------------


def test_a_look_gives_its_reason_and_its_viewpoint_once(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "coopers-row")
    shown = typed(consultation, "it limps and a new suspension spring was fitted", "a1 b2 c3", "y", "a5")

    screen = shown.rsplit("Watch the swing", 1)[1]
    assert screen.count("Left and right as you face the dial.") == 1
    reasons = screen.split("Likely causes")[0].split("It helps us")[1:]
    assert len(reasons) == len(set(reasons))


def test_no_line_of_a_screen_ends_with_the_number_of_a_value_alone(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, "visit", "cobbler-yard")
    shown = io.StringIO()
    rest = iter(("the chime is wrong", "a1 b2 c3", "", "ask"))
    for width in (60, 80, 100):
        console = Console(file=shown, width=width)
        Talk(consultation, Wording(knowledge, "staff"), console, lambda _: next(rest, None)).run()

    lines = [line.rstrip() for line in shown.getvalue().splitlines()]
    assert [line for line in lines if line[-2:-1] == " " and line[-1:].isdigit()] == []
