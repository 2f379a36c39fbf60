"""What comes from elsewhere and is turned into events: recordings heard again, the fit of a block."""

from __future__ import annotations

import dataclasses
from pathlib import Path

from diagnose.cases import events as ev
from diagnose.cases.case import Case

# Files that hold times that were tapped or typed, not sound.
TAPPED = frozenset({".txt", ".csv"})


def heard_again(case: Case, heard: ev.Heard) -> ev.Heard:
    """Return the event with the beats of its recording.

    Parameters
    ----------
    case : Case
        Knows where its recordings lie, and the train of the clock.
    heard : Heard
        Without its beats.
    """
    from diagnose.measurement import listen
    from diagnose.measurement.beats import to_dict
    from diagnose.measurement.taps import beats_from_file

    path = Path(heard.file)
    if case.folder is not None and not path.is_absolute():
        path = case.folder / path
    hear = beats_from_file if path.suffix.lower() in TAPPED else listen
    beats = hear(path, nominal=case.clock.beats_per_hour, first_side=heard.first_side)
    return dataclasses.replace(heard, beats=to_dict(beats))
