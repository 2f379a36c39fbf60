"""How true a phone counts time: a recording of a known source comes in, and the phone is remembered by a name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.cases.devices import Device, known_devices, remember_device
from diagnose.errors import StoppedClockError, UsageError
from diagnose.reports.hearing_words import calibration_figures
from diagnose.web.acts import now
from diagnose.web.desk import Desk, chosen
from diagnose.web.forms import Given
from diagnose.web.so_far import followed

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response


def page(desk: Desk, request: Request, given: Given | None = None, fault: StoppedClockError | None = None) -> Response:
    """Show the phones that are known, and the form for another."""
    from diagnose.measurement.figures.sample_clock import SOURCES
    from diagnose.web import pages

    devices: list[Device] = []
    try:
        devices = known_devices()
    except StoppedClockError as damaged:
        fault = fault or damaged
    rows = [{"name": one.name, "when": one.when, **calibration_figures(one.ppm, one.sigma_ppm)} for one in devices]
    values = {"rows": rows, "sources": SOURCES, "asked": request.query_params.get("device", "")}
    return desk.page(request, "calibrate.html", values, given, fault, pages.status_of(fault, desk, given))


def take(desk: Desk, request: Request, given: Given) -> Response:
    """Compare a phone with a known source and remember it; the recording itself is not kept."""
    from urllib.parse import urlencode

    from diagnose.measurement.figures.sample_clock import SOURCES, calibrate
    from diagnose.measurement.incoming.recording import read_recording
    from diagnose.web import pages

    wording = desk.wording(request)
    try:
        desk.check_token(given, wording)
        if given.fault is not None:
            raise given.fault
        if given.recording is None:
            raise UsageError(wording.say("page-no-file"))
        if not given.text("device"):
            raise UsageError(wording.say("calibrate-name-missing"))
        source = chosen(given, "source", SOURCES, wording)
        with followed(desk, given) as progress:
            found = calibrate(read_recording(given.recording, progress=progress), source)  # type: ignore[arg-type]
        remember_device(Device(given.text("device"), found.clock.ppm, found.clock.sigma_ppm, now()[:10]))
    except StoppedClockError as fault:
        return page(desk, request, given, fault)
    finally:
        given.forget_recording()
    return pages.go_to(f"/calibrate?{urlencode({'device': given.text('device')})}")
