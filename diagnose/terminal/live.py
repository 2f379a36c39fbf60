"""`diagnose listen --live`: the microphone of this machine, heard while it runs."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from rich.console import Console, Group
from rich.text import Text

from diagnose.errors import InputError
from diagnose.measurement.figures.beats import Beats, to_dict
from diagnose.measurement.figures.sample_clock import UNCALIBRATED, SampleClock
from diagnose.measurement.incoming.level import Level, level_of
from diagnose.measurement.incoming.microphone import Source, microphone, played
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.hearing_words import reach_text, running_text
from diagnose.reports.summary import beats_text
from diagnose.terminal import doing

if TYPE_CHECKING:
    from diagnose.measurement.hearing.live import Listening
    from diagnose.measurement.hearing.sides import Side

STOPPED_BY_USER = 130
FIRST_FIGURES_S = 5.0
FIGURES_EVERY_S = 3.0
METER_DB = (-70.0, 0.0)
METER_SIGNS = 35
FLOOR_SIGN, TICK_SIGN, EMPTY_SIGN = "=", "#", "."

Show = Callable[["Heard"], None]


@dataclass(slots=True)
class Heard:
    """What was heard so far.

    Parameters
    ----------
    seconds : float
        Length of the sound [s].
    level : Level
        How the clock comes in.
    beats : Beats, optional
        Beat and rate, as soon as there is enough to try.
    """

    seconds: float = 0.0
    level: Level = field(default_factory=lambda: level_of(np.empty(0), 1.0))
    beats: Beats | None = None


def listen_live(
    seconds: float | None,
    keep: Path | None,
    nominal: float | None,
    drawn_to: Side | None,
    as_json: bool,
    as_if: Path | None,
    sample_clock: SampleClock = UNCALIBRATED,
) -> int:
    """Hear the microphone until stopped; 1 where nothing could be measured, 130 where nothing was heard at all.

    Parameters
    ----------
    seconds : float, optional
        Stop after so long [s].
    keep : path, optional
        File to which the sound is written, as WAV.
    nominal : float, optional
        Beats per hour of the train [1/h].
    drawn_to : str, optional
        Side the bob is drawn to and let go from.
    as_json : bool
        Print the result as JSON.
    as_if : path, optional
        A file that is played in place of the microphone.
    sample_clock : SampleClock
        How true this machine counts time.
    """
    from diagnose.measurement.hearing.live import Listening

    wording = Wording(read_knowledge())
    screen = Console(stderr=True)
    source = microphone() if as_if is None else played(as_if, paced=screen.is_terminal)
    listening = Listening(source.rate_hz, nominal, drawn_to, sample_clock)
    heard, stopped = hear(source, listening, screen, wording, seconds, keep)
    if heard.beats is None:
        return STOPPED_BY_USER if stopped else doing.NO
    beats, body = heard.beats, to_dict(heard.beats)
    if as_json:
        print(json.dumps(body, ensure_ascii=False))
    else:
        out = doing.console()
        out.print(*result_lines(beats, heard.seconds, wording), sep="\n", highlight=False, markup=False)
        if keep is not None:
            out.print(str(keep), highlight=False, markup=False, soft_wrap=True)
    if beats.refused is None:
        return doing.DONE
    return STOPPED_BY_USER if stopped else doing.NO


def hear(
    source: Source, listening: Listening, screen: Console, wording: Wording, seconds: float | None, keep: Path | None
) -> tuple[Heard, bool]:
    """Return what was heard until the time was up, the source ended or somebody stopped it; and whether somebody did.

    Parameters
    ----------
    source : Source
        Where the sound comes from.
    listening : Listening
        Takes it in.
    screen : Console
        Shows the level, and figures, while it runs.
    wording : Wording
        Speaks to staff or to a customer.
    seconds : float, optional
        Stop after so long [s].
    keep : path, optional
        File to which the sound is written, as WAV.
    """
    heard = Heard()
    with _shown(screen, wording) as show, _kept(keep, source.rate_hz) as write:
        stopped = _hear(source, listening, heard, seconds, write, show)
    heard.beats = _measured(listening, source.lost) if heard.seconds else None
    return heard, stopped


def _hear(
    source: Source,
    listening: Listening,
    heard: Heard,
    seconds: float | None,
    write: Callable[[NDArray[np.float32]], None],
    show: Show,
) -> bool:
    """Take in blocks until the time is up, the source ends or somebody stops it; return whether somebody did."""
    next_s = FIRST_FIGURES_S
    try:
        for block in source.blocks:
            listening.feed(block)
            write(block)
            heard.seconds += len(block) / source.rate_hz
            heard.level = listening.level()
            if heard.seconds >= next_s:
                heard.beats = _measured(listening, source.lost)
                next_s = heard.seconds + FIGURES_EVERY_S
            show(heard)
            if seconds is not None and heard.seconds >= seconds:
                return False
    except KeyboardInterrupt:
        return True
    return False


def _measured(listening: Listening, lost: list[str]) -> Beats:
    """Return beat and rate as far as they can be told by now."""
    return listening.result(tuple(dict.fromkeys(lost)))


@contextmanager
def _kept(path: Path | None, rate_hz: float) -> Iterator[Callable[[NDArray[np.float32]], None]]:
    """Write the sound to a WAV file while it comes in."""
    if path is None:
        yield lambda block: None
        return
    import soundfile

    if path.exists():
        raise InputError("there is a file of this name already", str(path), "Name another, so that nothing is lost")
    try:
        file = soundfile.SoundFile(path, "w", samplerate=round(rate_hz), channels=1, format="WAV", subtype="PCM_16")
    except (soundfile.LibsndfileError, OSError) as error:
        do = "Name a file in a folder that is there"
        raise InputError("the sound cannot be written here", str(path), do) from error

    def write(block: NDArray[np.float32]) -> None:
        try:
            file.write(block)
        except soundfile.LibsndfileError as error:
            raise InputError("the sound cannot be written any further", str(path), "Is the disk full?") from error

    with file:
        yield write


@contextmanager
def _shown(screen: Console, wording: Wording) -> Iterator[Show]:
    """Show what is heard while it runs: on a terminal in place, elsewhere a line when there is another thing to say."""
    screen.print(wording.say("live-begins"), highlight=False, markup=False)
    if screen.is_terminal:
        from rich.live import Live

        with Live(Text(""), console=screen, auto_refresh=False, transient=True) as live:
            yield lambda heard: live.update(picture(heard, wording), refresh=True)
        return
    said: list[Any] = []

    def tell(heard: Heard) -> None:
        if not said or said[-1] != heard.level.state:
            said.append(heard.level.state)
            print(level_line(heard, wording), file=sys.stderr)

    yield tell


def picture(heard: Heard, wording: Wording) -> Group:
    """Return what stands on the terminal while it runs."""
    lines = [level_line(heard, wording), meter_line(heard.level, wording)]
    if heard.beats is not None:
        lines += ["", *running_text(to_dict(heard.beats), heard.seconds, wording)]
    return Group(*(Text(line) for line in [*lines, "", wording.say("live-stop")]))


def level_line(heard: Heard, wording: Wording) -> str:
    """Return how long it has listened, and what to do with the microphone."""
    return wording.say("live-now", seconds=f"{heard.seconds:.0f}", level=wording.say(f"level-{heard.level.state}"))


def meter_line(level: Level, wording: Wording) -> str:
    """Return the level as a row of signs and in figures: what lies between the ticks, and how far they stand out."""
    floor, tick = (_signs(decibels) for decibels in (level.floor_db, level.tick_db))
    meter = (FLOOR_SIGN * floor + TICK_SIGN * max(tick - floor, 0)).ljust(METER_SIGNS, EMPTY_SIGN)
    return wording.say(
        "live-meter",
        meter=meter,
        tick=f"{max(level.tick_db, METER_DB[0]):.0f}",
        above=f"{max(level.stands_out_db, 0.0):.0f}",
    )


def _signs(decibels: float) -> int:
    """Return how many signs of the meter a level is."""
    low, high = METER_DB
    return round(METER_SIGNS * float(np.clip((decibels - low) / (high - low), 0.0, 1.0)))


def result_lines(beats: Beats, seconds: float, wording: Wording) -> list[str]:
    """Return what can be told by now, and how far so many seconds reach."""
    body = to_dict(beats)
    # What cannot be measured says so itself.
    reach = [] if beats.refused else [reach_text(body, seconds, wording)]
    return [*reach, *beats_text(body, wording)]
