"""The averaged beats: both on one rule from the drop, on one scale, with what competes and the noise."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.model.wording import Wording
from diagnose.reports.tick_picture import HIGH, PROFILE, RULE, span_of, tick_picture, x_of
from tests.reports.built import SVG, knowledge, texts_of
from tests.reports.drawn import lines_of, named, path_points, root_of, value, words_at
from tests.reports.heard import tick

STAFF = Wording(knowledge())
UPPER, LOWER = HIGH + PROFILE, HIGH + PROFILE + RULE


def drawn(*ticks: dict[str, Any], **more: Any) -> str:
    svg = tick_picture({"mean_ticks": list(ticks), **more}, STAFF)
    assert svg is not None
    return svg


def hills(svg: str) -> list[list[tuple[float, float]]]:
    """Points of the profiles, which are filled and closed."""
    return [
        list(path_points(item.get("d", "").rstrip("Z")))
        for item in root_of(svg).iter(f"{SVG}path")
        if item.get("fill") != "none"
    ]


def test_the_sides_are_drawn_away_from_the_rule_to_the_same_scale() -> None:
    upper, lower = hills(drawn(tick("even", 1.0), tick("odd", 0.5)))
    assert UPPER - min(y for _, y in upper) == pytest.approx(PROFILE, rel=0.05)
    assert max(y for _, y in lower) - LOWER == pytest.approx(PROFILE / 2, rel=0.05)


def test_the_drop_of_both_sides_stands_at_nought_one_over_the_other() -> None:
    ticks = (tick("even", 1.0), tick("odd", 1.0) | {"instant_ms": 2.5})
    svg = drawn(*ticks)
    nought = x_of(0.0, span_of(ticks))
    assert [x for x, _, _, _, width in lines_of(svg) if width > 2] == [pytest.approx(nought, abs=0.01)] * 2
    assert [x for words, x, y in words_at(svg) if words == "0"] == [pytest.approx(nought, abs=0.1)]


def test_the_peak_stands_as_long_after_the_drop_as_it_sounds() -> None:
    ticks = (tick("even", 1.0, peak_ms=6.0),)
    (hill,) = hills(drawn(*ticks))
    peak = min(hill, key=lambda point: point[1])
    # The first value at the peak is half a step after it, and the drop half a millisecond after the template's zero.
    assert peak[0] == pytest.approx(x_of(6.0, span_of(ticks)), abs=2 * x_of(0.25, (0.0, 40.0)))


def test_rivals_are_broken_lines_with_how_long_after_the_drop() -> None:
    ticks = (tick("even", 1.0), tick("odd", 1.0, rivals_ms=(14.0, -5.0)))
    svg = drawn(*ticks)
    broken = [x1 for x1, y1, x2, y2, _ in lines_of(svg, dashed=True) if x1 == x2]
    assert broken == pytest.approx([x_of(14.0, span_of(ticks)), x_of(-5.0, span_of(ticks))], abs=0.01)
    assert "+14.0 ms?" in texts_of(svg) and "−5.0 ms?" in texts_of(svg)
    assert "might be the drop" in texts_of(svg)


def test_a_far_rival_widens_the_rule() -> None:
    assert span_of([tick("odd", 1.0, rivals_ms=(70.0,))])[1] > 70.0


def test_without_rivals_none_are_spoken_of() -> None:
    assert "might be the drop" not in texts_of(drawn(tick("even", 1.0)))


def test_the_noise_is_drawn_to_scale_and_told() -> None:
    svg = drawn(tick("even", 1.0) | {"noise_level": 0.2}, tick("odd", 1.0) | {"noise_level": 0.1})
    level = [y1 for _, y1, _, y2, _ in lines_of(svg, dashed=True) if y1 == y2]
    assert level == pytest.approx([UPPER - 0.2 * PROFILE, LOWER + 0.1 * PROFILE], abs=0.01)
    assert "20.0 %" in texts_of(svg)


def test_left_and_right_are_named_where_they_are_known() -> None:
    svg = drawn(tick("even", 1.0), tick("odd", 1.0), early_side="right", longer="even")
    heights = {words: y for words, _, y in words_at(svg)}
    assert heights["right"] < UPPER < LOWER < heights["left"]


def test_the_rule_has_a_cut_for_every_millisecond() -> None:
    ticks = (tick("even", 1.0),)
    (rule,) = named(drawn(*ticks), "rule")
    assert value(rule, "height") == RULE
    cuts = {round(x1, 2) for x1, y1, x2, _, _ in lines_of(drawn(*ticks)) if x1 == x2 and y1 == UPPER}
    first, last = span_of(ticks)
    assert len(cuts - {round(x_of(0.0, (first, last)), 2)}) == int(last) - int(first)


def test_one_side_alone_is_said_to_be_alone() -> None:
    assert "Only one tick" in texts_of(drawn(tick("even", 1.0)))
    assert "Only one tick" not in texts_of(drawn(tick("even", 1.0), tick("odd", 1.0)))


def test_what_is_read_aloud_compares_the_sides() -> None:
    assert "50 %" in (root_of(drawn(tick("even", 1.0), tick("odd", 0.5)))[1].text or "")
