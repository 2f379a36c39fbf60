"""No word stands in a template, a script or the code of the page: every one comes from the knowledge."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from diagnose.model.reading import read_knowledge
from diagnose.web.desk import HERE

KNOWLEDGE = read_knowledge(check=False)
TEMPLATES = sorted((HERE / "templates").rglob("*.html"))
CODE = sorted(HERE.glob("*.py"))
SPOKEN_ATTRIBUTES = {"alt", "title", "placeholder", "aria-label", "aria-description"}
PLACEHOLDER = "\N{MIDDLE DOT}"
CALLS = re.compile(r"""say\(\s*(['"])(?P<key>[a-z0-9-]+)\1\s*[,)]""")
BEGINNINGS = re.compile(r"""say\(\s*f?(['"])(?P<start>[a-z0-9-]+-)(?:\1\s*~|\{)""")
# Names in a case file, and of a kind of file: read by programs, shown to nobody.
NAMES = {"beats per hour", "M4A, 3GP or MP4"}
# Words that are never shown: they belong to the reasoning, not to a clock.
NEVER = re.compile(r"\b(consultation|odds|leak|prior|posterior|guaranteed|certified)\b", re.IGNORECASE)


def without_jinja(text: str) -> str:
    """Return a template with each of its expressions replaced by one sign."""
    return re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", PLACEHOLDER, text, flags=re.DOTALL)


class Spoken(HTMLParser):
    """Gathers what a reader would see or hear of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts.extend(value or "" for name, value in attrs if name in SPOKEN_ATTRIBUTES)
        if tag == "input" and dict(attrs).get("type") in {"submit", "button"}:
            self.texts.append(dict(attrs).get("value") or "")


def spoken(text: str) -> list[str]:
    """Return what of a template would be read aloud though it is no phrase of the knowledge."""
    parser = Spoken()
    parser.feed(without_jinja(text))
    return [part for part in parser.texts if re.search(r"[A-Za-z]", part.replace(PLACEHOLDER, ""))]


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_no_template_holds_a_word_of_its_own(template: Path) -> None:
    assert spoken(template.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("text", ["<p>Hello</p>", '<img alt="a clock">', "<p>{{ say('x') }} and</p>"])
def test_the_check_finds_a_word_that_is_left_in_a_template(text: str) -> None:
    assert spoken(text) != []


def sentences(module: Path) -> Iterator[str]:
    """Yield the texts of a module that look like something to read: words with a blank and a capital or full stop."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    notes = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in notes:
            yield node.value


@pytest.mark.parametrize("module", CODE, ids=lambda path: path.name)
def test_no_module_holds_a_sentence_of_its_own(module: Path) -> None:
    found = [text for text in sentences(module) if re.search(r"[A-Za-z]{2,} [A-Za-z]{2,} [A-Za-z]{2,}", text)]

    assert set(found) <= NAMES


@pytest.mark.parametrize("path", sorted((HERE / "static").glob("*.js")), ids=lambda path: path.name)
def test_no_script_holds_a_word_of_its_own(path: Path) -> None:
    script = path.read_text(encoding="utf-8")
    texts = re.findall(r'"((?:[^"\\]|\\.)*)"', re.sub(r"//.*", "", script))

    assert [text for text in texts if re.search(r"[A-Za-z]{2,} [A-Za-z]{2,}", text) and "[" not in text] == [
        "use strict"
    ]


def test_every_phrase_that_is_called_for_is_there() -> None:
    called = {
        match["key"] for path in [*TEMPLATES, *CODE] for match in CALLS.finditer(path.read_text(encoding="utf-8"))
    }

    assert sorted(called - set(KNOWLEDGE.screen)) == []


def test_every_phrase_of_the_page_is_called_for() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in [*TEMPLATES, *CODE])
    starts = tuple(match["start"] for match in BEGINNINGS.finditer(sources))
    ours = [name for name in KNOWLEDGE.screen if name.startswith("page-")]

    assert [name for name in ours if f"'{name}'" not in sources and f'"{name}"' not in sources
            and not name.startswith(starts)] == []  # fmt: skip


@pytest.mark.parametrize("name", [name for name in KNOWLEDGE.screen if name.startswith("page-")])
def test_no_phrase_of_the_page_uses_a_word_of_the_reasoning(name: str) -> None:
    entry = KNOWLEDGE.screen[name]

    assert NEVER.search(f"{entry.staff} {entry.customer or ''}") is None
