"""What each set of causes needs here: from remedies and gates to the planner's classes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import level_of, remedy_minutes, shop_ladder
from diagnose.reasoning.gates import Situation, may_do, tries_left
from diagnose.reasoning.outlook import CURED, UNMOVED, Outlook, Prices
from diagnose.reasoning.planning import Repairs, close_classes, told_truth
from diagnose.reasoning.tables import Base, Floats, Indices

# The need of a fault that is not on the list, which no remedy meets.
_NOT_ON_THE_LIST = "not on the list"


@dataclass(frozen=True, slots=True)
class Prospects:
    """What can be done here about each kept set of causes.

    Parameters
    ----------
    remedies : tuple of str
        The remedies that may be done here, cheaper first.
    repairs : Repairs
        The same in numbers, over classes of sets with the same needs.
    merge : ndarray, shape (S + 1, N)
        1 where a set belongs to a class; the last row stands for a fault that is not on the list.
    moves : ndarray of int, shape (R, S + 1)
        The set that a set becomes when a remedy works (see `Outlook`).
    """

    remedies: tuple[str, ...]
    repairs: Repairs
    merge: Floats
    moves: Indices

    def outlook(self, prices: Prices) -> Outlook:
        """Return what decides the value of a state, with what information costs."""
        return Outlook(self.repairs, told_truth(self.repairs), prices, self.merge, self.moves)


def prospects(base: Base, sets: Sequence[tuple[int, ...]], knowledge: Knowledge, situation: Situation) -> Prospects:
    """Return what can be done in a situation about each of the kept sets.

    On a call causes that nobody there can put right stay apart, because the next place wants to know which it
    is; elsewhere they are all "to be handed on".
    """
    shop = knowledge.shop
    handover = shop.second_visit_minutes if situation.where == "call" else 0.0
    offer = _offer(base, knowledge, situation, handover > 0)
    remedies, needs, need_of = offer.remedies, offer.needs, offer.need_of
    classes, class_of = _classes(sets, needs, need_of, handover > 0)
    width = max((len(item) for item in classes), default=1) or 1
    repairs = Repairs(
        needs=np.array([sorted(item) + [-1] * (width - len(item)) for item in classes], dtype=np.intp),
        cures=offer.cures,
        minutes=offer.minutes,
        reach=offer.reach,
        tries=np.array([tries_left(name, situation) for name in remedies], dtype=np.intp),
        ladder=shop_ladder(knowledge, situation.where, situation.clock.family),
        refer_minutes=shop.refer_minutes[situation.where],
        handover_minutes=handover,
    )
    merge = np.zeros((len(class_of), len(classes)))
    merge[np.arange(len(class_of)), class_of] = 1.0
    return Prospects(remedies, repairs, merge, _moves(base, sets, remedies))


def _moves(base: Base, sets: Sequence[tuple[int, ...]], remedies: tuple[str, ...]) -> Indices:
    """Return the set that each set becomes when a remedy works.

    Where what is left is none of the kept sets, the set counts as unmoved: a little too dear, never too cheap.
    """
    place = {members: number for number, members in enumerate(sets)}
    moves = np.full((len(remedies), len(sets) + 1), UNMOVED, dtype=np.intp)
    mended = [frozenset(base.remedies[name].causes) for name in remedies]
    rows_of: dict[int, list[int]] = {}
    for row, causes in enumerate(mended):
        for cause in causes:
            rows_of.setdefault(cause, []).append(row)
    for number, members in enumerate(sets):
        for row in {row for cause in members for row in rows_of.get(cause, ())}:
            rest = tuple(cause for cause in members if cause not in mended[row])
            moves[row, number] = place.get(rest, UNMOVED) if rest else CURED
    return moves


Need = tuple[tuple[str, ...], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class _Offer:
    """What may be done in a situation, and what each cause needs of it; it does not hang on the belief."""

    remedies: tuple[str, ...]
    minutes: Floats
    reach: Indices
    cures: Floats
    needs: list[Need]
    need_of: dict[int | None, int]


_offers: dict[tuple[object, ...], tuple[Base, Knowledge, _Offer]] = {}
_MOST_OFFERS = 16


def _offer(base: Base, knowledge: Knowledge, situation: Situation, apart: bool) -> _Offer:
    """Return what may be done; that of the last few situations is kept."""
    spent = frozenset(name for name in situation.tried if tries_left(name, situation) == 0)
    key = (
        id(base), id(knowledge), situation.where, situation.person, situation.staff, situation.clock,
        situation.parts, spent, apart,
    )  # fmt: skip
    if key not in _offers:
        if len(_offers) >= _MOST_OFFERS:
            _offers.clear()
        # Base and knowledge are kept beside it, so that their ids cannot be given to others meanwhile.
        _offers[key] = (base, knowledge, _make_offer(base, knowledge, situation, apart))
    return _offers[key][2]


def _make_offer(base: Base, knowledge: Knowledge, situation: Situation, apart: bool) -> _Offer:
    minutes = {
        name: remedy_minutes(entry, knowledge, situation.where, situation.parts)
        for name, entry in knowledge.remedies.items()
        if entry.cures and name in base.remedies and may_do(entry, situation) and tries_left(name, situation) > 0
    }
    remedies = tuple(sorted(minutes, key=lambda name: (minutes[name], name)))
    needs, need_of = _needs(base, remedies, knowledge, apart)
    column = {name: number for number, name in enumerate(remedies)}
    cures = np.zeros((len(needs), len(remedies)))
    for number, (allowed, _) in enumerate(needs):
        for name in allowed:
            cures[number, column[name]] = base.remedies[name].works
    return _Offer(
        remedies,
        np.array([minutes[name] for name in remedies]),
        np.array([level_of(knowledge.remedies[name].opened) for name in remedies], dtype=np.intp),
        cures,
        needs,
        need_of,
    )


def _needs(
    base: Base, remedies: tuple[str, ...], knowledge: Knowledge, apart: bool
) -> tuple[list[Need], dict[int | None, int]]:
    """Return the different needs, and the need of each cause (None for a fault not on the list)."""
    allowed = frozenset(remedies)
    found: dict[Need, int] = {}
    need_of: dict[int | None, int] = {}
    for number, cause in enumerate(base.causes):
        every = knowledge.causes[cause].remedies
        named = tuple(sorted(name for name in every if name in knowledge.remedies and knowledge.remedies[name].cures))
        here = tuple(name for name in named if name in allowed)
        need_of[number] = found.setdefault((here, named if apart else ()), len(found))
    need_of[None] = found.setdefault(((), (_NOT_ON_THE_LIST,) if apart else ()), len(found))
    return list(found), need_of


def _classes(
    sets: Sequence[tuple[int, ...]], needs: list[Need], need_of: dict[int | None, int], apart: bool
) -> tuple[list[frozenset[int]], Indices]:
    """Return the classes of sets, closed under cures, and the class of each set."""
    nowhere = need_of[None]
    of_set: list[frozenset[int]] = []
    for members in sets:
        needed = frozenset(need_of[cause] for cause in members)
        beyond = not apart and any(not needs[need][0] for need in needed)
        of_set.append(frozenset({nowhere}) if beyond else needed)
    of_set.append(frozenset({nowhere}))
    classes = close_classes(set(of_set))
    place = {item: number for number, item in enumerate(classes)}
    return classes, np.array([place[item] for item in of_set], dtype=np.intp)
