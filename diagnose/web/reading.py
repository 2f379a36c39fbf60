"""What can be read beside a case: why, second opinion, tree, case file, sheets and drawings."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from diagnose.cases.case_text import case_to_yaml
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.reasoning import explanation
from diagnose.reasoning.cause_said import causes_called
from diagnose.reports import standing
from diagnose.reports.contract import stability_values
from diagnose.web import views
from diagnose.web.desk import Desk

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from diagnose.model.wording import Wording

NOT_FOUND = 404
_NOT_IN_A_FILE_NAME = re.compile(r"[^A-Za-z0-9.-]+")
# Reports and sheets are whole documents of our own with their style inside them; they load nothing and run nothing.
DOCUMENT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; frame-ancestors 'none'"
)


def why(desk: Desk, request: Request, consultation: Consultation) -> Response:
    """Show why a cause, the first one unless another is asked for, stands where it does."""
    assessment, wording = consultation.assessment, desk.wording(request)
    cause = request.query_params.get("cause") or assessment.ranking.causes[0].cause
    try:
        (found,) = explanation.explain(
            (cause,),
            assessment.base,
            assessment.pieces,
            assessment.ranking,
            consultation.knowledge,
            assessment.conclusions,
            consultation.parameters,
        )
    except StoppedClockError as fault:
        return desk.page(request, "sorry.html", views.frame_of(consultation), None, fault, NOT_FOUND)
    values = {
        **views.frame_of(consultation),
        "share": views.share(wording, found.probability, wording.cause(cause), cause),
        "prior": f"{found.prior:+.1f}",
        "shown": f"{found.shown:+.1f}",
        "reasons": list(views.reasons(found.reasons, wording)),
        "holds": _holds(request, consultation, wording),
    }
    return desk.page(request, "why.html", values)


def _holds(request: Request, consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return whether the first place holds, where that is asked for: it takes some tenths of a second."""
    if wording.reader == "customer" or "holds" not in request.query_params:
        return ()
    return standing.stability_lines(stability_values(consultation), wording) or (wording.say("page-holds-none"),)


def opinion(desk: Desk, request: Request, consultation: Consultation) -> Response:
    """Show what speaks for and against a suspected cause, and the look that could refute it."""
    assessment, wording, situation = consultation.assessment, desk.wording(request), consultation.situation
    words = request.query_params.get("words", "").strip()
    called = causes_called(words, consultation.knowledge) if words else (request.query_params.get("cause", ""),)
    cause = called[0] if called else words
    places = assessment.base, assessment.pieces, assessment.ranking, consultation.knowledge, assessment.conclusions
    try:
        if cause not in consultation.knowledge.causes:
            raise UsageError(wording.say("page-choose-other", text=cause[:40]))
        found = explanation.second_opinion(cause, *places, consultation.parameters, situation.opened, situation.closed)
    except StoppedClockError as fault:
        return desk.page(request, "sorry.html", views.frame_of(consultation), None, fault, NOT_FOUND)
    first = assessment.ranking.causes[0].cause
    compared = explanation.why_not(first, cause, *places).reasons if cause != first else ()
    values = {
        **views.frame_of(consultation),
        "opinion": found,
        "share": views.share(wording, found.probability, wording.cause(cause), cause),
        "count": len(assessment.ranking.causes),
        "agrees": list(views.reasons(found.agrees, wording)),
        "against": list(views.reasons(found.against, wording)),
        "compared": list(views.reasons(compared, wording)),
        "first": wording.cause(first),
        "others": {name: wording.cause(name) for name in called if name != cause},
    }
    return desk.page(request, "opinion.html", values)


def tree(desk: Desk, request: Request, consultation: Consultation) -> Response:
    """Show the cause tree and report."""
    from diagnose.reports.report import html_report

    return document(html_report(consultation, desk.wording(request).reader))


def sheet(desk: Desk, request: Request) -> Response:
    """Show the sheet of a remedy, to print or to send."""
    from diagnose.reports.sheet import html_sheet

    remedy = request.path_params["remedy"]
    if remedy not in desk.knowledge.remedies:
        return nothing_here(desk, request)
    return document(html_sheet(desk.knowledge, remedy))


def messages(desk: Desk, request: Request) -> Response:
    """Show a remedy as messages to send, one a step."""
    from diagnose.reports.sheet import messages as texts

    remedy = request.path_params["remedy"]
    if remedy not in desk.knowledge.remedies:
        return nothing_here(desk, request)
    return desk.page(request, "messages.html", {"texts": texts(desk.knowledge, remedy), "remedy": remedy})


def nothing_here(desk: Desk, request: Request) -> Response:
    """Say that there is no such page."""
    fault = UsageError(desk.wording(request).say("page-no-such-page"))
    return desk.page(request, "sorry.html", {}, None, fault, NOT_FOUND)


def document(text: str) -> Response:
    """Return a whole document of our own."""
    from starlette.responses import HTMLResponse

    return HTMLResponse(text, headers={"content-security-policy": DOCUMENT_POLICY})


def case_file(desk: Desk, request: Request, consultation: Consultation) -> Response:
    """Return the case as a file."""
    from starlette.responses import Response

    name = f'attachment; filename="{_NOT_IN_A_FILE_NAME.sub("-", consultation.case.id)}.yaml"'
    return Response(case_to_yaml(consultation.case), media_type="text/yaml", headers={"content-disposition": name})


def drawing(desk: Desk, request: Request) -> Response:
    """Return a drawing."""
    from starlette.responses import Response

    entry = desk.knowledge.drawings.get(request.path_params["drawing"])
    path = desk.knowledge.folder / "drawings" / entry.file if entry is not None else None
    if path is None or not path.is_file():
        return nothing_here(desk, request)
    headers = {"content-security-policy": DOCUMENT_POLICY}
    return Response(path.read_bytes(), media_type="image/svg+xml", headers=headers)
