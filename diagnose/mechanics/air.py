"""What the air does to a pendulum: an order of size, to be left out of every domestic diagnosis.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 71-73.
.. [2] *Monthly Notices of the Royal Astronomical Society* 33 (1872-73), p. 22: 0.37 and 0.41, unit inferred.
.. [3] NIST SP 811: the conventional inch of mercury is 3386.389 Pa.
"""

from __future__ import annotations

from diagnose.mechanics.regulation import HALF_DAY

BAROMETER_S_PER_DAY = (0.3, 0.41)
"""Least and most published loss for an inch of mercury of rise [1]_, [2]_ [s/day per inHg]."""

HPA_PER_INCH_OF_MERCURY = 33.86389
"""[3]_ [hPa/inHg]."""

AIR_KG_PER_M3 = 1.2
"""Density of air in a room [kg/m3]."""

VACUUM_GAIN_S_PER_DAY = 13.0
"""What a heavy pendulum (eleven times as dense as water) gains in a vacuum [1]_, p. 71 [s/day]."""

LARGEST_SWING_OF_THE_BAROMETER_HPA = 60.0
"""More the weather hardly ever moves the barometer; from memory [hPa]."""


def loss_by_barometer(rise_hpa: float) -> tuple[float, float]:
    """Return the least and the most that a rise of the barometer makes a good clock lose [s/day].

    Parameters
    ----------
    rise_hpa : float
        Rise of the pressure; a fall is negative, and so is then the loss [hPa].
    """
    inches = rise_hpa / HPA_PER_INCH_OF_MERCURY
    least, most = sorted(each * inches for each in BAROMETER_S_PER_DAY)
    return least, most


def loss_by_buoyancy(pendulum_kg_per_m3: float, air_kg_per_m3: float = AIR_KG_PER_M3) -> float:
    """Return what the air loses by carrying part of the weight; dragged air adds as much again [s/day].

    Parameters
    ----------
    pendulum_kg_per_m3, air_kg_per_m3 : float
        Densities [kg/m3].

    References
    ----------
    Gravity acts on the mass less that of the air it displaces: 43200 times the ratio of densities (derived).
    """
    return HALF_DAY * air_kg_per_m3 / pendulum_kg_per_m3
