"""Several contacts on one case, and several cases on one clock."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from diagnose import contacts, moments
from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.handing_over import FIELDS
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.changes import CHANGED
from diagnose.reasoning.gates import LINE_MINUTES
from diagnose.reports import contact_words


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(f"sqlite:///{tmp_path / 'cases.sqlite'}")


def begun(
    knowledge: Knowledge, store: Store | None = None, where: str = "call", when: str = "2031-03-12T09:30"
) -> Consultation:
    contact = ev.Contact("c1", where, when, "MB")  # type: ignore[arg-type]
    consultation = Consultation.begin(knowledge, "stops", contact, "larch-lane", store)
    for about, field, value in (("clock", "family", "floor"), ("clock", "drive", "weight-cable")):
        consultation.set_fact(about, field, value)  # type: ignore[arg-type]
    for field in ("reaches", "lifts", "helper", "tools"):
        consultation.set_fact("person", field, "yes")
    consultation.set_fact("person", "children", "no")
    return consultation


def heard(file: str, percent: float, speed: float = 3600.0, contact: str = "c1") -> ev.Heard:
    beats: dict[str, Any] = {
        "beats_per_hour": speed,
        "nominal_beats_per_hour": speed,
        "nominal_guessed": False,
        "rate_s_per_day": 10.0,
        "beat_error_percent": percent,
        "split": f"{50 + percent / 2:.1f} : {50 - percent / 2:.1f}",
        "early_side": "right",
        "uncertainty": {"beat_error_percent": 0.4, "rate_s_per_day": 3.0},
        "warnings": [],
        "refused": None,
    }
    return ev.Heard(file, beats, "left", None, contact)


# ---- homework ----------------------------------------------------------------------------------------


def test_what_was_homework_is_asked_first_in_the_next_contact(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.say("it limps")
    consultation.close_contact("2031-03-20", ("stop-pattern", "runs-for"))
    assert consultation.moment == moments.AwayMoment("2031-03-20", ("stop-pattern", "runs-for"))

    consultation.new_contact(ev.Contact("c2", "call", "2031-03-20T09:00", "MB"))

    assert consultation.moment == moments.HomeworkMoment(("stop-pattern", "runs-for"))


def test_answered_or_not_done_homework_is_asked_no_more(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.close_contact("2031-03-20", ("stop-pattern", "runs-for"))
    consultation.new_contact(ev.Contact("c2", "call", "2031-03-20T09:00", "MB"))
    consultation.answer("stop-pattern", "no-pattern")
    consultation.later("runs-for")

    assert not isinstance(consultation.moment, moments.HomeworkMoment)


def test_noted_stop_times_are_the_answer_to_when_it_stops(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.close_contact("2031-03-20", ("stop-pattern",))
    consultation.new_contact(ev.Contact("c2", "call", "2031-03-20T09:00", "MB"))
    events = (*consultation.case.events, ev.Noted("stops", "3:17, 5:17", contact="c2"))

    assert contacts.open_homework(consultation.case.events, knowledge) == ("stop-pattern",)
    assert contacts.open_homework(events, knowledge) == ()


def test_danger_comes_before_homework(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.close_contact("2031-03-20", ("stop-pattern",))
    consultation.new_contact(ev.Contact("c2", "call", "2031-03-20T09:00", "MB"))
    consultation.say("there was a loud bang")

    assert isinstance(consultation.moment, moments.AlarmMoment)


def test_what_could_not_be_told_and_can_be_watched_becomes_homework(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.cannot_tell("stop-pattern")

    assert "stop-pattern" in consultation.homework


def test_four_things_to_watch_are_refused(knowledge: Knowledge) -> None:
    with pytest.raises(UsageError, match="too many"):
        begun(knowledge).close_contact("", ("stop-pattern", "runs-for", "rate", "tick-evenness"))


def test_the_date_of_the_next_contact_is_as_far_as_the_homework_takes() -> None:
    assert contacts.date_after("2031-03-12T09:30", 72.0) == "2031-03-15"
    assert contacts.date_after("2031-03-12T09:30", 0.2) == "2031-03-13"


def test_the_message_has_the_weekday_and_at_most_three_sentences(knowledge: Knowledge) -> None:
    names = ("stop-pattern", "runs-for", "rate", "room-cold")

    lines = contact_words.message_lines("2031-03-20", names, Wording(knowledge))

    # 20 March 2031 is a Thursday (proleptic Gregorian calendar).
    assert lines[0] == "Until Thursday, March 20:"
    assert len(lines) == 4


def homework_phrases() -> list[str]:
    return [name for name in read_knowledge(check=False).screen if name.startswith("homework-") and "title" not in name]


@pytest.mark.parametrize("name", [name for name in homework_phrases() if name != "homework-hint"])
def test_homework_is_about_a_finding_and_is_plain_for_a_customer(knowledge: Knowledge, name: str) -> None:
    import textstat

    text = knowledge.screen[name].customer or ""

    assert name.removeprefix("homework-") in knowledge.findings
    assert textstat.flesch_kincaid_grade(text) <= 6.5


@pytest.mark.parametrize("answers", [{}, {"tick-evenness": "limping"}, {"runs-for": "hours", "moved-lately": "no"}])
def test_no_look_that_the_plan_asks_for_holds_the_line_for_long(knowledge: Knowledge, answers: dict[str, str]) -> None:
    consultation = begun(knowledge)
    for finding, value in answers.items():
        consultation.answer(finding, value)

    plan = consultation.plan

    held = sum(knowledge.findings[ask.finding].minutes for ask in plan.look)
    assert held <= LINE_MINUTES
    assert not isinstance(plan.step, steps.Ask) or knowledge.findings[plan.step.finding].wait_hours == 0


# ---- told, and seen ----------------------------------------------------------------------------------


def visited(knowledge: Knowledge) -> Consultation:
    consultation = begun(knowledge)
    consultation.answer("tick-evenness", "limping")
    consultation.answer("case-steady", list(knowledge.findings["case-steady"].values)[1])
    consultation.answer("runs-for", "minutes")
    consultation.new_contact(ev.Contact("c2", "visit", "2031-03-14T10:00", "IT"))
    return consultation


def test_on_a_visit_what_was_told_on_the_phone_is_gone_through_first(knowledge: Knowledge) -> None:
    moment = visited(knowledge).moment

    assert isinstance(moment, moments.ToldMoment)
    assert "tick-evenness" in {row.finding for row in moment.rows}


def test_what_only_an_owner_can_tell_is_not_on_that_list(knowledge: Knowledge) -> None:
    moment = visited(knowledge).moment

    assert isinstance(moment, moments.ToldMoment)
    assert not {knowledge.findings[row.finding].place for row in moment.rows} & {"told"}


def test_the_dearest_stands_first(knowledge: Knowledge) -> None:
    rows = visited(knowledge).told_only

    assert len(rows) >= 2
    assert [row.minutes for row in rows] == sorted((row.minutes for row in rows), reverse=True)
    assert rows[0].minutes > 0


def test_a_look_that_confirms_replaces_told_by_seen_and_errs_less(knowledge: Knowledge) -> None:
    consultation = visited(knowledge)
    before = consultation.assessment.ranking.wrong["tick-evenness"]

    consultation.answer("tick-evenness", "limping", "sure", "seen")

    assert consultation.answers["tick-evenness"].source == "seen"
    assert consultation.assessment.ranking.wrong["tick-evenness"] < before
    assert "tick-evenness" not in {row.finding for row in consultation.told_only}


def test_the_list_is_gone_through_once_in_a_contact(knowledge: Knowledge) -> None:
    consultation = visited(knowledge)
    consultation.told_was_checked()
    assert not isinstance(consultation.moment, moments.ToldMoment)

    consultation.new_contact(ev.Contact("c3", "workshop", "2031-03-16T10:00", "IT"))

    assert isinstance(consultation.moment, moments.ToldMoment)


def test_what_an_owner_says_beside_the_clock_is_told_and_what_is_looked_at_is_seen(knowledge: Knowledge) -> None:
    consultation = begun(knowledge, where="visit")
    consultation.answer("moved-lately", "yes")
    consultation.answer("tick-evenness", "limping")

    assert consultation.answers["moved-lately"].source == "told"
    assert consultation.answers["tick-evenness"].source == "seen"


# ---- one clock or two --------------------------------------------------------------------------------


def test_two_recordings_that_tick_at_different_speeds_are_asked_about(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    consultation.take_heard(heard("b.flac", 9.0, 4320.0))

    moment = consultation.moment

    assert isinstance(moment, moments.SameClockMoment)
    assert (moment.speeds.before, moment.speeds.now) == (3600.0, 4320.0)


def test_the_recording_of_another_clock_does_not_count(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    alone = {item.cause: item.probability for item in consultation.assessment.ranking.causes}
    consultation.take_heard(heard("b.flac", 9.0, 4320.0))
    consultation.same_clock(same=False)

    after = {item.cause: item.probability for item in consultation.assessment.ranking.causes}
    assert after == pytest.approx(alone)
    assert not isinstance(consultation.moment, moments.SameClockMoment)


def test_the_recording_of_the_same_clock_counts_and_is_asked_about_no_more(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    consultation.take_heard(heard("b.flac", 9.0, 4320.0))
    consultation.same_clock(same=True)
    consultation.take_heard(heard("c.flac", 9.0, 4322.0))

    assert not isinstance(consultation.moment, moments.SameClockMoment)
    assert consultation.handover_defaults["beats per hour"] == 4322.0


def test_a_clock_whose_nut_was_turned_is_the_same_clock(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("a.flac", 2.0, 3600.0))
    # Twelve minutes a day, more than any nut is turned at once: 0.83 %.
    consultation.take_heard(heard("b.flac", 2.0, 3630.0))

    assert not isinstance(consultation.moment, moments.SameClockMoment)


# ---- hand-over and later cases -------------------------------------------------------------------------


def handed_over(knowledge: Knowledge, store: Store) -> Consultation:
    first = begun(knowledge, store, when="2031-01-08T16:00")
    first.take_heard(heard("even.flac", 1.2))
    first.hand_over({**first.handover_defaults, "swing": 38.0})
    first.conclude("cured", "crutch-set-wrong")
    return first


def test_hand_over_is_prefilled_from_recording_acts_and_parts(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.take_heard(heard("even.flac", 1.2))
    consultation.acted(ev.Acted("case-feet", "left", 0.5))
    consultation.acted(ev.Acted("case-feet", "right", 0.8))
    remedy = next(name for name, entry in knowledge.remedies.items() if entry.parts)
    consultation.tried(remedy, "cured")

    known = consultation.handover_defaults

    assert (known["split"], known["recording"]) == ("50.6 : 49.4", "even.flac")
    assert known["adjuster"] == "case-feet 0.3 mm right"
    assert known["parts"] == ", ".join(knowledge.parts[name].title.staff for name in knowledge.remedies[remedy].parts)
    assert set(known) <= set(FIELDS)


def test_a_later_case_on_the_clock_opens_with_what_has_changed(knowledge: Knowledge, store: Store) -> None:
    first = handed_over(knowledge, store)
    second = begun(knowledge, store, when="2031-03-12T09:30")

    before = next(event for event in second.case.events if isinstance(event, ev.HandedBefore))
    assert (before.case, before.outcome, before.cause) == (first.kept_as, "cured", "crutch-set-wrong")
    lines = contact_words.changes_lines(second, Wording(knowledge))
    assert "63 days" in lines[0]
    assert "50.6 : 49.4" in lines[-1]


def test_a_beat_that_changed_since_makes_a_move_likelier_and_is_still_asked(knowledge: Knowledge, store: Store) -> None:
    handed_over(knowledge, store)
    second = begun(knowledge, store)
    second.take_heard(heard("again.flac", 9.0))

    finding = next(item for item in second.assessment.findings if item.finding == "moved-lately")
    assert finding.source == CHANGED
    assert finding.likelihood[1] > 4 * finding.likelihood[0]
    assert "moved-lately" not in second.assessment.closed


def test_what_the_owner_answers_replaces_what_a_change_says(knowledge: Knowledge, store: Store) -> None:
    handed_over(knowledge, store)
    second = begun(knowledge, store)
    second.take_heard(heard("again.flac", 9.0))
    second.answer("moved-lately", "no")

    finding = next(item for item in second.assessment.findings if item.finding == "moved-lately")
    assert (finding.said, finding.source) == ("no", "told")


def test_our_own_work_is_no_change_since_hand_over(knowledge: Knowledge, store: Store) -> None:
    handed_over(knowledge, store)
    second = begun(knowledge, store)
    second.tried("set-the-beat-at-the-case", "done")
    second.take_heard(heard("again.flac", 9.0))

    assert second.changes.findings == ()


def test_clocks_without_a_name_have_no_history(knowledge: Knowledge, store: Store) -> None:
    first = Consultation.begin(knowledge, "stops", ev.Contact(), store=store)
    first.hand_over({"split": "50.4 : 49.6"})
    second = Consultation.begin(knowledge, "stops", ev.Contact(), store=store)

    assert not any(isinstance(event, ev.HandedBefore) for event in second.case.events)
    assert second.earlier == ()


def test_a_later_case_knows_which_clock_it_is(knowledge: Knowledge, store: Store) -> None:
    first = begun(knowledge, store)
    first.set_fact("clock", "sounds", "hours")
    second = Consultation.begin(knowledge, "stops", ev.Contact("c1", "visit"), "larch-lane", store)
    second.say("it stops again")

    assert (second.case.clock.family, second.case.clock.drive, second.case.sounds) == ("floor", "weight-cable", "hours")
    assert not isinstance(second.moment, moments.FactsMoment)


def test_what_proves_a_cure_becomes_homework_on_a_call(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.say("it limps")
    remedy = "set-the-beat-at-the-case"
    consultation.tried(remedy, "done")

    proofs = [proof.finding for proof in knowledge.remedies[remedy].proof]
    assert isinstance(consultation.moment, moments.ProofMoment)
    assert consultation.homework[0] in proofs


def test_a_resumed_case_still_knows_the_hand_over_before_it(knowledge: Knowledge, store: Store) -> None:
    handed_over(knowledge, store)
    second = begun(knowledge, store)
    second.take_heard(heard("again.flac", 9.0))

    again = Consultation.resume(knowledge, store, str(second.kept_as))

    assert again.changes == second.changes


def test_homework_that_is_due_stands_first_on_the_desk(knowledge: Knowledge, store: Store) -> None:
    due = begun(knowledge, store)
    due.close_contact("2031-03-20", ("stop-pattern",))
    handed_over(knowledge, store)
    later = begun(knowledge, store)
    later.close_contact("2031-04-01", ())

    rows = store.on_the_desk("2031-03-21")

    assert rows[0].id == due.kept_as
    assert {row.state for row in rows} == {"waiting", "closed"}
    assert rows[0].homework == ("stop-pattern",)


# ---- taken back --------------------------------------------------------------------------------------


def not_so(knowledge: Knowledge, before: str | None) -> tuple[Consultation, str, int, str]:
    """A remedy left at a step by a way that answers a finding; the finding may have been answered before."""
    consultation = begun(knowledge, where="workshop")
    for name, entry in knowledge.remedies.items():
        for number, step in enumerate(entry.steps):
            for way, other in enumerate(step.not_so):
                if other.finding is not None and other.value is not None and other.go == "rethink" and number > 0:
                    values = [value for value in knowledge.findings[other.finding].values if value != other.value]
                    if before is not None:
                        consultation.answer(other.finding, values[0])
                    consultation.begin_walk(name)
                    for _ in range(number):
                        consultation.step_right()
                    consultation.step_not_so(way)
                    return consultation, other.finding, number, values[0]
    raise AssertionError("no such step")


def test_back_after_not_so_restores_the_answer_given_before(knowledge: Knowledge) -> None:
    consultation, finding, _, earlier = not_so(knowledge, "before")

    consultation.back()

    assert consultation.answers[finding].value == earlier


def test_back_after_not_so_stands_at_the_same_step_again(knowledge: Knowledge) -> None:
    consultation, finding, number, _ = not_so(knowledge, None)

    consultation.back()

    assert finding not in consultation.answers
    assert consultation.walk is not None
    assert consultation.walk.step == number


def test_back_after_a_changed_answer_restores_the_one_before(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.answer("tick-evenness", "even")
    consultation.answer("tick-evenness", "limping")

    consultation.back()

    assert consultation.answers["tick-evenness"] == Answer("tick-evenness", "even", contact="c1")


# ---- what it sounds, cautions ------------------------------------------------------------------------


def test_where_nothing_sounds_strike_and_chime_causes_drop_out(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    before = set(consultation.assessment.base.causes)
    consultation.set_fact("clock", "sounds", "nothing")

    gone = before - set(consultation.assessment.base.causes)

    about = {name for name, entry in knowledge.causes.items() if entry.applies.strikes or entry.applies.chimes}
    assert gone == about & before
    assert (consultation.case.clock.strike, consultation.case.clock.chime) == ("no-strike", "no-chime")


def test_a_kind_of_strike_that_was_said_stands_beside_what_it_sounds(knowledge: Knowledge) -> None:
    consultation = begun(knowledge)
    consultation.set_fact("clock", "strike", "rack")
    consultation.set_fact("clock", "sounds", "hours")

    assert (consultation.case.clock.strike, consultation.case.clock.chime) == ("rack", "no-chime")
