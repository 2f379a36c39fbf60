"""`diagnose fit`: will the block go into the slot, or the pin through the post."""

from __future__ import annotations

import json
import re

from rich.text import Text

from diagnose.errors import UsageError
from diagnose.mechanics.fit import FitAnswer
from diagnose.mechanics.fit import fit as fit_sizes
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.pin_and_leaf import TaperPin, fit_pin
from diagnose.model.quantities import parse_length
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.summary import fit_lines
from diagnose.terminal import doing

_SIZES = re.compile(r"[\d.,/]+")
NOT_GOING = frozenset({"only-after-opening", "will-not-pass"})


def fit(
    block: str | None,
    block_tool: str,
    slot: str | None,
    slot_tool: str,
    mouth: str | None,
    root: str | None,
    pin: str | None,
    hole: str | None,
    post: str | None,
    as_json: bool,
) -> int:
    """Print whether it fits; 1 where it does not go in."""
    if "?" in {block_tool, slot_tool}:
        for name, tool in TOOLS.items():
            print(f"{name:<16} +- {tool.half_width_mm:g} mm")
        return doing.DONE
    if pin is not None:
        answer = _pin(pin, hole, post, block_tool, slot_tool)
    elif block is not None and slot is not None:
        answer = fit_block(block, slot, block_tool, slot_tool, mouth, root)
    else:
        do = "Give --block and --slot, or --pin, --hole and --post, each with its unit"
        raise UsageError("nothing to compare", do=do)
    if as_json:
        body = {"answer": answer.answer, "chances": dict(answer.chances), "goes_in": answer.goes_in}
        print(json.dumps(body))
    else:
        wording = Wording(read_knowledge())
        for line in fit_lines(answer, wording):
            doing.console().print(Text(line))
    return doing.NO if answer.answer in NOT_GOING else doing.DONE


def fit_block(
    block: str,
    slot: str,
    block_tool: str,
    slot_tool: str,
    mouth: str | None = None,
    root: str | None = None,
) -> FitAnswer:
    """Return whether a block goes into a slot, from sizes as people write them."""
    ends = [parse_length(text, "slot").mm if text else None for text in (mouth, root)]
    tools = (_tool(block_tool), _tool(slot_tool))
    return fit_sizes(parse_length(block, "block").mm, parse_length(slot, "slot").mm, *tools, *ends)


def _tool(name: str) -> str:
    return name.strip().lower().removeprefix("a ").replace(" ", "-")


def _pin(pin: str, hole: str | None, post: str | None, pin_tool: str, hole_tool: str) -> FitAnswer:
    sizes = _SIZES.findall(pin)
    unit = _SIZES.sub("", pin).strip() or "mm"
    expected = 3
    if len(sizes) != expected or hole is None or post is None:
        do = "Give --pin 'thin thick length mm' with --hole and --post, such as --pin '1.0 1.6 20 mm' --hole '1.4 mm'"
        raise UsageError(f"'{pin}' is not a taper pin", do=do)
    thin, thick, length = (parse_length(f"{size} {unit}", "pin").mm for size in sizes)
    taper = TaperPin(thin, thick, length)
    return fit_pin(taper, parse_length(hole, "hole").mm, parse_length(post, "post").mm, pin_tool, hole_tool)
