"""Values that travel between the parts of the reasoning."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """What one finding says, as a likelihood over its true value.

    Parameters
    ----------
    finding : str
        Id of the finding.
    likelihood : tuple of float, shape (V,)
        How well what was said or measured agrees with each value of the finding, in the order of its
        table; only the ratios count.
    said : str, optional
        The value that was said; None where a measurement speaks for several at once.
    sure : float
        Probability that an answer of this kind is right.
    because : str
        A sentence that says where it comes from.
    source : str
        How it is known: told, seen, photo, recording, measured, or the id of a rule.
    """

    finding: str
    likelihood: tuple[float, ...]
    said: str | None = None
    sure: float = 1.0
    because: str = ""
    source: str = "told"


@dataclass(frozen=True, slots=True)
class RemedyEffect:
    """What a remedy does to the causes and findings of one clock.

    Parameters
    ----------
    remedy : str
        Id of the remedy.
    causes : tuple of int
        Positions, in the base, of the causes it is for.
    works : float
        Probability that it cures them.
    stale : frozenset of str
        Findings to be asked anew after it: those the causes show, and those it changes itself.
    changed : frozenset of str
        Of these, the ones it changes itself, cured or not.
    """

    remedy: str
    causes: tuple[int, ...]
    works: float
    stale: frozenset[str] = frozenset()
    changed: frozenset[str] = frozenset()
