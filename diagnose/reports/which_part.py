"""Which part: from what was typed to what the comparison with a stock list says, for all screens."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from diagnose.cases.stock import StockList
from diagnose.cases.stock_sizes import size_given
from diagnose.errors import UsageError
from diagnose.mechanics.measuring import tool
from diagnose.mechanics.part_effect import Effect, Hanging
from diagnose.mechanics.part_match import Candidate, Difference, Next, PartMatch, Size
from diagnose.model.lists import Dimension, PartEntry
from diagnose.model.near_names import near
from diagnose.model.quantities import THOUSANDTHS, inches, show_length
from diagnose.model.wording import Wording
from diagnose.reports.way import in_hundred

DEFAULT_TOOL = "plastic-caliper"
SHOWN_OPEN, SHOWN_DIFFERING = 6, 3
PERCENT = 100
DAYS_A_WEEK, SECONDS_A_MINUTE = 7, 60
_NOT_SAME = {"above", "below", "cannot-tell"}
# A change of the rate below this is not told. [s/day]
LEAST_RATE = 1.0
# A change of stiffness below this is not told [1].
LEAST_STIFFER = 0.02


def size_measured(key: str, text: str, tool_name: str, part: PartEntry) -> Size:
    """Return a size as somebody measured it.

    Parameters
    ----------
    key : str
        The dimension.
    text : str
        Such as "0.10 mm"; "by" and a tool behind it name the tool.
    tool_name : str
        Key of `measuring.TOOLS` where the text names none.
    part : PartEntry
        The kind of part.

    Raises
    ------
    StoppedClockError
        If there is no such dimension or tool, or the text is no size.
    """
    dimensions = {each.short: each for each in part.dimensions}
    if key not in dimensions:
        raise UsageError(f"'{key}' is no size of this part{near(key, dimensions)}", do=f"Use {', '.join(dimensions)}")
    head, by, named = text.partition(" by ")
    value, place = size_given(head, dimensions[key])
    if dimensions[key].unit != "mm":
        return Size(value, place)
    name = named.strip().lower().removeprefix("a ").replace(" ", "-") if by else tool_name
    return Size(value, tool(name).half_width_mm, name)


def columns_of(text: str) -> dict[str, str]:
    """Return a mapping of sizes to headings, such as "thickness=dicke, width=breite"."""
    pairs = [pair.partition("=") for pair in text.split(",") if pair.strip()]
    for key, equals, heading in pairs:
        if not equals or not heading.strip():
            raise UsageError(f"'{key.strip()}' names no heading", do="Write thickness=HEADING, width=HEADING")
    return {key.strip(): heading.strip() for key, _, heading in pairs}


def hanging_from(mass_kg: float | None, pendulum_mm: float | None, sizes: Mapping[str, Size]) -> Hanging | None:
    """Return the pendulum for the effect on the rate; None where mass or length is not known.

    Width and length of the leaf matter only together with its thickness; where they were not measured, those of a
    usual leaf stand in for old and new alike.
    """
    if mass_kg is None or pendulum_mm is None:
        return None
    if mass_kg <= 0 or pendulum_mm <= 0:
        raise UsageError(f"a pendulum of {mass_kg:g} kg and {pendulum_mm:g} mm", do="Both are more than nothing")
    width, length = sizes.get("width"), sizes.get("free-length")
    return Hanging(
        width.value if width is not None else USUAL_WIDTH_MM,
        length.value if length is not None else USUAL_FREE_MM,
        mass_kg,
        pendulum_mm,
    )


# A leaf of a floor clock, taken where nobody measured its width or length (from memory).
USUAL_WIDTH_MM, USUAL_FREE_MM = 10.0, 25.0


def shown(value: float, dimension: Dimension, wording: Wording) -> str:
    """Return a size in its units; the thickness of a leaf in thousandths of an inch too."""
    if dimension.unit != "mm":
        return f"{value:g} {dimension.unit}"
    if dimension.acts == "thickness":
        return wording.say("stock-thickness", mm=f"{value:.3f}", thousandths=f"{inches(value) * THOUSANDTHS:.1f}")
    return show_length(value)


def match_lines(found: PartMatch, part: PartEntry, wording: Wording) -> list[str]:
    """Return what the comparison says: the answer, then what would settle it."""
    if not found.candidates:
        return [wording.say("stock-empty")]
    same = [each for each in found.candidates if each.verdict == "same"]
    if found.answer == "none":
        return [wording.say("stock-none")]
    if found.answer == "cannot-tell":
        lines = [wording.say("stock-cannot-tell")]
        return [*lines, next_line(found.next, part, wording)] if found.next is not None else lines
    if len(same) > 1:
        return [wording.say("stock-found-several", count=len(same))]
    return [wording.say("stock-found", item=same[0].item.name)]


def next_line(settle: Next, part: PartEntry, wording: Wording) -> str:
    """Return the one thing to measure or to post."""
    if settle.key is None:
        return wording.say("stock-next-post")
    dimension = next(each for each in part.dimensions if each.short == settle.key)
    values = {"name": dimension.name, "how": dimension.measure_with}
    if settle.kind == "measure-stock":
        return wording.say("stock-next-stock", **values)
    if settle.kind == "measure-stock-finer":
        return wording.say("stock-next-stock-finer", **values)
    if settle.tool is None:
        return wording.say("stock-next-measure-how", **values)
    return wording.say("stock-next-measure", tool=tool(settle.tool).name, **values)


def shown_candidates(found: PartMatch) -> tuple[tuple[Candidate, ...], int]:
    """Return the candidates worth showing, and how many more differ."""
    near_ones = [each for each in found.candidates if each.verdict != "differs"][:SHOWN_OPEN]
    others = [each for each in found.candidates if each.verdict == "differs"]
    kept = others[:SHOWN_DIFFERING]
    return (*near_ones, *kept), len(others) - len(kept)


def candidate_lines(candidate: Candidate, part: PartEntry, wording: Wording) -> list[str]:
    """Return what one part in stock is: its standing, what differs and by how much, and what that would do."""
    item = candidate.item
    dimensions = {each.short: each for each in part.dimensions}
    if not candidate.differences:
        return [wording.say("stock-item-not-compared", item=item.name)]
    chance = in_hundred(candidate.same, wording)
    lines = [wording.say(f"stock-item-{candidate.verdict}", item=item.name, chance=chance)]
    alike = [dimensions[each.key].name for each in candidate.differences if each.standing == "same"]
    for each in candidate.differences:
        # Of a part that is settled as another one only what settles it is told.
        if each.standing in ({"above", "below"} if candidate.verdict == "differs" else _NOT_SAME):
            lines.append(_difference(each, dimensions[each.key], wording))
    differs = candidate.verdict == "differs"
    if alike and not differs:
        lines.append(wording.say("stock-alike", list="; ".join(alike)))
    if candidate.missing and not differs:
        lines.append(wording.say("stock-missing", list="; ".join(dimensions[key].name for key in candidate.missing)))
    if candidate.effect is not None:
        lines.extend(effect_lines(candidate.effect, part, wording))
    if item.note and not differs:
        lines.append(wording.say("stock-note", text=item.note))
    if item.price and not differs:
        lines.append(wording.say("stock-price", text=item.price))
    return lines


def _difference(each: Difference, dimension: Dimension, wording: Wording) -> str:
    told = dimension.alike is not None or dimension.alike_share is not None
    return wording.say(
        f"stock-differs-{each.standing}",
        name=dimension.name[:1].upper() + dimension.name[1:],
        new=shown(each.new.value, dimension, wording),
        old=shown(each.old.value, dimension, wording),
        by=shown(abs(each.by), dimension, wording),
        tolerance=shown(each.tolerance, dimension, wording),
        because=dimension.because if told and dimension.because else wording.say("stock-no-tolerance"),
        same=in_hundred(each.same, wording),
        above=in_hundred(each.above, wording),
        below=in_hundred(each.below, wording),
    )


def effect_lines(effect: Effect, part: PartEntry, wording: Wording) -> list[str]:
    """Return what the difference would do to swing and rate."""
    lines: list[str] = []
    # What is less than its own uncertainty is not told: the sizes must be measured more finely first.
    stiffer = effect.stiffer if effect.stiffer is not None and abs(effect.stiffer) > effect.stiffer_unsure else None
    if stiffer is not None and abs(stiffer) >= LEAST_STIFFER:
        more = stiffer > 0
        pairs = {"mainspring": ("stock-pulls-more", "stock-pulls-less")}
        key = pairs.get(part.acts_as or "", ("stock-stiffer", "stock-weaker"))[0 if more else 1]
        share, unsure = (f"{PERCENT * abs(value):.0f}" for value in (stiffer, effect.stiffer_unsure))
        lines.append(wording.say(key, share=share, unsure=unsure, strain=f"{PERCENT * (effect.strain or 0.0):.0f}"))
    rate = effect.rate_s_per_day
    if rate is None:
        leaf = part.acts_as in {"suspension-spring", "leader"}
        return [*lines, wording.say("stock-no-rate")] if leaf and lines else lines
    if abs(rate) >= LEAST_RATE and abs(rate) > effect.rate_unsure:
        lines.append(
            wording.say(
                "stock-gains" if rate > 0 else "stock-loses",
                rate=f"{abs(rate):.0f}",
                unsure=f"{effect.rate_unsure:.0f}",
                week=f"{abs(rate) * DAYS_A_WEEK / SECONDS_A_MINUTE:.1f}",
            )
        )
    return lines


def match_values(found: PartMatch, stock: StockList) -> dict[str, Any]:
    """Return the comparison as `diagnose part --json` gives it."""
    settle = found.next
    return {
        "answer": found.answer,
        "next": None
        if settle is None or found.answer != "cannot-tell"
        else {"kind": settle.kind, "dimension": settle.key, "tool": settle.tool},
        "candidates": [_candidate_values(each) for each in found.candidates],
        "skipped": list(stock.skipped),
        "columns": dict(stock.columns),
        "unread": list(stock.unread),
    }


def _candidate_values(each: Candidate) -> dict[str, Any]:
    effect = each.effect
    return {
        "item": each.item.name,
        "where": each.item.where,
        "verdict": each.verdict,
        "same": each.same,
        "missing": list(each.missing),
        "differences": [
            {
                "dimension": one.key,
                "old": one.old.value,
                "new": one.new.value,
                "by": one.by,
                "tolerance": one.tolerance,
                "same": one.same,
                "above": one.above,
                "below": one.below,
                "standing": one.standing,
            }
            for one in each.differences
        ],
        "effect": None
        if effect is None
        else {
            "stiffer": effect.stiffer,
            "stiffer_unsure": effect.stiffer_unsure,
            "strain": effect.strain,
            "rate_s_per_day": effect.rate_s_per_day,
            "rate_unsure": effect.rate_unsure,
        },
        "note": each.item.note,
        "price": each.item.price,
    }
