"""A complaint in somebody's own words finds fitting findings, and other talk finds none."""

from __future__ import annotations

import gc
import re
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.complaint import suggest
from diagnose.reasoning.said_words import stem_of, words_of

HERE = Path(__file__).parent
FIRST = 3
MOST_WORDS, MOST_MS = 40, 60.0
MOST_SCORE = 200.0
LONGEST, MOST_SECONDS = 10_000, 1.5


def _rows(file: str, start: int = 0, step: int = 1) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = yaml.safe_load((HERE / file).read_text(encoding="utf-8"))
    return rows[start::step]


# Name, rows, least share with the right finding among the first three, least share of silence where nothing is meant,
# most wrong suggestions a sentence (up to three are offered, to be confirmed or not). The weights of the two ways of
# reading were chosen on these rows, so they flatter. Of 300 sentences written by somebody who had seen none of the
# sayings, never met before and never tuned on: the right value among the first three in 75 %, the right finding in
# 81 %; 79 % of 80 sentences that mean nothing found nothing. By phrases alone it had been 65, 70 and 85 %.
SETS = (
    ("first", _rows("complaints.yaml"), 0.94, 0.79, 0.45),
    ("second, developed on", _rows("complaints_2.yaml", 0, 2), 0.97, 0.88, 0.90),
    ("second, held out", _rows("complaints_2.yaml", 1, 2), 0.94, 0.86, 0.90),
    ("third", _rows("complaints_3.yaml"), 0.88, 0.80, 0.95),
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


def _offered(said: str, knowledge: Knowledge) -> list[str]:
    return [f"{item.finding}/{item.value}" for item in suggest(said, knowledge)]


@pytest.mark.parametrize(("rows", "least"), [pytest.param(row[1], row[2], id=row[0]) for row in SETS])
def test_the_right_finding_is_among_the_first_three(
    rows: list[dict[str, Any]], least: float, knowledge: Knowledge
) -> None:
    meant = [row for row in rows if row["means"]]
    missed = [row["said"] for row in meant if not set(_offered(row["said"], knowledge)[:FIRST]) & set(row["means"])]
    assert len(missed) <= (1 - least) * len(meant), missed


@pytest.mark.parametrize(("rows", "least"), [pytest.param(row[1], row[3], id=row[0]) for row in SETS])
def test_a_sentence_that_means_nothing_finds_nothing(
    rows: list[dict[str, Any]], least: float, knowledge: Knowledge
) -> None:
    idle = [row["said"] for row in rows if not row["means"]]
    found = [said for said in idle if _offered(said, knowledge)]
    assert len(found) <= (1 - least) * len(idle), found


@pytest.mark.parametrize(("rows", "most"), [pytest.param(row[1], row[4], id=row[0]) for row in SETS])
def test_wrong_suggestions_are_few(rows: list[dict[str, Any]], most: float, knowledge: Knowledge) -> None:
    meant = [row for row in rows if row["means"]]
    wrong = sum(len(set(_offered(row["said"], knowledge)) - set(row["means"])) for row in meant)
    assert wrong <= most * len(meant)


# Six stories, each with two facts in it. How people tell it: common practice, no source.
STORIES = (
    (
        "Good evening. My late aunt left me her clock and we moved it to the hall last week. "
        "It ticks unevenly and it stops after five minutes.",
        {"moved-lately/yes", "tick-evenness/limping", "runs-for/minutes"},
    ),
    (
        "I hope you can help us. The suspension spring was changed in March. Now the pendulum wobbles in and out.",
        {"part-fitted/suspension", "bob-path/in-and-out"},
    ),
    (
        "We were away for two weeks and nobody wound it. Since then the strike is silent.",
        {"wound/run-down", "strike-count/none"},
    ),
    (
        "It has gone well for thirty years. Lately it loses ten minutes a day, and there is a squeak with every swing.",
        {"rate/loses", "squeak/squeak"},
    ),
    (
        "The cleaner knocked it with the hoover. After that the pendulum has been hitting the side of the case.",
        {"knocked-lately/yes", "bob-clear/hits-side"},
    ),
    (
        "My neighbor says it only wants oil, so he sprayed some oil into it. It runs half an hour, "
        "the swing gets smaller and smaller, and that is it.",
        {"household-oil/yes", "runs-for/hours", "swing-course/shrinking"},
    ),
)


@pytest.mark.parametrize(("story", "facts"), STORIES)
def test_a_story_gives_up_at_least_two_of_its_facts(story: str, facts: set[str], knowledge: Knowledge) -> None:
    assert len(facts & set(_offered(story, knowledge))) >= 2


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("it stops after twenty secs", "seconds"),
        ("it stops after 5 min", "minutes"),
        ("it runs for a quarter of an hour", "hours"),
        ("it goes for three quarters of an hour", "hours"),
        ("it stops after two or three hours", "hours"),
        ("it runs 3 days and stops", "days"),
        ("it runs for a day and then stops", "about-a-day"),
    ],
)
def test_a_duration_is_read_as_how_long_it_runs(said: str, value: str, knowledge: Knowledge) -> None:
    assert f"runs-for/{value}" in _offered(said, knowledge)


# The bands of `rate` in the knowledge: 90 and 600 seconds a day.
@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("it loses five minutes a day", "loses"),
        ("it is losing 20 minutes a day", "loses-much"),
        ("it gains half an hour a week", "gains"),
        ("it gains an hour a day", "gains-much"),
        ("it is ten minutes slow every day", "loses"),
        ("it loses two minutes an hour", "loses-much"),
    ],
)
def test_a_rate_is_read_by_its_number(said: str, value: str, knowledge: Knowledge) -> None:
    assert _offered(said, knowledge)[:1] == [f"rate/{value}"]


