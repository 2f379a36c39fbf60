"""The base of one clock: odds of the causes that fit it and the tables of its findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from diagnose.errors import InputError
from diagnose.model.entries import Applies, CauseEntry, FindingEntry
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.finding_table import (
    FindingTable,
    Floats,
    Indices,
    Sign,
    choice,
    circumstance,
    graded,
    make_table,
    padded,
    symmetric,
)
from diagnose.reasoning.remedies_effect import effect_of, shown_by
from diagnose.reasoning.values import RemedyEffect
from diagnose.settings import DEFAULT, Parameters

__all__ = [
    "Base", "FindingTable", "Floats", "Indices", "Sign", "base_from", "choice", "circumstance", "compile_base",
    "fits", "graded", "padded",
]  # fmt: skip

COMMONNESS = {"very-common": 8.0, "common": 4.0, "occasional": 2.0, "rare": 1.0}
"""Relative weight of each word for how common a cause is."""
FACTORS = {
    "much": 8.0, "clearly": 4.0, "little": 2.0, "little-less": 1 / 2, "clearly-less": 1 / 4, "much-less": 1 / 8,
}  # fmt: skip
"""Factor of each word for what a circumstance does to the odds of a cause."""


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """Everything the ranking needs about one clock, in numbers.

    Parameters
    ----------
    causes : tuple of str
        Ids of the C causes that fit the clock.
    odds : ndarray, shape (C,)
        Odds of each; a set of causes weighs the product of its odds.
    nothing_wrong, none_of_these : float
        Probabilities, before the first answer, that nothing is wrong and that the fault is not on the list.
    tables : mapping of str to FindingTable
        By finding.
    index : mapping of str to int
        Position of each cause in `causes`.
    remedies : mapping of str to RemedyEffect
        What each remedy does to this clock.
    prior : ndarray, shape (C,)
        Probability of each cause before the first answer, alone or with others.
    all_odds : float
        Sum of the weights of all sets of one to three causes.
    """

    causes: tuple[str, ...]
    odds: Floats
    nothing_wrong: float
    none_of_these: float
    tables: Mapping[str, FindingTable]
    index: Mapping[str, int]
    remedies: Mapping[str, RemedyEffect]
    prior: Floats
    all_odds: float


def base_from(
    odds: Mapping[str, float],
    findings: Mapping[str, Sign],
    *,
    nothing_wrong: float = DEFAULT.nothing_wrong,
    none_of_these: float = DEFAULT.none_of_these,
    remedies: Mapping[str, tuple[tuple[str, ...], float]] | None = None,
) -> Base:
    """Make a base from plain numbers.

    Parameters
    ----------
    odds : mapping of str to float
        Odds by cause.
    findings : mapping of str to Sign
        By finding: what `choice`, `graded` and `circumstance` return.
    nothing_wrong, none_of_these : float
        Probabilities before the first answer.
    remedies : mapping, optional
        By remedy: the causes it is for and the probability that it cures them.

    Returns
    -------
    Base

    Raises
    ------
    InputError
        Where a number is out of its range or a name is unknown.

    Examples
    --------
    >>> base = base_from({"a": 0.2, "b": 0.1}, {"f": choice(["no", "yes"], {"a": {"yes": 0.9}}, leak=0.02)})
    >>> base.tables["f"].given([0]).round(3).tolist()
    [0.098, 0.902]
    """
    _check_share(odds, nothing_wrong, none_of_these)
    index = {cause: place for place, cause in enumerate(odds)}
    for name, sign in findings.items():
        for cause in sign.links:
            if cause not in index:
                raise InputError(f"unknown cause '{cause}'", f"finding '{name}'", "Give it odds first")
    base = _assembled(odds, findings, nothing_wrong, none_of_these)
    effects: dict[str, RemedyEffect] = {}
    for name, (causes, works) in (remedies or {}).items():
        places = tuple(index[cause] for cause in causes)
        effects[name] = RemedyEffect(name, places, works, shown_by(base, places))
    return replace(base, remedies=effects)


def _check_share(odds: Mapping[str, float], nothing_wrong: float, none_of_these: float) -> None:
    if not (nothing_wrong >= 0 and none_of_these >= 0 and nothing_wrong + none_of_these < 1):
        raise InputError(
            f"nothing wrong {nothing_wrong:g} and none of these {none_of_these:g}",
            "base",
            "Both are at least 0 and their sum is below 1",
        )
    for cause, value in odds.items():
        if not (np.isfinite(value) and value >= 0):
            raise InputError(f"odds {value:g}", f"cause '{cause}'", "Odds are at least 0")


def _assembled(
    odds: Mapping[str, float], findings: Mapping[str, Sign], nothing_wrong: float, none_of_these: float
) -> Base:
    """Return the base without remedies."""
    index = {cause: place for place, cause in enumerate(odds)}
    row = np.array(list(odds.values()), dtype=np.float64)
    tables = {name: make_table(name, sign, index, row) for name, sign in findings.items()}
    everything = sum(symmetric(row))
    prior = np.zeros(len(row))
    for place, own in enumerate(row):
        others = symmetric(np.delete(row, place))
        with_it = own * (1 + others[0] + others[1])
        prior[place] = (1 - nothing_wrong - none_of_these) * with_it / everything if everything > 0 else 0.0
    return Base(tuple(odds), row, nothing_wrong, none_of_these, tables, index, {}, prior, everything)


def compile_base(
    knowledge: Knowledge, clock: ClockFacts, parameters: Parameters = DEFAULT, checkup: bool = False
) -> Base:
    """Turn the knowledge into the numbers for one clock.

    Parameters
    ----------
    knowledge : Knowledge
        What the files say.
    clock : ClockFacts
        Which clock it is; a fact that is unknown excludes nothing.
    parameters : Parameters
        Numbers of the reasoning.
    checkup : bool
        Somebody asks only to have the clock checked: most likely nothing is wrong.

    Returns
    -------
    Base
        With the causes, findings and remedies that apply to the clock. Retired causes are left out.
    """
    causes = {
        key: entry
        for key, entry in knowledge.causes.items()
        if entry.status != "retired" and fits(entry.applies, clock)
    }
    weights = {key: _weight(entry, clock) for key, entry in causes.items()}
    total = sum(weights.values())
    odds = {key: parameters.expected_faults * weight / total for key, weight in weights.items()}
    links = _links_by_finding(knowledge, causes)
    findings = {
        key: _sign(entry, links.get(key, {}), parameters)
        for key, entry in knowledge.findings.items()
        if fits(entry.applies, clock)
    }
    nothing_wrong = parameters.nothing_wrong_checkup if checkup else parameters.nothing_wrong
    base = _assembled(odds, findings, nothing_wrong, parameters.none_of_these)
    return replace(base, remedies={key: effect_of(key, knowledge, base) for key in knowledge.remedies})


def fits(applies: Applies, clock: ClockFacts) -> bool:
    """Tell whether an entry is about such a clock; what is unknown excludes nothing."""
    facts = (
        (applies.families, clock.family),
        (applies.drives, clock.drive),
        (applies.escapements, clock.escapement),
        (applies.strikes, clock.strike),
        (applies.chimes, clock.chime),
    )
    return all(not allowed or fact == "unknown" or fact in allowed for allowed, fact in facts)


def _weight(entry: CauseEntry, clock: ClockFacts) -> float:
    """Return how common a cause is in the clock's family.

    Where neither the family nor a default is given: the mean of what is given if the family is unknown,
    the rarest of it if the family is simply not listed.
    """
    word = entry.how_common.get(clock.family) or entry.how_common.get("default")
    if word is not None:
        return COMMONNESS[word]
    listed = [COMMONNESS[name] for name in entry.how_common.values()]
    if not listed:
        return COMMONNESS["rare"]
    return sum(listed) / len(listed) if clock.family == "unknown" else min(listed)


def _links_by_finding(knowledge: Knowledge, causes: Mapping[str, CauseEntry]) -> dict[str, dict[str, dict[str, float]]]:
    """Return the links as numbers, by finding, cause and value."""
    links: dict[str, dict[str, dict[str, float]]] = {}
    for key, cause in causes.items():
        for link in cause.shows:
            probability = knowledge.probabilities[link.often].probability
            links.setdefault(link.finding, {}).setdefault(key, {})[link.value] = probability
        for finding, factors in cause.raised_by.items():
            links.setdefault(finding, {})[key] = {value: FACTORS[word] for value, word in factors.items()}
    return links


def _sign(entry: FindingEntry, links: Mapping[str, Mapping[str, float]], parameters: Parameters) -> Sign:
    """Return a finding of the knowledge in plain numbers."""
    values = tuple(entry.values)
    if entry.kind == "circumstance":
        return Sign("circumstance", values, links, rates=entry.base)
    leak = entry.leak if "leak" in entry.model_fields_set else parameters.leak
    if isinstance(leak, Mapping):
        abnormal = [value for value in values if value != entry.normal]
        share = parameters.leak / len(abnormal)
        leak = {value: leak.get(value, share) for value in abnormal}
    return Sign(entry.kind, values, links, leak, entry.normal)
