"""Where to do it, what to bring, and the chance of a part before it is sent: pages beside a case."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.reports import way
from diagnose.web import views
from diagnose.web.desk import Desk

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

NOT_FOUND = 404


def route(desk: Desk, request: Request, consultation: Consultation) -> Response:
    """Show where to do it and what to bring, and of one part the chance that the clock needs it."""
    wording, found = desk.wording(request), consultation.route
    likely = dict(found.parts)
    others = sorted(set(consultation.knowledge.parts) - set(likely))
    asked = request.query_params.get("part", "")
    lines: list[str] = []
    try:
        if asked and asked not in consultation.knowledge.parts:
            raise UsageError(wording.say("part-unknown", typed=asked[:40]))
        if asked:
            lines = way.part_lines(consultation.part_needed(asked), wording)
    except StoppedClockError as fault:
        return desk.page(request, "sorry.html", views.frame_of(consultation), None, fault, NOT_FOUND)
    values = {
        **views.frame_of(consultation),
        "route_rows": way.route_rows(found, wording),
        "route_lines": way.route_lines(found, wording),
        "currency": consultation.knowledge.shop.money.currency,
        "van_lines": way.van_lines(consultation.van, wording) if found.van is not None else [],
        "parts": [(name, way.part_title(name, wording)) for name in (*likely, *others)],
        "part": asked,
        "part_lines": lines,
    }
    return desk.page(request, "route.html", values)
