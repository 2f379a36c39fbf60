"""A pendulum with a rod that has mass and a bob that has width: where its bob hangs, and what its nut really does.

References
----------
.. [1] A body that swings about an axis beats like a point at its moment of inertia over its first moment (Huygens);
   uniform rod m l^2 / 3 about its end, flat round bob m r^2 / 2 about its middle, moved by the parallel axes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from diagnose.errors import UsageError


@dataclass(frozen=True, slots=True)
class RodAndBob:
    """A uniform rod from the bend of the suspension spring down, and a flat round bob on it.

    Parameters
    ----------
    rod_kg, rod_mm : float
        Mass of the rod with all that hangs above, and its length from the bend to its end [kg, mm].
    bob_kg, bob_radius_mm : float
        Mass and half the width of the bob, which swings in its own plane [kg, mm].
    """

    rod_kg: float
    rod_mm: float
    bob_kg: float
    bob_radius_mm: float


def center_of_swing_mm(body: RodAndBob, bob_mm: float) -> float:
    """Return the theoretical length of a pendulum whose bob hangs at a place [1]_ [mm].

    Parameters
    ----------
    body : RodAndBob
        Rod and bob.
    bob_mm : float
        From the bend to the middle of the bob [mm].
    """
    inertia = body.rod_kg * body.rod_mm**2 / 3 + body.bob_kg * (bob_mm**2 + body.bob_radius_mm**2 / 2)
    return inertia / _first_moment(body, bob_mm)


def _first_moment(body: RodAndBob, bob_mm: float) -> float:
    return body.rod_kg * body.rod_mm / 2 + body.bob_kg * bob_mm


def bob_place_mm(body: RodAndBob, length_mm: float) -> float:
    """Return where the bob hangs in a pendulum of a theoretical length [mm].

    Parameters
    ----------
    body : RodAndBob
        Rod and bob.
    length_mm : float
        Theoretical length that its beat asks for [mm].

    Returns
    -------
    float
        From the bend to the middle of the bob: the larger root of the quadratic equation of `center_of_swing_mm`.

    Raises
    ------
    UsageError
        If no place of the bob gives this length, or only one beyond the end of the rod.
    """
    rest = body.rod_kg * body.rod_mm**2 / 3 - length_mm * body.rod_kg * body.rod_mm / 2
    middle = length_mm / 2
    square = middle**2 - body.bob_radius_mm**2 / 2 - rest / body.bob_kg
    place = middle + math.sqrt(square) if square >= 0 else math.nan
    if not 0 < place <= body.rod_mm:
        raise UsageError(
            f"a rod of {body.rod_mm:g} mm and {body.rod_kg:g} kg with a bob of {body.bob_kg:g} kg",
            do=f"No place of the bob on it swings like {length_mm:.1f} mm: check the masses and the length of the rod",
        )
    return place


def nut_share(body: RodAndBob, bob_mm: float) -> float:
    """Return how much of a travel of the bob the theoretical length follows; 1 for a rod without mass [1].

    Parameters
    ----------
    body : RodAndBob
        Rod and bob.
    bob_mm : float
        From the bend to the middle of the bob [mm].

    References
    ----------
    Derivative of `center_of_swing_mm`: bob mass times (2 d - L) over the first moment.
    """
    return body.bob_kg * (2 * bob_mm - center_of_swing_mm(body, bob_mm)) / _first_moment(body, bob_mm)
