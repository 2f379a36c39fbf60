"""When enough is known: the chance that the first place would stay where it is if one asked on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from diagnose.settings import Parameters

Floats = NDArray[np.float64]

DRAWS = 64
PLANNED_QUESTIONS = 15
SEED = 20_310_312
_TINY = 1e-300


def places_of(sets: Sequence[tuple[int, ...]], causes: int) -> Floats:
    """Return which set speaks for which place in the ranking.

    Parameters
    ----------
    sets : sequence of tuple of int
        The kept sets of causes.
    causes : int
        Number of causes, C.

    Returns
    -------
    ndarray, shape (len(sets) + 1, C + 2)
        1 where a set holds a cause; the last two columns stand for "nothing wrong" and for a fault that is
        not on the list, the last row for the latter.
    """
    places = np.zeros((len(sets) + 1, causes + 2))
    for number, members in enumerate(sets):
        places[number, list(members) if members else causes] = 1.0
    places[-1, causes + 1] = 1.0
    return places


def first_place(weights: Floats, places: Floats) -> int:
    """Return the column of `places` with the largest weight."""
    return int((weights @ places).argmax())


def chance_it_stays(
    weights: Floats, places: Floats, said: Floats, unknown: float, draws: int = DRAWS, seed: int = SEED
) -> float:
    """Return the chance that the first place stays after the planned questions.

    Truths are drawn in proportion to their weight, answers from the forecast with "cannot tell"; each drawn
    row of answers is weighed by the same forecast, and its first place compared. The seed is fixed: the same
    state always gives the same figure.

    Parameters
    ----------
    weights : ndarray, shape (S,)
        Weights of the sets and, last, of a fault that is not on the list.
    places : ndarray, shape (S, P)
        From `places_of`.
    said : ndarray, shape (S, Q, V)
        Chance of each answer to each planned question.
    unknown : float
        Chance of "cannot tell" [1].
    draws, seed : int
        Number of draws, and where their random numbers begin.

    Returns
    -------
    float
        Between 0 and 1; 1 where there is nothing left to ask.
    """
    questions = said.shape[1]
    if questions == 0:
        return 1.0
    random = np.random.default_rng(seed)
    share = weights / weights.sum()
    # Evenly spaced draws of the truth: less noise than independent ones.
    levels = (np.arange(draws) + random.random()) / draws
    truths = np.minimum(np.searchsorted(np.cumsum(share), levels), len(share) - 1)
    chances = np.cumsum(said[truths], axis=2)
    thrown = random.random((draws, questions, 1)) * chances[:, :, -1:]
    answers = np.minimum((thrown >= chances).sum(axis=2), said.shape[2] - 1)
    told = random.random((draws, questions)) >= unknown
    speaks = np.log(np.maximum(said, _TINY))
    score = np.broadcast_to(np.log(np.maximum(share, _TINY)), (draws, len(share))).copy()
    for question in range(questions):
        score += np.where(told[:, question, None], speaks[:, question, :].T[answers[:, question]], 0.0)
    drawn = np.exp(score - score.max(axis=1, keepdims=True))
    after = (drawn @ places).argmax(axis=1)
    return float((after == first_place(weights, places)).mean())


def enough_from(where: str, parameters: Parameters) -> float:
    """Return the chance from which enough is known: lower on a call, where each question costs patience."""
    return parameters.enough_call if where == "call" else parameters.enough_visit
