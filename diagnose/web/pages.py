"""The pages: which address shows what, and what a form there does."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.mechanics.measuring import TOOLS
from diagnose.model.wording import Wording
from diagnose.reports import contact_words
from diagnose.reports.contact_words import state_text
from diagnose.reports.summary import fit_lines
from diagnose.web import acts, hearing, notes, noting, reckoning, so_far, views
from diagnose.web.desk import READER_COOKIE, STAFF_COOKIE, Desk, chosen, reader_of, remember
from diagnose.web.fitting import fit_from
from diagnose.web.forms import Given, read_form

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.routing import BaseRoute

NOT_TAKEN, NOT_ALLOWED, NOT_FOUND, FAILED = 422, 403, 404, 500
LISTED = 12
MOST_NAME_LETTERS, MOST_INITIALS = 40, 12
_NOT_IN_A_NAME = re.compile(r"[^a-z0-9]+")
Endpoint = Callable[["Request"], Awaitable["Response"]]
Work = Callable[[Desk, "Request"], "Response"]
Taking = Callable[[Desk, "Request", Given], "Response"]


def desk_of(request: Request) -> Desk:
    """Return what all pages share."""
    desk: Desk = request.app.state.desk
    return desk


def showing(work: Work) -> Endpoint:
    """Return the endpoint of a page; it is worked out away from the loop that serves others."""
    from starlette.concurrency import run_in_threadpool

    def shown(request: Request) -> Response:
        desk = desk_of(request)
        with desk.lock:
            return work(desk, request)

    async def endpoint(request: Request) -> Response:
        return await run_in_threadpool(shown, request)

    return endpoint


def showing_at_once(work: Work) -> Endpoint:
    """Return the endpoint of what is at hand: it waits for nobody, not even for a case that is being worked out."""

    async def endpoint(request: Request) -> Response:
        return work(desk_of(request), request)

    return endpoint


def taking(work: Taking) -> Endpoint:
    """Return the endpoint of a form; the form is read to its end first."""
    from starlette.concurrency import run_in_threadpool

    async def endpoint(request: Request) -> Response:
        desk = desk_of(request)
        given = await read_form(request, desk.recordings, desk.wording(request))
        return await run_in_threadpool(work, desk, request, given)

    return endpoint


def go_to(address: str) -> Response:
    """Return the answer that sends the browser on after a form was taken."""
    from starlette.responses import RedirectResponse

    return RedirectResponse(address, 303)


# ---- start -----------------------------------------------------------------------------------------


def start(desk: Desk, request: Request, given: Given | None = None, fault: StoppedClockError | None = None) -> Response:
    """Show the first page: six doors, a voice note, the cases kept."""
    knowledge = desk.knowledge
    # Danger comes first: on a phone the last door stands below the first screen.
    doors = sorted(knowledge.doors.items(), key=lambda item: (item[1].first != "alarm", item[1].order))
    today = acts.now()[:10]
    kept = desk.store.on_the_desk(today)
    values = {
        "doors": doors,
        "today": today,
        "state_of": lambda row: state_text(row, today, desk.wording(request)),
        "due": [row for row in kept if row.due(today)],
        "kept": kept if request.query_params.get("all") else kept[:LISTED],
        "kept_count": len(kept),
        "families": views.fact_options(knowledge, desk.wording(request), "family"),
    }
    return desk.page(request, "start.html", values, given, fault, status_of(fault, desk, given))


def begin(desk: Desk, request: Request, given: Given) -> Response:
    """Begin a case by a door."""
    wording = desk.words_for(given.text("reader"))
    try:
        desk.check_token(given, wording)
        door = chosen(given, "door", desk.knowledge.doors, wording)
        contact = contact_of(given, wording)
        with desk.lock:
            name = Consultation.begin(
                desk.knowledge, door, contact, clock_name(given.text("clock")), desk.store
            ).kept_as
    except StoppedClockError as fault:
        return start(desk, request, given, fault)
    return with_choices(go_to(f"/case/{name}"), given)


def contact_of(given: Given, wording: Wording) -> ev.Contact:
    """Return the contact that a form describes."""
    where = chosen(given, "where", acts.WHERE, wording)
    return ev.Contact("c1", where, acts.now(), given.text("staff")[:MOST_INITIALS])  # type: ignore[arg-type]


def clock_name(text: str) -> str:
    """Return the name of a clock as it can stand in a file and an address."""
    name = _NOT_IN_A_NAME.sub("-", text.lower())[:MOST_NAME_LETTERS].strip("-")
    return name or "clock"


def with_choices(response: Response, given: Given) -> Response:
    """Keep whose words and whose initials were chosen in this browser."""
    remember(response, READER_COOKIE, reader_of(given.text("reader")))
    staff = given.text("staff")[:MOST_INITIALS]
    if staff.isalnum() and staff.isascii():
        remember(response, STAFF_COOKIE, staff)
    return response


def choose_words(desk: Desk, request: Request, given: Given) -> Response:
    """Change whose words are shown."""
    address = given.text("here")
    response = go_to(address if re.fullmatch(r"/[A-Za-z0-9][A-Za-z0-9/_.-]*", address) else "/")
    if given.text("token") == desk.token:
        remember(response, READER_COOKIE, reader_of(given.text("reader")))
    return response


# ---- a case ----------------------------------------------------------------------------------------


def case_page(
    desk: Desk,
    request: Request,
    given: Given | None = None,
    fault: StoppedClockError | None = None,
) -> Response:
    """Show what stands before the person now, and beside it what is known."""
    name = request.path_params["name"]
    if not desk.is_kept(name):
        return no_such_case(desk, request, name)
    consultation, wording = desk.resume(name), desk.wording(request)
    asking_on = bool((given.text("ask") if given else "") or request.query_params.get("ask"))
    moment = acts.ask_on(consultation) if asking_on else consultation.moment
    values = {
        **views.frame_of(consultation),
        "moment": moment,
        "template": views.template_of(moment),
        "asking_on": asking_on,
        "news": [*views.news(consultation, wording), *fit_news(request, wording)],
        "views": views,
        "contact_words": contact_words,
        "changed": contact_words.changes_lines(consultation, wording),
        "advice": hearing.advice_of(consultation),
        "fit_tools": tuple(TOOLS),
        "noting": noting,
        "reckoning": reckoning,
        "here": f"/case/{name}",
    }
    return desk.page(request, "case.html", values, given, fault, status_of(fault, desk, given))


def fit_news(request: Request, wording: Wording) -> list[str]:
    """Return what the fit says that was sent just before, or nothing."""
    if not request.query_params.get("block"):
        return []
    try:
        return fit_lines(fit_from(request.query_params, wording), wording)
    except StoppedClockError:
        return []


def status_of(fault: StoppedClockError | None, desk: Desk, given: Given | None) -> int:
    """Return the status of a page: 403 where its form was made by another run of the program."""
    if fault is None:
        return 200
    return NOT_TAKEN if given is None or given.text("token") == desk.token else NOT_ALLOWED


def take_act(desk: Desk, request: Request, given: Given) -> Response:
    """Do what a form of a case says; where it cannot be done, show the page again with all that was given."""
    name, act = request.path_params["name"], acts.ACTS.get(request.path_params["act"])
    with desk.lock:
        if act is None or not desk.is_kept(name):
            return no_such_case(desk, request, name)
        wording = desk.wording(request)
        try:
            desk.check_token(given, wording)
            if given.fault is not None:
                raise given.fault
            act(desk.resume(name), given, wording)
        except StoppedClockError as fault:
            return case_page(desk, request, given, fault)
        finally:
            given.forget_recording()
    return go_to(address_of(name, given))


def address_of(name: str, given: Given) -> str:
    """Return where to go after a form was taken."""
    shown = {"ask": "1"} if given.text("ask") else {}
    if given.text("block") and not given.text("leave"):
        # What a fit has to say is worked out again on the next page: it is more than the case keeps.
        shown |= acts.fit_fields(given)
    return f"/case/{name}?{urlencode(shown)}" if shown else f"/case/{name}"


def take_recording(desk: Desk, request: Request, given: Given) -> Response:
    """Hear a recording or take taps; the listening itself holds nobody else up."""
    name, wording = request.path_params["name"], desk.wording(request)
    if not desk.is_kept(name):
        given.forget_recording()
        return no_such_case(desk, request, name)
    try:
        desk.check_token(given, wording)
        with desk.lock:
            before = desk.resume(name)
        with so_far.followed(desk, given) as progress:
            heard = hearing.hear(before, given, wording, desk.recordings, progress)
        with desk.lock:
            hearing.take(desk.resume(name), heard, given, wording)
    except StoppedClockError as fault:
        given.forget_recording()
        with desk.lock:
            return case_page(desk, request, given, fault)
    return go_to(address_of(name, given))


# ---- what can be read beside a case ------------------------------------------------------------------


def of_case(work: Callable[[Desk, Request, Consultation], Response]) -> Work:
    """Return a page of a case, or the page that says there is no such case."""

    def shown(desk: Desk, request: Request) -> Response:
        name = request.path_params["name"]
        return work(desk, request, desk.resume(name)) if desk.is_kept(name) else no_such_case(desk, request, name)

    return shown


def no_such_case(desk: Desk, request: Request, name: str) -> Response:
    """Say that no such case is kept."""
    fault = UsageError(desk.wording(request).say("page-no-such-case", name=name[: MOST_NAME_LETTERS * 2]))
    return desk.page(request, "sorry.html", {}, None, fault, NOT_FOUND)


async def no_such_page(request: Request, error: Exception) -> Response:
    """Say that there is no such page."""
    desk = desk_of(request)
    fault = UsageError(desk.wording(request).say("page-no-such-page"))
    return desk.page(request, "sorry.html", {}, None, fault, getattr(error, "status_code", NOT_FOUND))


async def failed(request: Request, error: Exception) -> Response:
    """Say that the program itself failed."""
    desk = desk_of(request)
    fault = UsageError(desk.wording(request).say("page-failed"))
    return desk.page(request, "sorry.html", {}, None, fault, FAILED)


def routes() -> list[BaseRoute]:
    """Return all addresses."""
    from starlette.routing import Route

    from diagnose.web import calibrating, reading, ways, which_part

    return [
        Route("/", showing(start)),
        Route("/begin", taking(begin), methods=["POST"]),
        Route("/words", taking(choose_words), methods=["POST"]),
        Route("/note", taking(notes.take_note), methods=["POST"]),
        Route("/note/{note}", showing(notes.note_page)),
        Route("/note/{note}/beside", taking(notes.take_beside), methods=["POST"]),
        Route("/note/{note}/case", taking(notes.make_case), methods=["POST"]),
        Route("/hear/so-far", taking(so_far.so_far), methods=["POST"]),
        Route("/hear/how-far/{ticket}", showing_at_once(so_far.how_far)),
        Route("/drawing/{drawing}", showing(reading.drawing)),
        Route("/sheet/{remedy}", showing(reading.sheet)),
        Route("/sheet/{remedy}/messages", showing(reading.messages)),
        Route("/calibrate", showing(calibrating.page)),
        Route("/calibrate/heard", taking(calibrating.take), methods=["POST"]),
        Route("/stops", showing(noting.stops_page)),
        Route("/regulate", showing(noting.time_page)),
        Route("/reckon", showing(reckoning.all_questions)),
        Route("/reckon/{question}", showing(reckoning.one_question)),
        Route("/case/{name}", showing(case_page)),
        Route("/case/{name}/hear", taking(take_recording), methods=["POST"]),
        Route("/case/{name}/why", showing(of_case(reading.why))),
        Route("/case/{name}/opinion", showing(of_case(reading.opinion))),
        Route("/part", showing(which_part.show)),
        Route("/part/list", taking(which_part.keep_list), methods=["POST"]),
        Route("/case/{name}/route", showing(of_case(ways.route))),
        Route("/case/{name}/tree", showing(of_case(reading.tree))),
        Route("/case/{name}/file", showing(of_case(reading.case_file))),
        Route("/case/{name}/{act}", taking(take_act), methods=["POST"]),
    ]
