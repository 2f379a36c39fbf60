"""Learns how a clock's own beat answers to an adjuster, from a few small acts and the beats heard after them.

What is known of the response before the first act is wide: swing, drop and arm of this very clock are not
known. Beside the response the belief carries what people get wrong: on which side the clock was early where
nobody said, whether an act went the wrong way, and whether this adjuster works the other way round.

The belief is a weighted list of cases. In each the signed beat error is normal around a line, error minus
response times what was moved, so that for cases in which nothing went wrong this is linear regression.

References
----------
.. [1] Y. Bar-Shalom, X. R. Li, T. Kirubarajan, *Estimation with Applications to Tracking and Navigation*
   (2001), ch. 11: mixtures of normal hypotheses, pruned.
.. [2] S. R. Bowling et al., "A logistic approximation to the cumulative normal distribution", Journal of
   Industrial Engineering and Management 2 (2009) 114-127; constants from memory, checked in the tests.
.. [3] C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning* (2006), section 3.9: moments of a
   normal density times a probit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WRONG_WAY = 0.20
"""How often somebody moves a thing the other way than told; what the coach is built to bear, before the first log."""

WRONG_WAY_LOOKED_AT = 0.02
"""The same, where somebody looked which way it really went; an estimate."""

WORKS_THE_OTHER_WAY = 0.04
"""How often the adjuster is of another kind than told, so that every step goes the other way; an estimate."""

SIDE_WRONG = 0.03
"""How often the early side is noted wrongly where it was asked; an estimate."""

STEP_SPREAD = 0.15
"""Spread of what is really moved, as a share of what was told; an estimate."""

MODEL_PERCENT = 0.3
"""What the straight line leaves out, and the swing that has not quite settled [percent]."""

STOPS_ABOUT_PERCENT = 28.0
STOPS_SPREAD_PERCENT = 6.0
"""A beat error near this stops a usual clock; derived from the arcsine formula for usual swings [percent]."""

DEEPEST = 4.0
LEAST_PASSED = 1e-6
"""Where a threshold is farther off than so many deviations, the logistic form is no longer right [1]."""

GRID = 25
GRID_SIGMAS = 2.5
KEPT_CASES = 24


@dataclass(frozen=True, slots=True)
class Prior:
    """What is thought of the response before the first act.

    Parameters
    ----------
    percent_per_mm : float
        Most likely change of the beat error for each millimeter moved [percent/mm].
    spread : float
        Standard deviation of its logarithm [1].
    """

    percent_per_mm: float
    spread: float


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat error as heard.

    Parameters
    ----------
    percent : float
        Beat error, + right early; without sign where the side is not known [percent].
    uncertainty : float
        Standard uncertainty [percent].
    signed : bool
        Whether the sign is known.
    stopped : bool
        The clock does not keep going: it is taken to be far out of beat, to the side of `percent`'s sign.
    """

    percent: float
    uncertainty: float
    signed: bool
    stopped: bool = False


