"""Inside a remedy: which recording belongs to which act, and what counts as an act or as an answer."""

from __future__ import annotations

import pytest

from diagnose.cases import events as ev
from diagnose.coaching.in_walk import advice_in_walk, take_as_done
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge

KNOWLEDGE = read_knowledge(check=False)
REMEDY = "set-the-beat-at-the-leader-adjuster"


@pytest.fixture
def walking():
    begun = Consultation.begin(KNOWLEDGE, "stops")
    begun.set_fact("clock", "family", "floor")
    begun.begin_walk(REMEDY)
    return begun


def hear(consultation, percent, side="unknown"):
    beats = {"beat_error_percent": percent, "early_side": side, "uncertainty": {"beat_error_percent": 0.3}}
    consultation.take_heard(ev.Heard("tick.flac", beats, within=REMEDY))


def act(consultation):
    return take_as_done(consultation, advice_in_walk(consultation))


def test_nothing_heard_asks_to_record(walking):
    assert advice_in_walk(walking).kind == "listen"


def test_the_side_is_asked_once_and_recording_again_goes_on(walking):
    hear(walking, 12.0)
    assert advice_in_walk(walking).kind == "learn-side"
    hear(walking, 12.1)
    assert advice_in_walk(walking).kind == "act"


def test_a_recording_made_twice_after_an_act_counts_for_that_act(walking):
    hear(walking, 16.0, "right")
    act(walking)
    for _ in range(2):
        hear(walking, 8.0, "right")
    once = advice_in_walk(walking)
    act(walking)
    hear(walking, 1.0)
    assert once.kind == "act"
    assert advice_in_walk(walking).kind == "good"


def worse_twice(consultation):
    """Two acts as advised, each of which made it worse; return the last."""
    hear(consultation, 7.0, "right")
    act(consultation)
    hear(consultation, 11.0, "right")
    last = act(consultation)
    hear(consultation, 19.0, "right")
    return last


def test_after_twice_worse_what_was_moved_is_an_answer_and_no_further_act(walking):
    last = worse_twice(walking)
    assert advice_in_walk(walking).kind == "which-way"
    other = "left" if last.direction == "right" else "right"
    walking.acted(ev.Acted(last.adjuster, other, last.amount_mm))
    advice = advice_in_walk(walking)
    # It went the other way than told, so that it is told again, and farther.
    assert (advice.kind, advice.direction) == ("act", last.direction)
    assert advice.amount_mm > last.amount_mm


def test_a_step_seen_to_go_as_told_that_made_it_worse_is_asked_about_or_turned(walking):
    hear(walking, 12.0, "right")
    first = act(walking)
    hear(walking, 20.0, "right")
    probably = advice_in_walk(walking)
    walking.acted(ev.Acted(first.adjuster, first.direction, first.amount_mm))
    assert (probably.told.wrong, probably.direction) == ("went-wrong", first.direction)
    assert advice_in_walk(walking).direction != first.direction


def test_an_act_of_another_size_is_an_act(walking):
    hear(walking, 12.0, "right")
    first = act(walking)
    hear(walking, 20.0, "right")
    walking.acted(ev.Acted(first.adjuster, first.direction, 2 * first.amount_mm))
    assert advice_in_walk(walking).kind == "listen"
