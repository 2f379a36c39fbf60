"""From sound to numbers: a recording, its beats, and what they say of the clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from diagnose.measurement.figures.beats import Beats
    from diagnose.measurement.figures.sample_clock import SampleClock
    from diagnose.measurement.hearing.sides import Side
    from diagnose.measurement.incoming.sound import Progress


def listen(
    path: str | Path,
    nominal: float | None = None,
    first_side: Side | None = None,
    sample_clock: SampleClock | None = None,
    progress: Progress | None = None,
) -> Beats:
    """Return beat and rate of the clock in a recording, however long it is.

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
    progress : callable, optional
        Called again and again with the seconds heard and the seconds promised, 0 where the file does not say.

    Raises
    ------
    InputError
        The file cannot be read as sound.
    """
    from diagnose.measurement.hearing.live import Listening
    from diagnose.measurement.incoming.on_the_way import with_what_was_taken_out
    from diagnose.measurement.incoming.sound import open_sound

    with open_sound(path, progress) as sound:
        listening = Listening(sound.rate_hz, nominal, first_side, sample_clock)
        for block in sound.blocks():
            listening.feed(block)
        return with_what_was_taken_out(listening.result(sound.warnings()), sound.quality())