@dataclass(frozen=True, slots=True)
class Belief:
    """What is thought after some acts; arrays of one row a case and one column a response.

    Parameters
    ----------
    weights : ndarray, shape (c, r)
        Probability of each; they add up to 1.
    errors, variances : ndarray, shape (c, r)
        Signed beat error now, and its variance [percent], [percent^2].
    responses : ndarray, shape (r,)
        Response of the clock [percent/mm].
    turned : ndarray, shape (c,)
        -1 where the adjuster works the other way round, else 1.
    last_went : ndarray, shape (c,)
        -1 where the last act went the wrong way, else 1.
    moved_mm : ndarray, shape (c,)
        What has really been moved in all, signed as the acts are [mm].
    """

    weights: Array
    errors: Array
    variances: Array
    responses: Array
    turned: Array
    last_went: Array
    moved_mm: Array

    @property
    def likely_moved_mm(self) -> float:
        """What has been moved in all, in the likeliest case [mm]."""
        return float(self.moved_mm[int(np.argmax(self.weights.sum(axis=1)))])

    @property
    def error(self) -> float:
        """Signed beat error now, mean [percent]."""
        return float(np.sum(self.weights * self.errors))

    @property
    def percent_per_mm(self) -> float:
        """Response of this clock, mean [percent/mm]."""
        return float(np.sum(self.weights * self.responses))

    @property
    def percent_per_mm_uncertainty(self) -> float:
        """Standard uncertainty of the response [percent/mm]."""
        return math.sqrt(max(float(np.sum(self.weights * self.responses**2)) - self.percent_per_mm**2, 0.0))

    @property
    def right_early(self) -> float:
        """Probability that the right side is early now."""
        spread = np.sqrt(self.variances)
        return float(np.sum(self.weights * normal_above_zero(self.errors / spread)))

    @property
    def last_went_wrong(self) -> float:
        """Probability that the last act did not go where it should have, for either reason."""
        case_weights = self.weights.sum(axis=1)
        return float(np.sum(case_weights[self.turned * self.last_went < 0]))


def normal_above_zero(z: Array) -> Array:
    """Return the normal distribution function at z, right to 0.0002 [2]_.

    Parameters
    ----------
    z : ndarray
        In standard deviations [1].
    """
    bounded = np.clip(z, -8, 8)
    above: Array = 1 / (1 + np.exp(-(0.07056 * bounded**3 + 1.5976 * bounded)))
    return above


@dataclass(frozen=True, slots=True)
class Move:
    """One act on the adjuster.

    Parameters
    ----------
    mm : float
        How far; positive lessens a right-early beat error [mm].
    looked_at : bool
        Whether somebody looked which way it really went.
    """

    mm: float
    looked_at: bool = False


def believe(beats: Sequence[Beat | None], moves: Sequence[Move], prior: Prior) -> Belief:
    """Return what to think after beats and the acts between them.

    Parameters
    ----------
    beats : sequence of Beat or None, shape (n + 1,)
        The first before any act, one after each; None where nothing was heard.
    moves : sequence of Move, shape (n,)
        What was moved, as far as anyone knows.
    prior : Prior
        What is thought of the response at first.
    """
    z = np.linspace(-GRID_SIGMAS, GRID_SIGMAS, GRID)
    responses = prior.percent_per_mm * np.exp(prior.spread * z)
    start = np.exp(-(z**2) / 2)
    # Where nothing was heard before the first act it may be anything a clock still runs with, or not.
    first = beats[0] or Beat(STOPS_ABOUT_PERCENT / 2, STOPS_ABOUT_PERCENT / 4, signed=False)
    sides = _sides(first)
    signs = np.array([side for side, _ in sides])
    turned = np.repeat([1.0, -1.0], signs.size)
    chance = np.repeat([1 - WORKS_THE_OTHER_WAY, WORKS_THE_OTHER_WAY], signs.size)
    chance = chance * np.tile([likely for _, likely in sides], 2)
    percent = STOPS_ABOUT_PERCENT if first.stopped else abs(first.percent)
    spread = STOPS_SPREAD_PERCENT if first.stopped else math.hypot(first.uncertainty, MODEL_PERCENT)
    shape = (turned.size, GRID)
    belief = Belief(
        weights=_normalized(chance[:, None] * start),
        errors=np.broadcast_to(np.tile(signs, 2)[:, None] * percent, shape),
        variances=np.full(shape, spread**2),
        responses=responses,
        turned=turned,
        last_went=np.ones(turned.size),
        moved_mm=np.zeros(turned.size),
    )
    for beat, move in zip(beats[1:], moves, strict=False):
        belief = _moved(belief, move)
        belief = belief if beat is None else _heard(belief, beat)
    return belief


def _normalized(weights: Array) -> Array:
    total = float(weights.sum())
    return weights / total if total > 0 else np.full(weights.shape, 1 / weights.size)


