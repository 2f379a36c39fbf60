"""Looks two acts ahead: after which act is the beat most likely in, when the next one is chosen just as well.

What is thought of a clock (`Belief`) is laid on a grid of beat errors for each response. An act moves each of
them by what was told, more or less, or the other way; what is then heard sorts them; the last act is chosen for
each thing that may be heard. A third act ahead changes the first by less than the grid does: measured by
`python -m tests.bench.coaching_bench`, which stands the outcome beside the best there is.

References
----------
.. [1] R. D. Smallwood, E. J. Sondik, "The optimal control of partially observable Markov processes over a finite
   horizon", Operations Research 21 (1973) 1071-1088: the recursion over beliefs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diagnose.mechanics.beat_response import (
    STEP_SPREAD,
    STOPS_ABOUT_PERCENT,
    STOPS_SPREAD_PERCENT,
    WRONG_WAY,
    Array,
    Belief,
    normal_above_zero,
)
from diagnose.mechanics.escapement import ACCEPTABLE_PERCENT, GOOD_PERCENT

Floats = NDArray[np.floating[Any]]
"""Plans are reckoned in single precision."""

FARTHEST_PERCENT = 70
"""The grid of beat errors reaches so far to either side, in steps of 1 percent."""
LARGEST_PERCENT = 45.0
"""No single act is larger than what the table says for this change: twice 20 percent, a little more [percent]."""
MOST_RESPONSES = 6
"""Neighboring responses of the belief are put together to so many."""
WORTH_ACCEPTABLE = 0.85
"""What a beat between good and acceptable is worth, where a good one is worth 1."""
WORTH_NEARER = 0.1
"""What a beat not yet acceptable may be worth at most, the nearer the more: the less is left to do."""
WORTH_A_PERCENT = 0.02
"""Within the tolerance each percent nearer to even is worth so much."""
COST_OF_STOPPING = 0.02
"""What it costs that the clock stops and must be set going again."""
LEAST_WEIGHT = 1e-5
LEAST_PART = 1e-3
RESPONSE_DIGITS = 2

_STEPS = np.array([*range(1, 12), *range(12, 31, 2), *range(33, int(LARGEST_PERCENT) + 1, 3)], np.float64)
MOVES_PERCENT: Array = np.concatenate([-_STEPS[::-1], _STEPS])
"""Acts to choose from, as the change the table says; positive lessens a right-early beat error [percent]."""

_SCATTER = np.array([-1.5, -0.75, 0.0, 0.75, 1.5])
_SCATTER_WEIGHTS = np.exp(-(_SCATTER**2) / 2) / np.exp(-(_SCATTER**2) / 2).sum()
_ERRORS = np.arange(-FARTHEST_PERCENT, FARTHEST_PERCENT + 1, dtype=np.float64)
_SHIFTS = 2 * FARTHEST_PERCENT


def _worth(percent: Array) -> Array:
    """Return what a beat error is worth; a bin whose middle is the limit counts half on either side of it."""
    size = np.abs(percent)
    nearer = WORTH_NEARER * np.clip(1 - size / STOPS_ABOUT_PERCENT, 0, 1)
    acceptable = np.clip(ACCEPTABLE_PERCENT - size + 0.5, 0, 1)
    good = np.clip(GOOD_PERCENT - size + 0.5, 0, 1)
    worth: Array = nearer + (WORTH_ACCEPTABLE - nearer) * acceptable + (1 - WORTH_ACCEPTABLE) * good
    return worth - WORTH_A_PERCENT * np.minimum(size, ACCEPTABLE_PERCENT)


_WORTH = _worth(_ERRORS)
_STOPS = normal_above_zero((np.abs(_ERRORS) - STOPS_ABOUT_PERCENT) / STOPS_SPREAD_PERCENT)
_WORTH_AT = _worth(np.clip(_ERRORS[:, None] + np.arange(-_SHIFTS, _SHIFTS + 1.0), -_SHIFTS, _SHIFTS)).astype(np.float32)


class Outlook(NamedTuple):
    """The best act, and what it is worth.

    Parameters
    ----------
    move_percent : float
        The act, as the change that the table says [percent].
    worth : float
        About the chance that the beat is in after it, or after the act that follows [1].
    """

    move_percent: float
    worth: float


@dataclass(frozen=True, slots=True)
class _Grid:
    """A belief on the grid: weights of shape (s, e) and the signed response of each state, table = 1, shape (s,)."""

    weights: Array
    responses: Array


def best_act(belief: Belief, table_percent_per_mm: float, acts_left: int, sided: bool) -> Outlook:
    """Return the act that leaves the beat most likely in.

    Parameters
    ----------
    belief : Belief
        What is thought now.
    table_percent_per_mm : float
        Response by the table, in which acts are counted [percent/mm].
    acts_left : int
        How many acts there are, this one counted; more than two count as two.
    sided : bool
        Whether the early side will be known with the beat that is heard after it.
    """
    return _best(_on_grid(belief, table_percent_per_mm), acts_left, sided)


def worth_of_side(belief: Belief, table_percent_per_mm: float, acts_left: int, sided: bool) -> float:
    """Return how much better it ends when the early side is learned before the act [1].

    Parameters
    ----------
    belief, table_percent_per_mm, acts_left, sided
        As in `best_act`.
    """
    grid = _on_grid(belief, table_percent_per_mm)
    right = np.clip(_ERRORS + 0.5, 0, 1)
    return _gain(grid, (grid.weights * right, grid.weights * (1 - right)), acts_left, sided)


def worth_of_look(belief: Belief, table_percent_per_mm: float, acts_left: int, sided: bool) -> float:
    """Return how much better it ends when it is learned which way the last act went [1].

    Parameters
    ----------
    belief, table_percent_per_mm, acts_left, sided
        As in `best_act`.
    """
    grid = _on_grid(belief, table_percent_per_mm)
    parts = tuple(_on_grid(belief, table_percent_per_mm, belief.last_went == way).weights for way in (1.0, -1.0))
    return _gain(grid, parts, acts_left, sided)


def _gain(grid: _Grid, parts: tuple[Array, ...], acts_left: int, sided: bool) -> float:
    known = sum(_best(_Grid(part, grid.responses), acts_left, sided).worth for part in parts if part.sum() > LEAST_PART)
    return known - _best(grid, acts_left, sided).worth


def _on_grid(belief: Belief, table_percent_per_mm: float, rows: Array | None = None) -> _Grid:
    """Return a belief on the grid; `rows` takes only some of its cases, without giving their weight to the others."""
    count = belief.responses.size
    chunks = np.array_split(np.arange(count), MOST_RESPONSES)
    by_response = belief.weights.sum(axis=0)
    weights = np.zeros((2, len(chunks), _ERRORS.size))
    responses = np.ones(len(chunks))
    for place, chunk in enumerate(chunks):
        total = by_response[chunk].sum()
        mean = float(by_response[chunk] @ belief.responses[chunk] / total) if total > 0 else belief.responses[chunk[0]]
        responses[place] = mean / table_percent_per_mm
        for way, turned in enumerate((1.0, -1.0)):
            taken = belief.turned == turned if rows is None else (belief.turned == turned) & rows.astype(bool)
            mass = belief.weights[taken][:, chunk].ravel()
            kept = mass > LEAST_WEIGHT
            if kept.any():
                middle = belief.errors[taken][:, chunk].ravel()[kept]
                spread = np.sqrt(belief.variances[taken][:, chunk].ravel()[kept])
                weights[way, place] = mass[kept] @ _spread_out(middle, spread)
    states = weights.reshape(-1, _ERRORS.size)
    signed = np.concatenate([responses, -responses])
    return _Grid(states, signed)


def _spread_out(middle: Array, spread: Array) -> Array:
    """Return normal distributions on the grid, one a row; what lies beyond it is put at its ends."""
    edges = np.concatenate([[-np.inf], _ERRORS[:-1] + 0.5, [np.inf]])
    below = normal_above_zero((np.clip(edges, -1e6, 1e6) - middle[:, None]) / spread[:, None])
    below[:, 0], below[:, -1] = 0.0, 1.0
    return np.diff(below, axis=1)


def _best(grid: _Grid, acts_left: int, sided: bool) -> Outlook:
    """Return the best act and its worth, a weight of less than 1 counting as much less."""
    likely = grid.weights.sum(axis=1) > LEAST_WEIGHT
    weights, responses = grid.weights[likely], grid.responses[likely]
    by_act = np.stack([_kernel(round(float(response), RESPONSE_DIGITS)) for response in responses])
    if acts_left <= 1:
        ends = np.tensordot(by_act @ _WORTH_AT.T, weights, axes=([0, 2], [0, 1]))
    else:
        ends = _two_acts(weights, by_act, sided)
    best = int(np.argmax(ends))
    return Outlook(float(MOVES_PERCENT[best]), float(ends[best]))


def _two_acts(weights: Floats, by_act: Floats, sided: bool) -> Floats:
    """Return what each act is worth when another may follow it, shape (x,)."""
    last = (by_act @ _WORTH_AT.T).transpose(2, 0, 1)
    # After the act, by error, act and state: shape (e, x, s).
    after = _moved(weights, by_act)
    runs = (1 - _STOPS).astype(np.float32)[:, None, None]
    left = (after * runs) @ last
    done = (after * runs).sum(axis=2) * _WORTH[:, None]
    heard = _by_reading(left, done, sided)
    stopped = (after * (1 - runs)).sum(axis=(0, 2))
    worth: Floats = heard + _stopped(after * (1 - runs), last, sided) - COST_OF_STOPPING * stopped
    return worth


def _by_reading(left: Floats, done: Floats, sided: bool) -> Floats:
    """Return the worth of each act by the best that follows each beat that may be heard."""
    if not sided:
        left, done = _both_sides(left), _both_sides(done)
    worth: Floats = np.maximum(left.max(axis=2), done).sum(axis=0)
    return worth


def _both_sides(by_error: Floats) -> Floats:
    """Return what was kept by error put together by its size: the side is not heard."""
    right, left = by_error[FARTHEST_PERCENT:], by_error[FARTHEST_PERCENT::-1]
    both: Floats = right + left
    both[0] /= 2
    return both


def _stopped(after: Floats, last: Floats, sided: bool) -> Floats:
    """Return the worth of what may follow where the clock has stopped: all that is known is the side, if that."""
    middle = FARTHEST_PERCENT
    parts = [slice(None, middle), slice(middle, None)] if sided else [slice(None)]
    worth = np.zeros(after.shape[1])
    for part in parts:
        worth += np.tensordot(after[part], last[part], axes=([0, 2], [0, 1])).max(axis=1)
    return worth


def _moved(weights: Floats, by_act: Floats) -> Floats:
    """Return the weights after each act, shape (e, x, s)."""
    states, acts, _ = by_act.shape
    after = np.zeros((states, acts, _ERRORS.size), np.float32)
    for place in np.flatnonzero(weights.max(axis=0) > LEAST_WEIGHT):
        # What ends at error f from error e has shifted by f - e.
        begin = _SHIFTS - int(place)
        after += weights[:, place, None, None].astype(np.float32) * by_act[:, :, begin : begin + _ERRORS.size]
    by_error: Floats = after.transpose(2, 1, 0)
    return by_error


@lru_cache(maxsize=512)
def _kernel(response: float) -> Floats:
    """Return how likely each act shifts the beat error by so much, right way or wrong, shape (x, shift)."""
    kernel = np.zeros((MOVES_PERCENT.size, 2 * _SHIFTS + 1))
    rows = np.arange(MOVES_PERCENT.size)
    for way, chance in ((1.0, 1 - WRONG_WAY), (-1.0, WRONG_WAY)):
        for scatter, weight in zip(_SCATTER, _SCATTER_WEIGHTS, strict=True):
            shift = -way * response * MOVES_PERCENT * (1 + STEP_SPREAD * scatter)
            at = np.clip(shift + _SHIFTS, 0, 2 * _SHIFTS - 1)
            low = np.floor(at).astype(int)
            np.add.at(kernel, (rows, low), chance * weight * (1 - (at - low)))
            np.add.at(kernel, (rows, low + 1), chance * weight * (at - low))
    return kernel.astype(np.float32)
