"""No word that is printed stands in the code: all come from knowledge/words."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
import yaml

import diagnose.reports
from diagnose.reports.paper import TEMPLATES
from diagnose.settings import knowledge_folder
from tests.reports.built import knowledge

MODULES = sorted(Path(diagnose.reports.__file__).parent.glob("*.py"))
TEMPLATE_FILES = sorted(TEMPLATES.glob("*.html"))
# A sentence of an error (what, where, do) is told where the error is, as everywhere in the project.
ERROR_PARTS = {"do", "instead"}
FACES = {"Arial, 'Liberation Sans', Helvetica, sans-serif"}
MARKUP = re.compile(r"[<>]|[\w-]+=[\"{]|^[\"' ]*(fill|stroke|font-|height)|^/?[\w.]+/?$")


def printed_literals(path: Path) -> list[str]:
    """Return string constants that read like words: a space and letters, no markup, no pattern, no error."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = {id(part) for node in ast.walk(tree) for part in _left_out(node)}
    constants = (node for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str))
    return [
        node.value
        for node in constants
        if id(node) not in left_out and re.search(r"[A-Za-z]{2,}", node.value) and " " in node.value.strip()
        and not MARKUP.search(node.value) and node.value not in FACES
    ]  # fmt: skip


def _left_out(node: ast.AST) -> list[ast.AST]:
    """Return the parts of a docstring, an error, or a regular expression."""
    if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ast.get_docstring(node) is not None:
        return list(ast.walk(node.body[0]))
    if isinstance(node, ast.Assign) and any(isinstance(to, ast.Name) and to.id in ERROR_PARTS for to in node.targets):
        return list(ast.walk(node.value))
    if isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        module = getattr(getattr(node.func, "value", None), "id", "")
        if name.endswith("Error") or module == "re":
            return list(ast.walk(node))
    return []


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.stem)
def test_no_printed_word_stands_in_the_code(path: Path) -> None:
    assert printed_literals(path) == []


def test_the_check_finds_a_printed_word(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text('"""Doc string."""\n\n\ndef say() -> str:\n    """Say it."""\n    return "Likely causes"\n')
    assert printed_literals(bad) == ["Likely causes"]


@pytest.mark.parametrize("path", TEMPLATE_FILES, ids=lambda path: path.name)
def test_no_printed_word_stands_in_a_template(path: Path) -> None:
    text = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    between = re.sub(r"<[^>]*>", " ", text)
    assert re.findall(r"[A-Za-z]+", between) == []
    attributes = re.findall(r'(?:title|alt|aria-label|placeholder)="([^"]+)"', text)
    assert [value for value in attributes if re.search("[A-Za-z]", value)] == []


def test_every_word_asked_for_by_name_is_there() -> None:
    asked = set()
    for path in [*MODULES, *TEMPLATE_FILES]:
        asked |= set(re.findall(r"""say\(\s*["']([a-z-]+)["']""", path.read_text(encoding="utf-8")))
    assert asked
    assert asked - set(knowledge().screen) == set()


def test_every_finding_has_a_short_name_for_staff_and_customer() -> None:
    for name in knowledge().findings:
        entry = knowledge().screen.get(f"name-{name}")
        assert entry is not None, name
        assert entry.customer is not None, name


def test_no_key_of_the_report_is_left_unused() -> None:
    file = knowledge_folder() / "words" / "screen_report.yaml"
    keys = set(yaml.safe_load(file.read_text(encoding="utf-8"))["screen"])
    code = "".join(path.read_text(encoding="utf-8") for path in [*MODULES, *TEMPLATE_FILES])
    unused = {key for key in keys if f'"{key}"' not in code and not key.startswith("report-outcome-")}
    assert unused == set()


@pytest.mark.parametrize("word", ["consultation", "firing", "odds", "leak", "deciban"])
def test_words_a_customer_never_sees_stand_in_no_customer_phrase(word: str) -> None:
    file = knowledge_folder() / "words" / "screen_report.yaml"
    for key, entry in yaml.safe_load(file.read_text(encoding="utf-8"))["screen"].items():
        assert word not in entry.get("customer", "").lower(), key