def _moved(belief: Belief, move: Move) -> Belief:
    """Return the belief after an act that may have gone the wrong way."""
    wrong_way = WRONG_WAY_LOOKED_AT if move.looked_at else WRONG_WAY
    went = np.repeat([1.0, -1.0], belief.turned.size)
    turned = np.tile(belief.turned, 2)
    chance = np.where(went > 0, 1 - wrong_way, wrong_way)
    shift = belief.responses * move.mm
    return Belief(
        weights=np.tile(belief.weights, (2, 1)) * chance[:, None],
        errors=np.tile(belief.errors, (2, 1)) - (went * turned)[:, None] * shift,
        variances=np.tile(belief.variances, (2, 1)) + (STEP_SPREAD * shift) ** 2,
        responses=belief.responses,
        turned=turned,
        last_went=went,
        moved_mm=np.tile(belief.moved_mm, 2) + went * move.mm,
    )


def _heard(belief: Belief, beat: Beat) -> Belief:
    """Return the belief after a beat was heard, its least likely cases left out."""
    sides = _sides(beat)
    if beat.stopped:
        parts = [_with_stop(belief, side, chance) for side, chance in sides]
    else:
        noise = beat.uncertainty**2 + MODEL_PERCENT**2
        parts = [_with_reading(belief, side * abs(beat.percent), chance, noise) for side, chance in sides]
    both = Belief(
        weights=np.tile(belief.weights, (2, 1)),
        errors=np.tile(belief.errors, (2, 1)),
        variances=np.tile(belief.variances, (2, 1)),
        responses=belief.responses,
        turned=np.tile(belief.turned, 2),
        last_went=np.tile(belief.last_went, 2),
        moved_mm=np.tile(belief.moved_mm, 2),
    )
    weights, errors, variances = (np.concatenate([part[item] for part in parts]) for item in range(3))
    return _kept(both, weights, errors, variances)


def _sides(beat: Beat) -> tuple[tuple[float, float], ...]:
    """Return the sign of the beat error and how likely what was heard is with it, for either side."""
    if not beat.signed:
        return ((1.0, 1.0), (-1.0, 1.0))
    told = math.copysign(1.0, beat.percent)
    return ((told, 1 - SIDE_WRONG), (-told, SIDE_WRONG))


def _with_reading(belief: Belief, reading: float, chance: float, noise: float) -> tuple[Array, Array, Array]:
    """Return weights, errors and variances after one signed reading: a Kalman step in each case."""
    total = belief.variances + noise
    miss = reading - belief.errors
    likelihood = np.exp(-(miss**2) / (2 * total)) / np.sqrt(total)
    gain = belief.variances / total
    return belief.weights * likelihood * chance, belief.errors + gain * miss, belief.variances * (1 - gain)


def _with_stop(belief: Belief, side: float, chance: float) -> tuple[Array, Array, Array]:
    """Return weights, errors and variances once it stopped, being out to that side: a soft threshold passed [3]_."""
    total = np.sqrt(belief.variances + STOPS_SPREAD_PERCENT**2)
    z = np.clip((side * belief.errors - STOPS_ABOUT_PERCENT) / total, -DEEPEST, DEEPEST)
    passed = np.maximum(normal_above_zero(z), LEAST_PASSED)
    # Mean and variance of a normal quantity of which it is known that it passed.
    pull = np.exp(-(z**2) / 2) / (math.sqrt(2 * math.pi) * passed)
    errors = belief.errors + side * belief.variances / total * pull
    variances = belief.variances * (1 - belief.variances / total**2 * np.clip(pull * (z + pull), 0, 1))
    return belief.weights * passed * chance, errors, variances


def _kept(belief: Belief, weights: Array, errors: Array, variances: Array) -> Belief:
    order = np.argsort(-weights.sum(axis=1), kind="stable")[:KEPT_CASES]
    return Belief(
        _normalized(weights[order]),
        errors[order],
        variances[order],
        belief.responses,
        belief.turned[order],
        belief.last_went[order],
        belief.moved_mm[order],
    )
