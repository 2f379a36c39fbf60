"""Before a part is sent: the chance that the cause needs it, and the look that would settle it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from diagnose.model.entries import Who
from diagnose.model.lists import PartSentEntry
from diagnose.model.reading import Knowledge
from diagnose.reasoning.bringing import parts_for
from diagnose.reasoning.costs import part_price
from diagnose.reasoning.gates import OWNERS, may_do
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.tables import Base, Floats
from diagnose.reasoning.weighing import State

Verdict = Literal["send", "look-first", "do-not-sell"]
# A look that tells less about the part is not named. [nat]
TELLS_NATS = 1e-3
# Causes named that a part is for.
CAUSES_NAMED = 3
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class PartLook:
    """The look that tells most about whether a part is needed.

    Parameters
    ----------
    finding : str
        What is looked at.
    raised_by, sunk_by : str
        The answers after which it is most and least likely.
    raised_to, sunk_to : float
        The chance then [1].
    """

    finding: str
    raised_by: str
    raised_to: float
    sunk_by: str
    sunk_to: float


@dataclass(frozen=True, slots=True)
class PartNeeded:
    """Whether a part is likely to be what the clock needs.

    Parameters
    ----------
    part : str
        Id of the part.
    chance : float
        Chance that a cause which needs it is there, something not on the list counted against it [1].
    verdict : str
        send, look-first or do-not-sell, by the shop's settings.
    unlisted : float
        Chance of something not on the list of causes [1].
    causes : tuple of (str, float)
        The causes it is for, most likely first.
    remedy : str, optional
        The remedy that fits it for the likeliest of them.
    who : str
        Who may fit it.
    by_owner : bool
        The one at the clock may fit it as things stand.
    tools : tuple of str
        Tools it takes.
    price : float
        What it costs, in the shop's currency.
    look : PartLook, optional
        What would raise or sink it; None where nothing that can be looked at now tells anything.
    """

    part: str
    chance: float
    verdict: Verdict
    unlisted: float
    causes: tuple[tuple[str, float], ...]
    remedy: str | None
    who: Who
    by_owner: bool
    tools: tuple[str, ...]
    price: float
    look: PartLook | None


def part_chances(base: Base, ranking: Ranking, knowledge: Knowledge) -> dict[str, float]:
    """Return for each part the chance that at least one cause which needs it is there [1]."""
    needed = [parts_for(cause, knowledge) for cause in base.causes]
    chance: dict[str, float] = {}
    for members, weight in zip(ranking.sets, ranking.weights.tolist(), strict=True):
        for part in {part for cause in members for part in needed[cause]}:
            chance[part] = chance.get(part, 0.0) + weight
    total = float(ranking.weights.sum() + ranking.other_weight)
    return {part: weight / total for part, weight in chance.items()}


def verdict_on(chance: float, sent: PartSentEntry) -> Verdict:
    """Return what to do about a part that is needed with this chance [1]."""
    if chance >= sent.send_from:
        return "send"
    return "look-first" if chance >= sent.look_from else "do-not-sell"


def part_needed(state: State, ranking: Ranking, part: str) -> PartNeeded:
    """Return whether a part is likely to be needed, who fits it, and what look would settle it.

    Parameters
    ----------
    state : State
        From `weighing.gather`: belief, and what may be asked now.
    ranking : Ranking
        The belief the state was made from.
    part : str
        Id of a part of the knowledge.
    """
    knowledge, base = state.knowledge, state.base
    needing = {number for number, cause in enumerate(base.causes) if part in parts_for(cause, knowledge)}
    inside = np.array([bool(needing & set(members)) for members in ranking.sets] + [False])
    chance = float(state.weights[inside].sum())
    by_cause = {
        base.causes[number]: float(
            sum(w for s, w in zip(ranking.sets, state.weights.tolist(), strict=False) if number in s)
        )
        for number in needing
    }
    causes = tuple(sorted(by_cause.items(), key=lambda item: (-item[1], item[0]))[:CAUSES_NAMED])
    remedy = _fitting(part, tuple(name for name, _ in causes), knowledge)
    entry = knowledge.remedies[remedy] if remedy is not None else None
    return PartNeeded(
        part,
        chance,
        verdict_on(chance, knowledge.shop.part_sent),
        float(state.weights[-1]),
        causes,
        remedy,
        entry.who if entry is not None else "technician",
        entry is not None and entry.who in OWNERS and may_do(entry, state.situation),
        entry.tools if entry is not None else (),
        part_price(part, knowledge.shop),
        _look(state, inside, chance),
    )


def _fitting(part: str, causes: tuple[str, ...], knowledge: Knowledge) -> str | None:
    """Return the remedy that fits the part: of the likeliest cause that has one, else any."""
    named = [name for cause in causes for name in knowledge.causes[cause].remedies]
    for name in (*named, *sorted(knowledge.remedies)):
        entry = knowledge.remedies.get(name)
        if entry is not None and entry.cures and part in entry.parts:
            return name
    return None


def _look(state: State, inside: Floats, chance: float) -> PartLook | None:
    """Return the look that tells most about whether the part is needed."""
    if not 0 < chance < 1 or not len(state.which):
        return None
    needed = np.tensordot(state.weights * inside, state.said, 1)
    said = np.tensordot(state.weights, state.said, 1)
    other = said - needed
    ratio = needed * np.log(np.maximum(needed, _TINY) / np.maximum(said * chance, _TINY))
    ratio += other * np.log(np.maximum(other, _TINY) / np.maximum(said * (1 - chance), _TINY))
    nats = np.where(said > 0, ratio, 0.0).sum(axis=1)
    question = int(nats.argmax())
    if nats[question] < TELLS_NATS:
        return None
    finding = state.finding(question)
    values = list(state.knowledge.findings[finding].values)
    after = needed[question, : len(values)] / np.maximum(said[question, : len(values)], _TINY)
    high, low = int(after.argmax()), int(after.argmin())
    return PartLook(finding, values[high], float(after[high]), values[low], float(after[low]))
