"""Checks of lengths as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.errors import InputError, UsageError
from diagnose.model.quantities import parse_length, show_length, show_thickness


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2.0 mm", 2.0),
        ("2,0 mm", 2.0),
        (" 2mm ", 2.0),
        (".5 mm", 0.5),
        ("1.2 cm", 12.0),
        ("0.079 in", 2.0066),
        ("5/64 in", 1.984375),
        ('5/64"', 1.984375),
        ("1 1/2 inches", 38.1),
        ("79 thou", 2.0066),
        ("4 thousandths", 0.1016),
        ("2 Millimeters", 2.0),
    ],
)
def test_lengths_are_read(text, mm):
    # the inch is 25.4 mm exactly (international inch, 1959)
    assert parse_length(text).mm == pytest.approx(mm)


@pytest.mark.parametrize(("text", "place"), [("2.0 mm", 0.1), ("2 mm", 1.0), ("5/64 in", 25.4 / 64)])
def test_the_last_place_is_kept(text, place):
    assert parse_length(text).last_place_mm == pytest.approx(place)


@pytest.mark.parametrize("text", ["2 mmm", "2 milimeter", "2 inchs"])
def test_an_unknown_unit_offers_near_names(text):
    with pytest.raises(UsageError, match="did you mean"):
        parse_length(text)


def test_an_angle_is_no_length():
    with pytest.raises(UsageError, match="'deg' in '2 deg' is no unit of length"):
        parse_length("2 deg")


def test_a_missing_unit_is_asked_for():
    with pytest.raises(UsageError, match=r"block: '2\.0' has no unit"):
        parse_length("2.0", "block")


@pytest.mark.parametrize(("text", "what"), [("two mm", "not a length"), ("", "not a length"), ("0 mm", "not above 0"),
                                            ("-2 mm", "not above 0"), ("5/0 in", "divides by 0")])  # fmt: skip
def test_what_is_no_size_is_refused(text, what):
    with pytest.raises(InputError, match=what):
        parse_length(text)


@given(st.floats(0.01, 999))
def test_shown_lengths_can_be_read_again(mm):
    shown = show_length(mm).partition(" (")[0]
    assert parse_length(shown).mm == pytest.approx(mm, abs=0.0051)


def test_both_units_are_shown():
    assert show_length(2.0) == "2.00 mm (0.079 in)"


def test_thickness_is_shown_in_thousandths_too():
    assert show_thickness(0.1) == "0.10 mm (3.9 thousandths of an inch)"
