"""Writes results to a folder, each file whole or not at all."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path

from diagnose.errors import InputError

LONGEST_NAME = 80


def file_name(name: str) -> str:
    """Return a name that every file system takes, such as "larch-lane-007"."""
    plain = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")
    return plain[:LONGEST_NAME] or "case"


def write_files(folder: Path, contents: Mapping[str, str | bytes]) -> tuple[Path, ...]:
    """Write files into a folder; each is complete or, where something fails, as it was before.

    Parameters
    ----------
    folder : Path
        Made where it is missing.
    contents : mapping of str to str or bytes
        By name of the file.

    Raises
    ------
    InputError
        The folder cannot be made or written to, or the disk is full: where, and what to do.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot_write(folder, error) from error
    return tuple(_write(folder / name, content) for name, content in contents.items())


def _write(path: Path, content: str | bytes) -> Path:
    """Write beside the file first, so that nobody ever reads half of it."""
    body = content.encode("utf-8") if isinstance(content, str) else content
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with beside.open("wb") as file:
            file.write(body)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise _cannot_write(path, error) from error
    return path


def _cannot_write(path: Path, error: OSError) -> InputError:
    reason = error.strerror or type(error).__name__
    do = "Give another folder with --out, or make room there and set its permissions"
    return InputError(f"cannot be written: {reason}", where=str(path), do=do)
