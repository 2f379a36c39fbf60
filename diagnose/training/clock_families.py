"""Usual figures of the families of clocks, for the simulated clock."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class FamilyDefaults:
    """Usual figures of a family; orders of size, common practice, no source.

    Parameters
    ----------
    swing_deg, drop_deg : float
        Semi-arc, and angle at which a tooth drops [deg].
    q : float
        Quality factor of the swing under way, escapement friction included [1].
    beats_per_hour : float
        Beats per hour [1/h].
    base_mm, fork_mm, bend_to_bob_mm, hook_to_foot_mm : float
        Sizes that turn a movement into an angle [mm].
    """

    swing_deg: float
    drop_deg: float
    q: float
    beats_per_hour: float
    base_mm: float
    fork_mm: float
    bend_to_bob_mm: float
    hook_to_foot_mm: float


FAMILIES = MappingProxyType(
    {
        "floor": FamilyDefaults(3.0, 1.5, 900.0, 3600.0, 300.0, 120.0, 1050.0, 1900.0),
        "wall": FamilyDefaults(4.0, 2.0, 350.0, 5400.0, 200.0, 80.0, 480.0, 700.0),
        "mantel": FamilyDefaults(5.0, 3.0, 180.0, 7200.0, 200.0, 60.0, 250.0, 350.0),
    }
)
