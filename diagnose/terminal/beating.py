"""`diagnose beat`: hear, one act with way and size, hear again; tapping and counting; sounds to train the ear."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Literal, get_args

from rich.text import Text

from diagnose.coaching import Act, Advice, beat_task, next_act, words_of
from diagnose.coaching.in_walk import heard_beat
from diagnose.errors import InputError, UsageError
from diagnose.measurement import listen
from diagnose.measurement.figures.beats import Beats, to_dict
from diagnose.mechanics.escapement import Adjuster
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.summary import beats_text
from diagnose.terminal import doing, screens
from diagnose.terminal.listening import progress_shown

ADJUSTERS: tuple[str, ...] = get_args(Adjuster)
PLAYED_PERCENT = (0.0, 3.0, 5.0, 10.0)
PLAYED_SECONDS = 8.0
PLAYED_RATE_HZ = 44_100
USUAL_BEATS = 3600.0


def beat(
    recordings: tuple[Path, ...],
    adjuster: str,
    family: str,
    moved: tuple[str, ...],
    tap: bool,
    count: str | None,
    play: bool,
    nominal: float | None,
    drawn_to: str | None,
    out: Path,
) -> int:
    """Say the one next act that sets the beat; 1 where nothing could be measured."""
    knowledge = read_knowledge()
    wording = Wording(knowledge)
    if adjuster not in ADJUSTERS:
        raise UsageError(f"no adjuster '{adjuster}'{near(adjuster, ADJUSTERS)}", do=f"One of {', '.join(ADJUSTERS)}")
    if play:
        return _play(nominal, knowledge, family, out)
    side: Literal["left", "right"] | None = "left" if drawn_to == "left" else "right" if drawn_to == "right" else None
    if tap:
        return _tell([tapped(wording, nominal, side)], adjuster, family, (), wording)
    if count:
        return _tell([counted(count, nominal)], adjuster, family, (), wording)
    acts = tuple(_act(text) for text in moved)
    with progress_shown(wording) as progress:
        heard = [listen(path, nominal, side, None, progress) for path in recordings]
    return _tell(heard, adjuster, family, acts, wording)


def _tell(heard: list[Beats], adjuster: str, family: str, acts: tuple[Act, ...], wording: Wording) -> int:
    screen = doing.console()
    bodies = [to_dict(beats) for beats in heard]
    for body in bodies:
        screen.print(*beats_text(body, wording), sep="\n", highlight=False, markup=False)
    beats = [beat for body in bodies if (beat := heard_beat(body)) is not None]
    if bodies and not beats:
        return doing.NO
    task = beat_task(adjuster, wording.knowledge.clocks.get(family))  # type: ignore[arg-type]
    advice = next_act(task, tuple(beats), acts)
    screen.print(*screens.cautions_of(wording.knowledge, wording, advice.cautions))
    screen.print(Text(words_of(advice.told, wording.knowledge).staff, style="bold green"))
    for line in _look_at(advice, wording):
        screen.print(line, highlight=False, markup=False)
    return doing.DONE


def _look_at(advice: Advice, wording: Wording) -> list[str]:
    return [f"   {wording.question(name)}" for name in advice.look_at if name in wording.knowledge.findings]


def _act(text: str) -> Act:
    side, _, amount = text.partition(":")
    try:
        size = float(amount)
    except ValueError:
        size = -1.0
    if side not in {"left", "right"} or size <= 0:
        raise UsageError(f"'{text}' is not an act", do="Write the side and the millimeters, such as left:0.5")
    return Act("left" if side == "left" else "right", size)


def tapped(
    wording: Wording,
    nominal: float | None,
    first_side: Literal["left", "right"] | None = None,
    lines: Iterable[str] | None = None,
    now: Callable[[], float] | None = None,
) -> Beats:
    """Return what taps on Enter say; it ends by itself when more of them would not help, or when something is typed.

    Parameters
    ----------
    wording : Wording
        Says after each tap how sure it is.
    nominal : float, optional
        Beats per hour of the train [1/h].
    first_side : str, optional
        Side of the first tick after the bob was let go from there.
    lines : iterable of str
        What is typed; the standard input by default.
    now : callable, optional
        Gives the time; the machine's own watch by default [s].
    """
    from diagnose.measurement.incoming.taps import LEAST_TAPS, beats_from_taps, more_taps_help, tapped_so_far
    from diagnose.reports.hearing_words import taps_text

    # What the working out needs is read in before the first tap: a tap that waits for it would count as late.
    tapped_so_far([float(tap) for tap in range(2 * LEAST_TAPS)])
    watch = now or time.perf_counter
    print(wording.say("tap-hint"), file=sys.stderr)
    times: list[float] = []
    for line in sys.stdin if lines is None else lines:
        moment = watch()
        # What ends the tapping is typed out of time: it is no tap.
        if line.strip():
            break
        times.append(moment)
        beats = tapped_so_far([tap - times[0] for tap in times], nominal, first_side)
        # No line of its own: Enter itself ends the line.
        print(f"   {taps_text(len(times), beats, wording)} ", end="", file=sys.stderr, flush=True)
        if beats is not None and not more_taps_help(beats):
            break
    print(file=sys.stderr)
    return beats_from_taps([tap - times[0] for tap in times], nominal, first_side)


def counted(text: str, nominal: float | None) -> Beats:
    """Return what a count such as "118/120" says."""
    from diagnose.measurement.incoming.taps import beats_from_count
    from diagnose.measurement.incoming.written_taps import count_of

    try:
        beats, seconds = count_of(text)
    except InputError as error:
        raise UsageError(error.what, do=error.do) from None
    return beats_from_count(beats, seconds, nominal)


def _play(nominal: float | None, knowledge: Knowledge, family: str, out: Path) -> int:
    """Write one sound for each beat error at this clock's own speed, and print their paths."""
    from diagnose.training.sound import demo_beats, save_flac

    entry = knowledge.clocks.get(family)
    usual = entry.beats_per_hour[0] if entry and entry.beats_per_hour else USUAL_BEATS
    speed = nominal or usual
    out.mkdir(parents=True, exist_ok=True)
    for percent in PLAYED_PERCENT:
        path = out / f"beat-{speed:.0f}-{percent:.0f}-percent.flac"
        save_flac(path, demo_beats(speed, percent, PLAYED_SECONDS, PLAYED_RATE_HZ), PLAYED_RATE_HZ)
        print(path)
    return doing.DONE
