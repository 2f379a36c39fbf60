"""Numbers at a step of a remedy: what the case knows is filled in, what it does not know is asked for."""

from __future__ import annotations

import pytest

from diagnose.cases.events import Contact, Heard
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError
from diagnose.model.reading import read_knowledge
from diagnose.reckoning.in_case import answer_to_typed, known, reckoned, reckoned_at_step
from diagnose.reckoning.questions import QUESTIONS

KNOWLEDGE = read_knowledge(check=False)
HEARD = {
    "beats_per_hour": 3590.0,
    "nominal_beats_per_hour": 3600.0,
    "nominal_guessed": True,
    "rate_s_per_day": -240.0,
    "beat_error_percent": 10.0,
    "early_side": "right",
    "split": "55.0 : 45.0",
    "uncertainty": {"beats_per_hour": 0.5, "rate_s_per_day": 12.0, "beat_error_percent": 0.4},
}


def case(family="floor", heard=None):
    consultation = Consultation.begin(KNOWLEDGE, "stops", Contact("c1", "workshop"))
    consultation.set_fact("clock", "family", family)
    if heard:
        consultation.take_heard(Heard("larch-lane.flac", dict(heard)))
    return consultation


def at_step_that_reckons(consultation, remedy):
    consultation.begin_walk(remedy)
    while not KNOWLEDGE.remedies[remedy].steps[consultation.walk.step].reckon:
        consultation.step_right()
    return {found.question.name: found for found in reckoned_at_step(consultation)}


def test_every_question_that_a_step_names_is_one():
    named = {name for entry in KNOWLEDGE.remedies.values() for step in entry.steps for name in step.reckon}
    assert named
    assert named <= set(QUESTIONS)


def test_a_step_that_an_owner_does_with_a_number_is_still_one_of_its_own():
    # the numbers are for staff; the step must say in words what to do without them
    for entry in KNOWLEDGE.remedies.values():
        for step in entry.steps:
            assert not step.reckon or step.do.staff


def test_measured_beats_give_the_pendulum_they_imply_and_the_one_of_the_train():
    found = at_step_that_reckons(case(heard=HEARD), "find-the-right-pendulum")
    figures = found["length"].answer.figures
    # derived at 9.80665 (CGPM 1901): 993.62 mm at 3600; as the square of the beats
    assert figures["length_mm"] == pytest.approx(993.62 * (3600 / 3590) ** 2, abs=0.01)
    assert figures["length_unsure_mm"] == pytest.approx(2 * 999.2 * 0.5 / 3590, abs=0.01)
    assert figures["common_trains"][0]["beats_per_hour"] == 3600


def test_without_a_beat_the_length_is_asked_for():
    found = at_step_that_reckons(case(), "find-the-right-pendulum")
    assert found["length"].answer is None
    assert found["length"].texts == {}


def test_a_heard_beat_error_and_a_family_give_the_reserve():
    found = reckoned(case(heard=HEARD), QUESTIONS["reserve"])
    # derived: A 3, gamma 1.5 of a floor clock: 0.405 degrees for 10 %
    assert found.answer.figures["reserve_now_deg"] == pytest.approx(1.5 - 0.405, abs=0.001)


def test_the_side_that_was_heard_early_is_filled_in():
    texts = known(case(heard=HEARD), QUESTIONS["shim"])
    assert texts == {"family": "floor", "error": "10.0", "unsure": "0.4", "early": "right"}


def test_a_refused_recording_fills_in_nothing():
    assert "error" not in known(case(heard={"refused": "no ticks found"}), QUESTIONS["shim"])


def test_another_question_means_the_beat_the_clock_was_made_for():
    texts = known(case(heard=HEARD), QUESTIONS["nut"])
    assert texts["beats"] == "3600"


def test_a_typed_question_adds_its_sizes_to_what_is_known():
    answer = answer_to_typed(case(), "by-hand right='20 mm' left='30 mm' radius='1050 mm'")
    # derived: 0.273 degrees, shim 1.43 mm on the 300 mm of a floor clock
    assert answer.figures["base_mm"] == pytest.approx(1.43, abs=0.01)


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ("by-hnad", "did you mean by-hand"),
        ("by-hand right", "nothing that is asked for"),
        ("by-hand up='2 mm'", "names: right, left, radius"),
        ("by-hand right='20 mm", "is no question"),
        ("by-hand right='20 mm'", "left: is missing"),
    ],
)
def test_what_cannot_be_typed_is_told(line, complaint):
    with pytest.raises(StoppedClockError, match=complaint):
        answer_to_typed(case(), line)
