"""What a remedy does to the causes and findings of one clock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.errors import InputError
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge
from diagnose.reasoning.values import RemedyEffect

if TYPE_CHECKING:
    from diagnose.reasoning.tables import Base


def effect_of(remedy_id: str, knowledge: Knowledge, base: Base) -> RemedyEffect:
    """Return what a remedy does to the clock of `base`.

    Parameters
    ----------
    remedy_id : str
        Id of the remedy.
    knowledge : Knowledge
        Where it is described; the causes that name it are those it is for.
    base : Base
        The causes and findings of the clock.

    Returns
    -------
    RemedyEffect
        Without causes where none of them fits the clock.

    Raises
    ------
    InputError
        Where the remedy is unknown.
    """
    entry = knowledge.remedies.get(remedy_id)
    if entry is None:
        raise InputError(f"unknown remedy '{remedy_id}'{near(remedy_id, knowledge.remedies)}", "remedies")
    causes = tuple(place for place, key in enumerate(base.causes) if remedy_id in knowledge.causes[key].remedies)
    works = knowledge.probabilities[entry.works].probability
    changed = frozenset(entry.stale) & frozenset(base.tables)
    return RemedyEffect(remedy_id, causes, works, shown_by(base, causes) | changed, changed)


def shown_by(base: Base, causes: tuple[int, ...]) -> frozenset[str]:
    """Return the findings that speak of any of the causes, without circumstances: those lie in the past."""
    return frozenset(
        name
        for name, table in base.tables.items()
        if table.kind != "circumstance" and (table.row[list(causes)] >= 0).any()
    )
