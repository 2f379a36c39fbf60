"""What to put in the van: the fewest parts that do for most causes, the tools, and the look that would shorten it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import comb

import numpy as np

from diagnose.model.entries import RemedyEntry
from diagnose.model.reading import Knowledge
from diagnose.reasoning.gates import Situation, may_do
from diagnose.reasoning.ranking import Ranking
from diagnose.reasoning.tables import Base, Floats
from diagnose.reasoning.weighing import State

Parts = frozenset[str]
# Lists of one length that are compared one by one; where there are more the greedy list stands.
MOST_COMPARED = 20_000
# Questions looked at closely for the one that shortens the list.
QUESTIONS = 12
# A look that shortens the list by less is not worth a word. [parts]
SHORTENS = 0.1
# A tool less likely to be needed is not named; nor is a part, or a cause among those that the list leaves.
WORTH_TOOLS, WORTH_NAMING = 0.1, 0.01
# Causes named that the list leaves.
LEFT_NAMED = 5
_TINY = 1e-300


@dataclass(frozen=True, slots=True)
class ListLook:
    """The one look that would shorten the list most.

    Parameters
    ----------
    finding : str
        What is looked at.
    after : float
        Expected number of parts on the list once it is answered.
    """

    finding: str
    after: float


@dataclass(frozen=True, slots=True)
class VanList:
    """What to put in the van.

    Parameters
    ----------
    parts : tuple of (str, float)
        The parts with the chance that the cause needs them, most likely first.
    covers : float
        Share of the causes a visit can cure that these parts do for, those that need no part counted in [1].
    exact : bool
        True where no shorter list does; False where too many lists would have to be compared.
    left : tuple of (str, float)
        The likeliest causes whose parts are not on the list, with their chance.
    elsewhere : float
        Chance that the cause is one no visit cures, whatever is brought [1].
    unlisted : float
        Chance of something not on the list of causes, which may need any part [1].
    tools : tuple of str
        Tools that the remedies of the likely causes take, likeliest first.
    look : ListLook, optional
        The look that would shorten the list most; None where none would.
    """

    parts: tuple[tuple[str, float], ...]
    covers: float
    exact: bool
    left: tuple[tuple[str, float], ...]
    elsewhere: float
    unlisted: float
    tools: tuple[str, ...]
    look: ListLook | None = None


def visit_remedy(cause: str, knowledge: Knowledge, situation: Situation) -> str | None:
    """Return the first remedy a cause names that may be done on a visit; None where there is none."""
    there = replace(situation, where="visit", staff=situation.staff if situation.where == "visit" else "technician")
    for name in knowledge.causes[cause].remedies:
        entry = knowledge.remedies.get(name)
        if entry is not None and entry.cures and may_do(entry, there):
            return name
    return None


def parts_for(cause: str, knowledge: Knowledge, remedy: RemedyEntry | None = None) -> Parts:
    """Return the parts a cause names, and those of a remedy: of the one it names first where none is given."""
    entry = knowledge.causes[cause]
    if remedy is None:
        remedy = next((knowledge.remedies[name] for name in entry.remedies[:1] if name in knowledge.remedies), None)
    return frozenset(entry.parts) | frozenset(remedy.parts if remedy is not None else ())


@dataclass(frozen=True, slots=True)
class _Needs:
    """Parts that each kept set needs on a visit: None where no visit cures it."""

    of_set: tuple[Parts | None, ...]
    remedies: tuple[str | None, ...]

    def summed(self, weights: Floats) -> dict[Parts, float]:
        """Return the weight of each different need; `weights`, shape (S,)."""
        found: dict[Parts, float] = {}
        for parts, weight in zip(self.of_set, weights.tolist(), strict=True):
            if parts is not None:
                found[parts] = found.get(parts, 0.0) + weight
        return found


def _needs(base: Base, sets: Sequence[tuple[int, ...]], knowledge: Knowledge, situation: Situation) -> _Needs:
    remedies = tuple(visit_remedy(cause, knowledge, situation) for cause in base.causes)
    needed = [
        parts_for(cause, knowledge, knowledge.remedies[name]) - situation.parts if name is not None else None
        for cause, name in zip(base.causes, remedies, strict=True)
    ]
    of_set: list[Parts | None] = []
    for members in sets:
        parts: Parts | None = frozenset()
        for cause in members:
            more = needed[cause]
            parts = None if parts is None or more is None else parts | more
        of_set.append(parts)
    return _Needs(tuple(of_set), remedies)


def van_list(base: Base, ranking: Ranking, knowledge: Knowledge, situation: Situation) -> VanList:
    """Return what to put in the van; without the look that would shorten it (see `shortening_look`).

    Parameters
    ----------
    base : Base
        The tables for this clock.
    ranking : Ranking
        Where the belief stands.
    knowledge : Knowledge
        Remedies, parts, and the share the list should cover (`shop.cover`).
    situation : Situation
        Where one is now; parts at hand are not put on the list.
    """
    total = float(ranking.weights.sum() + ranking.other_weight)
    weights = ranking.weights / total
    needs = _needs(base, ranking.sets, knowledge, situation)
    by_need = needs.summed(weights)
    chosen, exact = smallest_list(by_need, knowledge.shop.cover)
    curable = sum(by_need.values())
    covered = sum(weight for parts, weight in by_need.items() if parts <= chosen)
    rows = list(zip(ranking.sets, needs.of_set, weights.tolist(), strict=True))
    chance = {
        part: sum(weight for _, parts, weight in rows if parts is not None and part in parts) for part in sorted(chosen)
    }
    left: dict[str, float] = {}
    for members, parts, weight in rows:
        if parts is None or parts <= chosen:
            continue
        for cause in members:
            remedy = needs.remedies[cause]
            if remedy is not None and not parts_for(base.causes[cause], knowledge, knowledge.remedies[remedy]) <= (
                chosen | situation.parts
            ):
                left[base.causes[cause]] = left.get(base.causes[cause], 0.0) + weight
    return VanList(
        tuple(sorted(chance.items(), key=_likelier)),
        covered / curable if curable > 0 else 1.0,
        exact,
        tuple(item for item in sorted(left.items(), key=_likelier)[:LEFT_NAMED] if item[1] >= WORTH_NAMING),
        sum(weight for _, parts, weight in rows if parts is None),
        float(ranking.other_weight / total),
        _tools(needs, ranking.sets, weights, knowledge),
    )


def _likelier(item: tuple[str, float]) -> tuple[float, str]:
    return -item[1], item[0]


def smallest_list(needs: Mapping[Parts, float], share: float) -> tuple[Parts, bool]:
    """Return the fewest parts that do for a share of the weight, and whether none fewer do.

    Parameters
    ----------
    needs : mapping of frozenset of str to float
        The weight of each different need; an empty need is met by any list.
    share : float
        What the list must cover [1].

    Returns
    -------
    parts : frozenset of str
        Among lists of the same length the one that covers most; then the first by name.
    exact : bool
        False where more than `MOST_COMPARED` lists of a length would have to be compared.
    """
    total = sum(needs.values())
    enough = share * total
    greedy = _greedy(needs, enough)
    # A part whose causes weigh more than may be left out stands on every list that does.
    weight_of: dict[str, float] = {}
    for parts, weight in needs.items():
        for part in parts:
            weight_of[part] = weight_of.get(part, 0.0) + weight
    must = frozenset(part for part, weight in weight_of.items() if weight > total - enough + _slack(total))
    rest = sorted(set(weight_of) - must)
    order = {part: 1 << number for number, part in enumerate(rest)}
    masks = np.array([sum(order[part] for part in parts - must) for parts in needs], dtype=np.uint64)
    weights = np.array(list(needs.values()))
    for size in range(max(0, len(greedy) - len(must)) + 1):
        if comb(len(rest), size) > MOST_COMPARED:
            return greedy, False
        lists = list(combinations(rest, size))
        brought = np.array([sum(order[part] for part in each) for each in lists], dtype=np.uint64)
        covered = ((masks[None, :] & ~brought[:, None]) == 0) @ weights
        best = int(covered.argmax()) if len(covered) else 0
        if len(covered) and covered[best] >= enough - _slack(total):
            return must | frozenset(lists[best]), True
    return greedy, True


def _slack(total: float) -> float:
    """Return how far sums of weights may be off by rounding."""
    return 1e-9 * total


def _greedy(needs: Mapping[Parts, float], enough: float) -> Parts:
    """Return a list made by adding, each time, the need that covers most for each further part."""
    chosen: Parts = frozenset()
    total = sum(needs.values())
    while sum(weight for parts, weight in needs.items() if parts <= chosen) < enough - _slack(total):
        best, best_gain = chosen, 0.0
        for parts in sorted(needs, key=sorted):
            more = parts - chosen
            if not more:
                continue
            gain = sum(w for other, w in needs.items() if other <= chosen | parts and not other <= chosen) / len(more)
            if gain > best_gain:
                best, best_gain = chosen | parts, gain
        if best == chosen:
            break
        chosen = best
    return chosen


def _tools(needs: _Needs, sets: Sequence[tuple[int, ...]], weights: Floats, knowledge: Knowledge) -> tuple[str, ...]:
    """Return the tools that are likely enough to be needed, likeliest first."""
    chance: dict[str, float] = {}
    for members, weight in zip(sets, weights.tolist(), strict=True):
        names = {needs.remedies[cause] for cause in members}
        for tool in {tool for name in names if name is not None for tool in knowledge.remedies[name].tools}:
            chance[tool] = chance.get(tool, 0.0) + weight
    likely = [(tool, weight) for tool, weight in chance.items() if weight >= WORTH_TOOLS]
    return tuple(tool for tool, _ in sorted(likely, key=_likelier))


def shortening_look(state: State, sets: Sequence[tuple[int, ...]]) -> ListLook | None:
    """Return the look after which the list is expected to be shortest, or None where none shortens it.

    Parameters
    ----------
    state : State
        From `weighing.gather`: what may be asked now, and what would be said.
    sets : sequence of tuple of int
        The kept sets, in the order of the state's weights.
    """
    share = state.knowledge.shop.cover
    needs = _needs(state.base, sets, state.knowledge, state.situation)
    now = len(smallest_list(needs.summed(state.weights[:-1]), share)[0])
    if now == 0 or not len(state.which):
        return None
    kinds = sorted({parts for parts in needs.of_set if parts is not None}, key=sorted)
    rows = np.zeros((len(kinds) + 1, len(state.weights)))
    for number, parts in enumerate(needs.of_set):
        rows[kinds.index(parts) if parts is not None else -1, number] = state.weights[number]
    rows[-1, -1] = state.weights[-1]
    joint = np.tensordot(rows, state.said, 1)
    total = np.maximum(joint.sum(axis=(0, 2), keepdims=True), _TINY)
    outer = joint.sum(axis=0, keepdims=True) * joint.sum(axis=2, keepdims=True) / total
    nats = (joint * np.log(np.maximum(joint, _TINY) / np.maximum(outer, _TINY))).sum(axis=(0, 2))
    found: list[tuple[float, str]] = []
    for question in np.argsort(-nats, kind="stable")[:QUESTIONS].tolist():
        length = 0.0
        for answer in joint[:, question].T:
            said = float(answer.sum())
            if said > 0:
                by_need = dict(zip(kinds, answer[:-1].tolist(), strict=True))
                length += said * len(_greedy(by_need, share * float(answer[:-1].sum())))
        after = (1.0 - state.unknown) * length + state.unknown * now
        found.append((after, state.finding(question)))
    after, finding = min(found)
    return ListLook(finding, after) if after <= now - SHORTENS else None
