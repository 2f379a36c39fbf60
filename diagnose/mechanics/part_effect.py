"""What a part of other dimensions would do: stiffness and rate, pull of a mainspring, length of a pendulum.

References
----------
.. [1] Bending of a strip: stiffness E w t^3 / 12 goes with the width and the third power of the thickness; the
   moment of a coiled spring is that times the angle over its length.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

from diagnose.mechanics.pin_and_leaf import Hanging as Hanging
from diagnose.mechanics.suspension_spring import gain_over_hinge, rate_by_free_length, shortening_mm, stiff_length_mm
from diagnose.model.lists import PartEntry

STIFFNESS_POWER = 3
"""Stiffness goes with the third power of the thickness [1]_."""


class Sized(Protocol):
    """A size with its half-width."""

    @property
    def value(self) -> float:
        """The size."""

    @property
    def half_width(self) -> float:
        """The true size lies within this of it."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What the new part would do beside the old one, as measured.

    Parameters
    ----------
    stiffer, stiffer_unsure : float, optional
        Share by which a leaf is stiffer or a mainspring pulls more (+), with its standard uncertainty [1].
    strain : float, optional
        Share by which the leaf is strained more at its block (+): thinner is not kinder [1].
    rate_s_per_day, rate_unsure : float, optional
        Change of the rate, + gains, with its standard uncertainty [s/day].
    """

    stiffer: float | None = None
    stiffer_unsure: float = 0.0
    strain: float | None = None
    rate_s_per_day: float | None = None
    rate_unsure: float = 0.0


def effect_of(
    part: PartEntry, pairs: Mapping[str, tuple[Sized, Sized]], hanging: Hanging | None = None
) -> Effect | None:
    """Return what the difference would do, or None where the part has no physics of its own.

    Parameters
    ----------
    part : PartEntry
        The kind of part: `acts_as`, and what each of its dimensions `acts` on.
    pairs : mapping of str to (Sized, Sized)
        Old and new size, by the key of the dimension; those not compared are missing.
    hanging : Hanging, optional
        The pendulum; without it a leaf has no effect on the rate that could be told.
    """
    acting: dict[str, tuple[Sized, Sized]] = {
        each.acts: pairs[each.short] for each in part.dimensions if each.acts and each.short in pairs
    }
    if part.acts_as == "suspension-spring":
        return _leaf(acting, hanging)
    if part.acts_as == "mainspring":
        return _mainspring(acting)
    if part.acts_as == "pendulum" and "length" in acting:
        return _longer(acting["length"], acting["length"][0].value)
    if part.acts_as == "leader" and "length" in acting and hanging is not None:
        return _longer(acting["length"], hanging.pendulum_mm)
    return None


def _leaf(acting: Mapping[str, tuple[Sized, Sized]], hanging: Hanging | None) -> Effect | None:
    if not acting:
        return None
    stiffer = unsure = strain = None
    if "thickness" in acting:
        ratio, unsure = _product(acting, {"thickness": STIFFNESS_POWER, "width": 1})
        stiffer = ratio - 1
        # Strain t / (2 q) with q = sqrt(E w t^3 / 12 W): it falls as the root of thickness and width.
        strain = _product(acting, {"thickness": -0.5, "width": -0.5})[0] - 1
    rate, rate_unsure = _leaf_rate(acting, hanging) if hanging is not None else (None, 0.0)
    return Effect(stiffer, unsure or 0.0, strain, rate, rate_unsure)


def _mainspring(acting: Mapping[str, tuple[Sized, Sized]]) -> Effect | None:
    if "thickness" not in acting:
        return None
    ratio, unsure = _product(acting, {"thickness": STIFFNESS_POWER, "width": 1, "length": -1})
    return Effect(ratio - 1, unsure)


def _longer(length: tuple[Sized, Sized], pendulum_mm: float) -> Effect:
    """Return the rate after the pendulum has grown by the difference."""
    old, new = length
    unsure = abs(rate_by_free_length(math.hypot(_standard(old), _standard(new)), pendulum_mm))
    return Effect(rate_s_per_day=rate_by_free_length(new.value - old.value, pendulum_mm), rate_unsure=unsure)


def _standard(size: Sized) -> float:
    """Return the standard uncertainty of a size that lies anywhere within its half-width."""
    return size.half_width / math.sqrt(3)


def _product(acting: Mapping[str, tuple[Sized, Sized]], powers: Mapping[str, float]) -> tuple[float, float]:
    """Return the product of the ratios new / old to their powers, with its standard uncertainty."""
    ratio, variance = 1.0, 0.0
    for name, power in powers.items():
        if name in acting:
            old, new = acting[name]
            ratio *= (new.value / old.value) ** power
            variance += sum((power * _standard(size) / size.value) ** 2 for size in (old, new))
    return ratio, abs(ratio) * math.sqrt(variance)


def _told(rate: float, unsure: float) -> tuple[float | None, float]:
    """Return a rate with its uncertainty, or None where a leaf is far too stiff for this pendulum."""
    return (rate, unsure) if math.isfinite(rate) and math.isfinite(unsure) else (None, 0.0)


def _gain(thickness_mm: float, width_mm: float, free_mm: float, hanging: Hanging) -> float:
    """Return the gain over a hinge; not a number where the leaf holds the pendulum rather than lets it swing."""
    if min(thickness_mm, width_mm, free_mm) <= 0 or free_mm >= hanging.pendulum_mm:
        return math.nan
    stiff = stiff_length_mm(thickness_mm, width_mm, hanging.mass_kg)
    if shortening_mm(stiff, free_mm) >= hanging.pendulum_mm:
        return math.nan
    return gain_over_hinge(thickness_mm, width_mm, free_mm, hanging.mass_kg, hanging.pendulum_mm)


def _leaf_rate(acting: Mapping[str, tuple[Sized, Sized]], hanging: Hanging) -> tuple[float | None, float]:
    """Return the change of the rate by stiffness and free length, with its standard uncertainty. [s/day]"""
    if "thickness" not in acting:
        pair = acting.get("free-length")
        effect = _longer(pair, hanging.pendulum_mm) if pair is not None else Effect(rate_s_per_day=0.0)
        return effect.rate_s_per_day, effect.rate_unsure
    fixed = {"width": hanging.leaf_width_mm, "free-length": hanging.free_length_mm}
    sizes = {name: [size.value for size in acting[name]] if name in acting else [v, v] for name, v in fixed.items()}
    sizes["thickness"] = [size.value for size in acting["thickness"]]

    def changed(given: Mapping[str, list[float]]) -> float:
        old, new = (
            _gain(given["thickness"][which], given["width"][which], given["free-length"][which], hanging)
            for which in (0, 1)
        )
        longer = given["free-length"][1] - given["free-length"][0]
        return new - old + rate_by_free_length(longer, hanging.pendulum_mm)

    return _told(changed(sizes), _spread(changed, sizes, acting))


def _spread(
    rate: Callable[[Mapping[str, list[float]]], float],
    sizes: Mapping[str, list[float]],
    acting: Mapping[str, tuple[Sized, Sized]],
) -> float:
    """Return the standard uncertainty of a rate, each size moved up and down by its own. [s/day]"""
    variance = 0.0
    for name, pair in acting.items():
        for which, size in enumerate(pair):
            ends = []
            for sign in (-1, 1):
                moved = {key: list(values) for key, values in sizes.items()}
                moved[name][which] += sign * _standard(size)
                ends.append(rate(moved))
            variance += ((ends[1] - ends[0]) / 2) ** 2
    return math.sqrt(variance)
