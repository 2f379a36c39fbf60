"""Pins and leaves against what they replace: taper pin and hole, thickness and length of a leaf.

No published figure was found for any of these: every limit is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics.fit import SETTLED, Answer, FitAnswer, must_be_sizes
from diagnose.mechanics.measuring import tool, true_sizes
from diagnose.mechanics.suspension_spring import gain_over_hinge, rate_by_free_length

PIN_IN = (0.55, 0.85)
"""Share of a taper pin's length that is in when it sits well: about two thirds."""

PIN_END_MM = 1.0
"""How far a pin must show beyond the far cheek [mm]."""

THICKNESS_ALIKE = 0.10
"""Leaves within this share of the pattern's thickness act alike."""

LENGTH_ALIKE_MM = 1.0
"""Leaves within this of the pattern's free length act alike [mm]."""


@dataclass(frozen=True, slots=True)
class TaperPin:
    """A taper pin.

    Parameters
    ----------
    thin_mm, thick_mm, length_mm : float
        Diameter at the thin and at the thick end, and length between them [mm].
    """

    thin_mm: float
    thick_mm: float
    length_mm: float


def fit_pin(pin: TaperPin, hole_mm: float, post_mm: float, pin_tool: str, hole_tool: str) -> FitAnswer:
    """Say how far a taper pin goes into the hole of a post: about two thirds is right.

    Parameters
    ----------
    pin : TaperPin
        The pin.
    hole_mm : float
        Diameter of the hole on the side where the pin enters [mm].
    post_mm : float
        Width of the post, over both cheeks [mm].
    pin_tool, hole_tool : str
        What they were measured with: keys of `measuring.TOOLS`.

    Raises
    ------
    UsageError
        If a size is not above 0, the pin has no taper, or a tool is not known.
    """
    must_be_sizes(pin.thin_mm, pin.thick_mm, pin.length_mm, hole_mm, post_mm)
    if pin.thick_mm <= pin.thin_mm:
        raise UsageError(
            f"a pin of {pin.thin_mm:g} mm and {pin.thick_mm:g} mm has no taper",
            do="Give its thin end first; a straight pin is no pin for a post",
        )
    sizes = true_sizes([pin.thin_mm, pin.thick_mm, hole_mm], [tool(pin_tool), tool(pin_tool), tool(hole_tool)])
    taper = np.maximum(sizes[:, 1] - sizes[:, 0], tool("micrometer").half_width_mm)
    share_in = (sizes[:, 2] - sizes[:, 0]) / taper
    through = (post_mm + PIN_END_MM) / pin.length_mm
    short = share_in < max(PIN_IN[0], through)
    slack = share_in > PIN_IN[1]
    chances = MappingProxyType(
        {
            "two-thirds": float(np.mean(~short & ~slack)),
            "will-not-pass": float(np.mean(short)),
            "rattles": float(np.mean(slack & ~short)),
        }
    )
    return FitAnswer(_likeliest(chances), chances, None, "pin-by-fingers", "drive")


def _likeliest(chances: Mapping[str, float]) -> Answer:
    """Return the answer that is settled, or that nothing is."""
    best = max(chances, key=lambda name: chances[name])
    return best if chances[best] >= SETTLED else "cannot-tell"  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Hanging:
    """What hangs on a leaf, for the effect on the rate.

    Parameters
    ----------
    leaf_width_mm, free_length_mm : float
        Width and free length of the leaf [mm].
    mass_kg : float
        Mass of the pendulum [kg].
    pendulum_mm : float
        Its theoretical length [mm].
    """

    leaf_width_mm: float
    free_length_mm: float
    mass_kg: float
    pendulum_mm: float


def leaf_thickness(
    pattern_mm: float, new_mm: float, pattern_tool: str, new_tool: str, hanging: Hanging | None = None
) -> FitAnswer:
    """Compare the thickness of a new leaf with the pattern: stiffness goes with its third power.

    Parameters
    ----------
    pattern_mm, new_mm : float
        Thickness of the old and of the new leaf [mm].
    pattern_tool, new_tool : str
        What they were measured with: keys of `measuring.TOOLS`.
    hanging : Hanging, optional
        With it the answer says what the difference does to the rate.
    """
    must_be_sizes(pattern_mm, new_mm)
    sizes = true_sizes([pattern_mm, new_mm], [tool(pattern_tool), tool(new_tool)])
    pattern = np.maximum(sizes[:, 0], tool("micrometer").half_width_mm)
    ratio = sizes[:, 1] / pattern
    chances = _three_way(ratio - 1, THICKNESS_ALIKE, "stiffer", "weaker")
    rate = None if hanging is None else _rate_change(pattern_mm, new_mm, hanging)
    return FitAnswer(_likeliest(chances), chances, None, "beside-the-pattern", "touch", rate_s_per_day=rate)


def _rate_change(pattern_mm: float, new_mm: float, hanging: Hanging) -> float:
    gains = [
        gain_over_hinge(each, hanging.leaf_width_mm, hanging.free_length_mm, hanging.mass_kg, hanging.pendulum_mm)
        for each in (pattern_mm, new_mm)
    ]
    return gains[1] - gains[0]


def leaf_length(
    pattern_mm: float, new_mm: float, pattern_tool: str, new_tool: str, pendulum_mm: float | None = None
) -> FitAnswer:
    """Compare the free length of a new leaf with the pattern: the pendulum grows by the difference.

    Parameters
    ----------
    pattern_mm, new_mm : float
        Free length between the blocks [mm].
    pattern_tool, new_tool : str
        What they were measured with: keys of `measuring.TOOLS`.
    pendulum_mm : float, optional
        Theoretical length of the pendulum, for the effect on the rate [mm].
    """
    must_be_sizes(pattern_mm, new_mm)
    sizes = true_sizes([pattern_mm, new_mm], [tool(pattern_tool), tool(new_tool)])
    chances = _three_way(sizes[:, 1] - sizes[:, 0], LENGTH_ALIKE_MM, "longer", "shorter")
    rate = None if pendulum_mm is None else rate_by_free_length(new_mm - pattern_mm, pendulum_mm)
    return FitAnswer(_likeliest(chances), chances, None, "beside-the-pattern", "touch", rate_s_per_day=rate)


def _three_way(difference: NDArray[np.float64], alike: float, above: str, below: str) -> Mapping[str, float]:
    return MappingProxyType(
        {
            "same": float(np.mean(np.abs(difference) <= alike)),
            above: float(np.mean(difference > alike)),
            below: float(np.mean(difference < -alike)),
        }
    )
