"""`diagnose listen` and `diagnose calibrate`: a recording heard, two beside each other, how true a phone counts."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, cast

from rich.console import Console

from diagnose.errors import UsageError
from diagnose.measurement.figures.beats import Beats, to_dict
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.beat_pictures import write_pictures
from diagnose.reports.hearing_words import calibration_figures, progress_text
from diagnose.reports.summary import beats_text
from diagnose.terminal import doing, telling

if TYPE_CHECKING:
    from diagnose.measurement.figures.sample_clock import SampleClock, SourceKind
    from diagnose.measurement.hearing.sides import Side

# A shorter recording is heard before anybody could read how far it is.
SHOWN_FROM_S = 60.0


def listen(
    recording: Path | None,
    nominal: float | None,
    drawn_to: str | None,
    as_json: bool,
    times: bool,
    beside: Path | None,
    device: str,
    pictures: Path | None = None,
) -> int:
    """Print what a recording says, or two of the same clock; 1 where nothing could be measured."""
    if recording is None:
        do = "`diagnose listen FILE` hears a recording, `diagnose listen --live` the microphone"
        raise UsageError("no recording was named", do=do)
    wording = Wording(read_knowledge())
    beats = _heard(recording, nominal, drawn_to, times, device, wording)
    if beside is not None:
        from diagnose.measurement.figures.second_place import together

        beats = together(beats, _heard(beside, nominal, drawn_to, times, device, wording))
    body = to_dict(beats)
    if as_json:
        print(json.dumps(body, ensure_ascii=False))
    else:
        doing.console().print(*beats_text(body, wording), sep="\n", highlight=False, markup=False)
    if pictures is not None:
        for path in write_pictures(body, wording, pictures, recording.stem):
            print(path, file=sys.stderr if as_json else sys.stdout)
    return doing.NO if beats.refused else doing.DONE


def _heard(
    path: Path, nominal: float | None, drawn_to: str | None, times: bool, device: str, wording: Wording
) -> Beats:
    from diagnose.measurement import listen as hear
    from diagnose.measurement.incoming.taps import beats_from_taps
    from diagnose.measurement.incoming.written_taps import read_taps

    side = side_of(drawn_to)
    if times:
        return beats_from_taps(read_taps(path).times_s, nominal, side)
    clock = sample_clock_of(device)
    with progress_shown(wording) as progress:
        return hear(path, nominal, side, clock, progress)


def side_of(drawn_to: str | None) -> Side | None:
    """Return the side of an option."""
    return cast("Side | None", drawn_to if drawn_to in ("left", "right") else None)


def sample_clock_of(device: str) -> SampleClock:
    """Return how true a device counts time; the usual tolerance where none is named."""
    from diagnose.cases.devices import device_called
    from diagnose.measurement.figures.sample_clock import UNCALIBRATED, SampleClock

    if not device:
        return UNCALIBRATED
    known = device_called(device)
    return SampleClock(known.ppm, known.sigma_ppm)


@contextmanager
def progress_shown(wording: Wording, screen: Console | None = None) -> Iterator[Callable[[float, float], None]]:
    """Show on the terminal how far a long recording has been heard; elsewhere, and for a short one, nothing."""
    screen = screen or Console(stderr=True)
    if not screen.is_terminal:
        yield lambda done_s, promised_s: None
        return
    with screen.status("", spinner="line") as status:
        status.stop()

        def show(done_s: float, promised_s: float) -> None:
            if max(done_s, promised_s) < SHOWN_FROM_S:
                return
            status.start()
            status.update(progress_text(done_s, promised_s, wording))

        yield show


def check_live_alone(recording: Path | None, beside: Path | None, times: bool) -> None:
    """Raise where a file is named beside the microphone: it is not clear which is meant."""
    if recording is not None or beside is not None or times:
        raise UsageError("a file and --live together", do="Leave --live out to hear the file, or the file to hear live")


def listen_live(
    seconds: float | None,
    keep: Path | None,
    nominal: float | None,
    drawn_to: str | None,
    as_json: bool,
    as_if: Path | None,
    device: str,
) -> int:
    """Hear the microphone until stopped."""
    from diagnose.terminal import live

    return live.listen_live(seconds, keep, nominal, side_of(drawn_to), as_json, as_if, sample_clock_of(device))


def calibrate(recording: Path | None, device: str, source: str, as_json: bool) -> int:
    """Find how true a phone counts time, print it, and remember it where the phone has a name."""
    from diagnose.cases.devices import Device, known_devices, remember_device
    from diagnose.measurement.figures.sample_clock import calibrate as compare
    from diagnose.measurement.incoming.recording import read_recording

    wording = Wording(read_knowledge())
    if recording is None:
        devices = known_devices()
        if as_json:
            print(json.dumps([asdict(one) for one in devices], ensure_ascii=False))
        elif not devices:
            print(wording.say("calibrate-none"), file=sys.stderr)
        else:
            for one in devices:
                print(
                    wording.say(
                        "calibrate-row", **calibration_figures(one.ppm, one.sigma_ppm), name=one.name, when=one.when
                    )
                )
        return doing.DONE
    with progress_shown(wording) as progress:
        sound = read_recording(recording, progress=progress)
    found = compare(sound, cast("SourceKind", source))
    if device:
        remember_device(Device(device, found.clock.ppm, found.clock.sigma_ppm, telling.now()[:10]))
    if as_json:
        print(json.dumps({"device": device or None, "source": source, **found.to_dict()}, ensure_ascii=False))
        return doing.DONE
    figures = calibration_figures(found.clock.ppm, found.clock.sigma_ppm)
    print(wording.say("calibrate-found", **figures, ticks=found.ticks, seconds=f"{found.seconds:.0f}"))
    print(wording.say("calibrate-kept", name=device) if device else wording.say("calibrate-not-kept"))
    return doing.DONE
