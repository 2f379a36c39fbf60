"""The suspension spring as a stiff strip under the pull of the pendulum.

References
----------
.. [1] Strip of bending stiffness EI under tension W, clamped in the top block (beam-column theory): with
   q = sqrt(EI / W), free length l and D from the block to the center of oscillation, the pendulum behaves as a
   simple one of length D - s; s = q coth(l/q) for a rod R = D - l far longer than q, and exactly
   s = q (R + q tanh(l/q)) / (R tanh(l/q) + q). Derived for this project and checked against the numerical
   solution of the strip: the long-rod form is 0.13 % off on a stiff leaf of a light pendulum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import SECONDS_PER_DAY, STANDARD_GRAVITY

STEEL_MODULUS_PA = 200e9
"""Young's modulus of spring steel, taken round [Pa]; handbook value."""

MM = 1e-3
MPA = 1e6


@dataclass(frozen=True, slots=True)
class Leaf:
    """A suspension spring between its blocks.

    Parameters
    ----------
    thickness_mm, width_mm : float
        Of the leaf; two leaves side by side count as one of both widths [mm].
    free_mm : float
        Length between the blocks [mm].
    """

    thickness_mm: float
    width_mm: float
    free_mm: float


def stiff_length_mm(
    thickness_mm: float, width_mm: float, mass_kg: float, modulus_pa: float = STEEL_MODULUS_PA
) -> float:
    """Return q = sqrt(EI / W), the length over which the strip resists bending [mm].

    Parameters
    ----------
    thickness_mm, width_mm : float
        Of the leaf; two leaves side by side count as one of both widths [mm].
    mass_kg : float
        Mass that hangs on it [kg].
    modulus_pa : float
        Young's modulus [Pa].
    """
    second_moment = width_mm * MM * (thickness_mm * MM) ** 3 / 12
    return math.sqrt(modulus_pa * second_moment / (mass_kg * STANDARD_GRAVITY)) / MM


def shortening_mm(stiff_length_mm: float, free_length_mm: float, rod_mm: float = math.inf) -> float:
    """Return by how much the stiff strip shortens the pendulum [1]_ [mm].

    Parameters
    ----------
    stiff_length_mm : float
        q, from `stiff_length_mm` [mm].
    free_length_mm : float
        Length of the leaf between the blocks [mm].
    rod_mm : float
        From the lower block to the center of oscillation; without it, far longer than q [mm].
    """
    bend = math.tanh(free_length_mm / stiff_length_mm)
    share = stiff_length_mm / rod_mm
    return stiff_length_mm * (1 + share * bend) / (bend + share)


def gain_over_hinge(
    thickness_mm: float, width_mm: float, free_length_mm: float, mass_kg: float, pendulum_mm: float
) -> float:
    """Return how much the stiff leaf makes the clock gain over a free hinge at the top block [s/day].

    Parameters
    ----------
    thickness_mm, width_mm, free_length_mm : float
        Of the leaf [mm].
    mass_kg : float
        Mass that hangs on it [kg].
    pendulum_mm : float
        From the edge of the top block to the center of oscillation [mm].
    """
    stiff = stiff_length_mm(thickness_mm, width_mm, mass_kg)
    shorter = shortening_mm(stiff, free_length_mm, pendulum_mm - free_length_mm)
    return SECONDS_PER_DAY * (math.sqrt(pendulum_mm / (pendulum_mm - shorter)) - 1)


def rate_by_free_length(longer_by_mm: float, pendulum_mm: float) -> float:
    """Return the rate after the leaf is exchanged for a longer one [s/day, + gains].

    Parameters
    ----------
    longer_by_mm : float
        New free length less the old [mm].
    pendulum_mm : float
        Theoretical length of the pendulum [mm].
    """
    return -SECONDS_PER_DAY / 2 * longer_by_mm / pendulum_mm


def rate_by_new_leaf(
    old: Leaf, new: Leaf, mass_kg: float, pendulum_mm: float, modulus_pa: float = STEEL_MODULUS_PA
) -> float:
    """Return the rate after the leaf was exchanged in a clock that was right: stiffness and length together.

    Parameters
    ----------
    old, new : Leaf
        The leaf it kept time with, and the one it has now.
    mass_kg : float
        Mass that hangs on it [kg].
    pendulum_mm : float
        Theoretical length with the old leaf, as its beat tells it [mm].
    modulus_pa : float
        Young's modulus [Pa].

    Returns
    -------
    float
        [s/day, + gains] [1]_.

    Raises
    ------
    UsageError
        If the new leaf would hold the pendulum rather than let it swing.
    """
    old_mm, new_mm = (_shortened(leaf, mass_kg, pendulum_mm, modulus_pa) for leaf in (old, new))
    length_mm = pendulum_mm + old_mm - new_mm + new.free_mm - old.free_mm
    if length_mm <= 0:
        raise UsageError(
            f"a leaf of {new.thickness_mm:g} x {new.width_mm:g} mm under {mass_kg:g} kg on {pendulum_mm:g} mm",
            do="So stiff a leaf holds the pendulum still: check the thickness and the mass",
        )
    return SECONDS_PER_DAY * (math.sqrt(pendulum_mm / length_mm) - 1)


def _shortened(leaf: Leaf, mass_kg: float, pendulum_mm: float, modulus_pa: float) -> float:
    """Return by how much a leaf shortens a pendulum of a theoretical length [mm]."""
    stiff = stiff_length_mm(leaf.thickness_mm, leaf.width_mm, mass_kg, modulus_pa)
    # The rod ends at the center of oscillation, which lies below the theoretical length by the shortening itself.
    rod_mm = pendulum_mm + shortening_mm(stiff, leaf.free_mm) - leaf.free_mm
    if rod_mm <= 0:
        raise UsageError(
            f"a leaf of {leaf.free_mm:g} mm on a pendulum of {pendulum_mm:g} mm",
            do="The pendulum is longer than its spring: check both lengths",
        )
    return shortening_mm(stiff, leaf.free_mm, rod_mm)


def bending_strain(thickness_mm: float, stiff_length_mm: float, semi_arc_deg: float) -> float:
    """Return the largest bending strain, at the edge of the top block [1].

    Parameters
    ----------
    thickness_mm : float
        Of the leaf [mm].
    stiff_length_mm : float
        q, from `stiff_length_mm` [mm].
    semi_arc_deg : float
        Swing from dead center to one end [deg].

    Notes
    -----
    q grows as the thickness to the power 1.5, so a thinner leaf is strained *more*. Creases, nicks and
    sharp edges come on top and are what really breaks a leaf.
    """
    return thickness_mm * math.radians(semi_arc_deg) / (2 * stiff_length_mm)


def bending_stress_mpa(strain: float, modulus_pa: float = STEEL_MODULUS_PA) -> float:
    """Return the stress of a bending strain [MPa].

    Parameters
    ----------
    strain : float
        From `bending_strain` [1].
    modulus_pa : float
        Young's modulus [Pa].
    """
    return strain * modulus_pa / MPA


def pull_mpa(thickness_mm: float, width_mm: float, mass_kg: float) -> float:
    """Return the stress by which the pendulum stretches the leaf [MPa].

    Parameters
    ----------
    thickness_mm, width_mm : float
        Of the leaf [mm].
    mass_kg : float
        Mass that hangs on it [kg].
    """
    return mass_kg * STANDARD_GRAVITY / (thickness_mm * MM * width_mm * MM) / MPA
