"""Which part: a part in hand compared with a stock list, dimension by dimension, each with its measuring error.

Model of the error: both sizes lie anywhere within a half-width around what was read or printed, each place
equally likely, independent of each other. Two parts are alike in a dimension where the difference of the
true sizes is within what the clock tolerates (`Dimension.alike`). Nothing is supposed about which sizes are
common, so that a coarse tool says "cannot tell" and not "unlikely".

References
----------
.. [1] JCGM 100:2008 (GUM), 4.3.7: where only bounds are known, a rectangular distribution.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from diagnose.mechanics.fit import SETTLED
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.part_effect import Effect, Hanging, effect_of
from diagnose.model.lists import Dimension, PartEntry

DEFAULT_SHARE = 0.05
"""Where an entry says no tolerance, sizes within this share are taken as alike (common practice, no source)."""

Standing = Literal["same", "above", "below", "cannot-tell"]
Verdict = Literal["same", "differs", "cannot-tell"]


@dataclass(frozen=True, slots=True)
class Size:
    """A size as it was measured or printed.

    Parameters
    ----------
    value, half_width : float
        In the unit of its dimension; the true size lies within `half_width` of `value`.
    tool : str, optional
        Key of `measuring.TOOLS`; None where it was printed or measured otherwise.
    """

    value: float
    half_width: float
    tool: str | None = None


@dataclass(frozen=True, slots=True)
class StockItem:
    """A line of a stock list.

    Parameters
    ----------
    name : str
        As the shop calls it.
    sizes : mapping of str to Size
        By the key of the dimension; those the list leaves out are missing.
    where : str
        File and line.
    note, price : str
        As they stand in the list.
    """

    name: str
    sizes: Mapping[str, Size]
    where: str = ""
    note: str = ""
    price: str = ""


@dataclass(frozen=True, slots=True)
class Difference:
    """What one dimension says about one candidate.

    Parameters
    ----------
    key : str
        The dimension.
    old, new : Size
        The part in hand and the one in stock.
    tolerance : float
        Alike within this, in the unit of the dimension.
    same, above, below : float
        Chance that the new one is alike, larger or smaller by more than that; they add up to 1.
    """

    key: str
    old: Size
    new: Size
    tolerance: float
    same: float
    above: float
    below: float

    @property
    def by(self) -> float:
        """New less old, as measured."""
        return self.new.value - self.old.value

    @property
    def standing(self) -> Standing:
        """What is settled, from a chance of `SETTLED`."""
        if self.same >= SETTLED:
            return "same"
        if self.above >= SETTLED:
            return "above"
        return "below" if self.below >= SETTLED else "cannot-tell"


@dataclass(frozen=True, slots=True)
class Candidate:
    """One part in stock, compared.

    Parameters
    ----------
    item : StockItem
        The part.
    differences : tuple of Difference
        In the order of the entry.
    missing : tuple of str
        Dimensions that decide and could not be compared.
    same : float
        Chance that it is alike in all that was compared [1].
    effect : Effect, optional
        What the difference would do.
    """

    item: StockItem
    differences: tuple[Difference, ...]
    missing: tuple[str, ...]
    same: float
    effect: Effect | None

    @property
    def verdict(self) -> Verdict:
        """Same within what the clock tolerates, different, or not to be told from these measurements."""
        standings = {each.standing for each in self.differences}
        if standings & {"above", "below"}:
            return "differs"
        if standings == {"same"} and not self.missing:
            return "same"
        return "cannot-tell"


@dataclass(frozen=True, slots=True)
class Next:
    """The one thing that would settle most.

    Parameters
    ----------
    kind : str
        "measure" the part in hand; "measure-stock" where the list does not say, "measure-stock-finer" where
        it says it too coarsely; or "post" the part, to be laid beside the one in stock.
    key : str, optional
        The dimension to measure.
    tool : str, optional
        The coarsest tool that is fine enough; None where the entry's own way of measuring is meant.
    leaves : float
        Expected number of parts in stock that it leaves possible.
    """

    kind: Literal["measure", "measure-stock", "measure-stock-finer", "post"]
    key: str | None = None
    tool: str | None = None
    leaves: float = math.inf


@dataclass(frozen=True, slots=True)
class PartMatch:
    """A part in hand against a stock list.

    Parameters
    ----------
    candidates : tuple of Candidate
        The same first, then those not settled, then those that differ; likelier first.
    next : Next, optional
        What would settle most; None where nothing is open.
    """

    candidates: tuple[Candidate, ...]
    next: Next | None

    @property
    def answer(self) -> Literal["found", "cannot-tell", "none"]:
        """Found, not to be told from these measurements, or none in this list."""
        verdicts = {candidate.verdict for candidate in self.candidates}
        if "same" in verdicts:
            return "found"
        return "cannot-tell" if "cannot-tell" in verdicts else "none"


def tolerance_of(dimension: Dimension, size: float) -> float:
    """Return within what difference two parts are alike, in the unit of the dimension."""
    if dimension.alike is not None:
        return dimension.alike
    return (dimension.alike_share or DEFAULT_SHARE) * size


def chance_below(limit: float, difference: float, one: float, other: float) -> float:
    """Return the chance that a true difference is below a limit.

    Parameters
    ----------
    limit, difference : float
        The limit, and the difference as measured.
    one, other : float
        Half-widths of the two sizes.

    Notes
    -----
    The sum of two rectangles is a trapezoid; this is the integral of it, in closed form.
    """
    wide, narrow = max(one, other), min(one, other)
    z = limit - difference
    if wide <= 0:
        return 1.0 if z >= 0 else 0.0
    if narrow < _NARROW * wide:
        return min(1.0, max(0.0, (z + wide) / (2 * wide)))
    corners = (z + wide + narrow, z + wide - narrow, z - wide + narrow, z - wide - narrow)
    squares = [max(corner, 0.0) ** 2 for corner in corners]
    chance = (squares[0] - squares[1] - squares[2] + squares[3]) / (8 * wide * narrow)
    return min(1.0, max(0.0, chance))


# A rectangle so much narrower than the other changes nothing that is shown, but would lose digits.
_NARROW = 1e-6


def compare(dimension: Dimension, old: Size, new: Size) -> Difference:
    """Return what one dimension says about one candidate."""
    tolerance = tolerance_of(dimension, old.value)
    by = new.value - old.value
    # A difference of just the tolerance is alike; rounding must not turn that over.
    slack = _NARROW * tolerance
    above = 1.0 - chance_below(tolerance + slack, by, old.half_width, new.half_width)
    below = chance_below(-tolerance - slack, by, old.half_width, new.half_width)
    return Difference(dimension.short, old, new, tolerance, max(0.0, 1.0 - above - below), above, below)


def match_part(
    part: PartEntry, measured: Mapping[str, Size], stock: Sequence[StockItem], hanging: Hanging | None = None
) -> PartMatch:
    """Compare a part in hand with every part of a stock list.

    Parameters
    ----------
    part : PartEntry
        The kind of part, with its dimensions.
    measured : mapping of str to Size
        What was measured on the part in hand, by the key of the dimension.
    stock : sequence of StockItem
        The list.
    hanging : Hanging, optional
        The pendulum, for the effect on the rate.
    """
    found = [_candidate(part, measured, item, hanging) for item in stock]
    order = {"same": 0, "cannot-tell": 1, "differs": 2}
    found.sort(key=lambda each: (order[each.verdict], -each.same, len(each.missing), _distance(each), each.item.name))
    return PartMatch(tuple(found), _next(part, measured, [each for each in found if each.verdict == "cannot-tell"]))


def _candidate(part: PartEntry, measured: Mapping[str, Size], item: StockItem, hanging: Hanging | None) -> Candidate:
    differences: list[Difference] = []
    missing: list[str] = []
    for dimension in part.dimensions:
        old, new = measured.get(dimension.short), item.sizes.get(dimension.short)
        if old is not None and new is not None:
            differences.append(compare(dimension, old, new))
        elif dimension.decides:
            missing.append(dimension.short)
    same = math.prod(each.same for each in differences) if differences else 0.0
    pairs = {each.key: (each.old, each.new) for each in differences}
    return Candidate(item, tuple(differences), tuple(missing), same, effect_of(part, pairs, hanging))


def _distance(candidate: Candidate) -> float:
    """Return the largest difference in tolerances."""
    return max((abs(each.by) / each.tolerance for each in candidate.differences), default=math.inf)


def _next(part: PartEntry, measured: Mapping[str, Size], open_: Sequence[Candidate]) -> Next | None:
    """Return what would settle most: a dimension to measure (again), or the part to post."""
    if not open_:
        return None
    tries: list[tuple[float, float, int, Next]] = []
    for number, dimension in enumerate(part.dimensions):
        key = dimension.short
        listed = [each.item.sizes[key] for each in open_ if key in each.item.sizes]
        old = measured.get(key)
        if not listed:
            continue
        tool, half_width = _fine_enough(dimension, listed)
        if old is not None and (old.half_width <= half_width or _all_settled(key, open_)):
            continue
        leaves = _expected_left(dimension, listed, half_width) + len(open_) - len(listed)
        unsure = max(1.0 - _same_in(key, each) for each in open_) if dimension.decides else -1.0
        tries.append((leaves, -unsure, number, Next("measure", key, tool, leaves)))
    if tries:
        return min(tries, key=lambda each: each[:3])[3]
    return _at_the_shelf(part, measured, open_[0])


def _at_the_shelf(part: PartEntry, measured: Mapping[str, Size], best: Candidate) -> Next:
    """Return what settles the likeliest candidate once nothing more can be measured on the part in hand."""
    dimensions = {each.short: each for each in part.dimensions}
    for key in best.missing:
        if key in measured:
            return Next("measure-stock", key)
    unsettled = [each for each in best.differences if each.standing != "same"]
    if unsettled:
        worst = min(unsettled, key=lambda each: each.same)
        return Next("measure-stock-finer", worst.key, _fine_enough(dimensions[worst.key], [worst.old])[0])
    return Next("post")


def _all_settled(key: str, open_: Sequence[Candidate]) -> bool:
    return all(_same_in(key, each) >= SETTLED for each in open_)


def _same_in(key: str, candidate: Candidate) -> float:
    """Return the chance that a candidate is alike in one dimension; 0 where that is not known."""
    return next((each.same for each in candidate.differences if each.key == key), 0.0)


# What parts are measured with, coarsest first; strips feel slots, and a loupe reads no thickness.
_FOR_PARTS = ("ruler", "plastic-caliper", "steel-caliper", "micrometer")
# Where the list itself is coarse, a tool that takes up no more than this share of the tolerance is fine enough.
_SHARE_OF_TOLERANCE = 0.6


def _fine_enough(dimension: Dimension, listed: Sequence[Size]) -> tuple[str | None, float]:
    """Return the coarsest tool that can settle a dimension, with its half-width; the finest where none can."""
    tolerance = min(tolerance_of(dimension, size.value) for size in listed)
    if dimension.unit != "mm":
        # Lengths have named tools; of a balance or a protractor only its scale is known.
        return None, tolerance / 2
    spare = max(tolerance - max(size.half_width for size in listed), _SHARE_OF_TOLERANCE * tolerance)
    name = next((name for name in _FOR_PARTS if TOOLS[name].half_width_mm <= spare), _FOR_PARTS[-1])
    return name, TOOLS[name].half_width_mm


def _expected_left(dimension: Dimension, listed: Sequence[Size], half_width: float) -> float:
    """Return how many parts stay possible, if each of them is equally likely to be the one."""
    left = 0
    for true in listed:
        standings = (compare(dimension, Size(true.value, half_width), other).standing for other in listed)
        left += sum(standing in {"same", "cannot-tell"} for standing in standings)
    return left / len(listed)
