"""What a step costs: hands-on minutes, the ladder of opening, harm, parts, travel and days, in minutes of work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.model.entries import OPENED, FindingEntry, Opened, RemedyEntry, Where
from diagnose.model.lists import ShopEntry
from diagnose.model.reading import Knowledge

HOURS_A_DAY = 24.0
MINUTES_AN_HOUR = 60.0
# Chance that somebody who comes to a clock has the part along although nobody said so (estimate-2026-11).
PART_ALONG = 0.5


def level_of(opened: Opened) -> int:
    """Return the rung of the ladder, 0 for outside to 5 for plates-apart."""
    return OPENED.index(opened)


@dataclass(frozen=True, slots=True)
class Ladder:
    """How far a clock is opened, and what going further costs.

    Parameters
    ----------
    minutes : ndarray, shape (L, L)
        Minutes from a level to a reach; 0 where it is open that far already. [min]
    proof_level : int
        The deepest level at which the clock still runs, so that a cure can be proved.
    """

    minutes: NDArray[np.float64]
    proof_level: int

    def after_repair(self, level: NDArray[np.intp], reach: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the level after a remedy: as deep as it went, but closed again as far as the proof asks."""
        deepest: NDArray[np.intp] = np.minimum(np.maximum(level, reach), self.proof_level)
        return deepest


def ladder_of(rungs: NDArray[np.float64], proof_level: int) -> Ladder:
    """Return the ladder whose rung l costs `rungs[l]` minutes on top of the rungs before it.

    Parameters
    ----------
    rungs : ndarray, shape (L,)
        Minutes for each rung alone. [min]
    proof_level : int
        The deepest level at which the clock runs.

    Returns
    -------
    Ladder
        With the minutes from every level to every reach.
    """
    height = np.cumsum(rungs)
    return Ladder(np.maximum(height[None, :] - height[:, None], 0.0), proof_level)


def shop_ladder(knowledge: Knowledge, where: Where, family: str) -> Ladder:
    """Return the shop's ladder for a clock of this family at this place.

    Each figure of `opening_minutes` is one rung: from the rung before it to this one. At the bench a
    movement runs on a test stand; elsewhere the clock must be closed as far as `runs_open` of its family.
    """
    rungs = np.array([knowledge.shop.opening_minutes.get(name, 0.0) for name in OPENED])
    if where == "workshop":
        return ladder_of(rungs, level_of("movement-out"))
    entry = knowledge.clocks.get(family)
    runs_open: Opened = (entry.runs_open if entry is not None else None) or "dial"
    return ladder_of(rungs, level_of(runs_open))


def waiting_minutes(hours: float, shop: ShopEntry) -> float:
    """Return the price of waiting, which is not work but is not free either. [min]"""
    return hours / HOURS_A_DAY * shop.day_minutes


def finding_minutes(entry: FindingEntry, shop: ShopEntry, place: str | None = None) -> float:
    """Return what finding something out costs, opening left out.

    Parameters
    ----------
    entry : FindingEntry
        What is to be found out.
    shop : ShopEntry
        The shop's prices.
    place : str, optional
        Where one is looking now: looking elsewhere costs a change of place.

    Returns
    -------
    float
        Hands-on minutes, harm, waiting and change of place. [min]
    """
    change = shop.change_place_minutes if place is not None and entry.place != place else 0.0
    harm = shop.harm_minutes["care"] if entry.risk == "care" else 0.0
    return entry.minutes + harm + waiting_minutes(entry.wait_hours, shop) + change


def remedy_minutes(
    entry: RemedyEntry, knowledge: Knowledge, where: Where, parts_at_hand: frozenset[str] = frozenset()
) -> float:
    """Return what one try of a remedy costs with its proof, opening left out.

    Parameters
    ----------
    entry : RemedyEntry
        The remedy.
    knowledge : Knowledge
        With the shop's prices, the cautions and the findings that prove a cure.
    where : str
        On a visit a part that is not said to be at hand may mean a second visit; on a call it is sent.
    parts_at_hand : frozenset of str
        Parts that are there already.

    Returns
    -------
    float
        Hands-on minutes, harm, proof, waiting, parts and travel. [min]
    """
    shop = knowledge.shop
    levels = {knowledge.cautions[name].level for name in entry.cautions if name in knowledge.cautions}
    harm = shop.harm_minutes["care"] if levels & {"care", "danger"} else 0.0
    waits = [
        knowledge.findings[proof.finding].wait_hours for proof in entry.proof if proof.finding in knowledge.findings
    ]
    hours = entry.wait_hours + min(waits, default=0.0)
    missing = [part for part in entry.parts if part not in parts_at_hand]
    parts = shop.part_minutes * len(missing)
    if missing and where == "visit":
        parts += (1.0 - PART_ALONG) * shop.second_visit_minutes
    if missing and where == "call":
        parts += shop.days.post * shop.day_minutes
    return entry.minutes + harm + shop.proof_minutes + waiting_minutes(hours, shop) + parts


def part_price(part: str, shop: ShopEntry) -> float:
    """Return what a part costs, in the shop's currency: its own price, or that of any part."""
    return shop.money.parts.get(part, shop.money.part)


def hands_minutes(entry: RemedyEntry, shop: ShopEntry) -> float:
    """Return how long one try of a remedy keeps hands busy with its proof, opening left out. [min]"""
    return entry.minutes + shop.proof_minutes


def work_price(minutes: float, shop: ShopEntry) -> float:
    """Return what hands-on minutes of our own people cost, in the shop's currency."""
    return shop.money.hour * minutes / MINUTES_AN_HOUR
