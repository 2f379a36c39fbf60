"""How numbers are shown, and that every word of reckoning stands in the knowledge and none is there for nothing."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import diagnose.reckoning
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reckoning.answers import field_words, seconds_text, unsure_text
from diagnose.reckoning.questions import GROUPS, QUESTIONS

KNOWLEDGE = read_knowledge(check=False)
STAFF = Wording(KNOWLEDGE)
PACKAGE = Path(diagnose.reckoning.__file__).parent


@pytest.mark.parametrize(
    ("unsure", "text"), [(0.039, "0.04"), (0.154, "0.16"), (26, "26"), (31, "40"), (0.5, "0.5"), (1, "1.0"), (0, "0")]
)
def test_an_uncertainty_is_rounded_up(unsure, text):
    assert unsure_text(unsure) == text


@pytest.mark.parametrize(("rate", "text"), [(-3.701, "3.70"), (43.46, "43.5"), (-1200, "1200")])
def test_a_rate_is_shown_as_finely_as_it_matters(rate, text):
    assert seconds_text(rate) == text


def test_every_question_group_and_field_has_its_words():
    for question in QUESTIONS.values():
        assert STAFF.say(f"reckon-ask-{question.name}").endswith("?")
        for field in question.fields:
            assert field_words(question, field, STAFF)
            for choice in field.choices:
                assert STAFF.say(f"reckon-choice-{choice}")
    for group in GROUPS:
        assert STAFF.say(f"reckon-group-{group}")


def test_no_phrase_of_reckoning_is_left_unused():
    package = PACKAGE.parent
    text = "".join(path.read_text(encoding="utf-8") for path in [*package.rglob("*.py"), *package.rglob("*.html")])
    pairs = [(name, field) for name, entry in QUESTIONS.items() for field in entry.fields]
    made = {f"reckon-field-{field.name}" for _, field in pairs} | {
        f"reckon-field-{q}-{field.name}" for q, field in pairs
    }
    made |= {f"reckon-choice-{choice}" for _, field in pairs for choice in field.choices}
    made |= {f"reckon-ask-{name}" for name in QUESTIONS} | {f"reckon-group-{group}" for group in GROUPS}
    made |= {f"reckon-trains-{how}" for how in ("none", "near", "found", "found-1")}
    made |= {f"reckon-moon-{way}" for way in ("right", "late", "early")}
    made |= {f"reckon-shim-{arm}" for arm in ("base", "fork", "hook")}
    made |= {f"reckon-side-{side}" for side in ("early", "late")}
    ours = [key for key in KNOWLEDGE.screen if key.startswith("reckon-")]
    unused = {key for key in ours if f'"{key}"' not in text and f"'{key}'" not in text}
    assert unused - made == set()


def literals(path):
    """Texts of a file that are no docstring and no part of an error, which is said where it is raised."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            left_out.add(id(node.value))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "").endswith("Error"):
            left_out.update(id(part) for part in ast.walk(node))
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left_out
    ]


# What is typed, and what the sentence of an error is put together from.
NO_SENTENCES = {
    "an hour", "per hour", "'3 min fast'", "at least", "at most", "It is ", "; write it like ",
    "' has no unit", "' is no unit for it",
}  # fmt: skip


@pytest.mark.parametrize("path", sorted(PACKAGE.glob("*.py")), ids=lambda path: path.name)
def test_the_code_of_reckoning_holds_no_sentence(path):
    found = [text for text in literals(path) if re.search(r"[A-Za-z]{2,} [A-Za-z]{2,}", text)]
    assert set(found) <= NO_SENTENCES
