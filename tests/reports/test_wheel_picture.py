"""The turn of the escape wheel as a ring: each beat at its place, to scale, the bad tooth named."""

from __future__ import annotations

import math

import pytest

from diagnose.model.wording import Wording
from diagnose.reports.wheel_picture import (
    CENTER_X,
    CENTER_Y,
    REACH,
    ZERO,
    Turn,
    angle_of,
    radius_of,
    scale_of,
    turn_of,
    wheel_picture,
)
from tests.reports.built import SVG, knowledge, texts_of
from tests.reports.drawn import named, path_points, root_of, value, words_at
from tests.reports.heard import wheel

STAFF = Wording(knowledge())
PLAIN = Turn(30, (0.0,) * 30, 0.05)


def bars(svg: str) -> list[tuple[float, float]]:
    """Middle of the end of each bar, as radius and angle [rad]; bars are the closed shapes of four corners."""
    found = []
    for item in root_of(svg).iter(f"{SVG}path"):
        points = list(path_points(item.get("d", "").rstrip("Z")))
        if item.get("fill") != "none" and len(points) == 4:
            (x1, y1), (x2, y2) = points[1:3]
            across, down = (x1 + x2) / 2 - CENTER_X, (y1 + y2) / 2 - CENTER_Y
            found.append((math.hypot(across, down), math.atan2(down, across)))
    return found


def test_there_is_a_bar_for_each_beat_and_two_for_each_tooth() -> None:
    turn = turn_of(wheel())
    assert turn is not None and turn.each == 2
    assert len(bars(wheel_picture(turn, STAFF))) == 60


def test_a_late_beat_goes_outward_and_an_early_one_inward_to_scale() -> None:
    turn = Turn(30, (0.4, -0.2, *(0.0,) * 28), 0.01)
    ends = bars(wheel_picture(turn, STAFF))
    assert scale_of(turn) == 0.5
    assert ends[0][0] == pytest.approx(ZERO + REACH * 0.8, abs=1.0)
    assert ends[1][0] == pytest.approx(ZERO - REACH * 0.4, abs=1.0)


def test_the_first_tooth_is_at_the_top_and_the_next_to_its_right() -> None:
    assert angle_of(0, 30) == pytest.approx(-math.pi / 2)
    places = {words: (x, y) for words, x, y in words_at(wheel_picture(PLAIN, STAFF))}
    assert places["1"][0] == pytest.approx(CENTER_X, abs=0.1)
    assert places["1"][1] < CENTER_Y
    assert places["5"][0] > CENTER_X and places["25"][0] < CENTER_X


def test_the_two_beats_of_a_tooth_lie_on_both_sides_of_its_number() -> None:
    turn = Turn(30, (0.4,) * 60, 0.01)
    ends = bars(wheel_picture(turn, STAFF))
    between = (ends[32][1] + ends[33][1]) / 2
    x, y = next((x, y) for words, x, y in words_at(wheel_picture(turn, STAFF)) if words == "15")
    fifteen = math.atan2(y - 4 - CENTER_Y, x - CENTER_X)
    assert between - fifteen == pytest.approx(2 * 2 * math.pi / 30, abs=0.01)


def test_the_tooth_that_stands_out_is_named_with_its_size_and_way() -> None:
    turn = turn_of(wheel(bad=17, late_ms=0.52))
    assert turn is not None
    svg = wheel_picture(turn, STAFF)
    words = texts_of(svg)
    assert "tooth 17" in words and "0.52 ms" in words and " late " in words
    assert [item.text for item in root_of(svg).iter(f"{SVG}text") if item.get("font-weight") == "bold"][1:] == [
        "17",
        "tooth 17",
    ]


def test_an_early_tooth_is_called_early() -> None:
    turn = turn_of(wheel(bad=3, late_ms=-0.6))
    assert turn is not None
    assert "comes 0.60 ms too early" in (root_of(wheel_picture(turn, STAFF))[1].text or "")


def test_where_no_tooth_stands_out_that_is_said() -> None:
    turn = turn_of(wheel(bad=None))
    assert turn is not None
    assert "no one tooth stands out" in texts_of(wheel_picture(turn, STAFF))


def test_the_ring_of_uncertainty_is_two_sigma_wide_on_both_sides() -> None:
    turn = Turn(30, (0.5, *(0.0,) * 29), 0.05)
    (ring,) = named(wheel_picture(turn, STAFF), "unsure")
    assert value(ring, "r") == ZERO
    assert value(ring, "stroke-width") == pytest.approx(2 * REACH * 2 * 0.05 / 0.5, abs=0.01)


def test_a_deviation_beyond_the_scale_stands_at_its_edge() -> None:
    assert radius_of(99.0, 20.0) == ZERO + REACH
    assert radius_of(-99.0, 20.0) == ZERO - REACH


def test_the_way_of_counting_is_told_in_words_and_by_an_arrow() -> None:
    svg = wheel_picture(PLAIN, STAFF)
    assert "the way the arrow goes" in texts_of(svg)
    heads = [
        list(path_points(item.get("d", "").rstrip("Z")))
        for item in root_of(svg).iter(f"{SVG}path")
        if item.get("fill") == "#1a1a1a"
    ]
    (head,) = heads
    # The tip goes on round from the other two corners, as a clock's hands do.
    angles = [math.atan2(y - CENTER_Y, x - CENTER_X) for x, y in head]
    assert angles[0] > max(angles[1:])


@pytest.mark.parametrize("kept", [None, {}, {"teeth": 30}, {"teeth": 30, "deviations_ms": [0.1] * 7}])
def test_without_a_wheel_error_there_is_nothing_to_draw(kept: dict[str, object] | None) -> None:
    assert turn_of(kept) is None
