"""Gathers what the choice of a step rests on: what may be asked now, and what would be said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import level_of
from diagnose.reasoning.forecast import Forecast, forecast_of, information_about_sets, members_of, wrong_rate
from diagnose.reasoning.forecast_rules import heard_by_rules, with_rules
from diagnose.reasoning.gates import Situation, gate_met, may_find_out, open_gates
from diagnose.reasoning.needs import Prospects, prospects
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.stopping import places_of
from diagnose.reasoning.tables import Base, Floats, Indices
from diagnose.settings import Parameters

# A gate nobody has answered is taken for granted only where it is at least this likely to be met.
LIKELY_GATE = 0.5


@dataclass(frozen=True, slots=True)
class State:
    """Everything about one moment that the choice of a step rests on.

    Parameters
    ----------
    base, knowledge, situation
        What was given.
    forecast : Forecast
        The stacked tables of the base.
    weights : ndarray, shape (S + 1,)
        Weights of the kept sets and of a fault that is not on the list; they add up to 1.
    places : ndarray, shape (S + 1, C + 2)
        Which set speaks for which place in the ranking.
    prospects : Prospects
        What can be done here about each set.
    which : ndarray of int, shape (Q,)
        The findings that may be asked now, as positions in the forecast.
    said : ndarray, shape (S + 1, Q, V)
        Chance of each answer to each of them.
    nats : ndarray, shape (Q,)
        What each is expected to tell about the sets, "cannot tell" counted in. [nat]
    level : int
        How far the clock is open.
    unknown : float
        Chance of "cannot tell" [1].
    """

    base: Base
    knowledge: Knowledge
    situation: Situation
    forecast: Forecast
    weights: Floats
    places: Floats
    prospects: Prospects
    which: Indices
    said: Floats
    nats: Floats
    level: int
    unknown: float

    def finding(self, question: int) -> str:
        """Return the id of a finding that may be asked."""
        return self.forecast.findings[int(self.which[question])]


def gather(base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation, parameters: Parameters) -> State:
    """Return everything about this moment that the choice of a step rests on."""
    weights = np.append(ranking.weights, ranking.other_weight)
    weights = weights / weights.sum()
    forecast = forecast_of(base)
    members = members_of(ranking.sets, base)
    allowed = _allowed(forecast, knowledge, situation)
    true_values = forecast.true_values(members, allowed)
    likely = _likely_gates(allowed, forecast, members, weights, knowledge, situation)
    which = allowed[likely]
    entries = [knowledge.findings[forecast.findings[number]] for number in which]
    wrong = np.array([wrong_rate(entry, situation.where, parameters) for entry in entries])
    said = forecast.said(true_values[:, likely], which, wrong)
    heard = heard_by_rules(base, knowledge, situation.values, situation.where, parameters)
    said = with_rules(said, tuple(forecast.findings[number] for number in which), members, heard)
    return State(
        base,
        knowledge,
        situation,
        forecast,
        weights,
        places_of(ranking.sets, len(base.causes)),
        prospects(base, ranking.sets, knowledge, situation),
        which,
        said,
        information_about_sets(weights, said) * (1.0 - parameters.unknown),
        level_of(situation.opened),
        parameters.unknown,
    )


def _allowed(forecast: Forecast, knowledge: Knowledge, situation: Situation) -> Indices:
    """Return the findings that may be asked, as positions in the forecast."""
    shut = situation.closed | situation.later
    return np.array(
        [
            number
            for number, name in enumerate(forecast.findings)
            if name not in shut
            and may_find_out(knowledge.findings[name], situation)
            and gate_met(knowledge.findings[name], situation, knowledge)
        ],
        dtype=np.intp,
    )


def _likely_gates(
    allowed: Indices,
    forecast: Forecast,
    members: Indices,
    weights: Floats,
    knowledge: Knowledge,
    situation: Situation,
) -> Indices:
    """Return which of the allowed findings do not hang on an unanswered gate that is likely shut."""
    place = {name: number for number, name in enumerate(forecast.findings)}
    gates = {
        number: [gate for gate in open_gates(knowledge.findings[forecast.findings[number]], situation) if gate in place]
        for number in allowed
    }
    needed = sorted({place[gate] for names in gates.values() for gate in names})
    if not needed:
        return np.arange(len(allowed))
    chance = np.einsum("s,sqv->qv", weights, forecast.true_values(members, np.array(needed, dtype=np.intp)))

    def met(number: int, gate: str) -> bool:
        values = list(knowledge.findings[gate].values)
        allowed_values = knowledge.findings[forecast.findings[number]].needs[gate]
        row = chance[needed.index(place[gate])]
        return float(sum(row[values.index(value)] for value in allowed_values)) >= LIKELY_GATE

    return np.array(
        [spot for spot, number in enumerate(allowed) if all(met(number, gate) for gate in gates[number])], dtype=np.intp
    )
