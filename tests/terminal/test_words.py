"""No screen of the terminal prints a word that is not in `knowledge/words/screen*.yaml`."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import diagnose.terminal
from diagnose.model.reading import read_knowledge

FOLDER = Path(diagnose.terminal.__file__).parent
# Commands hold the help of the command line, which stands before any knowledge is read.
FILES = sorted(
    path
    for path in FOLDER.glob("*.py")
    if path.name not in {"__init__.py", "commands.py", "hearing_commands.py", "options.py"}
)
SENTENCE = re.compile(r"[A-Za-z]{3,} [A-Za-z]{2,}")
# What may hold words: errors (they name what was typed), and rich styles.
ERRORS = {"UsageError", "InputError", "StoppedClockError"}
STYLE = re.compile(r"^[a-z ]*$")


def literals(tree: ast.AST) -> list[tuple[int, str]]:
    """Text in a file that is no docstring, no error and no style."""
    found: list[tuple[int, str]] = []
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.FunctionDef | ast.ClassDef) and ast.get_docstring(node, clean=False):
            skipped.add(id(node.body[0].value))  # type: ignore[attr-defined]
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ERRORS:
            skipped.update(id(part) for part in ast.walk(node))
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "do":
            skipped.update(id(part) for part in ast.walk(node))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            found.append((node.lineno, node.value))
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_of_the_terminal_holds_no_words_for_the_screen(path: Path) -> None:
    words = [
        f"{path.name}:{line}: {text!r}"
        for line, text in literals(ast.parse(path.read_text()))
        if SENTENCE.search(text) and not STYLE.match(text)
    ]
    assert not words


@pytest.mark.parametrize("path", [*FILES, FOLDER / "commands.py"], ids=lambda path: path.name)
def test_every_phrase_that_is_said_is_in_the_knowledge(path: Path) -> None:
    keys = set(re.findall(r"say\(\s*\"([a-z0-9-]+)\"", path.read_text()))
    assert keys <= set(read_knowledge().screen)


def test_no_phrase_is_there_for_nothing() -> None:
    package = FOLDER.parent
    sources = [*package.rglob("*.py"), *package.rglob("*.html")]
    text = "\n".join(path.read_text() for path in sources)
    unused = [
        key
        for key in read_knowledge().screen
        if key not in text and not any(f"{key.rsplit('-', count)[0]}-" in text for count in range(1, 6))
    ]
    assert not unused
