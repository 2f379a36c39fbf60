"""The pendulum: length and beats, gravity by place, circular error, temperature.

References
----------
.. [1] 3rd General Conference on Weights and Measures (1901), Resolution 2: standard gravity.
.. [2] WGS 84 (TR 8350.2) and GRS 80 (Moritz): normal gravity on the ellipsoid (Somigliana's closed form).
.. [3] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 34-39 (period, circular error), 52-54 (heat).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType

STANDARD_GRAVITY = 9.80665
"""Conventional standard gravity, exact by definition [1]_ [m/s2]."""

FREE_AIR_GRADIENT = -3.086e-6
"""Change of gravity with height in free air: a tower, a narrow peak [1/s2]; from memory, second-hand."""

PLATEAU_GRADIENT = -1.967e-6
"""The same on wide high ground, whose rock gives part back: net 0.1967 mGal/m [1/s2]; from memory."""

SECONDS_PER_DAY = 86_400.0
SECONDS_PER_HOUR = 3_600.0
MM_PER_INCH = 25.4

TRADE_CONSTANT_IN = 39.2
"""Length of a seconds pendulum in the trade's rule of thumb [in]; common practice, slightly long."""

CLOSE_ENOUGH = 1e-9
"""Relative difference from which the arithmetic-geometric mean is exact in double precision."""

CIRCULAR_RULE = 5_400.0
"""Daily loss is this times the square of the semi-arc in radians [3]_, p. 34 [s/day]."""


@dataclass(frozen=True, slots=True)
class Ellipsoid:
    """The constants of a normal gravity formula.

    Parameters
    ----------
    equator : float
        Normal gravity at the equator [m/s2].
    somigliana : float
        Somigliana's constant [1].
    eccentricity_squared : float
        First eccentricity squared [1].
    """

    equator: float
    somigliana: float
    eccentricity_squared: float


WGS84 = Ellipsoid(9.7803253359, 0.00193185265241, 0.00669437999013)
GRS80 = Ellipsoid(9.7803267715, 0.001931851353, 0.0066943800229)

EXPANSION_PER_C = MappingProxyType(
    {
        "steel": 11.52e-6,
        "iron": 12.6e-6,
        "brass": 18.0e-6,
        "wood": 4.14e-6,
        "zinc": 28.8e-6,
        "lead": 29.7e-6,
        "invar": 1.2e-6,
    }
)
"""Linear expansion [1/deg C]: Beckett pp. 53-54; wood is softwood along the grain; invar from handbooks."""


def length_m(beats_per_hour: float, gravity: float = STANDARD_GRAVITY) -> float:
    """Return the length of the simple pendulum that makes so many beats.

    Parameters
    ----------
    beats_per_hour : float
        Beats (half periods) per hour [1/h].
    gravity : float
        Local gravity [m/s2].

    Returns
    -------
    float
        Theoretical length, for a vanishing swing [m].

    References
    ----------
    One beat is pi sqrt(L/g) [3]_, pp. 34-35.
    """
    return gravity / math.pi**2 * (SECONDS_PER_HOUR / beats_per_hour) ** 2


def beats_per_hour(length_m: float, gravity: float = STANDARD_GRAVITY) -> float:
    """Return the beats per hour of a simple pendulum; see `length_m`.

    Parameters
    ----------
    length_m : float
        Theoretical length [m].
    gravity : float
        Local gravity [m/s2].
    """
    return SECONDS_PER_HOUR / (math.pi * math.sqrt(length_m / gravity))


def beats_per_minute_by_trade_rule(length_in: float) -> float:
    """Return beats per minute by the rule sqrt(141120 / inches); good enough to name a movement.

    Parameters
    ----------
    length_in : float
        Length from the bend of the spring to the middle of the bob [in].
    """
    return math.sqrt(TRADE_CONSTANT_IN * SECONDS_PER_HOUR / length_in)


def length_by_trade_rule_in(beats_per_minute: float) -> float:
    """Return the length in inches by the same rule, 141120 / beats^2; see `beats_per_minute_by_trade_rule`.

    Parameters
    ----------
    beats_per_minute : float
        Beats per minute [1/min].
    """
    return TRADE_CONSTANT_IN * SECONDS_PER_HOUR / beats_per_minute**2


