"""Which part: the page that compares a part in hand with the shop's own stock list."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from diagnose.cases import stock
from diagnose.errors import StoppedClockError, UsageError
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.part_match import match_part
from diagnose.model.lists import PartEntry
from diagnose.model.wording import Wording
from diagnose.reports import way
from diagnose.reports import which_part as choice
from diagnose.settings import data_folder
from diagnose.web.desk import Desk
from diagnose.web.forms import Given

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

NOT_TAKEN = 422
FIRST = "suspension-spring"
# So many candidates stand open; of the others the verdict is enough until somebody asks.
OPEN_CANDIDATES = 2
SIZE, TOOL = "size.", "tool."


def show(desk: Desk, request: Request, given: Given | None = None, fault: StoppedClockError | None = None) -> Response:
    """Show the sizes of a kind of part, and what they say where some are given."""
    wording = desk.wording(request)
    asked = given if given is not None else Given({key: [value] for key, value in request.query_params.items()})
    kinds = {name: way.part_title(name, wording) for name, entry in desk.knowledge.parts.items() if entry.dimensions}
    name = asked.text("part", FIRST)
    name = name if name in kinds else next(iter(kinds))
    values: dict[str, Any] = {
        "kinds": sorted(kinds.items(), key=lambda item: item[1]),
        "part": name,
        "entry": desk.knowledge.parts[name],
        "tools": tuple(TOOLS),
        "open_candidates": OPEN_CANDIDATES,
        "default_tool": choice.DEFAULT_TOOL,
        "source": None,
        "answer": [],
        "candidates": [],
        "more": 0,
        "skipped": (),
        "unheaded": [],
        "unread": (),
    }
    try:
        values["source"] = stock.remembered(name)
        if values["source"] is not None:
            listed = stock.read_stock(values["source"], values["entry"])
            values["unheaded"] = [each.name for each in values["entry"].dimensions if each.short not in listed.columns]
            values["unread"] = listed.unread
        if fault is None and any(asked.text(key) for key in asked.fields if key.startswith(SIZE)):
            values |= _compared(asked, name, values["entry"], wording)
    except StoppedClockError as error:
        fault = error
    return desk.page(request, "part.html", values, asked, fault, NOT_TAKEN if fault is not None else 200)


def _compared(given: Given, name: str, entry: PartEntry, wording: Wording) -> dict[str, Any]:
    """Return what the comparison says."""
    source = stock.remembered(name)
    if source is None:
        raise UsageError(wording.say("page-part-no-list"))
    measured = {}
    for dimension in entry.dimensions:
        text = given.text(SIZE + dimension.short)
        if text:
            tool = given.text(TOOL + dimension.short, choice.DEFAULT_TOOL)
            measured[dimension.short] = choice.size_measured(dimension.short, text, tool, entry)
    if not measured:
        raise UsageError(wording.say("page-part-no-size"))
    listed = stock.read_stock(source, entry)
    mass, length = (_number(given.text(key), wording) for key in ("mass", "pendulum"))
    found = match_part(entry, measured, listed.items, choice.hanging_from(mass, length, measured))
    candidates, more = choice.shown_candidates(found)
    return {
        "answer": choice.match_lines(found, entry, wording),
        "candidates": [choice.candidate_lines(each, entry, wording) for each in candidates],
        "more": more,
        "skipped": listed.skipped,
    }


def _number(text: str, wording: Wording) -> float | None:
    if not text:
        return None
    try:
        return float(text.replace(",", "."))
    except ValueError as error:
        raise UsageError(wording.say("page-part-no-number", text=text[:40])) from error


def keep_list(desk: Desk, request: Request, given: Given) -> Response:
    """Keep a pasted stock list for a kind of part, once it can be read."""
    from diagnose.web.pages import go_to

    wording = desk.wording(request)
    name = given.text("part")
    try:
        desk.check_token(given, wording)
        if name not in desk.knowledge.parts:
            raise UsageError(wording.say("part-unknown", typed=name[:40]))
        text, columns = given.text("list"), choice.columns_of(given.text("columns"))
        known = stock.remembered(name)
        path = data_folder() / f"stock-{name}.csv"
        if not text and known is None:
            raise UsageError(wording.say("page-part-no-list"))
        with desk.lock:
            if text:
                # Read before it replaces the one that is kept.
                fresh = path.with_suffix(".new.csv")
                path.parent.mkdir(parents=True, exist_ok=True)
                fresh.write_text(text, encoding="utf-8")
                source = stock.StockSource(str(fresh), columns)
                try:
                    stock.read_stock(source, desk.knowledge.parts[name])
                    fresh.replace(path)
                finally:
                    fresh.unlink(missing_ok=True)
                stock.remember(name, stock.StockSource(str(path), columns))
            elif known is not None:
                source = stock.StockSource(known.file, {**known.columns, **columns}, known.unit, known.rows)
                stock.read_stock(source, desk.knowledge.parts[name])
                stock.remember(name, source)
    except StoppedClockError as fault:
        return show(desk, request, given, fault)
    return go_to(f"/part?{urlencode({'part': name})}")
