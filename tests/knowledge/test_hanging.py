"""The knowledge about post, suspension spring, leader and hook: does it name the cause, and is it walked safely?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from diagnose.model.entries import RemedyEntry, Step, Words
from diagnose.model.observations import Answer, ClockFacts, Source
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.yaml_nodes import read_document
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base, compile_base
from diagnose.settings import knowledge_folder

TABLE: dict[str, Any] = read_document(Path(__file__).with_name("hanging_cases.yaml")).content
CASES: dict[str, Any] = TABLE["cases"]
PUBLISHED: dict[str, Any] = TABLE["published"]
TOLD_PLACES = {"told", "sound", "swing"}
MOST_ENTRIES, MOST_LINES = 20, 300
FILES = (
    ("findings", ("post", "post_bench", "spring", "leader")),
    ("causes", ("post_fit", "post_damage", "spring_choice", "spring_damage", "leader_hanging", "leader_crutch")),
    (
        "remedies",
        (
            "hanging",
            "hanging_bob",
            "spring",
            "spring_hold",
            "post",
            "pin",
            "post_bench",
            "leader",
            "leader_crutch",
        ),
    ),
    ("parts", ("suspension",)),
)
PATHS = [f"{folder}/{name}.yaml" for folder, names in FILES for name in names]
SIDE_NAMED = re.compile(r"\b(to the|your|its) (left|right)\b|\b(left|right) side\b(?! out)|left-hand|right-hand")
FORCE = re.compile(r"\b(bend|squeez\w*|pry|file|hammer|tap|screw|pliers|push the pin|pull the pin)\b")


@lru_cache(maxsize=1)
def knowledge() -> Knowledge:
    """The shipped knowledge; links between entries are checked where the reading is tested."""
    return read_knowledge(check=False)


@lru_cache(maxsize=3)
def base(family: str) -> Base:
    drive = "weight-cable" if family == "floor" else "spring"
    return compile_base(knowledge(), ClockFacts(family=family, drive=drive))


def ranked(answers: dict[str, str], family: str = "floor") -> Ranking:
    given = [Answer(finding, value, source=source_of(finding)) for finding, value in answers.items()]
    return rank(base(family), [Piece(findings_from(given, [], knowledge()))])


def source_of(finding: str) -> Source:
    return "told" if knowledge().findings[finding].place in TOLD_PLACES else "seen"


def order(answers: dict[str, str], family: str = "floor") -> list[str]:
    return [item.cause for item in ranked(answers, family).causes]


def here(collection: str) -> list[str]:
    """Ids of the entries of a collection that stand in the files of this topic."""
    names = {f"{knowledge_folder().name}/{path}" for path in PATHS}
    return [key for (kind, key), (file, _, _) in knowledge().positions.items() if kind == collection and file in names]


def remedies() -> list[tuple[str, RemedyEntry]]:
    return [(key, knowledge().remedies[key]) for key in here("remedies")]


def owner_steps() -> Iterator[tuple[str, Step]]:
    for key, entry in remedies():
        for number, step in enumerate(entry.steps, 1):
            if (step.who or entry.who) in {"owner", "owner-on-the-phone"}:
                yield f"{key}, step {number}", step


def texts_of(step: Step) -> list[Words]:
    found = [step.do, step.hold, step.right_when.text, step.stop_if.text if step.stop_if else None]
    return [text for text in (*found, *(way.text for way in step.not_so)) if text is not None]


def test_every_cause_of_this_topic_has_a_case() -> None:
    assert set(CASES) == set(here("causes"))


@pytest.mark.parametrize("cause", CASES)
def test_two_to_five_answers_put_the_cause_first(cause: str) -> None:
    answers = CASES[cause]["answers"]
    assert 2 <= len(answers) <= 5
    assert order(answers)[0] == cause


@pytest.mark.parametrize("cause", CASES)
def test_the_answers_of_its_look_alike_put_the_look_alike_first(cause: str) -> None:
    look_alike = CASES[cause]["look_alike"]
    assert order(look_alike["answers"])[0] == look_alike["cause"]


@pytest.mark.parametrize("cause", CASES)
def test_the_deciding_look_is_worth_more_than_six_decibans(cause: str) -> None:
    """Without its last answer, the one that decides, the odds of the cause fall to less than a quarter."""
    answers = dict(CASES[cause]["answers"])
    with_it = chance(cause, answers)
    answers.popitem()
    without = chance(cause, answers)
    assert with_it / (1 - with_it) > 4 * without / (1 - without)


def chance(cause: str, answers: dict[str, str]) -> float:
    return next(item.probability for item in ranked(answers).causes if item.cause == cause)


@pytest.mark.parametrize("cause", PUBLISHED)
def test_a_published_fault_is_among_the_first_three_with_its_remedy(cause: str) -> None:
    """The source and what it says stand beside each row of the table."""
    row = PUBLISHED[cause]
    assert cause in order(row["answers"], row["family"])[:3]
    assert row["remedy"] in knowledge().causes[cause].remedies


@pytest.mark.parametrize("cause", CASES)
def test_a_finding_tells_it_from_each_cause_it_is_mistaken_for(cause: str) -> None:
    for other in knowledge().causes[cause].mistaken_for:
        assert telling(cause) ^ telling(other.cause), f"{cause} and {other.cause}"


def telling(cause: str) -> set[tuple[str, str]]:
    """Findings a cause shows at least three times in four, and the circumstances that clearly raise it."""
    entry = knowledge().causes[cause]
    shown = {(link.finding, link.value) for link in entry.shows if link.often in {"certain", "probable", "expected"}}
    raised = {
        (finding, value)
        for finding, factors in entry.raised_by.items()
        for value, factor in factors.items()
        if factor in {"much", "clearly"}
    }
    return shown | raised


@pytest.mark.parametrize("path", PATHS)
def test_a_file_stays_short(path: str) -> None:
    text = (knowledge_folder() / path).read_text(encoding="utf-8")
    entries = re.findall(r"^ {2}[a-z][a-z-]*:$", text, re.MULTILINE)
    assert len(text.splitlines()) <= MOST_LINES
    assert len(entries) <= MOST_ENTRIES


def test_every_step_an_owner_may_do_says_when_to_stop_and_speaks_to_the_owner() -> None:
    for where, step in owner_steps():
        assert step.stop_if is not None, where
        missing = [text.staff for text in texts_of(step) if text.customer is None]
        assert not missing, f"{where}: {missing}"


def test_no_step_asks_an_owner_for_force_or_a_tool() -> None:
    for where, step in owner_steps():
        for words in (step.do, step.hold):
            found = FORCE.search((words.customer or "").lower()) if words else None
            assert found is None, f"{where}: {found}"


def test_no_owner_step_pushes_the_leader_up() -> None:
    lifted = [where for where, step in owner_steps() if "flat rod up" in (step.do.customer or "").lower()]
    assert not lifted


def test_a_step_that_cannot_be_undone_is_left_to_trained_hands() -> None:
    for key, entry in remedies():
        for step in entry.steps:
            if step.cannot_be_undone:
                assert (step.who or entry.who) in {"technician", "workshop"}, key


def test_weights_come_off_before_the_bob_wherever_the_spring_is_taken_out() -> None:
    for key, entry in remedies():
        acts = [step.do.staff for step in entry.steps]
        out = [number for number, act in enumerate(acts) if act.startswith(("Pin out", "Old pin out"))]
        for number in out:
            weights = acts.index(next(act for act in acts if act.startswith("Weights off")))
            bob = acts.index(next(act for act in acts if act.startswith("Take the bob off")))
            assert weights < bob < number, key


def test_the_beat_is_set_after_everything_hangs() -> None:
    for key, entry in remedies():
        acts = [step.act for step in entry.steps]
        if "set-the-beat" in acts:
            later = entry.steps[acts.index("set-the-beat") + 1 :]
            assert all(step.act == "set-the-time" for step in later), key


def test_left_and_right_are_said_from_a_named_place() -> None:
    for key, entry in remedies():
        for step in entry.steps:
            said = " ".join(text.staff + " " + (text.customer or "") for text in texts_of(step))
            if SIDE_NAMED.search(said):
                assert step.viewed_from is not None, f"{key}: {said}"


def test_customer_text_of_each_remedy_is_easy_to_read() -> None:
    for key, entry in remedies():
        said = [text.customer for step in entry.steps for text in texts_of(step) if text.customer]
        if said:
            assert reading_grade(" ".join(said)) <= 6.0, key


def test_each_question_to_a_customer_is_easy_to_read() -> None:
    for key in here("findings"):
        asked = knowledge().findings[key].question.customer
        assert asked is not None and reading_grade(asked) <= 6.0, key


def reading_grade(text: str) -> float:
    """Return the reading grade: 0.39 words per sentence + 11.8 syllables per word - 15.59 (Kincaid, 1975)."""
    sentences = max(1, len(re.findall(r"[.!?](?:\s|$)", text)))
    words = re.findall(r"[A-Za-z']+", text)
    syllables = sum(max(1, len(re.findall(r"[aeiouy]+", re.sub(r"e$", "", word.lower())))) for word in words)
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59
