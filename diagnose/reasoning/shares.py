"""Decibans that add up: how much each answer moved the odds of a cause, fair to the order."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

DECIBANS_PER_NAT = 10 / math.log(10)
_LEAST = 1e-300


def decibans(probability: float) -> float:
    """Return the odds of a probability in decibans, 10 lg p / (1 - p). [dB]"""
    return 10 * math.log10(max(probability, _LEAST) / max(1 - probability, _LEAST))


def fair_shares(
    count: int, odds_of: Callable[[int, int], NDArray[np.float64]], most_odds: int | None = None
) -> NDArray[np.float64]:
    """Return each answer's share of the odds: its gain, averaged over orders of the answers.

    The orders are the rotations of the list and their reverses. Each order telescopes, so the shares add
    up exactly to the odds with all answers less the odds with none.

    Parameters
    ----------
    count : int
        How many answers there are.
    odds_of : callable
        Called with (start, length): odds given that run of the list, taken as a ring, shape (m,). [dB]
    most_odds : int, optional
        Use fewer rotations, evenly spread, so that about so many odds are asked for.

    Returns
    -------
    ndarray, shape (count, m)
        In decibans.
    """
    known: dict[tuple[int, int], NDArray[np.float64]] = {}

    def odds(start: int, length: int) -> NDArray[np.float64]:
        key = (start % count if 0 < length < count else 0, length)
        if key not in known:
            known[key] = odds_of(*key)
        return known[key]

    rotations = count
    if most_odds is not None:
        rotations = max(1, min(count, most_odds // (2 * count)))
    gained = []
    for turn in range(rotations):
        first = turn * count // rotations
        gain = [np.zeros(0)] * count
        for length in range(count):
            gain[(first + length) % count] = odds(first, length + 1) - odds(first, length)
        gained.append(np.stack(gain))
        last = first + count - 1
        for length in range(count):
            gain[(last - length) % count] = odds(last - length, length + 1) - odds(last - length + 1, length)
        gained.append(np.stack(gain))
    return np.asarray(np.mean(gained, axis=0))
