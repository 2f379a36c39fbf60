"""What a part was measured with, and how far the reading may be from the truth.

Model of the error: the true size lies anywhere within the half-width of the tool around the reading, each
place equally likely, and the errors of two readings have nothing to do with each other. The difference
of two sizes is then spread like a trapezoid (a triangle, where both were taken with the same tool).
For a block of 2.0 mm and a slot of 2.1 mm this gives 0.595 by a ruler and 0.875 by a plastic caliper,
shown as 0.59 and 0.87: a chance is never rounded up.

References
----------
.. [1] JCGM 100:2008 (GUM), 4.3.7: where only bounds are known, a rectangular distribution.
.. [2] H. Niederreiter, *Random Number Generation and Quasi-Monte Carlo Methods* (1992): additive recurrence.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.model.near_names import near

POINTS = 1 << 16
"""Points over the errors: chances come out right to about one in ten thousand."""


@dataclass(frozen=True, slots=True)
class Tool:
    """A measuring tool; half-widths are common practice, no source.

    Parameters
    ----------
    name : str
        As it is shown.
    half_width_mm : float
        The true size lies within this of the reading [mm].
    reads_mm : float
        Smallest step that is read [mm].
    """

    name: str
    half_width_mm: float
    reads_mm: float


TOOLS = MappingProxyType(
    {
        "ruler": Tool("a ruler", 0.5, 1.0),
        "plastic-caliper": Tool("a plastic caliper", 0.1, 0.1),
        "loupe": Tool("a loupe with a scale", 0.05, 0.1),
        "steel-caliper": Tool("a steel caliper", 0.03, 0.01),
        "feeler-strips": Tool("feeler gauge strips", 0.02, 0.05),
        "micrometer": Tool("a micrometer", 0.005, 0.01),
    }
)


def tool(name: str) -> Tool:
    """Return the tool of that name.

    Parameters
    ----------
    name : str
        A key of `TOOLS`.

    Raises
    ------
    UsageError
        If there is no such tool.
    """
    found = TOOLS.get(name)
    if found is None:
        raise UsageError(f"unknown tool '{name}'{near(name, TOOLS)}", do=f"Use one of {', '.join(TOOLS)}")
    return found


def true_sizes(readings_mm: Sequence[float], tools: Sequence[Tool]) -> NDArray[np.float64]:
    """Return sizes the parts may truly have, evenly spread over the errors of the readings.

    Parameters
    ----------
    readings_mm : sequence of float, shape (n,)
        What was read [mm].
    tools : sequence of Tool, shape (n,)
        With what each was read.

    Returns
    -------
    ndarray, shape (POINTS, n)
        True sizes, all equally likely [mm]. The same each time: nothing is drawn at random [2]_.
    """
    count = len(readings_mm)
    root = _root_of_one_plus(count)
    steps = np.array([(1 / root) ** (axis + 1) for axis in range(count)])
    spread = (0.5 + np.arange(1, POINTS + 1)[:, None] * steps) % 1.0
    half = np.array([each.half_width_mm for each in tools])
    sizes: NDArray[np.float64] = np.asarray(readings_mm) + half * (2 * spread - 1)
    return sizes


def _root_of_one_plus(count: int) -> float:
    """Return the root of x^(count+1) = x + 1: its powers fill a cube of `count` axes evenly."""
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (count + 1))
    return root


def chance_text(chance: float) -> str:
    """Return a chance with two digits, never rounded up, and never certain.

    Parameters
    ----------
    chance : float
        Between 0 and 1.
    """
    return f"{min(math.floor(chance * 100), 99) / 100:.2f}"
