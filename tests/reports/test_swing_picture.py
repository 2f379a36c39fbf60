"""The swing split is drawn to scale: lengths, middle, bands, uncertainty, rivals."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.model.wording import Wording
from diagnose.reports.swing_picture import BAR_TOP, STRIP_TOP, Split, in_bar, in_strip, split_of, swing_picture
from tests.reports.built import knowledge, texts_of
from tests.reports.drawn import lines_of, named, root_of, value, words_at

STAFF, CUSTOMER = Wording(knowledge()), Wording(knowledge(), "customer")
LEFT, RIGHT, LENGTH, MIDDLE = 8.0, 332.0, 324.0, 170.0
# Practice: within 5 % of the swing acceptable, under 3 % good (common practice, no source).
GOOD, ACCEPTABLE = 3.0, 5.0


def heard(percent: float, early: str = "unknown", unsure: float = 0.5, **more: Any) -> dict[str, Any]:
    return {
        "beats_per_hour": 3600.0,
        "beat_error_percent": percent,
        "early_side": early,
        "longer": "even",
        "uncertainty": {"beat_error_percent": unsure},
        **more,
    }


def drawn(beats: dict[str, Any], wording: Wording = STAFF) -> str:
    split = split_of(beats)
    assert split is not None
    return swing_picture(split, wording)


def edges(svg: str, name: str) -> tuple[float, float]:
    (box,) = named(svg, name)
    return value(box, "x"), value(box, "x") + value(box, "width")


@pytest.mark.parametrize(("percent", "longer"), [(0.0, 50.0), (4.0, 52.0), (12.8, 56.4), (28.0, 64.0)])
def test_the_two_intervals_have_their_true_lengths(percent: float, longer: float) -> None:
    svg = drawn(heard(percent))
    first, second = edges(svg, "first"), edges(svg, "second")
    assert first == pytest.approx((LEFT, LEFT + LENGTH * longer / 100), abs=0.01)
    assert second == pytest.approx((LEFT + LENGTH * longer / 100, RIGHT), abs=0.01)


def test_the_seconds_of_the_two_intervals_add_up_to_the_swing() -> None:
    # 3600 beats an hour: a swing of 2 s. 12.8 % out of beat is 56.4 : 43.6 of it.
    words = texts_of(drawn(heard(12.8)))
    assert "1.128 s" in words and "0.872 s" in words


def test_with_the_right_side_early_the_way_from_left_to_right_is_the_shorter() -> None:
    # Between the left tick and the right tick that comes too soon lies the shorter interval.
    svg = drawn(heard(12.8, "right"))
    assert edges(svg, "first")[1] == pytest.approx(LEFT + LENGTH * 0.436, abs=0.01)
    assert [words for words, _, y in words_at(svg) if y == BAR_TOP - 9] == ["left ticks", "right ticks", "left ticks"]


def test_with_the_left_side_early_the_way_from_left_to_right_is_the_longer() -> None:
    # The sign of a kept result is that of the side: left early is less than 0.
    assert edges(drawn(heard(-12.8, "left")), "first")[1] == pytest.approx(LEFT + LENGTH * 0.564, abs=0.01)


def test_the_bands_stand_at_three_and_five_percent_about_the_middle() -> None:
    svg = drawn(heard(1.0))
    per_percent = LENGTH / 2 / 6.0
    assert edges(svg, "good") == pytest.approx((MIDDLE - GOOD * per_percent, MIDDLE + GOOD * per_percent), abs=0.01)
    wide = ACCEPTABLE * per_percent
    assert edges(svg, "acceptable") == pytest.approx((MIDDLE - wide, MIDDLE + wide), abs=0.01)


def test_the_uncertainty_is_drawn_to_the_scale_of_the_strip() -> None:
    left, right = edges(drawn(heard(12.8, unsure=0.5)), "unsure")
    # The strip shows 15 % to each side.
    assert right - left == pytest.approx(2 * 0.5 * LENGTH / 2 / 15, abs=0.01)
    assert (left + right) / 2 == pytest.approx(MIDDLE + 12.8 * LENGTH / 2 / 15, abs=0.01)


def test_the_mark_of_the_clock_stands_at_its_beat_error() -> None:
    tall = [x for x, y, _, _, width in lines_of(drawn(heard(12.8, "right"))) if width > 2 and y == STRIP_TOP - 4]
    assert tall == [pytest.approx(MIDDLE - 12.8 * LENGTH / 2 / 15, abs=0.01)]


@pytest.mark.parametrize("percent", [2.9, 4.9, 13.0, 24.0, 37.0, 80.0])
def test_whatever_the_beat_error_its_mark_is_within_the_strip(percent: float) -> None:
    svg = drawn(heard(percent))
    (tall,) = [x for x, y, _, _, width in lines_of(svg) if width > 2 and y == STRIP_TOP - 4]
    assert MIDDLE + 1 < tall < RIGHT - 3


def test_rivals_are_drawn_in_broken_lines_each_on_its_own_side_of_the_middle() -> None:
    svg = drawn(heard(4.0, unsure=0.1, rivals_percent=[2.0, 5.0], rivals_turned=[False, True]))
    broken = sorted({x for x, y, _, _, _ in lines_of(svg, dashed=True) if y == STRIP_TOP})
    assert broken == pytest.approx([in_strip(-5.0, 6.0), in_strip(2.0, 6.0)], abs=0.01)
    in_the_bar = sorted({x for x, y, _, _, _ in lines_of(svg, dashed=True) if y == BAR_TOP})
    assert in_the_bar == pytest.approx([in_bar(47.5), in_bar(51.0)], abs=0.01)
    assert "2.0 or 5.0 %" in texts_of(svg)


def test_with_the_right_side_early_a_rival_that_does_not_turn_stays_on_its_side() -> None:
    split = split_of(heard(4.0, "right", rivals_percent=[2.0, 1.0], rivals_turned=[False, True]))
    assert split is not None
    assert (split.later, split.rivals) == (-4.0, (-2.0, 1.0))


def test_a_rival_kept_without_its_way_is_taken_to_be_on_the_same_side() -> None:
    split = split_of(heard(4.0, rivals_percent=[2.0]))
    assert split is not None and split.rivals == (2.0,)


def test_where_the_longer_interval_begins_on_odd_beats_the_other_side_ticks_first() -> None:
    split = split_of(heard(4.0, longer="odd"))
    assert split is not None and split.sides == ("other", "one", "other")


@pytest.mark.parametrize(("percent", "word"), [(2.0, "good"), (4.0, "acceptable"), (6.0, "more than the acceptable")])
def test_what_is_read_aloud_names_the_band(percent: float, word: str) -> None:
    spoken = root_of(drawn(heard(percent)))[1].text or ""
    assert word in spoken and f"{percent:.1f} %" in spoken


def test_a_customer_is_told_which_wait_is_longer_and_where_good_ends() -> None:
    words = texts_of(drawn(heard(12.8), CUSTOMER))
    assert words.index("longer wait") < words.index("shorter wait")
    assert "good" in words and "still fine" in words


def test_a_customer_with_an_even_clock_is_told_that_the_waits_are_the_same() -> None:
    assert texts_of(drawn(heard(2.0), CUSTOMER)).count("same wait") == 2


def test_an_uncertainty_too_small_to_be_seen_is_told() -> None:
    assert "narrower than the thick line" in texts_of(drawn(heard(1.0, unsure=0.01)))
    assert "Gray box" in texts_of(drawn(heard(1.0, unsure=0.5)))


def test_without_an_uncertainty_none_is_drawn() -> None:
    svg = swing_picture(Split(2.0, 4.0, None, (), ("one", "other", "one"), "unknown"), STAFF)
    assert named(svg, "unsure") == []
    assert "±" not in texts_of(svg)
