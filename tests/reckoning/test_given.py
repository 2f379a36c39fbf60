"""What is typed for a question: read in the unit it is kept in, or refused with what, where and what to do."""

from __future__ import annotations

import pytest

from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.mechanics.train_search import Counted
from diagnose.reckoning.given import Beats, Field, Given, LeafGiven, read


def field(kind, **more):
    return Field("it", kind, "EXAMPLE", **more)


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        ("number", "2.5", 2.5),
        ("number", "2,5", 2.5),
        ("length", "1/2 in", 12.7),
        ("height", "1000 ft", 304.8),
        ("height", "0.3 km", 300),
        ("warmth", "18 F", 10),
        ("warmth", "-10 C", -10),
        ("warmth", "10 °C", 10),
        ("pressure", "1 inHg", 33.86389),
        ("pressure", "20 mbar", 20),
        ("beats", "3600", Beats(3600)),
        ("split", "56.4 : 43.6", 12.8),
        ("split", "12.8 %", 12.8),
        ("train", "64/8, ?/8", Counted((64, None), (8, 8))),
        ("leaf", "0.10 x 10 x 25 mm", LeafGiven(0.1, 10, 25)),
        ("leaf", "4 thou x 10 mm", LeafGiven(0.1016, 10, None)),
        ("leaf", "0.15 mm", LeafGiven(0.15, None, None)),
    ],
)
def test_a_text_is_read(kind, text, value):
    assert read(field(kind), text) == (pytest.approx(value) if isinstance(value, float | int) else value)


def test_a_count_of_beats_carries_its_uncertainty():
    # half a beat at each end in 120, and a thumb on a stopwatch (estimates of the counting by ear)
    beats = read(field("beats"), "120/60 s")
    assert beats.per_hour == pytest.approx(7200)
    assert 20 < beats.unsure < 60


@pytest.mark.parametrize(("text", "seconds"), [("3 min fast", 180), ("-2:30", -150), ("90 s slow", -90)])
def test_how_far_a_clock_is_out(text, seconds):
    fast = read(field("fast"), text)
    assert fast.seconds == seconds
    assert fast.unsure_s > 0


@pytest.mark.parametrize(
    ("kind", "text"),
    [
        ("number", "many"),
        ("number", "3 apples"),
        ("number", "nan"),
        ("length", "250"),
        ("length", "1/0 mm"),
        ("length", "900 000 mm"),
        ("length", "0.0000001 mm"),
        ("height", "300"),
        ("warmth", "10 K"),
        ("pressure", "20"),
        ("beats", "12"),
        ("beats", "12/0"),
        ("beats", "a/b"),
        ("split", "0 : 100"),
        ("train", "64, 60"),
        ("train", "64/0"),
        ("train", "99999/8"),
        ("leaf", "0.1 x 10 x 25"),
        ("leaf", "0.1 x 2 x 3 x 4 mm"),
        ("fast", "rather fast"),
        ("choice", "left"),
        ("number", "1" * 300),
    ],
)
def test_what_cannot_be_is_refused_with_its_place_and_a_way_out(kind, text):
    with pytest.raises(StoppedClockError) as refused:
        read(field(kind, choices=("up", "down")), text)
    assert refused.value.where == "it"
    assert refused.value.do


def test_out_of_range_says_what_is_allowed():
    with pytest.raises(UsageError, match="at least 2 and at most 4; write it like EXAMPLE"):
        read(field("number", least=2, most=4), "5")


def test_a_choice_nearly_right_is_offered():
    with pytest.raises(UsageError, match="did you mean brass"):
        read(field("choice", choices=("steel", "brass")), "bras")


def test_what_is_needed_and_missing_is_named():
    with pytest.raises(UsageError, match="it: is missing"):
        Given((field("number", needed=True),), {})


def test_one_of_several_is_needed():
    given = Given((Field("one", "number", "1"), Field("two", "number", "2")), {})
    with pytest.raises(UsageError, match="one or two: is missing"):
        given.need("one", "two")


def test_what_is_usual_is_taken_where_nothing_is_given():
    assert Given((field("number", usual="7"),), {"it": "  "}).number("it") == 7


def test_a_text_that_is_no_number_is_an_input_that_cannot_be_read():
    with pytest.raises(InputError):
        read(field("number"), "?")
