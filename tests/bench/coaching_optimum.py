"""The best that three acts can do on a clock with a straight answer, by backward induction over every belief.

Hidden are the signed beat error, in bins of 1 percent, and the answer of the clock, at a few points of its spread.
Each act goes the wrong way with a known chance and scatters in size. What is heard is the size of the beat error,
with its side or without; a clock farther out than the limit stops, and then all that is heard is that.
Every act of the grid is tried at each of the three acts, for each thing that may have been heard: no policy that
knows no more than this can do better, up to the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

ACTS = np.concatenate([np.arange(1, 10), np.arange(10, 60, 3)]).astype(float)
FARTHEST = 80
SCATTER = np.array([-1.5, -0.75, 0.0, 0.75, 1.5])
LEAST = 1e-4


@dataclass(frozen=True)
class Game:
    """What is known and what goes wrong.

    gain_spread : spread of the logarithm of the answer; 0 where it is known
    sided : whether the early side is heard with every beat
    side_at_first : whether it is known before the first act
    wrong : share of acts that go the wrong way
    limit : the beat is in below this [percent]
    """

    gain_spread: float = 0.25
    sided: bool = True
    side_at_first: bool = True
    wrong: float = 0.2
    limit: float = 5.0
    scatter: float = 0.1
    stops: float = 28.0

    @cached_property
    def errors(self):
        return np.arange(-FARTHEST, FARTHEST + 1.0)

    @cached_property
    def gains(self):
        z = np.linspace(-2, 2, 5) if self.gain_spread else np.zeros(1)
        weights = np.exp(-(z**2) / 2)
        return np.exp(self.gain_spread * z), weights / weights.sum()

    @cached_property
    def acts(self):
        return np.concatenate([-ACTS[::-1], ACTS])

    @cached_property
    def inside(self):
        """1 where the beat is in; a bin with the limit in its middle counts half."""
        return np.clip(self.limit - np.abs(self.errors) + 0.5, 0, 1).astype(np.float32)

    @cached_property
    def moves(self):
        """Chance to come from one error to another, by act and gain: shape (x, r, e, e)."""
        count = self.errors.size
        chance = np.exp(-(SCATTER**2) / 2) / np.exp(-(SCATTER**2) / 2).sum()
        moves = np.zeros((self.acts.size, self.gains[0].size, count, count), np.float32)
        rows = np.arange(count)
        for at, act in enumerate(self.acts):
            for which, gain in enumerate(self.gains[0]):
                for way, share in ((1.0, 1 - self.wrong), (-1.0, self.wrong)):
                    for size, weight in zip(np.exp(self.scatter * SCATTER), chance, strict=True):
                        to = np.clip(rows - way * gain * act * size, 0, count - 1)
                        low = np.floor(to).astype(int)
                        high = np.minimum(low + 1, count - 1)
                        np.add.at(moves[at, which], (rows, low), share * weight * (1 - to + low))
                        np.add.at(moves[at, which], (rows, high), share * weight * (to - low))
        return moves

    @cached_property
    def last(self):
        """Chance that one act brings it in: shape (x, r, e)."""
        return self.moves @ self.inside

    @cached_property
    def heard(self):
        """Bins that sound alike."""
        runs = np.abs(self.errors) <= self.stops
        sizes = self.errors if self.sided else np.abs(self.errors)
        alike = [np.flatnonzero(runs & (sizes == size)) for size in np.unique(sizes[runs])]
        return [*alike, np.flatnonzero(~runs)]

    def at_first(self, error):
        """The belief after the first beat: shape (1, r, e)."""
        belief = np.zeros((1, self.gains[0].size, self.errors.size), np.float32)
        sides = (error,) if self.side_at_first else (error, -error)
        for side in sides:
            belief[0, :, int(side) + FARTHEST] = self.gains[1] / len(sides)
        return belief


def best_share(game: Game, error: int) -> float:
    """Return with what chance three acts, chosen as well as can be, bring a beat error in."""
    # Its sign is a matter of naming: the first act goes to the right in half of the cases anyway.
    first = [at for at, act in enumerate(game.acts) if 0.2 * error <= act <= 1.6 * error]
    return max(_after(game, _moved(game, game.at_first(error), act)) for act in first)


def _moved(game, beliefs, act):
    return np.stack([beliefs[:, gain] @ game.moves[act, gain] for gain in range(beliefs.shape[1])], axis=1)


def _after(game, belief):
    """The chance with two acts left, over all that may be heard now."""
    parts = np.concatenate([_only(belief, alike) for alike in game.heard])
    parts = parts[parts.sum(axis=(1, 2)) > LEAST]
    best = (parts * game.inside).sum(axis=(1, 2))
    for act in range(game.acts.size):
        best = np.maximum(best, _last_act(game, _moved(game, parts, act)))
    return float(best.sum())


def _last_act(game, beliefs):
    chance = np.zeros(beliefs.shape[0])
    for alike in game.heard:
        belief = beliefs[:, :, alike]
        done = (belief * game.inside[alike]).sum(axis=(1, 2))
        acted = np.tensordot(belief, game.last[:, :, alike], axes=([1, 2], [1, 2])).max(axis=1)
        chance += np.maximum(done, acted)
    return chance


def _only(belief, alike):
    part = np.zeros_like(belief)
    part[:, :, alike] = belief[:, :, alike]
    return part
