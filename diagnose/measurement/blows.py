"""A strike in the recording: blows that come evenly, apart from the beats, while something loud sounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.measurement.turning import Floats

_NEAR_BEAT_S = 0.05
_BEFORE_S, _AFTER_S = 1.0, 2.5
_FASTEST_S, _SLOWEST_S = 0.5, 4.0
"""Blows of a strike come so far apart (common practice, no source)."""
_EVEN = 0.12
_MOST_BLOWS = 12
_PLAIN_SHARE = 0.75


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
    if len(beats_s):
        near = np.abs(here[:, None] - beats_s[None, :]).min(axis=1) if len(here) else np.empty(0)
        here = here[near > _NEAR_BEAT_S]
    best: tuple[float, ...] = ()
    for start in range(len(here)):
        for second in range(start + 1, len(here)):
            chain = _chain(here, start, second)
            best = chain if len(chain) > len(best) else best
    if not 2 < len(best) <= _MOST_BLOWS or len(best) < _PLAIN_SHARE * len(here):
        return None
    return Blows(best, float(np.mean(np.diff(best))))


def _chain(here: Floats, start: int, second: int) -> tuple[float, ...]:
    """Return the evenly spaced sounds that begin with two of them."""
    step = float(here[second] - here[start])
    if not _FASTEST_S <= step <= _SLOWEST_S:
        return ()
    chain = [float(here[start]), float(here[second])]
    while True:
        near = here[np.abs(here - chain[-1] - step) < _EVEN * step]
        if not len(near):
            return tuple(chain)
        chain.append(float(near[np.argmin(np.abs(near - chain[-1] - step))]))
        step = (chain[-1] - chain[0]) / (len(chain) - 1)
