"""Taps and counts that somebody wrote down: files of times, and a count in a line of text."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from diagnose.errors import InputError
from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.hearing.sides import Side
from diagnose.measurement.incoming.taps import LEAST_TAPS, beats_from_count, beats_from_taps

_LONGEST_FILE_BYTES = 5_000_000
_MOST_TAPS = 100_000
_MILLISECONDS_FROM = 50.0
"""Times whose usual distance is above 50 are milliseconds: no pendulum takes 50 s for a beat."""
_COUNT = re.compile(
    r"^(?P<beats>\d+(?:[.,]\d*)?)\s*(?:/|in|\s)\s*(?P<seconds>\d+(?:[.,]\d*)?)\s*(?:s|sec|seconds)?$", re.IGNORECASE
)
_NUMBER = re.compile(r"^[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?$")


def beats_from_file(path: str | Path, nominal: float | None = None, first_side: Side | None = None) -> Beats:
    """Return beat and rate from a file of times; see `read_taps` and `beats_from_taps`.

    Parameters
    ----------
    path : path
        A text or CSV file of times.
    nominal : float, optional
        Beats per hour of the train [1/h].
    first_side : str, optional
        The side the bob was drawn to and let go from.

    Raises
    ------
    InputError
        The file cannot be read as times, or the times are no even train of beats.
    """
    try:
        return beats_from_taps(read_taps(path).times_s, nominal, first_side)
    except InputError as error:
        if error.where:
            raise
        raise InputError(error.what, str(path), error.do) from error


def count_of(text: str) -> tuple[float, float]:
    """Return beats and seconds of a text such as "118/120" or "118 in 120".

    Raises
    ------
    InputError
        It is no such text.
    """
    match = _COUNT.match(text.strip())
    if match is None:
        raise InputError(f"'{text.strip()[:40]}' is not a count", "", "Write beats and seconds, such as 118/120")
    beats, seconds = (float(match[name].replace(",", ".")) for name in ("beats", "seconds"))
    return beats, seconds


def beats_from_count_file(path: str | Path, nominal: float | None = None) -> Beats:
    """Return beats per hour and rate from a file that holds a count; see `count_of` and `beats_from_count`.

    Parameters
    ----------
    path : path
        A text file of one line.
    nominal : float, optional
        Beats per hour of the train [1/h].

    Raises
    ------
    InputError
        The file cannot be read as a count.
    """
    lines = [line for line in _read_lines(Path(path)) if line.strip()]
    return beats_from_count(*count_of(lines[0] if lines else ""), nominal)


@dataclass(frozen=True, slots=True)
class TapList:
    """Times read from a file.

    Parameters
    ----------
    times_s : tuple of float
        Times [s].
    unit : str
        Unit they were written in, "s" or "ms".
    """

    times_s: tuple[float, ...]
    unit: str


def read_taps(path: str | Path) -> TapList:
    """Read times from a text file: one a line, in seconds or milliseconds, a heading allowed.

    Parameters
    ----------
    path : path
        A text or CSV file; where a line has several columns the first is used.

    Raises
    ------
    InputError
        There is no such file, it is not text, or a line is no time; the message names the line.
    """
    path = Path(path)
    lines = _read_lines(path)
    times: list[float] = []
    heading = ""
    for number, line in enumerate(lines, start=1):
        cell = _first_cell(line)
        if not cell:
            continue
        if _NUMBER.match(cell):
            times.append(float(cell.replace(",", ".")))
        elif not times and not heading:
            heading = line.lower()
        else:
            raise InputError(f"{cell[:40]!r} is not a time", f"{path}:{number}", "Write one number a line")
        if len(times) > 1 and times[-1] <= times[-2]:
            raise InputError(
                f"{times[-1]:g} does not come after {times[-2]:g}", f"{path}:{number}", "Write the times in order"
            )
        if len(times) > _MOST_TAPS:
            raise InputError(f"there are more than {_MOST_TAPS} times", f"{path}:{number}", "Give fewer")
    if len(times) < 2:
        raise InputError(f"there are {len(times)} times in this file", str(path), f"Give at least {LEAST_TAPS}")
    milliseconds = _in_milliseconds(heading, times)
    scale = 1e-3 if milliseconds else 1.0
    return TapList(tuple(time * scale for time in times), "ms" if milliseconds else "s")


def _read_lines(path: Path) -> list[str]:
    """Return the lines of a text file, or raise where it is none."""
    where = str(path)
    if path.is_dir():
        raise InputError("this is a folder, not a file of times", where, "Name a text file in it")
    if not path.is_file():
        raise InputError("there is no such file", where, "Check the name and the folder")
    try:
        if path.stat().st_size > _LONGEST_FILE_BYTES:
            raise InputError("this file is too large to be a list of times", where, "Write one time a line")
        return path.read_text(encoding="utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise InputError("this is not a text file", where, "Write one time a line") from error
    except OSError as error:
        raise InputError(f"the file cannot be opened ({error.strerror})", where) from error


def _first_cell(line: str) -> str:
    """Return the first column of a line; a lone comma between digits is a decimal comma."""
    text = line.strip().strip("\ufeff")
    if _NUMBER.match(text):
        return text
    return re.split(r"[;,\t ]", text, maxsplit=1)[0].strip().strip('"')


def _in_milliseconds(heading: str, times: list[float]) -> bool:
    """Return whether times are in milliseconds: by the heading, else by their usual distance."""
    if re.search(r"\bms\b|milli", heading):
        return True
    if re.search(r"\bs\b|sec", heading):
        return False
    return float(np.median(np.diff(times))) > _MILLISECONDS_FROM
