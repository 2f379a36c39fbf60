"""A part in hand against a stock list."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.mechanics.fit import fit
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.part_match import Size, StockItem, chance_below, compare, match_part, tolerance_of
from diagnose.model.lists import Dimension, PartEntry


def dimension(key, alike=None, share=None, **more):
    return Dimension(
        name=key, unit="mm", measure_with="caliper", key=key, alike=alike, alike_share=share, because="so", **more
    )


LEAF = PartEntry(
    title={"staff": "leaf"},
    acts_as="suspension-spring",
    sources=("practice",),
    dimensions=(
        dimension("thickness", share=0.1, acts="thickness"),
        dimension("width", share=0.1, acts="width"),
        dimension("free-length", alike=1.0, acts="free-length"),
    ),
)


def item(name, thickness, width, length, half=0.005):
    sizes = {"thickness": thickness, "width": width, "free-length": length}
    return StockItem(name, {key: Size(value, half) for key, value in sizes.items() if value is not None})


def by(tool, **sizes):
    half = TOOLS[tool].half_width_mm
    return {key.replace("_", "-"): Size(value, half, tool) for key, value in sizes.items()}


def test_a_difference_of_two_readings_has_the_chance_that_the_fit_is_told_with():
    # design.md section 1: block 2.0 and slot 2.1 mm go in with chance 0.59 by ruler and 0.87 by plastic caliper.
    assert math.floor(100 * (1 - chance_below(0, 0.1, 0.5, 0.5))) == 59
    assert math.floor(100 * (1 - chance_below(0, 0.1, 0.1, 0.1))) == 87
    assert fit(2.0, 2.1, "ruler", "ruler").goes_in == pytest.approx(1 - chance_below(0, 0.1, 0.5, 0.5), abs=1e-3)


@settings(max_examples=40, deadline=None)
@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(0.01, 0.5), st.floats(0.01, 0.5))
def test_the_chance_in_closed_form_is_that_of_many_tries(limit, difference, one, other):
    grid = (np.arange(400) + 0.5) / 200 - 1
    tries = difference + one * grid[:, None] + other * grid[None, :]
    assert chance_below(limit, difference, one, other) == pytest.approx(float((tries < limit).mean()), abs=0.006)


def test_the_chances_of_a_difference_add_up_and_swap_with_the_sides():
    one = compare(LEAF.dimensions[2], Size(25, 0.5), Size(26.2, 0.25))
    other = compare(LEAF.dimensions[2], Size(25, 0.5), Size(23.8, 0.25))
    assert one.same + one.above + one.below == pytest.approx(1)
    assert (one.above, one.below) == pytest.approx((other.below, other.above))


def test_without_any_error_a_difference_of_just_the_tolerance_is_alike():
    assert compare(LEAF.dimensions[2], Size(25, 0), Size(26, 0)).same == 1
    assert compare(LEAF.dimensions[2], Size(25, 0), Size(26.01, 0)).above == 1


def test_where_an_entry_says_no_tolerance_one_in_twenty_is_taken():
    assert tolerance_of(dimension("bare"), 40.0) == pytest.approx(2.0)


def test_fine_tools_find_the_one_that_is_the_same():
    stock = [item("B 12", 0.12, 10, 25), item("B 10", 0.10, 10, 25), item("B 15", 0.15, 12, 25)]
    measured = by("micrometer", thickness=0.10, width=10.0, free_length=25.0)
    found = match_part(LEAF, measured, stock)
    assert found.answer == "found"
    assert [each.item.name for each in found.candidates if each.verdict == "same"] == ["B 10"]
    assert found.next is None


def test_a_coarse_tool_cannot_tell_and_names_the_thickness_and_the_micrometer():
    stock = [item("B 12", 0.12, 10, 25), item("B 10", 0.10, 10, 25)]
    found = match_part(LEAF, by("plastic-caliper", thickness=0.1, width=10.0, free_length=25.0), stock)
    assert found.answer == "cannot-tell"
    assert (found.next.kind, found.next.key, found.next.tool) == ("measure", "thickness", "micrometer")
    assert found.next.leaves == 1


def test_what_was_not_measured_is_asked_for_where_it_tells_the_candidates_apart():
    stock = [item("short", 0.10, 10, 25), item("long", 0.10, 10, 32)]
    found = match_part(LEAF, by("micrometer", thickness=0.10), stock)
    assert (found.next.kind, found.next.key, found.next.tool) == ("measure", "free-length", "ruler")


def test_a_size_the_list_does_not_say_is_measured_on_the_part_in_stock():
    measured = by("micrometer", thickness=0.10, width=10.0, free_length=25.0)
    found = match_part(LEAF, measured, [item("bare", 0.10, 10, None)])
    assert found.answer == "cannot-tell"
    assert (found.next.kind, found.next.key) == ("measure-stock", "free-length")


def test_a_size_printed_too_coarsely_is_measured_on_the_part_in_stock():
    stock = [StockItem("round", {"thickness": Size(0.1, 0.05), "width": Size(10, 0.05), "free-length": Size(25, 0.5)})]
    found = match_part(LEAF, by("micrometer", thickness=0.10, width=10.0, free_length=25.0), stock)
    assert (found.next.kind, found.next.key, found.next.tool) == ("measure-stock-finer", "thickness", "micrometer")


def test_where_neither_side_has_a_size_the_part_is_posted():
    measured = by("micrometer", thickness=0.10, width=10.0)
    assert match_part(LEAF, measured, [item("bare", 0.10, 10, None)]).next.kind == "post"


def test_one_settled_difference_is_enough_to_make_it_another_part():
    stock = [item("long", 0.10, 10, 32)]
    found = match_part(LEAF, by("micrometer", free_length=25.0), stock)
    assert found.answer == "none"
    (difference,) = found.candidates[0].differences
    assert (difference.standing, difference.by, difference.tolerance) == ("above", 7, 1.0)


def test_a_size_that_does_not_decide_need_not_be_known():
    part = LEAF.model_copy(
        update={"dimensions": (*LEAF.dimensions, dimension("hole-height", alike=0.2, decides=False))}
    )
    measured = by("micrometer", thickness=0.10, width=10.0, free_length=25.0)
    assert match_part(part, measured, [item("B 10", 0.10, 10, 25)]).answer == "found"


def test_candidates_stand_in_the_order_of_their_standing():
    stock = [item("differs", 0.20, 10, 25), item("open", 0.10, 10, None), item("same", 0.10, 10, 25)]
    found = match_part(LEAF, by("micrometer", thickness=0.10, width=10.0, free_length=25.0), stock)
    assert [each.item.name for each in found.candidates] == ["same", "open", "differs"]


def test_an_empty_list_has_nothing_to_tell():
    found = match_part(LEAF, by("micrometer", thickness=0.10), [])
    assert (found.answer, found.candidates, found.next) == ("none", (), None)
