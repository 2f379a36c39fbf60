"""The intervals over a recording: to scale, open where a beat is silent, shaded where something is louder."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.model.wording import Wording
from diagnose.reports.course_picture import (
    BAND,
    FIRST_TOP,
    PLOT_LEFT,
    Course,
    Frame,
    Slot,
    course_picture,
    courses_of,
    frame_of,
    running_means,
    runs_of,
)
from tests.reports.built import SVG, knowledge, texts_of
from tests.reports.drawn import lines_of, named, root_of, value
from tests.reports.heard import evenly

STAFF = Wording(knowledge())
RIGHT = 332.0


def moved(number: int, by_s: float, **more: Any) -> dict[str, Any]:
    """Even beats of which one comes late: the interval before it is longer and the one after it shorter."""
    beats = evenly(**more)
    beats["times_s"] = [
        time + (by_s if own == number else 0.0) for own, time in zip(beats["numbers"], beats["times_s"], strict=True)
    ]
    return beats


def drawn(beats: dict[str, Any]) -> str:
    svg = course_picture(beats, STAFF)
    assert svg is not None
    return svg


def test_each_kind_has_its_own_mean() -> None:
    even, odd = courses_of(evenly(beat_s=0.5, uneven_s=0.04))
    assert (even.kind, even.mean_s) == ("even", pytest.approx(0.52))
    assert (odd.kind, odd.mean_s) == ("odd", pytest.approx(0.48))


def test_a_late_beat_shows_up_in_one_band_and_down_in_the_other() -> None:
    even, odd = courses_of(moved(11, 0.001))
    assert max(slot.off_ms or 0.0 for slot in even.slots) == pytest.approx(1.0, abs=0.05)
    assert min(slot.off_ms or 0.0 for slot in odd.slots) == pytest.approx(-1.0, abs=0.05)


def test_a_bar_is_as_high_as_the_interval_is_off() -> None:
    bars = named(drawn(moved(11, 0.001)), "interval")
    # The scale is 1 ms for half of a band; the mean itself is moved by one thirtieth.
    assert max(value(bar, "height") for bar in bars) == pytest.approx(BAND / 2, abs=BAND / 50)


def test_a_silent_beat_leaves_out_the_two_intervals_it_bounds() -> None:
    even, odd = courses_of(evenly(missing=(20,)))
    assert [round(slot.start_s, 1) for slot in even.slots if slot.off_ms is None] == [20.3]
    assert [round(slot.start_s, 1) for slot in odd.slots if slot.off_ms is None] == [19.3]


def test_where_a_beat_is_silent_there_is_a_gap_in_the_line_of_the_mean() -> None:
    beats = evenly(missing=(20,))
    frame = frame_of(courses_of(beats), beats["seconds"])
    middle = FIRST_TOP + BAND / 2
    strokes = sorted((x1, x2) for x1, y1, x2, y2, _ in lines_of(drawn(beats)) if y1 == y2 == middle and x1 >= PLOT_LEFT)
    assert len(strokes) == 2
    assert strokes[0][1] < frame.x(20.4) < frame.x(22.0) < strokes[1][0]


def test_where_a_beat_is_silent_no_bar_is_drawn_and_it_is_told() -> None:
    beats = evenly(missing=(20,))
    frame = frame_of(courses_of(beats), beats["seconds"])
    svg = drawn(beats)
    upper = [bar for bar in named(svg, "interval") if value(bar, "y") < FIRST_TOP + BAND]
    assert not [bar for bar in upper if frame.x(20.4) <= value(bar, "x") + value(bar, "width") / 2 <= frame.x(22.2)]
    assert "could not be heard" in texts_of(svg)
    assert "could not be heard" not in texts_of(drawn(evenly()))


def test_the_running_mean_is_broken_by_a_silent_beat() -> None:
    beats = evenly(missing=(20,))
    courses = courses_of(beats)
    assert [len(running_means(course, frame_of(courses, 61.3))) for course in courses] == [2, 2]


def test_the_running_mean_of_five_is_their_mean() -> None:
    slots = tuple(Slot(2.0 * place, 2.0 * place + 2.0, off) for place, off in enumerate([1.0, -1.0, 4.0, 0.0, 1.0]))
    (piece,) = running_means(Course("even", 1.0, slots), Frame(0.0, 10.0, 5.0, 0.0))
    assert piece[2] == (5.0, pytest.approx(1.0))


def test_a_stretch_of_something_louder_is_shaded_in_both_bands() -> None:
    beats = evenly(loud_s=[[40.0, 44.0]])
    frame = frame_of(courses_of(beats), beats["seconds"])
    svg = drawn(beats)
    shaded = named(svg, "louder")
    assert len(shaded) == 2
    xs = [float(part) for part in shaded[0].get("d", "").replace("M", " ").replace("L", " ").split()[::2]]
    assert (min(xs), max(xs)) == (pytest.approx(frame.x(40.0), abs=0.1), pytest.approx(frame.x(44.0), abs=0.1))
    assert "louder than the ticks" in texts_of(svg)


def test_a_clock_that_hardly_scatters_is_not_made_to_look_as_if_it_did() -> None:
    beats = moved(11, 2e-5)
    assert frame_of(courses_of(beats), 61.3).scale_ms == 0.5


def test_both_bands_have_the_same_scale_and_say_it() -> None:
    words = texts_of(drawn(moved(11, 0.0042)))
    assert words.count("+5") == words.count("−5") == 2
    assert "±5 ms" in words


def test_one_wild_interval_does_not_flatten_the_rest_and_is_marked() -> None:
    beats = moved(11, 0.002)
    beats["times_s"] = [time + 0.0005 * (place % 3) for place, time in enumerate(beats["times_s"])]
    beats["times_s"][31] += 0.08
    frame = frame_of(courses_of(beats), 61.3)
    assert frame.scale_ms <= 10.0
    svg = drawn(beats)
    assert "2 beyond the scale" in texts_of(svg)
    heights = [value(bar, "height") for bar in named(svg, "interval")]
    assert max(heights) == BAND / 2


def test_a_long_recording_is_drawn_in_ranges_with_the_least_and_the_greatest() -> None:
    beats = moved(501, 0.001, count=1201, beat_s=0.5, uneven_s=0.0)
    courses = courses_of(beats)
    frame = frame_of(courses, beats["seconds"])
    svg = drawn(beats)
    assert named(svg, "interval") == []
    ranges = [box for box in named(svg, "range") if value(box, "y") < FIRST_TOP + BAND]
    assert 20 <= len(ranges) <= 46
    (tall,) = [box for box in ranges if value(box, "height") > 5]
    assert value(tall, "x") <= frame.x(250.3) <= value(tall, "x") + value(tall, "width")
    assert value(tall, "height") == pytest.approx(BAND / 2, abs=2.0)
    assert f"in {frame.step_s:g} s" in texts_of(svg)


def test_a_long_silence_leaves_the_ranges_open() -> None:
    beats = evenly(count=1201, beat_s=0.5, missing=tuple(range(400, 600)))
    frame = frame_of(courses_of(beats), beats["seconds"])
    inside = [
        box for box in named(drawn(beats), "range")
        if value(box, "x") < frame.x(299.0) and value(box, "x") + value(box, "width") > frame.x(202.0)
    ]  # fmt: skip
    assert inside == []


def test_wild_intervals_do_not_move_the_mean() -> None:
    even, _ = courses_of(moved(31, 0.08, uneven_s=0.0))
    assert even.mean_s == pytest.approx(1.0, abs=1e-6)


def test_a_jump_in_the_recording_is_a_gap_and_no_interval() -> None:
    beats = evenly()
    beats["times_s"] = [time + (0.6 if number > 30 else 0.0) for number, time in enumerate(beats["times_s"])]
    even, _ = courses_of(beats)
    assert [len(run) for run in runs_of(even.slots)] == [15, 14]


def test_left_and_right_are_named_where_they_are_known() -> None:
    # The beats on which the longer intervals begin come too soon: with the right side early they are the right ones.
    words = texts_of(drawn(evenly(early_side="right")))
    assert "From right to left: mean 1.025 s" in words
    assert "From left to right: mean 0.975 s" in words
    words = texts_of(drawn(evenly(early_side="left")))
    assert "From left to right: mean 1.025 s" in words


def test_taps_without_a_recording_are_drawn_from_the_first_to_the_last() -> None:
    beats = evenly(seconds=0.0)
    frame = frame_of(courses_of(beats), 0.0)
    assert frame.x(0.3) == PLOT_LEFT
    assert frame.x(61.3) == pytest.approx(RIGHT, abs=0.2)


@pytest.mark.parametrize("count", [0, 1, 7])
def test_too_few_beats_give_no_picture(count: int) -> None:
    assert course_picture(evenly(count=count), STAFF) is None


def test_one_side_alone_gives_no_picture() -> None:
    assert course_picture(evenly(missing=tuple(range(1, 61, 2))), STAFF) is None


def test_no_dot_is_drawn() -> None:
    svg = drawn(evenly(count=400, beat_s=0.5))
    assert list(root_of(svg).iter(f"{SVG}circle")) == []
