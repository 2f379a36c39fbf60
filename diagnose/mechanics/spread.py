"""How unsure a figure is that was reckoned from unsure ones.

References
----------
.. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.1.3, note 2: each input moved up and down by its standard uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence


def half_width_to_standard(half_width: float) -> float:
    """Return the standard uncertainty of a value that lies anywhere within a half-width, GUM 4.3.7."""
    return half_width / math.sqrt(3)


def spread(figure: Callable[..., float], values: Sequence[float], unsure: Sequence[float]) -> float:
    """Return the standard uncertainty of a figure [1]_, in the unit of the figure.

    Parameters
    ----------
    figure : callable
        Takes the values in order.
    values : sequence of float, shape (n,)
        What it is reckoned from.
    unsure : sequence of float, shape (n,)
        Standard uncertainty of each; independent of each other.
    """
    variance = 0.0
    for place, step in enumerate(unsure):
        if step > 0:
            ends = [
                figure(*(value + sign * step if at == place else value for at, value in enumerate(values)))
                for sign in (-1, 1)
            ]
            variance += ((ends[1] - ends[0]) / 2) ** 2
    return math.sqrt(variance)
