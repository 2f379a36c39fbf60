"""Checks of small sizes in things at hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.mechanics import in_hand


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (0.1, "one business card"),
        (0.7, "one bank card"),
        (1.5, "two bank cards"),
        (1.4, "one bank card and two business cards"),
    ],
)
def test_packing_in_cards(mm, text):
    # a bank card is 0.76 mm (ISO/IEC 7810 ID-1); a business card 0.3 mm is common practice
    assert in_hand.packing(mm).text == text


@given(st.floats(0.3, 4.5))
def test_packing_is_near_what_was_wanted(mm):
    assert in_hand.packing(mm).mm == pytest.approx(mm, abs=0.16)


@pytest.mark.parametrize(
    ("turns", "text"),
    [(0.01, "an eighth of a turn"), (0.5, "half a turn"), (0.76, "three quarters of a turn"), (1, "one turn"),
     (1.5, "one and a half turns"), (2.25, "two and a quarter turns")],
)  # fmt: skip
def test_turns_of_a_screw(turns, text):
    assert in_hand.screw(turns * 0.5, 0.5).text == text


@given(st.floats(0.1, 10))
def test_a_turn_is_told_as_far_as_it_is(mm):
    assert in_hand.screw(mm, 0.5).mm == pytest.approx(mm, abs=0.5 / 16 + 1e-4)


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (0.05, "a hair"),
        (0.75, "about the thickness of a bank card"),
        (2.0, "about the thickness of a nickel"),
        (7.0, "about the width of a pencil"),
        (30.0, ""),
    ],
)
def test_lengths_in_things(mm, text):
    # dime 1.35 mm, nickel 1.95 mm (United States Mint)
    assert in_hand.hand_size(mm, 0.05).text == text
