"""Which channel of a recording to listen to: one of them, never a mixture that smears the ticks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_DEAD_LEVEL = 1e-4
_DEAD_SHARE = 0.01
_SPIKE_QUANTILE = 0.999
_TINY = 1e-12


def choose_channel(sound: NDArray[np.float32]) -> tuple[int, tuple[str, ...]]:
    """Return the number of the channel whose ticks stand out best, and what to say about it.

    Parameters
    ----------
    sound : array (N, C)
        The first half minute, all channels.
    """
    if sound.shape[1] == 1:
        return 0, ()
    # The difference of neighbors leaves hum and rumble out.
    change = np.diff(np.nan_to_num(sound), axis=0)
    if not len(change):
        return 0, ()
    level = np.sqrt(np.mean(np.square(change, dtype=np.float64), axis=0))
    loudest = float(level.max())
    dead = (level < _DEAD_LEVEL * _DEAD_SHARE) | (level < _DEAD_SHARE * loudest)
    alive = np.flatnonzero(~dead)
    if not len(alive):
        return int(np.argmax(level)), ()
    size = np.abs(change[:, alive])
    middle = np.median(size, axis=0)
    spikes = np.quantile(size, _SPIKE_QUANTILE, axis=0) / (middle + _TINY)
    if (middle > 0.0).any():
        # Where more than half is exact silence something has been taken out: what is whole goes first.
        spikes[middle == 0.0] = 0.0
    chosen = int(alive[int(np.argmax(spikes))]) if len(alive) > 1 else int(alive[0])
    if not dead.any():
        return chosen, ()
    quiet = ", ".join(str(number + 1) for number in np.flatnonzero(dead))
    return chosen, (f"Channel {quiet} of {len(level)} is dead; channel {chosen + 1} was used.",)
