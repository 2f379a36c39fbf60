"""The README says what is true: its commands are run and its output compared."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text()
EXAMPLES = re.findall(r"```console\n\$ diagnose (.*)\n((?:.*\n)*?)```", README)


@pytest.mark.parametrize(("command", "shown"), EXAMPLES, ids=[command[:40] for command, _ in EXAMPLES])
def test_an_example_of_the_readme_prints_what_it_shows(command: str, shown: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "diagnose", *shlex.split(command)],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, "COLUMNS": "80", "STOPPED_CLOCK_DATA": str(tmp_path)},
    )
    printed = [line.rstrip() for line in done.stdout.splitlines()]
    wanted = shown.rstrip("\n").splitlines()
    if wanted[-1] == "...":
        wanted = wanted[:-1]
        printed = printed[: len(wanted)]
    assert printed == wanted


def test_there_are_examples_and_the_first_screen_has_what_it_promises() -> None:
    first = "\n".join(README.splitlines()[:50])
    assert len(EXAMPLES) >= 5
    for wanted in ("# Stopped Clock", "hung_pendulum.svg", "make demo", "make test", "pipx install", "It will not"):
        assert wanted in first
    assert (ROOT / "knowledge" / "drawings" / "hung_pendulum.svg").is_file()


def test_every_command_of_the_program_is_in_the_table() -> None:
    from diagnose.terminal.commands import diagnose

    for name in diagnose.commands:
        assert f"`diagnose {name}" in README


def test_files_that_the_documents_name_are_there() -> None:
    for document in ("README.md", "DEVELOPERS.md"):
        for link in re.findall(r"\]\(([^)#:]+)\)", (ROOT / document).read_text()):
            assert (ROOT / link).exists(), (document, link)
