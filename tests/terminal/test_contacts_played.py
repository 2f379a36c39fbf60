"""Several contacts, hand-over, doors and the end of a case, played in the terminal."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from rich.console import Console

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Reader, Wording
from diagnose.terminal import doing
from diagnose.terminal.talk import Talk
from tests.test_several_contacts import begun, handed_over, heard, visited


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(f"sqlite:///{tmp_path / 'cases.sqlite'}")


def played(consultation: Consultation, *lines: str, reader: Reader = "staff") -> str:
    """Type these lines; return all that was shown, on one line."""
    shown = io.StringIO()
    typed = iter(lines)
    console = Console(file=shown, width=200)
    Talk(consultation, Wording(consultation.knowledge, reader), console, lambda _: next(typed, None)).run()
    return " ".join(shown.getvalue().split())


def test_until_closes_the_contact_and_prints_the_message_to_send(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.cannot_tell("stop-pattern")

    shown = played(consultation, "say it stops now and then", "until thursday")

    # 12 March 2031 is a Wednesday.
    assert "Until Thursday, March 13: 1. Each time it stops, write down the day and the time" in shown
    assert consultation.case.events[-1] == ev.Closed("c1", "2031-03-13", ("stop-pattern",))


@pytest.mark.parametrize("typed", ["someday", "2030-01-01", "13/03"])
def test_a_date_that_is_none_is_refused_with_how_to_type_it(knowledge: Knowledge, typed: str) -> None:
    consultation = begun(knowledge)

    assert "`until 3` (days)" in played(consultation, "it stops", f"until {typed}")
    assert not isinstance(consultation.moment, moments.AwayMoment)


def test_the_next_contact_asks_for_the_homework_by_letters(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.close_contact("2031-03-20", ("stop-pattern", "runs-for"))
    consultation.new_contact(ev.Contact("c2", "call", "2031-03-20T09:00", "MB"))

    shown = played(consultation, "a1 b-")

    assert knowledge.screen["homework-title"].staff in shown
    assert consultation.answers["stop-pattern"].value == "no-pattern"
    assert consultation.answers["runs-for"].state == "cannot-tell"


def test_one_key_confirms_what_was_told(knowledge: Knowledge) -> None:
    consultation = visited(knowledge)
    first = consultation.told_only[0]

    shown = played(consultation, "a")

    assert "Told on the phone, not yet looked at" in shown
    assert (consultation.answers[first.finding].value, consultation.answers[first.finding].source) == (
        first.value,
        "seen",
    )


def test_letters_run_together_confirm_several_and_enter_leaves_the_rest(knowledge: Knowledge) -> None:
    consultation = visited(knowledge)
    rows = consultation.told_only

    played(consultation, "ab", "")

    assert {consultation.answers[row.finding].source for row in rows[:2]} == {"seen"}
    assert not isinstance(consultation.moment, moments.ToldMoment)


def test_what_is_seen_otherwise_is_put_right(knowledge: Knowledge) -> None:
    consultation = visited(knowledge)
    letter = "abc"[[row.finding for row in consultation.told_only].index("tick-evenness")]

    played(consultation, f"{letter}1")

    assert consultation.answers["tick-evenness"].value == "even"
    assert consultation.answers["tick-evenness"].source == "seen"


def test_an_answer_from_a_photo_is_kept_as_such(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.say("")
    moment = consultation.moment
    assert isinstance(moment, moments.LookMoment)

    played(consultation, "photo a1")

    assert consultation.answers[moment.findings[0]].source == "photo"


def test_the_terminal_asks_whether_it_is_the_same_clock(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    consultation.take_heard(heard("b.flac", 9.0, 4320.0))

    shown = played(consultation, "2")

    assert "ticked 3600 times an hour, this one 4320" in shown
    assert consultation.case.events[-1] == ev.SameClock("b.flac", same=False)


def test_a_later_case_opens_with_what_has_changed(knowledge: Knowledge, store: Store) -> None:
    handed_over(knowledge, store)
    second = begun(knowledge, store)

    shown = played(second, "it stops", "again swing 26")

    assert shown.startswith("Since hand-over 63 days since hand-over")
    assert "Swing: 38 then, 26 now: smaller." in shown


def test_hand_over_takes_the_values_known_and_those_typed(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("even.flac", 1.2))

    shown = played(consultation, "handover swing 38; nut two turns up; hangs on one screw", "done cured crutch")

    assert consultation.handed_over["swing"] == 38.0
    assert consultation.handed_over["nut"] == "two turns up"
    assert consultation.handed_over["hangs on"] == "one screw"
    assert consultation.handed_over["split"] == "50.6 : 49.4"
    assert "Where the rating nut stands: two turns up" in shown


def test_the_cause_is_entered_at_the_end_by_words_or_by_number(knowledge: Knowledge) -> None:
    named, numbered = begun(knowledge), begun(knowledge)
    first = numbered.assessment.ranking.causes[0].cause

    for consultation in (named, numbered):
        consultation.say("")
    played(named, "done cured hands that touch each other")
    played(numbered, "done cured", "1")

    assert isinstance(named.case.events[-1], ev.Concluded)
    assert named.case.events[-1].cause is not None
    assert "touch" in knowledge.causes[named.case.events[-1].cause].title.staff
    assert numbered.case.events[-1] == ev.Concluded("cured", first)


def test_nobody_is_sent_on_a_visit_from_a_visit(knowledge: Knowledge) -> None:
    alarm = next(name for name, entry in knowledge.alarms.items() if entry.then == "visit")
    at_the_clock, on_the_phone = begun(knowledge, where="visit"), begun(knowledge)
    for consultation in (at_the_clock, on_the_phone):
        consultation.raise_alarm(alarm)

    assert "Then: a visit." in played(on_the_phone)
    assert "Then: a visit." not in played(at_the_clock)


# ---- cautions ----------------------------------------------------------------------------------------

TALL = "tall-case-tips"


def walked(knowledge: Knowledge, family: str, children: str) -> str:
    """The first step of a remedy whose cautions name the tall case and children, begun without advice."""
    consultation = begun(knowledge, where="workshop")
    consultation.set_fact("clock", "family", family)
    consultation.set_fact("person", "children", children)
    remedy = next(
        name for name, entry in knowledge.remedies.items() if {TALL, "children-and-pets"} <= set(entry.cautions)
    )
    consultation.say("")
    consultation.begin_walk(remedy)
    return played(consultation)


def test_a_wall_clock_gets_no_caution_of_a_tall_case(knowledge: Knowledge) -> None:
    text = knowledge.cautions[TALL].text.staff[:60]

    assert text in walked(knowledge, "floor", "unknown")
    assert text not in walked(knowledge, "wall", "unknown")


def test_where_no_children_are_about_nothing_is_said_of_them(knowledge: Knowledge) -> None:
    text = knowledge.cautions["children-and-pets"].text.staff[:40]

    assert text in walked(knowledge, "floor", "unknown")
    assert text in walked(knowledge, "floor", "yes")
    assert text not in walked(knowledge, "floor", "no")


@pytest.mark.parametrize("warned", [True, False])
def test_cautions_that_stood_with_the_advice_are_not_said_again_at_the_first_step(
    knowledge: Knowledge, warned: bool
) -> None:
    consultation = begun(knowledge, where="visit")
    consultation.say("")
    remedy = next(
        name
        for name, entry in knowledge.remedies.items()
        if "weights-fall" in entry.cautions and not entry.steps[0].under_load
    )
    consultation.begin_walk(remedy, warned=warned)

    assert (knowledge.cautions["weights-fall"].text.staff[:40] in played(consultation)) is not warned


def test_a_step_under_load_says_the_dangers_again(knowledge: Knowledge) -> None:
    found = [
        (name, number)
        for name, entry in knowledge.remedies.items()
        for number, step in enumerate(entry.steps)
        if step.under_load and number > 0 and "weights-fall" in entry.cautions
    ]
    consultation = begun(knowledge, where="workshop")
    consultation.say("")
    consultation.begin_walk(found[0][0], warned=True)
    for _ in range(found[0][1]):
        consultation.step_right()

    assert knowledge.cautions["weights-fall"].text.staff[:40] in played(consultation)


# ---- the door ----------------------------------------------------------------------------------------


def door(knowledge: Knowledge, line: str) -> tuple[str | None, str]:
    console = Console(file=io.StringIO())
    lines = iter([line])
    return doing._choose_door(knowledge, Wording(knowledge), console, lambda _: next(lines, None))


def test_a_complaint_typed_at_the_door_is_taken_in(knowledge: Knowledge) -> None:
    assert door(knowledge, "it stops every night") == ("stops", "it stops every night")


def test_one_word_of_danger_at_the_door_is_heard(knowledge: Knowledge) -> None:
    opened, said = door(knowledge, "bang")
    consultation = Consultation.begin(knowledge, str(opened))
    consultation.say(said)

    assert isinstance(consultation.moment, moments.AlarmMoment)


def test_a_number_still_opens_a_door(knowledge: Knowledge) -> None:
    assert door(knowledge, "3") == ("moved", "")


def test_going_on_with_a_closed_contact_opens_the_next_one(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.close_contact("2031-03-20", ("stop-pattern",))

    doing._next_contact(consultation, "visit", "IT")

    assert (consultation.contact.id, consultation.contact.where, consultation.contact.staff) == ("c2", "visit", "IT")
    assert consultation.moment == moments.HomeworkMoment(("stop-pattern",))
