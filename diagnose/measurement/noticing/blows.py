"""A strike in the recording: blows that come evenly, apart from the beats, while something loud sounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing.turning import Floats

_NEAR_BEAT_S = 0.05
_BEFORE_S, _AFTER_S = 1.0, 2.5
_FASTEST_S, _SLOWEST_S = 0.5, 4.0
"""Blows of a strike come so far apart (common practice, no source)."""
_EVEN = 0.08
_MOST_BLOWS = 12
_PLAIN_SHARE = 0.75
_OWN_SHARE = 0.5
_BEGINS_S = 0.3


@dataclass(frozen=True, slots=True)
class Blows:
    """Blows of a strike.

    Parameters
    ----------
    times_s : tuple of float
        When they came [s].
    interval_s : float
        From one to the next [s].
    """

    times_s: tuple[float, ...]
    interval_s: float

    @property
    def count(self) -> int:
        """How many."""
        return len(self.times_s)


def find_blows(sounds_s: Floats, beats_s: Floats, loud_s: Floats) -> Blows | None:
    """Return the blows of a strike, where they are plain: evenly spaced, and little else beside the beats.

    Parameters
    ----------
    sounds_s : array (M,)
        All sudden sounds [s].
    beats_s : array (N,)
        The beats [s].
    loud_s : array (K, 2)
        Starts and ends of what is louder than the clock [s].
    """
    if not len(loud_s):
        return None
    first, last = float(loud_s[0, 0]) - _BEFORE_S, float(loud_s[-1, 1]) + _AFTER_S
    here = sounds_s[(sounds_s >= first) & (sounds_s <= last)]
    away = np.ones(len(here), bool)
    if len(beats_s) and len(here):
        away = np.abs(here[:, None] - beats_s[None, :]).min(axis=1) > _NEAR_BEAT_S
    apart = np.flatnonzero(away)
    best = np.empty(0, np.intp)
    for place, start in enumerate(apart):
        for second in apart[place + 1 :]:
            chain = _chain(here, int(start), int(second))
            # A blow may fall on a beat; but the beats themselves, which are even too, are no strike.
            chain = chain[: int(np.flatnonzero(away[chain])[-1]) + 1] if len(chain) else chain
            best = chain if away[chain].sum() > away[best].sum() else best
    best = _with_first(here, best, float(loud_s[0, 0]))
    own = int(away[best].sum())
    if not 2 < len(best) <= _MOST_BLOWS or own < _PLAIN_SHARE * max(len(apart), _OWN_SHARE / _PLAIN_SHARE * len(best)):
        return None
    return Blows(tuple(float(time) for time in here[best]), float(np.mean(np.diff(here[best]))))


def _with_first(here: Floats, chain: NDArray[np.intp], loud_from_s: float) -> NDArray[np.intp]:
    """Return a chain with the blow before it, where that one fell on a beat and the loud sound begins with it."""
    if len(chain) < 2:
        return chain
    step = float(here[chain[-1]] - here[chain[0]]) / (len(chain) - 1)
    before = int(np.argmin(np.abs(here - here[chain[0]] + step)))
    fits = abs(here[before] - here[chain[0]] + step) < _EVEN * step
    begins = abs(here[before] - loud_from_s) < _BEGINS_S
    return np.concatenate([[before], chain]) if fits and begins else chain


def _chain(here: Floats, start: int, second: int) -> NDArray[np.intp]:
    """Return the places of the evenly spaced sounds that begin with two of them."""
    step = float(here[second] - here[start])
    if not _FASTEST_S <= step <= _SLOWEST_S:
        return np.empty(0, np.intp)
    chain = [start, second]
    while True:
        off = np.abs(here - here[chain[-1]] - step)
        near = int(np.argmin(off))
        if off[near] >= _EVEN * step:
            return np.array(chain, np.intp)
        chain.append(near)
        step = float(here[chain[-1]] - here[chain[0]]) / (len(chain) - 1)
