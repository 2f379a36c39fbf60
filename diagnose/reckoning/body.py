"""Rod and bob of a real pendulum, where somebody has weighed and measured them."""

from __future__ import annotations

from diagnose.mechanics.real_pendulum import RodAndBob
from diagnose.reckoning.given import Field, Given

BODY = (
    Field("rod-mass", "number", "0.5 kg", least=0.0, most=100, rare=True),
    Field("rod-length", "length", "'1150 mm'", rare=True),
    Field("bob-mass", "number", "4 kg", least=0.001, most=500, rare=True),
    Field("bob-width", "length", "'200 mm'", rare=True),
)


def body_of(given: Given) -> RodAndBob | None:
    """Return rod and bob, or None where nothing was given of them; the width of the bob may be left out."""
    if not given.has("rod-mass") and not given.has("rod-length") and not given.has("bob-mass"):
        return None
    mass, length, bob = (given.number(name) for name in ("rod-mass", "rod-length", "bob-mass"))
    width = given.number("bob-width") if given.has("bob-width") else 0.0
    return RodAndBob(mass, length, bob, width / 2)
