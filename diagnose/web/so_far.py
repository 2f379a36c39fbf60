"""What can be told while it still runs: of the sound so far, of the taps so far, and how far a recording was heard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.errors import StoppedClockError
from diagnose.model.wording import Wording
from diagnose.reports.hearing_words import progress_text, running_text, taps_text
from diagnose.web.acts import EXAMPLE_BPH, side_of
from diagnose.web.desk import Desk, number_above_zero
from diagnose.web.forms import Given
from diagnose.web.hearing import Progress, times_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

NOT_TAKEN = 422
FIRST_FIGURES_S = 5.0
MOST_FOLLOWED = 32
_TICKET = re.compile(r"[0-9a-f]{8,32}")


def so_far(desk: Desk, request: Request, given: Given) -> Response:
    """Say what the sound, or the taps, of a form tell so far; nothing of it is kept."""
    from starlette.responses import JSONResponse

    wording = desk.wording(request)
    try:
        desk.check_token(given, wording)
        nominal = number_above_zero(given, "bph", EXAMPLE_BPH, wording)
        if given.fault is not None:
            raise given.fault
        if given.recording is not None:
            return JSONResponse(_sound_so_far(given.recording, given, nominal, wording))
        return JSONResponse(_taps_so_far(given, nominal, wording))
    except StoppedClockError as fault:
        return JSONResponse({"lines": [desk.told(fault, wording)]}, NOT_TAKEN)
    finally:
        given.forget_recording()


def _sound_so_far(path: Path, given: Given, nominal: float | None, wording: Wording) -> dict[str, Any]:
    """Return how the clock comes in, and beat and rate as far as they can be told by now."""
    from diagnose.measurement.figures.beats import to_dict
    from diagnose.measurement.hearing.live import Listening
    from diagnose.measurement.incoming.recording import read_recording

    recording = read_recording(path)
    listening = Listening(recording.rate_hz, nominal, side_of(given, "side"))
    listening.feed(recording.samples.astype("float32", copy=False))
    level = listening.level()
    lines: list[str] = []
    if recording.seconds >= FIRST_FIGURES_S:
        body = to_dict(listening.result(recording.warnings))
        lines = running_text(body, recording.seconds, wording)
    return {"state": level.state, "level": wording.say(f"level-{level.state}"), "lines": lines}


def _taps_so_far(given: Given, nominal: float | None, wording: Wording) -> dict[str, Any]:
    """Return what the taps say so far, and whether more of them would help."""
    from diagnose.measurement.incoming.taps import more_taps_help, tapped_so_far

    times_s = times_of(given, wording)
    beats = tapped_so_far(times_s, nominal)
    enough = beats is not None and not more_taps_help(beats)
    return {"lines": [taps_text(len(times_s), beats, wording)], "enough": enough}


def how_far(desk: Desk, request: Request) -> Response:
    """Say how far the recording with this ticket has been heard."""
    from starlette.responses import JSONResponse

    done = desk.how_far.get(request.path_params["ticket"])
    text = None if done is None else progress_text(*done, desk.wording(request))
    return JSONResponse({"line": text})


@contextmanager
def followed(desk: Desk, given: Given) -> Iterator[Progress]:
    """Note how far a recording has been heard, under the ticket of its form, so that the page can say it."""
    ticket = given.text("ticket")
    if not _TICKET.fullmatch(ticket) or len(desk.how_far) >= MOST_FOLLOWED:
        yield lambda done_s, promised_s: None
        return

    def note(done_s: float, promised_s: float) -> None:
        desk.how_far[ticket] = (done_s, promised_s)

    try:
        yield note
    finally:
        desk.how_far.pop(ticket, None)