@pytest.mark.parametrize(
    ("said", "finding", "other"),
    [
        ("the post is cracked", "post-state/crack", "leaf-cracked/cracked"),
        ("the strip is cracked", "leaf-cracked/cracked", "post-state/crack"),
        ("the case rocks", "case-steady/rocks", "block-rocks/rocks"),
        ("the strike has stopped", "strike-count/none", "runs-for/dead"),
        ("the hand touches the glass", "hands-clear/glass", "bob-clear/hits-side"),
    ],
)
def test_what_is_said_of_one_part_is_not_taken_for_another(
    said: str, finding: str, other: str, knowledge: Knowledge
) -> None:
    offered = _offered(said, knowledge)
    assert finding in offered and other not in offered


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("the pendulum hits the side of the case", "the pendelum hitts the side of the cace"),
        ("there is a squeak when it swings", "theres a sqeak when it swings"),
        ("we had a new carpet", "we had a new carpit"),
        ("the suspension spring was changed", "the suspenson spring was changed"),
    ],
)
def test_a_misspelled_sentence_means_the_same(right: str, wrong: str, knowledge: Knowledge) -> None:
    assert _offered(wrong, knowledge)[:1] == _offered(right, knowledge)[:1] != []


@pytest.mark.parametrize(
    ("said", "not_meant"),
    [
        ("it does not limp", "tick-evenness/limping"),
        ("it does not squeak", "squeak/squeak"),
        ("it was not knocked", "knocked-lately/yes"),
        ("nobody oiled it", "household-oil/yes"),
    ],
)
def test_what_is_denied_is_not_offered(said: str, not_meant: str, knowledge: Knowledge) -> None:
    assert not_meant not in _offered(said, knowledge)


def test_a_silent_clock_is_not_asked_whether_its_tick_limps(knowledge: Knowledge) -> None:
    offered = _offered("there is no tick at all when it swings, it limps along", knowledge)
    assert "tick/silent" in offered
    assert not [item for item in offered if item.startswith("tick-evenness")]


def test_a_finding_that_the_clock_cannot_have_is_not_offered(knowledge: Knowledge) -> None:
    said = "the cable has crossed over itself on the drum"
    assert suggest(said, knowledge, ClockFacts(drive="weight-cable"))[0].finding == "cable-lay"
    assert "cable-lay" not in {item.finding for item in suggest(said, knowledge, ClockFacts(drive="spring"))}


@pytest.mark.parametrize("said", ["", "   ", "\n", "...", "🕰️🙂", "12 34", "?!", "a", "не идут часы"])
def test_nothing_readable_means_nothing(said: str, knowledge: Knowledge) -> None:
    assert suggest(said, knowledge) == ()


@settings(max_examples=150, deadline=None)
@given(said=st.text(max_size=200))
def test_no_text_raises_and_each_finding_is_offered_once(said: str) -> None:
    knowledge = read_knowledge(check=False)
    found = suggest(said, knowledge)
    assert len({item.finding for item in found}) == len(found) <= 4
    assert all(item.value in knowledge.findings[item.finding].values and 0 < item.score <= MOST_SCORE for item in found)


WORDS = st.sampled_from(
    re.findall(
        "[a-z0-9]+",
        "the clock stops a quarter of an hour past 5 min ten to one not tick tock half two days every week no",
    )
)


@settings(max_examples=150, deadline=None)
@given(words=st.lists(WORDS, max_size=30))
def test_numbers_and_times_in_any_order_raise_nothing(words: list[str]) -> None:
    suggest(" ".join(words), read_knowledge(check=False))


def test_scores_fall(knowledge: Knowledge) -> None:
    scores = [item.score for item in suggest(STORIES[0][0], knowledge)]
    assert scores == sorted(scores, reverse=True) and scores


def test_a_sentence_of_forty_words_is_read_at_once(knowledge: Knowledge) -> None:
    words = (STORIES[0][0] + " " + STORIES[5][0]).split()[:MOST_WORDS]
    suggest("it stops", knowledge)
    taken_ms = []
    # The quickest of three, in time of this process alone: what other tests have left to tidy is not counted.
    gc.disable()
    try:
        for first in range(3):
            begun = process_time()
            suggest(" ".join(words[first:] + words[:first]), knowledge)
            taken_ms.append((process_time() - begun) * 1000)
    finally:
        gc.enable()
    assert min(taken_ms) < MOST_MS


@pytest.mark.parametrize(
    "text", ["the pendulum stops and the old weight rattles ", "x", "stop. ", "qwertyuiop zxcvbn "]
)
def test_a_very_long_text_is_read_in_a_moment(text: str, knowledge: Knowledge) -> None:
    suggest("it stops", knowledge)
    begun = perf_counter()
    suggest((text * LONGEST)[:LONGEST], knowledge)
    assert perf_counter() - begun < MOST_SECONDS


def test_no_word_stands_in_two_classes(knowledge: Knowledge) -> None:
    where: dict[tuple[str, ...], str] = {}
    twice = []
    for name, entry in knowledge.synonyms.items():
        for text in entry.said:
            stems = tuple(stem_of(word) for word in words_of(text))
            if where.setdefault(stems, name) != name:
                twice.append((text, where[stems], name))
    assert twice == []


def test_each_class_counts_as_classes_that_there_are(knowledge: Knowledge) -> None:
    assert {other for entry in knowledge.synonyms.values() for other in entry.also} <= set(knowledge.synonyms)
