"""`diagnose listen --pictures` writes the pictures of a beat beside what it prints."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.settings import demo_folder
from diagnose.terminal.commands import diagnose

RECORDING = demo_folder() / "mill-row-uneven.flac"
NAMES = ["mill-row-uneven-swing.svg", "mill-row-uneven-intervals.svg", "mill-row-uneven-ticks.svg"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "pictures"


def test_the_paths_stand_under_the_result(folder: Path) -> None:
    done = CliRunner().invoke(diagnose, ["listen", str(RECORDING), "--pictures", str(folder)])

    assert done.exit_code == 0
    assert done.stdout.splitlines()[-3:] == [str(folder / name) for name in NAMES]
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)


def test_with_json_nothing_but_json_is_on_stdout(folder: Path) -> None:
    done = CliRunner().invoke(diagnose, ["listen", str(RECORDING), "--json", "--pictures", str(folder)])

    assert json.loads(done.stdout)["split"] == "54.0 : 46.0"
    assert done.stderr.splitlines() == [str(folder / name) for name in NAMES]


def test_what_cannot_be_measured_writes_nothing(folder: Path, tmp_path: Path) -> None:
    times = tmp_path / "times.txt"
    times.write_text("0.0\n1.0\n2.0\n", encoding="utf-8")

    done = CliRunner().invoke(diagnose, ["listen", str(times), "--times", "--pictures", str(folder)])

    assert done.exit_code == 1
    assert not folder.exists() or list(folder.iterdir()) == []
