"""Checks of the fit of block and slot."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import UsageError
from diagnose.mechanics.fit import fit
from diagnose.mechanics.measuring import TOOLS, chance_text, true_sizes
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.summary import fit_lines


def chance_by_triangle(play, half_width):
    """Chance that slot less block is above 0, both with the same rectangular error: a triangle's tail."""
    return 1 - max(0.0, 2 * half_width - play) ** 2 / (8 * half_width**2)


@pytest.mark.parametrize(("tool", "exact", "shown"), [("ruler", 0.595, "0.59"), ("plastic-caliper", 0.875, "0.87")])
def test_block_of_two_in_a_slot_of_two_point_one(tool, exact, shown):
    # the worked example of the project: rectangular errors (JCGM 100:2008, 4.3.7), shown rounded down
    answer = fit(2.0, 2.1, tool, tool)
    assert chance_by_triangle(0.1, TOOLS[tool].half_width_mm) == pytest.approx(exact)
    assert answer.goes_in == pytest.approx(exact, abs=2e-4)
    assert chance_text(answer.goes_in) == shown
    assert answer.answer == "cannot-tell"


@given(st.floats(1, 4), st.floats(-0.3, 0.5), st.sampled_from(sorted(TOOLS)))
def test_chance_is_the_tail_of_a_triangle(block, play, tool):
    half = TOOLS[tool].half_width_mm
    answer = fit(block, block + play, tool, tool)
    if play >= 0:
        assert answer.goes_in == pytest.approx(chance_by_triangle(play, half), abs=2e-3)
    else:
        assert answer.goes_in == pytest.approx(1 - chance_by_triangle(-play, half), abs=2e-3)


@given(st.floats(0.5, 4), st.floats(0.5, 4), st.sampled_from(sorted(TOOLS)), st.sampled_from(sorted(TOOLS)))
def test_chances_add_up_to_one(block, slot, block_tool, slot_tool):
    answer = fit(block, slot, block_tool, slot_tool)
    assert sum(answer.chances.values()) == pytest.approx(1)
    assert answer.goes_in == pytest.approx(1 - answer.chances["only-after-opening"])


@pytest.mark.parametrize(
    ("slot", "expected"),
    [(2.015, "goes-in-close"), (2.06, "goes-in-free"), (1.95, "only-after-opening"), (2.15, "will-rock")],
)
def test_good_tools_give_an_answer(slot, expected):
    assert fit(2.0, slot, "micrometer", "micrometer").answer == expected


def test_doubt_about_rocking_alone_is_said():
    answer = fit(2.0, 2.1, "micrometer", "micrometer")
    assert answer.answer == "cannot-tell"
    assert answer.goes_in > 0.99


def test_a_narrow_mouth_keeps_the_block_out_and_is_called_pinched():
    answer = fit(2.0, 2.05, "micrometer", "feeler-strips", slot_mouth_mm=1.95, slot_root_mm=2.06)
    assert answer.answer == "only-after-opening"
    assert answer.taper == "pinched"


def test_a_wide_mouth_is_called_spread():
    assert fit(2.0, 2.04, "micrometer", "feeler-strips", 2.2, 2.02).taper == "spread"


def test_a_wide_mouth_and_root_rock_by_their_mean():
    assert fit(2.0, 2.10, "micrometer", "micrometer", 2.20, 2.10).answer == "will-rock"


def test_the_coarser_tool_is_to_be_replaced_first():
    assert fit(2.0, 2.1, "micrometer", "ruler").settle == "feeler-strips"
    assert fit(2.0, 2.1, "ruler", "feeler-strips").settle == "micrometer"


def test_every_answer_says_never_to_pinch_or_pry():
    for slot in (1.9, 2.0, 2.05, 2.3):
        answer = fit(2.0, slot, "micrometer", "micrometer")
        caution = " ".join(fit_lines(answer, Wording(read_knowledge())))
        assert "Never pinch" in caution
        assert "never pry" in caution


def test_an_unknown_tool_is_refused_with_near_names():
    with pytest.raises(UsageError, match="did you mean micrometer"):
        fit(2.0, 2.1, "micrometre", "ruler")


def test_a_size_of_nothing_is_refused():
    with pytest.raises(UsageError, match="more than 0 mm"):
        fit(0.0, 2.1, "ruler", "ruler")


def test_a_chance_is_never_rounded_up_and_never_certain():
    assert (chance_text(0.875), chance_text(0.5999), chance_text(1.0), chance_text(0.0)) == (
        "0.87", "0.59", "0.99", "0.00",
    )  # fmt: skip


def test_true_sizes_stay_within_the_half_width_and_are_evenly_spread():
    sizes = true_sizes([2.0, 3.0], [TOOLS["ruler"], TOOLS["micrometer"]])
    assert abs(sizes - [2.0, 3.0]).max(axis=0) == pytest.approx([0.5, 0.005], rel=1e-3)
    assert sizes.mean(axis=0) == pytest.approx([2.0, 3.0], abs=1e-4)
