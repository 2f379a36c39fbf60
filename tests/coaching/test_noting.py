"""Stop times and notes of regulating are kept in the case and count as evidence."""

from __future__ import annotations

from datetime import datetime

import pytest

from diagnose.cases import events as ev
from diagnose.coaching import noting
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge

KNOWLEDGE = read_knowledge(check=False)
NOW = datetime(2031, 3, 8, 9)
REMEDY = "fit-the-nut"


@pytest.fixture
def consultation():
    begun = Consultation.begin(KNOWLEDGE, "stops")
    begun.set_fact("clock", "family", "floor")
    return begun


def at_the_nut(consultation):
    """Walk to the step that sets the time."""
    consultation.begin_walk(REMEDY)
    while KNOWLEDGE.remedies[REMEDY].steps[consultation.walk.step].act != "set-the-time":
        consultation.step_right()


def found(consultation, name):
    return next((item for item in consultation.assessment.findings if item.finding == name), None)


def test_stop_times_answer_the_stop_pattern(consultation):
    noting.note_stops(consultation, "1:05, 2:11, 5:27, 9:50")
    assert found(consultation, "stop-pattern").said == "every-65-min"
    assert consultation.assessment.ranking.causes[0].cause == "hands-touch"


def test_times_noted_later_are_put_with_those_before(consultation):
    first = noting.note_stops(consultation, "1:05, 2:11")
    assert (first.verdict, found(consultation, "stop-pattern")) == ("cannot-tell", None)
    assert noting.note_stops(consultation, "5:27, 9:50").verdict == "pattern"
    assert len(noting.stops_noted(consultation)) == 4


def test_times_that_cannot_tell_leave_the_question_open(consultation):
    noting.note_stops(consultation, "9:47, 2:14, 8:40")
    assert found(consultation, "stop-pattern") is None


def test_the_times_stand_in_the_ground_that_is_kept(consultation):
    noting.note_stops(consultation, "1:05, 2:11, 5:27, 9:50")
    weighed = [event for event in consultation.case.events if isinstance(event, ev.Weighed)]
    assert weighed[-1].because == "1:05, 2:11, 5:27, 9:50"


def test_running_times_are_kept_as_such(consultation):
    noting.note_stops(consultation, "1:15, 2:37, 3:52, 0:52", ran=True)
    assert [stop.ran_min for stop in noting.stops_noted(consultation)] == [75, 157, 232, 52]


def test_two_comparisons_outside_a_remedy_are_a_measured_rate(consultation):
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-08 09:00 30 min fast")
    (measured,) = (event.measurement for event in consultation.case.events if isinstance(event, ev.Measured))
    assert (measured.quantity, measured.unit) == ("rate", "s/day")
    assert measured.value == pytest.approx(1800 / 7)
    assert measured.uncertainty == pytest.approx((18**2 + 5**2) ** 0.5 / 7, rel=0.05)
    assert found(consultation, "rate").said == "gains"


def test_in_a_walk_the_step_says_how_to_turn(consultation):
    at_the_nut(consultation)
    assert noting.time_advice_in_walk(consultation).kind == "compare-first"
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-02 09:00 +4:00")
    assert noting.time_advice_in_walk(consultation).turns < 0


def test_the_advised_turn_is_taken_as_made_when_it_is_compared_after_it(consultation):
    at_the_nut(consultation)
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-02 09:00 +4:00")
    advised = noting.time_advice_in_walk(consultation).turns
    assert noting.take_turn_as_done(consultation).turns == advised
    assert noting.record_of(consultation)[-1].turns == pytest.approx(advised, abs=0.001)


def test_the_rate_counts_when_the_remedy_ends(consultation):
    at_the_nut(consultation)
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-08 09:00 +0:20")
    assert found(consultation, "rate") is None
    consultation.end_walk("done")
    assert found(consultation, "rate").said == "keeps-time"


def test_a_rate_before_the_last_turn_does_not_count_as_what_it_does_now(consultation):
    at_the_nut(consultation)
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-02 09:00 +4:00")
    noting.note_time(consultation, "turned 4 down")
    consultation.end_walk("done")
    assert found(consultation, "rate") is None


def test_now_is_the_moment_it_was_typed(consultation):
    noting.note_time(consultation, "now 3 min fast", NOW)
    assert noting.record_of(consultation)[0].at == NOW
