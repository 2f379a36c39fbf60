"""Will it fit: the top block of a suspension spring and the slot of its post, from readings and their tools.

No published figure was found for this fit: every limit is common practice, no source, and is
named below so that a shop can judge it. Each answer says what would settle it and what not to do.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics.measuring import Tool, chance_text, tool, true_sizes
from diagnose.model.quantities import show_length

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

NEVER_FORCE = (
    "Never pinch the post on to a thin block and never pry it open for a thick one: its brass cracks at the "
    "pin hole and drops the bob."
)


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
    sentence : str
        The answer in one sentence.
    next_measurement : str
        What would settle it.
    caution : str
        What not to do.
    """

    answer: Answer
    chances: Mapping[str, float]
    goes_in: float | None
    sentence: str
    next_measurement: str
    caution: str


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
    tapered = len(slots) > 1
    return FitAnswer(
        answer=answer,
        chances=chances,
        goes_in=goes_in,
        sentence=_block_sentence(answer, goes_in, min(slots) - block_mm) + _pinched(slot_mouth_mm, slot_root_mm),
        next_measurement=_block_next(answer, tools[0], tools[1], tapered),
        caution=NEVER_FORCE,
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


def _block_sentence(answer: Answer, goes_in: float, play_mm: float) -> str:
    chance = f"chance that it goes in {chance_text(goes_in)}"
    return {
        "goes-in-free": f"It goes in freely, about {show_length(play_mm)} of play ({chance}).",
        "goes-in-close": f"It goes in close, with light drag ({chance}).",
        "only-after-opening": (
            f"It goes in only after the slot is opened: about {show_length(-play_mm)} too thick ({chance}). "
            "Dress the block or get the right one; opening the post is bench work."
        ),
        "will-rock": (
            f"It goes in but will rock, about {show_length(play_mm)} of play ({chance}). "
            "Line the slot with brass foil, alike on both cheeks, or get the right block."
        ),
        "cannot-tell": (
            f"It goes in, but whether it rocks these measurements cannot tell ({chance})."
            if goes_in >= SETTLED
            else f"These measurements cannot tell ({chance})."
        ),
    }[answer]


def _pinched(mouth_mm: float | None, root_mm: float | None) -> str:
    """Return a sentence on a slot whose mouth is narrower or wider than its root."""
    if mouth_mm is None or root_mm is None or abs(mouth_mm - root_mm) <= CLOSE_TO_MM:
        return ""
    if mouth_mm < root_mm:
        return " The slot is narrower at its mouth: the post has been pinched. Look for a crack with a loupe first."
    return " The slot is wider at its mouth: the post has been spread. Look for a crack with a loupe first."


def _block_next(answer: Answer, block: Tool, slot: Tool, tapered: bool) -> str:
    """Return the next measurement that would settle it."""
    coarse_block = block.half_width_mm > tool("micrometer").half_width_mm
    coarse_slot = slot.half_width_mm > tool("feeler-strips").half_width_mm
    if answer == "cannot-tell":
        if coarse_slot and slot.half_width_mm >= block.half_width_mm:
            return "Feel the slot with feeler gauge strips: the thickest strip that slides in by fingers is its width."
        if coarse_block:
            return "Measure the block with a micrometer, at its widest place."
        return "Try the new block alone in the slot by fingers, with no load on the leaf; take it out again."
    if not tapered:
        return "Measure the slot at its mouth and at its root too: a pinched slot is narrower at the mouth."
    return "Try the block alone by fingers: light drag, no rocking under a fingertip, light shows through both holes."
