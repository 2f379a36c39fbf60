"""From sound to numbers: a recording, its beats, and what they say of the clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from diagnose.measurement.beats import Beats
    from diagnose.measurement.sample_clock import SampleClock
    from diagnose.measurement.sides import Side


def listen(
    path: str | Path,
    nominal: float | None = None,
    first_side: Side | None = None,
    sample_clock: SampleClock | None = None,
) -> Beats:
    """Return beat and rate of the clock in a recording.

    Parameters
    ----------
    path : path
        A sound file.
    nominal : float, optional
        Beats per hour of the train, where known [1/h].
    first_side : str, optional
        The side, facing the dial, to which the bob was drawn until it ticked, and let go from: "left" or "right".
    sample_clock : SampleClock, optional
        How true the recorder counts time, where that was found out.

    Raises
    ------
    InputError
        The file cannot be read as sound.
    """
    from diagnose.measurement.recording import read_recording
    from diagnose.measurement.sample_clock import UNCALIBRATED
    from diagnose.measurement.ticks import find_ticks
    from diagnose.measurement.timing import measure_beats

    recording = read_recording(path)
    return measure_beats(find_ticks(recording, nominal), nominal, first_side, sample_clock or UNCALIBRATED)
