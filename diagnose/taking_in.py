"""What comes from elsewhere and is turned into events: recordings heard again, the fit of a block."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.cases import events as ev
from diagnose.cases.case import Case

if TYPE_CHECKING:
    from diagnose.measurement.figures.beats import Beats
    from diagnose.measurement.incoming.sound import Progress

# Files that hold times that were tapped or typed, not sound.
TAPPED = frozenset({".txt", ".csv"})
# A file that holds a count of beats and the seconds it took.
COUNTED = ".count"


def heard_again(case: Case, heard: ev.Heard, progress: Progress | None = None) -> ev.Heard:
    """Return the event with the beats of its recording.

    Parameters
    ----------
    case : Case
        Knows where its recordings lie, and the train of the clock.
    heard : Heard
        Without its beats.
    progress : callable, optional
        Called again and again with the seconds heard and the seconds promised.
    """
    from diagnose.measurement.figures.beats import to_dict
    from diagnose.measurement.figures.second_place import together

    beats = _beats_of(case, heard, heard.file, progress)
    if heard.made.get("beside"):
        beats = together(beats, _beats_of(case, heard, str(heard.made["beside"]), progress))
    return dataclasses.replace(heard, beats=to_dict(beats))


def _beats_of(case: Case, heard: ev.Heard, file: str, progress: Progress | None) -> Beats:
    """Return what one file of a recording says."""
    from diagnose.measurement import listen
    from diagnose.measurement.figures.sample_clock import UNCALIBRATED, SampleClock
    from diagnose.measurement.incoming.written_taps import beats_from_count_file, beats_from_file

    path = Path(file)
    if case.folder is not None and not path.is_absolute():
        path = case.folder / path
    nominal = case.clock.beats_per_hour
    if path.suffix.lower() == COUNTED:
        return beats_from_count_file(path, nominal)
    if path.suffix.lower() in TAPPED:
        return beats_from_file(path, nominal, heard.first_side)
    made = heard.made
    clock = SampleClock(float(made["ppm"]), float(made["sigma_ppm"])) if "sigma_ppm" in made else UNCALIBRATED
    return listen(path, nominal, heard.first_side, clock, progress)