def normal_gravity(latitude_deg: float, ellipsoid: Ellipsoid = WGS84) -> float:
    """Return normal gravity at sea level.

    Parameters
    ----------
    latitude_deg : float
        Geographic latitude [deg].
    ellipsoid : Ellipsoid
        `WGS84` or `GRS80`.

    Returns
    -------
    float
        Gravity [m/s2] [2]_.
    """
    sine_squared = math.sin(math.radians(latitude_deg)) ** 2
    above = 1 + ellipsoid.somigliana * sine_squared
    return ellipsoid.equator * above / math.sqrt(1 - ellipsoid.eccentricity_squared * sine_squared)


def gravity_at(
    latitude_deg: float, height_m: float = 0.0, ellipsoid: Ellipsoid = WGS84, on_a_plateau: bool = False
) -> float:
    """Return gravity at a place above sea level, in free air or on wide high ground.

    Parameters
    ----------
    latitude_deg : float
        Geographic latitude [deg].
    height_m : float
        Height above sea level [m].
    ellipsoid : Ellipsoid
        `WGS84` or `GRS80`.
    on_a_plateau : bool
        Whether the height is that of wide high ground and not of a tower or a peak.
    """
    gradient = PLATEAU_GRADIENT if on_a_plateau else FREE_AIR_GRADIENT
    return normal_gravity(latitude_deg, ellipsoid) + gradient * height_m


def rate_by_gravity(gravity: float, reference: float) -> float:
    """Return the rate of a pendulum that was right where gravity was `reference` [s/day, + gains].

    Parameters
    ----------
    gravity, reference : float
        Gravity here, and where the clock kept time [m/s2].
    """
    return SECONDS_PER_DAY * (math.sqrt(gravity / reference) - 1)


def circular_error(semi_arc_deg: float) -> float:
    """Return T/T0 - 1, the lengthening of the period by the width of the swing, exactly.

    Parameters
    ----------
    semi_arc_deg : float
        From dead center to one end [deg].

    References
    ----------
    T/T0 = 1 / AGM(1, cos(semi-arc / 2)), the arithmetic-geometric mean.
    """
    return 1 / _arithmetic_geometric_mean(1.0, math.cos(math.radians(semi_arc_deg) / 2)) - 1


def _arithmetic_geometric_mean(a: float, b: float) -> float:
    # The mean of two numbers this close is exact to the last digit: the next round would gain nothing.
    while abs(a - b) > CLOSE_ENOUGH * a:
        a, b = (a + b) / 2, math.sqrt(a * b)
    return (a + b) / 2


def circular_loss(semi_arc_deg: float) -> float:
    """Return what the width of the swing costs, exactly [s/day lost].

    Parameters
    ----------
    semi_arc_deg : float
        From dead center to one end [deg].

    Notes
    -----
    For an escapement this is not the whole story: a recoil clock gains when its swing grows. Use the
    swing as a sign of health, not to predict a rate ([3]_, pp. 49, 77, 82-84).
    """
    excess = circular_error(semi_arc_deg)
    return SECONDS_PER_DAY * excess / (1 + excess)


def circular_loss_by_rule(semi_arc_deg: float) -> float:
    """Return 5400 a^2, the published rule for the same loss ([3]_, p. 34) [s/day lost].

    Parameters
    ----------
    semi_arc_deg : float
        From dead center to one end [deg].
    """
    return CIRCULAR_RULE * math.radians(semi_arc_deg) ** 2


def rate_by_swing(old_semi_arc_deg: float, new_semi_arc_deg: float) -> float:
    """Return the rate by circular error alone after the swing has changed [s/day, + gains].

    Parameters
    ----------
    old_semi_arc_deg, new_semi_arc_deg : float
        From dead center to one end, before and now [deg].

    Notes
    -----
    The escapement may well do more, and the other way; see `circular_loss`.
    """
    return circular_loss(old_semi_arc_deg) - circular_loss(new_semi_arc_deg)


def semi_arc_deg(travel_mm: float, radius_mm: float) -> float:
    """Return half a swing read on a straight ruler held level at its middle [deg].

    Parameters
    ----------
    travel_mm : float
        From one end of the swing to the other, along the ruler [mm].
    radius_mm : float
        From the bend of the suspension spring straight down to the ruler [mm].
    """
    return math.degrees(math.atan(travel_mm / 2 / radius_mm))


def rate_by_temperature(expansion_per_c: float, warmer_by_c: float = 1.0) -> float:
    """Return the rate of a pendulum that has become warmer [s/day, + gains].

    Parameters
    ----------
    expansion_per_c : float
        Linear expansion of the rod, see `EXPANSION_PER_C` [1/deg C].
    warmer_by_c : float
        Degrees of warming [deg C].
    """
    return -SECONDS_PER_DAY / 2 * expansion_per_c * warmer_by_c
