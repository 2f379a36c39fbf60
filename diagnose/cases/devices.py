"""The phones whose clock was compared with a known source: remembered on this machine, by the name they were given."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass
from pathlib import Path

from diagnose.errors import InputError, UsageError
from diagnose.model.near_names import near
from diagnose.settings import data_folder

MEMORY = "devices.json"
MOST_LETTERS = 40
_MOST_PPM = 1000.0


@dataclass(frozen=True, slots=True)
class Device:
    """A phone or sound card that was calibrated.

    Parameters
    ----------
    name : str
        As it was given, such as "MB phone".
    ppm : float
        By how much its clock counts too many [ppm].
    sigma_ppm : float
        Standard uncertainty of that [ppm].
    when : str
        Day on which it was found, ISO 8601.
    """

    name: str
    ppm: float
    sigma_ppm: float
    when: str


def remember_device(device: Device, folder: Path | None = None) -> None:
    """Remember a device; one of the same name is replaced.

    Parameters
    ----------
    device : Device
        What was found.
    folder : Path, optional
        Where it is remembered; the data folder by default.

    Raises
    ------
    UsageError
        The name is empty or too long.
    """
    name = device.name.strip()
    if not name or len(name) > MOST_LETTERS:
        raise UsageError(f"'{name}' cannot be the name of a device", do=f"Give 1 to {MOST_LETTERS} letters")
    kept = {one.name.casefold(): one for one in known_devices(folder)}
    kept[name.casefold()] = Device(name, device.ppm, device.sigma_ppm, device.when)
    folder = folder or data_folder()
    folder.mkdir(parents=True, exist_ok=True)
    body = [asdict(one) for one in kept.values()]
    fresh = folder / f"{MEMORY}.new"
    fresh.write_text(json.dumps(body, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    # In one move: a machine that is switched off meanwhile keeps the old list whole.
    fresh.replace(folder / MEMORY)


def known_devices(folder: Path | None = None) -> list[Device]:
    """Return the devices that are remembered, by name.

    Raises
    ------
    InputError
        The list on this machine is damaged.
    """
    path = (folder or data_folder()) / MEMORY
    if not path.is_file():
        return []
    try:
        devices = [Device(**row) for row in json.loads(path.read_text(encoding="utf-8"))]
        if not all(abs(float(one.ppm)) < _MOST_PPM and 0 < float(one.sigma_ppm) < math.inf for one in devices):
            raise ValueError("no such clock")
    except (ValueError, TypeError) as error:
        what = "the list of calibrated devices is damaged"
        raise InputError(what, str(path), "Delete it and calibrate again") from error
    return sorted(devices, key=lambda one: one.name.casefold())


def device_called(name: str, folder: Path | None = None) -> Device:
    """Return the device of that name.

    Raises
    ------
    UsageError
        There is none.
    """
    devices = {one.name.casefold(): one for one in known_devices(folder)}
    found = devices.get(name.strip().casefold())
    if found is None:
        names = [one.name for one in devices.values()]
        known = f"Known: {', '.join(names)}" if names else "None is known yet"
        do = f"{known}. `diagnose calibrate RECORDING --device NAME` makes one known"
        raise UsageError(f"no device '{name}'{near(name, names)}", do=do)
    return found
