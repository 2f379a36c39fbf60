"""Stop times are read as people write them."""

from __future__ import annotations

from datetime import date

import pytest

from diagnose.errors import InputError, UsageError
from diagnose.model.stop_notes import parse_stop, parse_stops, stops_told


@pytest.mark.parametrize(
    ("text", "dial_min", "day_min"),
    [
        ("9:47", 587, None),
        ("9.47", 587, None),
        ("12:10", 10, None),
        ("2:14 pm", 134, 854),
        ("9:47am", 587, 587),
        ("2pm", 120, 840),
        ("21:05", 545, 1265),
        ("0:15", 15, 15),
        ("12:20 am", 20, 20),
        ("12:20 pm", 20, 740),
        ("3:10 at night", 190, 190),
        ("half past eleven at night", 690, 1410),
        ("ten to one", 50, None),
        ("5 minutes to six", 355, None),
        ("a quarter past 3", 195, None),
        ("twenty past four in the afternoon", 260, 980),
        ("5 o'clock", 300, None),
        ("noon", 0, 720),
        ("midnight", 0, 0),
    ],
)
def test_a_time_on_the_dial_is_read(text, dial_min, day_min):
    stop = parse_stop(text)
    assert (stop.dial_min, stop.day_min, stop.ran_min) == (dial_min, day_min, None)


@pytest.mark.parametrize(
    ("text", "ran_min"),
    [("after 3 h 20 min", 200), ("ran 95 min", 95), ("2 days 4 h", 3120), ("3h20", 200), ("1.5 hours", 90)],
)
def test_a_running_time_is_read(text, ran_min):
    stop = parse_stop(text)
    assert (stop.ran_min, stop.dial_min) == (ran_min, None)


def test_dial_and_running_time_may_stand_together():
    stop = parse_stop("9:47 after 3 h 20 min")
    assert (stop.dial_min, stop.ran_min) == (587, 200)


def test_a_date_gives_weekday_and_time_of_day():
    stop = parse_stop("2031-03-12 09:47")
    assert (stop.on, stop.weekday, stop.day_min) == (date(2031, 3, 12), 2, 587)


def test_times_stand_in_a_row_and_a_day_belongs_to_its_time():
    stops = parse_stops("9:47, 2:14 pm, Tue, 8:40\nThursday 7:05  # in the hall")
    assert [(stop.dial_min, stop.weekday) for stop in stops] == [(587, None), (134, None), (520, 1), (425, 3)]


def test_times_without_a_unit_can_be_running_times():
    assert [stop.ran_min for stop in parse_stops("1:35, 3:10, 50 min", ran=True)] == [95, 190, 50]


@pytest.mark.parametrize("text", ["soon", "25:00", "9:75", "2031-02-31 09:00"])
def test_what_is_no_time_is_refused_with_examples(text):
    with pytest.raises(InputError, match="Write"):
        parse_stops(text)


def test_nothing_at_all_is_refused():
    with pytest.raises(UsageError, match="no stop times"):
        parse_stops(" \n# only a remark")


@pytest.mark.parametrize(
    ("said", "count"),
    [
        ("it stopped at 4:10 pm on Monday, 4:12 pm on Tuesday and ten past four on Wednesday", 3),
        ("I wound it at 8:30 and it stopped at 9:10", 0),
        ("it stops every day at about ten past four", 0),
        ("we open from 9:30, and close at 5:30", 0),
    ],
)
def test_only_a_list_of_stop_times_is_taken_from_free_speech(said: str, count: int) -> None:
    assert len(stops_told(said)) == count
