"""Will it fit: the top block of a suspension spring and the slot of its post, from readings and their tools.

No published figure was found for this fit: every limit is common practice, no source, and is
named below so that a shop can judge it. Each answer names what would settle it and what not to do; the
words for them stand in the knowledge files (`fit-...` in `knowledge/words/screen_fit.yaml`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics.measuring import Tool, tool, true_sizes

CLOSE_TO_MM = 0.03
"""Up to this much play a block goes in with light drag: close."""

ROCKS_FROM_MM = 0.10
"""From this much play, a slip of thin paper, a block rocks in its slot."""

SETTLED = 0.9
"""From this chance an answer is given; below it the measurements cannot tell."""

Answer = Literal[
    "goes-in-free", "goes-in-close", "only-after-opening", "will-rock", "cannot-tell",
    "two-thirds", "will-not-pass", "rattles",
    "same", "stiffer", "weaker", "longer", "shorter",
]  # fmt: skip

Settle = Literal[
    "feeler-strips", "micrometer", "by-fingers", "mouth-and-root", "fingertip", "pin-by-fingers", "beside-the-pattern"
]  # fmt: skip
Never = Literal["force", "drive", "touch"]


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """What two measurements say.

    Parameters
    ----------
    answer : str
        Id of the answer; "cannot-tell" where the tools are too coarse for the difference.
    chances : mapping of str to float
        Chance of each answer the truth may have, given the measuring errors; they add up to 1.
    goes_in : float or None
        Chance that it goes in by fingers; None where that is not the question.
    settle : str
        Id of what would settle or prove it.
    never : str
        Id of what not to do.
    play_mm : float, optional
        Play as measured; below 0 it is too thick [mm].
    taper : str, optional
        "pinched" where the slot is narrower at its mouth, "spread" where it is wider.
    rate_s_per_day : float, optional
        What the difference, as measured, would do to the rate [s/day].
    """

    answer: Answer
    chances: Mapping[str, float]
    goes_in: float | None
    settle: Settle
    never: Never
    play_mm: float | None = None
    taper: Literal["pinched", "spread"] | None = None
    rate_s_per_day: float | None = None


def fit(
    block_mm: float,
    slot_mm: float,
    block_tool: str,
    slot_tool: str,
    slot_mouth_mm: float | None = None,
    slot_root_mm: float | None = None,
) -> FitAnswer:
    """Say whether a top block goes into the slot of a post.

    Parameters
    ----------
    block_mm : float
        Thickness of the block at its widest [mm].
    slot_mm : float
        Width of the slot, in the middle where mouth and root are given too [mm].
    block_tool, slot_tool : str
        What they were measured with: keys of `measuring.TOOLS`.
    slot_mouth_mm, slot_root_mm : float, optional
        Width of the slot at its mouth and at its root [mm].

    Returns
    -------
    FitAnswer
        One of the five answers. It goes in if the narrowest place is wider than the block; it rocks if
        the mean play is too much, since a block tilts by the sum of the play at both ends.

    Raises
    ------
    UsageError
        If a size is not above 0 or a tool is not known.
    """
    slots = [width for width in (slot_mm, slot_mouth_mm, slot_root_mm) if width is not None]
    must_be_sizes(block_mm, *slots)
    tools = [tool(block_tool), *[tool(slot_tool)] * len(slots)]
    sizes = true_sizes([block_mm, *slots], tools)
    play = sizes[:, 1:] - sizes[:, :1]
    chances = _block_chances(play.min(axis=1), play.mean(axis=1))
    goes_in = 1 - chances["only-after-opening"]
    answer = _block_answer(chances)
    return FitAnswer(
        answer=answer,
        chances=chances,
        goes_in=goes_in,
        settle=_settle(answer, tools[0], tools[1], tapered=len(slots) > 1),
        never="force",
        play_mm=min(slots) - block_mm,
        taper=_taper(slot_mouth_mm, slot_root_mm),
    )


def must_be_sizes(*sizes_mm: float) -> None:
    """Refuse a size that is not above 0 mm."""
    for size in sizes_mm:
        if not size > 0:
            raise UsageError(f"a size of {size:g} mm", do="Every size is more than 0 mm: measure again")


def _block_chances(least: NDArray[np.float64], mean: NDArray[np.float64]) -> Mapping[str, float]:
    """Return the chance of each answer from the least and the mean play of every case."""
    enters = least > 0
    rocks = enters & (mean >= ROCKS_FROM_MM)
    close = enters & ~rocks & (mean <= CLOSE_TO_MM)
    chances = {
        "goes-in-free": float(np.mean(enters & ~rocks & ~close)),
        "goes-in-close": float(np.mean(close)),
        "only-after-opening": float(np.mean(~enters)),
        "will-rock": float(np.mean(rocks)),
    }
    return MappingProxyType(chances)


def _block_answer(chances: Mapping[str, float]) -> Answer:
    """Return the answer: first whether it enters, then whether it rocks, then how close it is."""
    stays_out, rocks = chances["only-after-opening"], chances["will-rock"]
    if stays_out >= SETTLED:
        return "only-after-opening"
    if rocks >= SETTLED:
        return "will-rock"
    if stays_out + rocks > 1 - SETTLED:
        return "cannot-tell"
    return "goes-in-close" if chances["goes-in-close"] > chances["goes-in-free"] else "goes-in-free"


def _taper(mouth_mm: float | None, root_mm: float | None) -> Literal["pinched", "spread"] | None:
    """Return whether the mouth of a slot is narrower or wider than its root."""
    if mouth_mm is None or root_mm is None or abs(mouth_mm - root_mm) <= CLOSE_TO_MM:
        return None
    return "pinched" if mouth_mm < root_mm else "spread"


def _settle(answer: Answer, block: Tool, slot: Tool, tapered: bool) -> Settle:
    """Return what would settle it next, or prove it where it is settled."""
    coarse_block = block.half_width_mm > tool("micrometer").half_width_mm
    coarse_slot = slot.half_width_mm > tool("feeler-strips").half_width_mm
    if answer == "cannot-tell":
        if coarse_slot and slot.half_width_mm >= block.half_width_mm:
            return "feeler-strips"
        return "micrometer" if coarse_block else "by-fingers"
    return "fingertip" if tapered else "mouth-and-root"
