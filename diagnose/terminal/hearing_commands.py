"""The commands that hear a clock; no logic here, only what is given and where it goes."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diagnose.terminal.options import AS_JSON, DEVICE, DRAWN_TO, NOMINAL, OUT, PICTURES


@click.command()
@click.argument("recording", type=click.Path(path_type=Path), required=False)
@NOMINAL
@DRAWN_TO
@AS_JSON
@click.option("--times", is_flag=True, help="RECORDING is a text or CSV file with the times of the ticks in seconds.")
@click.option("--beside", type=click.Path(path_type=Path), help="The same clock, recorded from another place.")
@DEVICE
@PICTURES
@click.option("--live", is_flag=True, help="Hear the microphone of this machine until Ctrl-C (extra `microphone`).")
@click.option("--seconds", type=click.FloatRange(1, 86_400), help="Live: stop after so many seconds.")
@click.option("--keep", type=click.Path(path_type=Path), help="Live: write the sound to this WAV file.")
@click.option("--as-if", type=click.Path(path_type=Path), hidden=True, help="Live: play this file as the microphone.")
def listen(
    recording: Path | None,
    nominal: float | None,
    drawn_to: str | None,
    as_json: bool,
    times: bool,
    beside: Path | None,
    device: str,
    pictures: Path | None,
    live: bool,
    seconds: float | None,
    keep: Path | None,
    as_if: Path | None,
) -> None:
    """Hear a RECORDING, or --live the microphone: ticks, beats per hour, beat error, early side, rate."""
    from diagnose.terminal import listening

    if live or as_if:
        listening.check_live_alone(recording, beside, times)
        sys.exit(listening.listen_live(seconds, keep, nominal, drawn_to, as_json, as_if, device))
    sys.exit(listening.listen(recording, nominal, drawn_to, as_json, times, beside, device, pictures))


@click.command()
@click.argument("recording", type=click.Path(path_type=Path), required=False)
@DEVICE
@click.option("--source", type=click.Choice(["quartz", "time-signal"]), default="quartz", show_default=True)
@AS_JSON
def calibrate(recording: Path | None, device: str, source: str, as_json: bool) -> None:
    """Find how true a phone counts time, from a RECORDING of one tick a second; without it, list what is known.

    Record a battery clock that ticks once a second, or pips on the second, for 2 minutes. `--device` names the phone;
    `diagnose listen --device` then gives the rate without the error of its clock.
    """
    from diagnose.terminal import listening

    sys.exit(listening.calibrate(recording, device, source, as_json))


@click.command()
@click.argument("recordings", type=click.Path(path_type=Path), nargs=-1)
@click.option("--adjuster", default="case-feet", show_default=True, help="What is moved; `--adjuster ?` lists them.")
@click.option("--family", default="floor", show_default=True, help="Kind of clock.")
@click.option("--moved", multiple=True, metavar="SIDE:MM", help="An act between two recordings, such as left:0.5.")
@click.option("--tap", is_flag=True, help="Tap Enter at each tick instead of recording.")
@click.option("--count", metavar="BEATS/SECONDS", help="Beats counted, such as 118/120.")
@click.option("--play", is_flag=True, help="Write sounds of an even beat and of 3, 5 and 10 % at this clock's speed.")
@NOMINAL
@DRAWN_TO
@OUT
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
) -> None:
    """Set the beat: hear, one act with way and size, hear again."""
    from diagnose.terminal import beating

    sys.exit(beating.beat(recordings, adjuster, family, moved, tap, count, play, nominal, drawn_to, out))
