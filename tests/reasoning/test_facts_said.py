"""One line of an expert gives several findings: numbers by their bands, ids as they stand, words as they are said."""

from __future__ import annotations

import pytest

from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.facts_said import MOST_AT_ONCE, facts_in, is_list, lists_facts, pieces_of


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


def told(line: str, knowledge: Knowledge) -> set[str]:
    return {f"{item.finding}/{item.value}" for item in facts_in(line, knowledge)}


# The bands stand in the knowledge: beat error 3 and 5 %, rate 90 and 600 s/day, 8.6 and 25.7 s/day over a week.
@pytest.mark.parametrize(
    ("line", "fact"),
    [
        ("12 % out of beat", "tick-evenness/limping"),
        ("beat error 4 percent", "tick-evenness/slightly-uneven"),
        ("beat 2 %", "tick-evenness/even"),
        ("56:44", "tick-evenness/limping"),
        ("52.0 : 48.0", "tick-evenness/slightly-uneven"),
        ("loses 5 min a day", "rate/loses"),
        ("loses five minutes a day", "rate/loses"),
        ("-12 min/day", "rate/loses-much"),
        ("+200 s/day", "rate/gains"),
        ("12 minutes fast every day", "rate/gains-much"),
        ("half an hour a week slow", "rate/loses"),
        ("gains 2 min an hour", "rate/gains-much"),
        ("gains 2 to 3 min a week", "week-spread/few-minutes"),
        ("loses 8 minutes a week", "week-spread/more"),
        ("runs 2 min", "runs-for/minutes"),
        ("stops after twenty five mins", "runs-for/hours"),
        ("runs 3-4 min", "runs-for/minutes"),
        ("stops after 40 secs", "runs-for/seconds"),
        ("goes for 2 to 3 days", "runs-for/days"),
    ],
)
def test_a_number_with_its_unit_becomes_the_value_of_its_band(line: str, fact: str, knowledge: Knowledge) -> None:
    assert fact in told(line, knowledge)


@pytest.mark.parametrize("line", ["at 12:40", "it was 45 pounds", "ring me in 5 min", "20 % off"])
def test_numbers_of_something_else_become_nothing(line: str, knowledge: Knowledge) -> None:
    assert told(line, knowledge) == set()


LISTS = (
    (
        "spring kinked, runs 2 min, 12 % out of beat, loses 5 min a day, hood off, block 2.0 slot 2.1",
        {"runs-for/minutes", "tick-evenness/limping", "rate/loses", "leaf-shape/bowed-middle"},
    ),
    (
        "new suspension fitted, stops after two minutes, tick even, swing dies",
        {"part-fitted/suspension", "runs-for/minutes", "tick-evenness/even", "swing-course/shrinking"},
    ),
    (
        "top block rocks, double knock, runs 20 min",
        {"block-rocks/rocks", "knock/double", "runs-for/hours"},
    ),
    (
        "hands meet and it stops, tick even, swing good, pin ok",
        {"stop-pattern/every-65-min", "tick-evenness/even", "swing-size/wide", "pin-seen/through-all"},
    ),
    (
        "paper-in-fork=none, pallets ok; overswing/hardly-any",
        {"paper-in-fork/none", "pallets/smooth", "overswing/hardly-any"},
    ),
)  # fmt: skip


@pytest.mark.parametrize(("line", "facts"), LISTS)
def test_one_line_gives_all_its_facts(line: str, facts: set[str], knowledge: Knowledge) -> None:
    assert facts <= told(line, knowledge)


@pytest.mark.parametrize(("line", "facts"), LISTS)
def test_a_list_offers_hardly_more_than_was_written(line: str, facts: set[str], knowledge: Knowledge) -> None:
    assert len(told(line, knowledge)) <= len(pieces_of(line)) <= MOST_AT_ONCE


def test_what_is_open_is_no_finding(knowledge: Knowledge) -> None:
    assert told("hood off, dial off, on the bench", knowledge) == set()


def test_two_sizes_are_offered_with_their_chances_by_the_tool(knowledge: Knowledge) -> None:
    (plastic,) = facts_in("block 2.0 slot 2.1", knowledge)
    (steel,) = facts_in("block 2.00 mm, slot 2.40 mm by micrometer", knowledge)
    assert plastic.finding == steel.finding == "block-against-slot"
    # Design, section 1: with a plastic caliper it goes in with chance 0.87, so it is thicker with 0.13.
    assert dict(plastic.chances)["thicker"] == pytest.approx(0.13, abs=0.01)
    assert steel.value == "thinner" and dict(steel.chances)["thinner"] == pytest.approx(1)


def test_sizes_are_read_in_inches_and_thousandths(knowledge: Knowledge) -> None:
    (item,) = facts_in("block 79 thou, slot 0.055 in, micrometer", knowledge)
    assert (item.finding, item.value) == ("block-against-slot", "thicker")


@pytest.mark.parametrize(
    "line", ["block 0 slot 2", "block 2 slot 1/0", "paper-in-fork=purple", "nothing=none", "=", ",;,", ""]
)
def test_what_cannot_be_read_is_left_and_raises_nothing(line: str, knowledge: Knowledge) -> None:
    assert not {"block-against-slot", "paper-in-fork"} & {item.finding for item in facts_in(line, knowledge)}


def test_each_finding_is_offered_once(knowledge: Knowledge) -> None:
    found = facts_in("limps, tick uneven, 56:44, out of beat 12 %, gallops", knowledge)
    assert len({item.finding for item in found}) == len(found)


def test_a_story_is_no_list(knowledge: Knowledge) -> None:
    story = "We moved house in March and since then, I am sorry to say, it has never gone for more than five minutes."
    assert not lists_facts(story, knowledge)
    assert not is_list([], [])


def test_words_shown_are_those_that_were_said(knowledge: Knowledge) -> None:
    for item in facts_in("it limps and gives up after about twenty mins, poor thing, ever since we moved", knowledge):
        assert "#" not in item.words
