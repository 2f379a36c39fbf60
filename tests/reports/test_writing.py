"""Files are written whole or not at all, and what is missing is said with what to do."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.errors import InputError
from diagnose.reports import pdf
from diagnose.reports.pdf import pdf_of
from diagnose.reports.report import write_report
from diagnose.reports.sheet import write_sheet
from diagnose.reports.writing import file_name, write_files
from tests.reports.built import knowledge, limping

PAGE = "<!DOCTYPE html><html lang='en'><title>t</title><p>Out of beat by 4 %</p></html>"


def why_no_pdf() -> str | None:
    try:
        pdf_of(PAGE)
    except InputError as error:
        return str(error)
    return None


WHY_NO_PDF = why_no_pdf()
WITH_PDF = pytest.mark.skipif(WHY_NO_PDF is not None, reason=str(WHY_NO_PDF))


def test_a_folder_is_made_and_nothing_else_is_left_in_it(tmp_path: Path) -> None:
    paths = write_files(tmp_path / "a" / "b", {"one.txt": "eins", "two.bin": b"\x00"})
    assert sorted(os.listdir(tmp_path / "a" / "b")) == ["one.txt", "two.bin"]
    assert paths[0].read_text(encoding="utf-8") == "eins"


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_files(tmp_path, {"one.txt": "before"})

    def full(descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match=r"one\.txt: cannot be written: No space left on device.*--out"):
        write_files(tmp_path, {"one.txt": "after"})
    assert (tmp_path / "one.txt").read_text() == "before"
    assert os.listdir(tmp_path) == ["one.txt"]


def test_a_file_in_the_way_of_the_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("I am a file")
    with pytest.raises(InputError, match=r"out.*cannot be written"):
        write_report(limping(), tmp_path / "out")
    with pytest.raises(InputError, match=r"out.*cannot be written"):
        write_sheet(knowledge(), "wind-it", tmp_path / "out")


@pytest.mark.parametrize(
    ("name", "file"),
    [("larch-lane-007", "larch-lane-007"), ("../x", "x"), ("a/b c", "a-b-c"), ("...", "case"), ("x" * 200, "x" * 80)],
)
def test_a_name_becomes_one_every_file_system_takes(name: str, file: str) -> None:
    assert file_name(name) == file


@WITH_PDF
def test_report_and_sheet_become_pdf(tmp_path: Path) -> None:
    report = write_report(limping(), tmp_path, pdf=True, reader="customer")[-1]
    sheet = write_sheet(knowledge(), "wind-it", tmp_path, pdf=True)[-1]
    assert report.read_bytes().startswith(b"%PDF")
    assert sheet.read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("code", "said"),
    [(pdf.MISSING_PACKAGE, r"pip install 'stopped-clock\[pdf\]'"), (pdf.MISSING_PANGO, "Install Pango"), (1, "boom")],
)
def test_what_is_missing_for_pdf_is_said(code: int, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    done = subprocess.CompletedProcess([], code, b"", b"Traceback\nboom\n")
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: done)
    with pytest.raises(InputError, match=said):
        pdf_of(PAGE)


def test_without_the_package_the_process_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    assert pdf.main() == pdf.MISSING_PACKAGE
