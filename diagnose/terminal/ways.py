"""What the terminal shows of the route: the ways, the van, and the chance of a part before it is sent (rich)."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from diagnose.consultation import Consultation
from diagnose.model.wording import Wording
from diagnose.reports import way
from diagnose.terminal import screens


def route_screen(consultation: Consultation, wording: Wording) -> RenderableType:
    """Return where to do it with chance, time, money and days, and what to put in the van."""
    route = consultation.route
    if wording.reader == "customer":
        return Text(way.route_lines(route, wording)[0])
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column(wording.say("route-col-way"))
    currency = consultation.knowledge.shop.money.currency
    table.add_column(wording.say("route-col-cures"), justify="right")
    table.add_column(wording.say("route-col-hands"), justify="right")
    table.add_column(wording.say("route-col-money", currency=currency), justify="right")
    table.add_column(wording.say("route-col-days"), justify="right")
    for row in way.route_rows(route, wording):
        cells = (row["where"], row["cures"], row["hands"], row["money"], row["days"])
        table.add_row(*cells, style="bold" if row["best"] else "")
    lines = [table, *(screens.indented(line, by=1) for line in way.route_lines(route, wording))]
    shown: list[RenderableType] = [screens.heading(wording.say("route-title")), *lines]
    if route.van is not None:
        shown.append(screens.heading(wording.say("van-title")))
        shown.extend(screens.indented(line, by=1) for line in way.van_lines(consultation.van, wording))
    return Group(*shown)


def part_screen(consultation: Consultation, wording: Wording, typed: str) -> RenderableType:
    """Return what is to be known before a part is sent; `typed` is its id or words for it."""
    part = way.part_called(typed, wording)
    first, *rest = way.part_lines(consultation.part_needed(part), wording)
    title = wording.say("part-sent-title", part=way.part_title(part, wording))
    return Group(screens.heading(title), Text(first, style="bold"), *(screens.indented(line, by=1) for line in rest))
