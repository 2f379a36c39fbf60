"""Notes of regulating are read as people write them."""

from __future__ import annotations

from datetime import datetime

import pytest

from diagnose.coaching.time_notes import notes_of, parse_note, parse_notes
from diagnose.coaching.time_task import NutTurn
from diagnose.errors import InputError

NOW = datetime(2031, 3, 8, 9, 0, 12)


@pytest.mark.parametrize(
    ("text", "fast_s"),
    [
        ("2031-03-08 09:00 3 min fast", 180),
        ("2031-03-08 09:00 2.5 min slow", -150),
        ("2031-03-08T09:00 +2:30", 150),
        ("2031-03-08 09:00 -2:30 at 19 C", -150),
        ("2031-03-08 09:00 45 s behind", -45),
        ("2031-03-08 09:00 right", 0),
        ("now +0:10", 10),
    ],
)
def test_a_comparison_says_how_far_it_is_fast(text, fast_s):
    note = parse_note(text, NOW)
    assert (note.at, note.fast_s) == (datetime(2031, 3, 8, 9), fast_s)


def test_whole_minutes_are_read_less_surely_than_seconds():
    coarse, fine = (parse_note(f"2031-03-08 09:00 {size}").unsure_s for size in ("3 min fast", "+3:00"))
    assert coarse == pytest.approx((60**2 / 12 + 25) ** 0.5)  # an even spread over a minute, and the hand
    assert fine < 6


def test_a_room_may_be_told_in_either_scale():
    assert parse_note("2031-03-08 09:00 right at 68 F").room_c == pytest.approx(20)


def test_setting_the_hands_begins_at_nought():
    note = parse_note("2031-03-08 09:00 +3:00 set right")
    assert (note.fast_s, note.set_right) == (180, True)


@pytest.mark.parametrize(
    ("text", "turns"),
    [
        ("turned 1/2 down", -0.5),
        ("turned half a turn up", 0.5),
        ("turned 1 and 1/4 up", 1.25),
        ("turned 2.5 turns down", -2.5),
        ("turned 20 minutes up", 1 / 3),
        ("turned three quarters up", None),
    ],
)
def test_a_turn_of_the_nut_has_a_way_and_a_size(text, turns):
    if turns is None:
        with pytest.raises(InputError, match="no turn"):
            parse_note(text)
    else:
        assert parse_note(text).turns == pytest.approx(turns)


@pytest.mark.parametrize("text", ["3 min fast", "2031-02-31 09:00 right", "2031-03-08 09:00", "2031-03-08 09:00 3 min"])
def test_what_is_no_note_is_refused_with_examples(text):
    with pytest.raises(InputError, match="Write it like"):
        parse_note(text)


def test_a_record_is_written_and_read_again():
    text = (
        "2031-03-01 09:00 +0:00 set right\n2031-03-08 09:00 -2:30 at 19 C\n2031-03-09 09:00 3 min slow\n"
        "2031-03-10 09:00 2.5 min fast\nturned 0.5 up"
    )
    record = parse_notes(text + "  # a remark")
    assert record[-1] == NutTurn(0.5)
    assert notes_of(record) == text.splitlines()
    assert parse_notes("\n".join(notes_of(record))) == record
