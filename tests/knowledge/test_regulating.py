"""A clock that is in order and only set too fast or too slow: told from ordinary spread, season and slack nut."""

from __future__ import annotations

import pytest

from diagnose.coaching import noting
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge
from tests.knowledge.pairs_of_causes import Pair, base_of, ranked_in, twin

KNOWLEDGE = read_knowledge(check=False)
CAUSE, REMEDY = "rating-nut-set-wrong", "regulate-with-the-nut"
ELSEWHERE = ("wrong-pendulum", "leader-of-another", "hook-other-notch")
PAIRS: tuple[Pair, ...] = (
    twin("floor", CAUSE, "week-spread=more runs-for=keeps-running rate-steady=steady nut-room=room",
          "nut-slack", "week-spread=more runs-for=keeps-running nut-moves-bob=slack bob-height=lower"),
    twin("mantel", CAUSE, "nut-turned-lately=yes rate=gains rate-steady=steady nut-moves-bob=moves",
          "spring-too-thick", "part-fitted=suspension rate=gains nut-room=at-bottom leaf-stiffness=stiffer"),
    twin("wall", CAUSE, "nut-turned-lately=yes week-spread=more rate-over-time=one-step hook-notch=old-one",
          "weekly-spread-ordinary", "week-spread=few-minutes runs-for=keeps-running rate-steady=steady"),
)  # fmt: skip


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.look_alike)
def test_a_few_answers_put_the_cause_first_and_those_of_a_look_alike_do_not(pair):
    assert ranked_in(base_of(pair.clock), pair.said)[0] == pair.cause
    assert ranked_in(base_of(pair.clock), pair.said_of_look_alike)[0] == pair.look_alike


def begun(family="floor"):
    consultation = Consultation.begin(KNOWLEDGE, "stops")
    consultation.say("")
    consultation.set_fact("clock", "family", family)
    return consultation


def first(consultation):
    return consultation.assessment.ranking.causes[0].cause


def test_ten_minutes_a_week_with_all_else_well_is_the_nut_and_the_remedy_regulates():
    consultation = begun()
    consultation.answer("runs-for", "keeps-running")
    consultation.answer("tick-evenness", "even")
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-08 09:00 10 min fast")
    assert first(consultation) == CAUSE
    assert KNOWLEDGE.causes[CAUSE].remedies == (REMEDY,)
    assert noting.sets_the_time(KNOWLEDGE.remedies[REMEDY])


def test_two_minutes_a_week_is_ordinary():
    # common practice, no source: one to two minutes a week
    consultation = begun()
    consultation.answer("runs-for", "keeps-running")
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-08 09:00 +2:00")
    assert first(consultation) == "weekly-spread-ordinary"


def test_a_rate_that_goes_with_the_season_is_the_season():
    consultation = begun()
    consultation.answer("runs-for", "keeps-running")
    consultation.answer("rate-over-time", "with-the-season")
    assert first(consultation) == "season-shift"


def test_a_nut_that_turns_by_itself_is_slack_and_not_set_wrong():
    consultation = begun()
    consultation.answer("week-spread", "more")
    consultation.answer("nut-moves-bob", "slack")
    assert first(consultation) == "nut-slack"


@pytest.mark.parametrize(
    ("nut_room", "causes"),
    [
        ("at-bottom", {"spring-too-thick", "spring-too-short", *ELSEWHERE}),
        ("at-top", {"spring-too-thin", "spring-too-long", *ELSEWHERE}),
    ],
)
def test_a_nut_at_its_end_speaks_for_a_wrong_length_elsewhere(nut_room, causes):
    linked = {
        name
        for name, entry in KNOWLEDGE.causes.items()
        if any((link.finding, link.value) == ("nut-room", nut_room) for link in entry.shows)
    }
    assert linked == causes


def test_a_walk_of_the_remedy_is_proved_by_the_comparisons_themselves():
    consultation = begun()
    consultation.answer("runs-for", "keeps-running")
    consultation.begin_walk(REMEDY)
    noting.note_time(consultation, "2031-03-01 09:00 set right")
    noting.note_time(consultation, "2031-03-08 09:00 +10:00")
    consultation.step_right()
    consultation.step_right()
    noting.take_turn_as_done(consultation)
    noting.note_time(consultation, "2031-03-08 10:00 set right")
    noting.note_time(consultation, "2031-03-15 10:00 +0:10")
    assert noting.time_advice_in_walk(consultation).kind == "good"
    consultation.step_right()
    said = {item.finding: item.said for item in consultation.assessment.findings}
    assert said["week-spread"] == "within-a-minute"


def test_each_turn_for_an_owner_is_held_and_has_its_stop():
    for step in KNOWLEDGE.remedies[REMEDY].steps:
        assert step.stop_if is not None
        assert step.do.customer
    assert KNOWLEDGE.remedies[REMEDY].steps[-1].hold is not None
    assert "bob-falls" in KNOWLEDGE.remedies[REMEDY].cautions
