"""The going train: beats per hour and turns, from wheel and pinion counts, exactly.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 22-23, 133-139.
.. [2] W. L. Goodrich, *The Modern Clock* (1905), ch. XV.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from diagnose.errors import UsageError

BEATS_PER_TOOTH = 2
"""Each tooth of the escape wheel gives a beat on either pallet."""

COMMON_BEATS_PER_HOUR = (
    3600, 4320, 4800, 5040, 5400, 5760, 6000, 6480, 7200, 8000, 8400, 9000, 9600, 10800, 12000, 14400,
)  # fmt: skip
"""Beats per hour of common trains; common practice, no source."""


def turns(wheels: Sequence[int], pinions: Sequence[int]) -> Fraction:
    """Return the turns of the last pinion for one turn of the first wheel.

    Parameters
    ----------
    wheels : sequence of int, shape (n,)
        Teeth of each driving wheel, in order.
    pinions : sequence of int, shape (n,)
        Leaves of the pinion that each of them drives.

    Raises
    ------
    UsageError
        If the counts do not pair up, or one of them is not at least 1.
    """
    if len(wheels) != len(pinions) or not wheels:
        raise UsageError(
            f"{len(wheels)} wheels and {len(pinions)} pinions were given", do="Give one pinion for each wheel"
        )
    if min(*wheels, *pinions) < 1:
        raise UsageError(f"counts {list(wheels)} over {list(pinions)}", do="Every count is at least 1")
    return Fraction(math.prod(wheels), math.prod(pinions))


def beats_per_hour(
    wheels: Sequence[int], pinions: Sequence[int], escape_teeth: int, first_turns_per_hour: Fraction | int = 1
) -> Fraction:
    """Return the beats per hour of a train [1/h].

    Parameters
    ----------
    wheels : sequence of int, shape (n,)
        Teeth from the center wheel to the wheel before the escape wheel.
    pinions : sequence of int, shape (n,)
        Leaves from the pinion the center wheel drives to the escape pinion.
    escape_teeth : int
        Teeth of the escape wheel.
    first_turns_per_hour : Fraction or int
        Turns of the first wheel in an hour: 1 for a center wheel [1/h].

    References
    ----------
    [1]_, pp. 22-23.
    """
    if escape_teeth < 1:
        raise UsageError(f"an escape wheel of {escape_teeth} teeth", do="Every count is at least 1")
    return BEATS_PER_TOOTH * escape_teeth * turns(wheels, pinions) * first_turns_per_hour


def nearest_common(beats: float) -> int:
    """Return the common train nearest to a measured number of beats per hour, by ratio.

    Parameters
    ----------
    beats : float
        Measured beats per hour [1/h].
    """
    return min(COMMON_BEATS_PER_HOUR, key=lambda common: abs(math.log(beats / common)))
