"""A built wheel, installed alone in an empty environment, does the job."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
NO_NETWORK = ("No matching distribution", "Could not find a version", "Connection", "Temporary failure", "Max retries")


def built(folder: Path) -> Path:
    """Build the wheel from this checkout."""
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    return next(folder.glob("*.whl"))


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return built(tmp_path_factory.mktemp("wheel"))


def test_the_wheel_holds_code_knowledge_and_demo_cases_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert "diagnose/_data/knowledge/edition.yaml" in names
    assert any(name.startswith("diagnose/_data/knowledge/drawings/") and name.endswith(".svg") for name in names)
    assert "diagnose/_data/cases_demo/larch-lane-before.flac" in names
    assert any(name.startswith("diagnose/web/templates/") for name in names)
    assert any(name.startswith("diagnose/reports/templates/") for name in names)
    tops = {name.split("/")[0] for name in names}
    assert tops == {"diagnose", next(top for top in tops if top.endswith(".dist-info"))}
    assert not [name for name in names if "__pycache__" in name or name.endswith((".pyc", ".sqlite"))]


@pytest.mark.slow
def test_it_runs_a_case_in_an_empty_environment(wheel: Path, tmp_path: Path) -> None:
    environment = tmp_path / "empty"
    subprocess.run([sys.executable, "-m", "venv", str(environment)], check=True)
    python = environment / "bin" / "python"
    install = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", str(wheel)]
    done = subprocess.run(install, capture_output=True, text=True, check=False)
    if done.returncode and any(word in done.stderr for word in NO_NETWORK):
        pytest.skip("the packages it needs cannot be fetched here")
    assert done.returncode == 0, done.stderr
    clean = {"PATH": os.environ["PATH"], "HOME": str(tmp_path), "STOPPED_CLOCK_DATA": str(tmp_path / "data")}
    command = str(environment / "bin" / "diagnose")
    demo = next(environment.glob("lib/python*/site-packages/diagnose/_data/cases_demo"))
    case = str(demo / "larch-lane-007.yaml")
    ranked = subprocess.run([command, "rank", case, "--json"], capture_output=True, text=True, cwd=tmp_path, env=clean)
    assert ranked.returncode == 0, ranked.stderr
    assert json.loads(ranked.stdout)["nothing_wrong"] > 0.5
    checked = subprocess.run([command, "knowledge", "check"], capture_output=True, text=True, cwd=tmp_path, env=clean)
    assert "causes" in checked.stdout
