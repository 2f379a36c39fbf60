"""Writes the recordings of the demo cases: `python -m diagnose.training.demo_recordings FOLDER`.

The same files come out each time. What each clock truly does is returned, for the case files to state.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from diagnose.errors import UsageError
from diagnose.mechanics.escapement import Side, offset_deg
from diagnose.model.observations import ClockFacts
from diagnose.training.simulated_clock import SimulatedClock
from diagnose.training.sound import Scene, render, save_flac
from diagnose.training.ticking import Ticking

RATE_HZ = 16_000
LARCH_LANE = ClockFacts("larch-lane-floor", "floor", "weight-cable", "recoil", "rack", "one-tune", 3600)


@dataclass(frozen=True, slots=True)
class DemoRecording:
    """One recording of the demo cases.

    Parameters
    ----------
    name : str
        Name of its file, without ending.
    clock : SimulatedClock
        The clock that is heard.
    scene : Scene
        Where it is heard.
    seconds : float
        For how long [s].
    released_from : str or None
        The side from which the bob was let go when the recording began.
    start_swing_deg : float or None
        How far it swings at the beginning; its own steady swing where None [deg].
    """

    name: str
    clock: SimulatedClock
    scene: Scene
    seconds: float
    released_from: Side | None = None
    start_swing_deg: float | None = None

    def ticking(self) -> Ticking:
        """Return the ticks that are heard."""
        return self.clock.run(self.seconds, self.released_from, self.start_swing_deg)


def _quiet(seed: int, snr_db: float, level: float) -> Scene:
    return Scene(rate_hz=RATE_HZ, snr_db=snr_db, seed=seed, level=level)


def _demo_recordings() -> tuple[DemoRecording, ...]:
    """Return the recordings in order; each made so that its truth can be said in one line."""
    limping = SimulatedClock(LARCH_LANE, offset_deg(12.8, 3.0, 1.5), rate_s_per_day=-20, seed=1)
    put_right = SimulatedClock(LARCH_LANE, offset_deg(1.1, 3.0, 1.5), rate_s_per_day=-18, seed=2)
    wall = ClockFacts("ferry-road-wall", "wall", "spring", "deadbeat", "rack", "no-chime", 5400)
    weak = SimulatedClock(wall, 0.01, swing_deg=3.0, drop_deg=2.0, power=0.62, rate_s_per_day=-35, seed=3)
    mantel = ClockFacts("mill-row-mantel", "mantel", "spring", "recoil", "count", "no-chime", 7200)
    uneven = SimulatedClock(mantel, offset_deg(-8.0, 5.0, 3.0), rate_s_per_day=60, seed=4)
    floor = ClockFacts("orchard-close-floor", "floor", "weight-chain", "recoil", "rack", "no-chime", 3600)
    dying = SimulatedClock(floor, 0.15, losses=12.0, jitter_s=4e-4, seed=5)
    small = ClockFacts("quarry-hill-mantel", "mantel", "spring", "recoil", "rack", "several-tunes", 9000)
    even = SimulatedClock(small, 0.02, rate_s_per_day=5, seed=6)
    return (
        DemoRecording("larch-lane-before", limping, _quiet(11, 34, 0.06), 30, "left"),
        DemoRecording("larch-lane-after", put_right, _quiet(11, 34, 0.06), 30, "left"),
        DemoRecording("ferry-road-weak", weak, _quiet(13, 24, 0.018), 30),
        DemoRecording("mill-row-uneven", uneven, _quiet(14, 30, 0.06), 24),
        DemoRecording("orchard-close-dying", dying, _quiet(15, 30, 0.02), 40, "right", 3.0),
        DemoRecording("quarry-hill-even", even, _quiet(16, 32, 0.08), 20),
    )


DEMO_RECORDINGS = ("larch-lane-before", "larch-lane-after", "ferry-road-weak", "mill-row-uneven",
                   "orchard-close-dying", "quarry-hill-even")  # fmt: skip
"""Names of the recordings, in order."""


def demo_recording(name: str) -> DemoRecording:
    """Return one of the demo recordings.

    Parameters
    ----------
    name : str
        One of `DEMO_RECORDINGS`.

    Raises
    ------
    UsageError
        If there is none of that name.
    """
    for recording in _demo_recordings():
        if recording.name == name:
            return recording
    raise UsageError(f"unknown recording '{name}'", do=f"Use one of {', '.join(DEMO_RECORDINGS)}")


def write_demo_recordings(folder: Path) -> dict[str, Ticking]:
    """Write all recordings and return what each clock truly did.

    Parameters
    ----------
    folder : Path
        Where to; made if it is not there.

    Returns
    -------
    dict of str to Ticking
        Ticks by the name of the recording.
    """
    folder.mkdir(parents=True, exist_ok=True)
    truths = {}
    for recording in _demo_recordings():
        ticking = recording.ticking()
        save_flac(folder / f"{recording.name}.flac", render(ticking, recording.scene), RATE_HZ)
        truths[recording.name] = ticking
    return truths


def main(arguments: list[str]) -> int:
    """Write the recordings into the folder given, and say what is true of each."""
    if len(arguments) != 1:
        print("usage: python -m diagnose.training.demo_recordings FOLDER", file=sys.stderr)
        return UsageError.exit_code
    for name, ticking in write_demo_recordings(Path(arguments[0])).items():
        released = f", let go from the {ticking.released_from}" if ticking.released_from else ""
        stopped = f", last tick at {ticking.stopped_at_s:.1f} s" if ticking.stopped_at_s is not None else ""
        print(
            f"{name}: {ticking.times_s.size} ticks, beat error {ticking.beat_error_percent:+.2f} % (+ right early), "
            f"rate {ticking.rate_s_per_day:+.1f} s/day, swing {ticking.swing_deg[-1]:.2f} deg{released}{stopped}"
        )
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
