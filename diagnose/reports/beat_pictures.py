"""The pictures of a beat: the swing split, the intervals, the averaged ticks, the turn of the escape wheel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diagnose.model.wording import Wording
from diagnose.reports.course_picture import course_picture
from diagnose.reports.swing_picture import split_of, swing_picture
from diagnose.reports.tick_picture import tick_picture
from diagnose.reports.wheel_picture import turn_of, wheel_picture
from diagnose.reports.writing import file_name, write_files

SWING, INTERVALS, TICKS, WHEEL = "swing", "intervals", "ticks", "wheel"


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture of a beat.

    Parameters
    ----------
    name : str
        "swing", "intervals", "ticks" or "wheel".
    svg : str
        SVG, without an XML declaration, so that it can stand inside a page.
    """

    name: str
    svg: str


def pictures_of(beats: Mapping[str, Any], wording: Wording, place: str = "beat") -> tuple[Picture, ...]:
    """Return the pictures that a result gives, the swing split first; none where nothing was measured.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it; one kept by an older version gives fewer pictures.
    wording : Wording
        A customer sees the swing split alone.
    place : str
        Where they stand; it keeps the ids of several pictures on one page apart.
    """
    split = split_of(beats)
    drawn: dict[str, str | None] = {
        SWING: None if split is None else swing_picture(split, wording, f"{place}-swing"),
    }
    if wording.reader == "staff":
        turn = None if beats.get("refused") else turn_of(beats.get("wheel"))
        drawn[INTERVALS] = course_picture(beats, wording, f"{place}-intervals")
        drawn[TICKS] = tick_picture(beats, wording, f"{place}-ticks")
        drawn[WHEEL] = None if turn is None else wheel_picture(turn, wording, f"{place}-wheel")
    return tuple(Picture(name, svg) for name, svg in drawn.items() if svg is not None)


def write_pictures(beats: Mapping[str, Any], wording: Wording, folder: Path, name: str) -> tuple[Path, ...]:
    """Write the pictures of a result to a folder, each as an SVG file; return their paths.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff or to a customer.
    folder : Path
        Where to; made where it is missing.
    name : str
        Begins the names of the files.

    Raises
    ------
    InputError
        The folder cannot be written to.
    """
    stem = file_name(name)
    drawn = pictures_of(beats, wording)
    return write_files(folder, {f"{stem}-{picture.name}.svg": picture.svg for picture in drawn})
