"""Reckoning on the page: all questions on one page, and each with its form and its answer."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlencode

from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.wording import Wording
from diagnose.reckoning.answers import Question, field_words
from diagnose.reckoning.given import Field
from diagnose.reckoning.in_case import reckoned_at_step
from diagnose.reckoning.questions import GROUPS, QUESTIONS
from diagnose.web.desk import Desk
from diagnose.web.forms import Given

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

NOT_FOUND, NOT_TAKEN = 404, 422
# Stands in an address whose form is still to be filled in.
OPEN = "fill"


def all_questions(desk: Desk, request: Request) -> Response:
    """Show the questions, under their headings."""
    customer = desk.wording(request).reader == "customer"
    shown = [question for question in QUESTIONS.values() if question.for_customers or not customer]
    groups = [(group, [question.name for question in shown if question.group == group]) for group in GROUPS]
    return desk.page(request, "reckon.html", {"groups": [each for each in groups if each[1]], "question": None})


def one_question(desk: Desk, request: Request) -> Response:
    """Show one question with its form and, where it was filled in, its answer above."""
    wording = desk.wording(request)
    question = QUESTIONS.get(request.path_params["question"])
    if question is None or (wording.reader == "customer" and not question.for_customers):
        return desk.page(request, "sorry.html", {}, None, UsageError(wording.say("reckon-no-question")), NOT_FOUND)
    given = Given({name: [value] for name, value in request.query_params.items() if name != OPEN})
    values: dict[str, object] = {
        "groups": [],
        "question": question.name,
        "fields": form_of(question, given, wording),
        "said": [],
        "cautions": [],
    }
    try:
        # A form that a case has filled in only in part is shown, not blamed.
        if given.fields and OPEN not in request.query_params:
            answer = question.answered(
                {field.name: given.text(field.name) for field in question.fields}, desk.knowledge
            )
            values["said"] = answer.said(wording)
            values["cautions"] = [desk.knowledge.cautions[name] for name in answer.cautions]
    except StoppedClockError as fault:
        told = UsageError(fault.what, _named(fault.where, question, wording), fault.do)
        return desk.page(request, "reckon.html", values, given, told, NOT_TAKEN)
    return desk.page(request, "reckon.html", values, given)


def at_step(consultation: Consultation, wording: Wording) -> list[dict[str, object]]:
    """Return the numbers a technician wants at the step at work: in words where the case knows enough, and the form."""
    rows: list[dict[str, object]] = []
    for found in reckoned_at_step(consultation):
        fill = dict(found.texts) if found.answer else {**found.texts, OPEN: "1"}
        rows.append(
            {
                "title": wording.say(f"reckon-ask-{found.question.name}"),
                "lines": found.answer.said(wording) if found.answer else [],
                "address": f"/reckon/{found.question.name}?{urlencode(fill)}",
            }
        )
    return rows


def _named(where: str, question: Question, wording: Wording) -> str:
    """Return the fields a fault speaks of as they are written beside them."""
    names = {field.name: field_words(question, field, wording) for field in question.fields}
    return "; ".join(names.get(part, part) for part in where.split(" or ")) if where else ""


def form_of(question: Question, given: Given, wording: Wording) -> list[dict[str, object]]:
    """Return what the form asks for, in order; what may stay empty says so."""
    return [
        {**_field(question, field, wording), "given": given.text(field.name) not in {"", field.usual}}
        for field in question.fields
    ]


def _field(question: Question, field: Field, wording: Wording) -> dict[str, object]:
    hints = [wording.say("reckon-such-as", example=field.example.strip("'"))]
    if field.usual:
        hints.append(wording.say("reckon-usual", usual=field.usual))
    elif not field.needed:
        hints.append(wording.say("reckon-may-be-empty"))
    return {
        "name": field.name,
        "words": field_words(question, field, wording),
        "hint": "; ".join(hints),
        "decimal": field.kind == "number" and field.least >= 0,
        "usual": field.usual,
        "rare": field.rare,
        "options": [(choice, wording.say(f"reckon-choice-{choice}")) for choice in field.choices],
    }
