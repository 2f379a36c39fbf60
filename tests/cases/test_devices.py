"""Phones whose clock was compared with a known source are remembered by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.devices import MEMORY, Device, device_called, known_devices, remember_device
from diagnose.errors import InputError, UsageError

MB = Device("MB phone", 12.5, 6.4, "2031-03-12")


def test_a_device_is_remembered_and_found_by_its_name(tmp_path: Path) -> None:
    remember_device(MB, tmp_path / "new folder")
    assert device_called(" mb Phone ", tmp_path / "new folder") == MB


def test_devices_are_listed_by_name_and_a_second_calibration_replaces_the_first(tmp_path: Path) -> None:
    for device in (MB, Device("bench", -3.0, 2.1, "2031-03-12"), Device("mb phone", 11.0, 6.4, "2031-04-01")):
        remember_device(device, tmp_path)
    assert [(one.name, one.ppm) for one in known_devices(tmp_path)] == [("bench", -3.0), ("mb phone", 11.0)]


def test_an_unknown_device_names_those_that_are_near(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="None is known yet"):
        device_called("MB phone", tmp_path)
    remember_device(MB, tmp_path)
    with pytest.raises(UsageError, match=r"no device 'MB phon'.*MB phone"):
        device_called("MB phon", tmp_path)


@pytest.mark.parametrize("name", ["", "   ", "x" * 41])
def test_a_device_needs_a_name_a_person_can_read(tmp_path: Path, name: str) -> None:
    with pytest.raises(UsageError, match="cannot be the name"):
        remember_device(Device(name, 0.0, 6.0, "2031-03-12"), tmp_path)


@pytest.mark.parametrize(
    "text",
    ["{", '[{"name": "x"}]', '[{"name": "x", "ppm": 1e9, "sigma_ppm": 6, "when": ""}]', "[1]", '[{"name": "x", '
     '"ppm": 1, "sigma_ppm": 0, "when": ""}]'],
)  # fmt: skip
def test_a_damaged_list_says_what_to_do(tmp_path: Path, text: str) -> None:
    (tmp_path / MEMORY).write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="Delete it and calibrate again"):
        known_devices(tmp_path)
