"""A voice note: dropped on the first page, heard, and told what to do; it may become a case."""

from __future__ import annotations

import dataclasses
import json
import re
import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.cases import events as ev
from diagnose.coaching import Advice, beat_task, next_act
from diagnose.coaching.in_walk import AT_THE_CASE, heard_beat
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.entries import Adjuster
from diagnose.model.wording import Wording
from diagnose.reports.summary import beats_text
from diagnose.web import views
from diagnose.web.acts import EXAMPLE_BPH, side_of
from diagnose.web.desk import Desk, chosen, literals, number_above_zero
from diagnose.web.forms import Given
from diagnose.web.hearing import beats_of
from diagnose.web.so_far import followed

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

ADJUSTERS = literals(Adjuster)
NOT_FOUND = 404
_NAME = re.compile(r"[0-9a-f]{16}")


def take_note(desk: Desk, request: Request, given: Given) -> Response:
    """Hear a voice note and keep what it says beside it."""
    from diagnose.web import pages

    wording = desk.wording(request)
    try:
        desk.check_token(given, wording)
        nominal = number_above_zero(given, "bph", EXAMPLE_BPH, wording)
        with followed(desk, given) as progress:
            taken = beats_of(given, nominal, wording, desk.recordings, progress)
    except StoppedClockError as fault:
        given.forget_recording()
        return pages.start(desk, request, given, fault)
    family = given.text("family") if given.text("family") in desk.knowledge.clocks else "unknown"
    note = secrets.token_hex(8)
    body: dict[str, Any] = {
        "file": str(taken.file),
        "beats": taken.beats,
        "made": taken.made,
        "side": side_of(given, "side"),
    }
    body |= {"bph": nominal, "family": family}
    _file_of(desk, note).write_text(json.dumps(body), encoding="utf-8")
    return pages.go_to(f"/note/{note}")


def take_beside(desk: Desk, request: Request, given: Given) -> Response:
    """Hear a second recording of the clock of a note, from another place, and keep what both say together."""
    from diagnose.measurement.figures.beats import from_dict, to_dict
    from diagnose.measurement.figures.second_place import together
    from diagnose.web import pages

    note, wording = request.path_params["note"], desk.wording(request)
    body = _read(desk, note)
    if body is None:
        given.forget_recording()
        return note_page(desk, request)
    try:
        desk.check_token(given, wording)
        with followed(desk, given) as progress:
            taken = beats_of(given, body["bph"], wording, desk.recordings, progress)
    except StoppedClockError as fault:
        given.forget_recording()
        return note_page(desk, request, given, fault)
    body["beats"] = to_dict(together(from_dict(body["beats"]), from_dict(taken.beats)))
    body["made"] = {**body.get("made", {}), "beside": str(taken.file)}
    _file_of(desk, note).write_text(json.dumps(body), encoding="utf-8")
    return pages.go_to(f"/note/{note}")


def _file_of(desk: Desk, note: str) -> Path:
    return desk.recordings / f"{note}.json"


def _read(desk: Desk, note: str) -> dict[str, Any] | None:
    """Return a note that was heard, or None where there is none of that name."""
    if not _NAME.fullmatch(note) or not _file_of(desk, note).is_file():
        return None
    body: dict[str, Any] = json.loads(_file_of(desk, note).read_text(encoding="utf-8"))
    return body


def note_page(
    desk: Desk, request: Request, given: Given | None = None, fault: StoppedClockError | None = None
) -> Response:
    """Show what a voice note says: the split, the early side, one act."""
    from diagnose.web import pages

    note, wording = request.path_params["note"], desk.wording(request)
    body = _read(desk, note)
    if body is None:
        return desk.page(request, "sorry.html", {}, None, UsageError(wording.say("page-no-such-page")), NOT_FOUND)
    family = request.query_params.get("family", body["family"])
    adjuster = request.query_params.get("adjuster", "")
    if adjuster not in ADJUSTERS:
        adjuster = AT_THE_CASE.get(family, AT_THE_CASE["default"])
    advice = advice_on(body["beats"], adjuster, desk, family)
    values = {
        "note": note,
        "beats": body["beats"],
        "lines": _lines(body["beats"], advice, wording),
        "pictures": views.pictures(body["beats"], wording),
        "advice": advice,
        "adjuster": adjuster,
        "family": family,
        "adjusters": ADJUSTERS,
        "families": views.fact_options(desk.knowledge, wording, "family"),
        "cautions": views.cautions(desk.knowledge, advice.cautions if advice else ()),
        "doors": sorted(desk.knowledge.doors.items(), key=lambda item: item[1].order),
    }
    return desk.page(request, "note.html", values, given, fault, pages.status_of(fault, desk, given))


def _lines(beats: dict[str, Any], advice: Advice | None, wording: Wording) -> list[str]:
    """Return what was heard; how to learn the early side is left to the one act, where there is one."""
    lines = beats_text(beats, wording)
    return [line for line in lines if line != wording.say("early-unknown")] if advice else lines


def advice_on(beats: dict[str, Any], adjuster: str, desk: Desk, family: str) -> Advice | None:
    """Return the one act that follows from what was heard, or None where nothing could be measured."""
    heard = heard_beat(beats)
    if heard is None:
        return None
    entry = desk.knowledge.clocks.get(family)
    task = beat_task(adjuster, entry)  # type: ignore[arg-type]
    if entry is None and adjuster == AT_THE_CASE["default"]:
        # Nobody has said that it is not a tall case: the one that tips is warned of.
        task = dataclasses.replace(task, on_the_floor=True)
    return next_act(task, (heard,), ())


def make_case(desk: Desk, request: Request, given: Given) -> Response:
    """Open a case with a voice note in it."""
    from diagnose.web import pages

    wording = desk.wording(request)
    body = _read(desk, request.path_params["note"])
    if body is None:
        return note_page(desk, request)
    try:
        desk.check_token(given, wording)
        door = chosen(given, "door", desk.knowledge.doors, wording)
        contact, clock = pages.contact_of(given, wording), pages.clock_name(given.text("clock"))
        with desk.lock:
            consultation = Consultation.begin(desk.knowledge, door, contact, clock, desk.store)
            if body["family"] in desk.knowledge.clocks:
                consultation.set_fact("clock", "family", body["family"])
            if body["bph"]:
                consultation.set_fact("clock", "beats_per_hour", f"{body['bph']:g}")
            consultation.take_heard(ev.Heard(body["file"], body["beats"], body["side"], made=body.get("made", {})))
    except StoppedClockError as fault:
        return note_page(desk, request, given, fault)
    return pages.with_choices(pages.go_to(f"/case/{consultation.kept_as}"), given)
