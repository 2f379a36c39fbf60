"""`diagnose part`: a part in hand against the shop's own stock list."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence

from rich.text import Text

from diagnose.cases import stock
from diagnose.errors import UsageError
from diagnose.mechanics.part_match import match_part
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports import way
from diagnose.reports import which_part as choice
from diagnose.terminal import doing, screens


def part(
    typed: str,
    sizes: Sequence[str],
    tool: str,
    file: str | None,
    columns: str,
    unit: str,
    rows: str,
    mass_kg: float | None,
    pendulum_mm: float | None,
    as_json: bool,
) -> int:
    """Print which parts in stock are the same, and remember how the list is read; 1 where none is."""
    wording = Wording(read_knowledge())
    name = way.part_called(typed, wording)
    entry = wording.knowledge.parts[name]
    if not entry.dimensions:
        raise UsageError(
            f"no sizes are known for '{name}'", do="It is chosen by its pattern: lay the old one beside it"
        )
    source = source_of(name, file, columns, unit, rows)
    measured = {}
    for given in sizes:
        key, equals, text = given.partition("=")
        if not equals:
            raise UsageError(f"'{given}' is no size", do="Write --size 'thickness=0.10 mm by micrometer'")
        measured[key.strip()] = choice.size_measured(key.strip(), text, tool, entry)
    listed = stock.read_stock(source, entry)
    stock.remember(name, source)
    found = match_part(entry, measured, listed.items, choice.hanging_from(mass_kg, pendulum_mm, measured))
    if as_json:
        print(json.dumps(choice.match_values(found, listed), ensure_ascii=False, indent=2))
        return doing.DONE if found.answer == "found" else doing.NO
    screen = doing.console()
    screen.print(screens.heading(wording.say("stock-title", part=way.part_title(name, wording))), highlight=False)
    for row in listed.skipped:
        print(wording.say("stock-skipped", row=row), file=sys.stderr)
    if not measured:
        names = ", ".join(f"{each.short} ({each.name})" for each in entry.dimensions)
        lines = [wording.say("stock-read", count=len(listed.items), file=source.file)]
        lines.append(wording.say("stock-sizes-of", list=names))
        lines.append(wording.say("stock-care"))
    else:
        lines = choice.match_lines(found, entry, wording)
    for line in lines:
        screen.print(Text(line, style="bold"), highlight=False)
    if listed.unread and not found.candidates:
        screen.print(Text(wording.say("stock-unread", list=", ".join(listed.unread))), highlight=False)
    candidates, more = choice.shown_candidates(found) if measured else ((), 0)
    for candidate in candidates:
        first, *rest = choice.candidate_lines(candidate, entry, wording)
        screen.print(Text(first), highlight=False)
        for line in rest:
            screen.print(screens.indented(line), highlight=False)
    if more > 0:
        screen.print(Text(wording.say("stock-more", count=more), style="dim"), highlight=False)
    return doing.DONE if found.answer == "found" or not measured else doing.NO


def source_of(name: str, file: str | None, columns: str, unit: str, rows: str) -> stock.StockSource:
    """Return where the list lies and how it is read: as given, else as it was read last."""
    known = stock.remembered(name)
    if file is None and known is None:
        raise UsageError("no stock list is known", do="Give --stock FILE.csv once; it is remembered for this part")
    given = choice.columns_of(columns)
    if known is not None and (file is None or file == known.file):
        return stock.StockSource(known.file, {**known.columns, **given}, unit or known.unit, rows or known.rows)
    return stock.StockSource(file or "", given, unit, rows)
