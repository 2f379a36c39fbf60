"""The record of the rules: what fired on what, what follows, what cannot all be true."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from diagnose.reasoning.values import Finding

FiringKind = Literal[
    "link", "classify", "infer", "exclude", "establish", "support", "weaken", "contradict", "warn", "refer"
]
ContradictionName = Literal[
    "cannot-both-be",
    "inferred-otherwise",
    "inferred-twice",
    "established-and-excluded",
    "established-apart",
    "all-excluded",
]
Grounds = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, order=True)
class Firing:
    """A rule that fired, on what, and what it says.

    Parameters
    ----------
    rule : str
        Id of the rule; "link:finding=value" and "classify:finding=value" for those made from links and bands.
    kind : str
        What the rule does.
    grounds : tuple of (str, str)
        Finding and value of each ground that was met.
    cause : str, optional
        The cause it speaks of.
    finding, value : str, optional
        The finding it speaks of or concludes.
    because : str
        A sentence that says why.
    """

    rule: str
    kind: FiringKind
    grounds: Grounds
    cause: str | None
    finding: str | None
    value: str | None
    because: str


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Conclusions that cannot all be true.

    Parameters
    ----------
    name : str
        What kind of contradiction it is.
    rules : tuple of str
        The rules that led to it.
    grounds : tuple of (str, str)
        Finding and value of every ground: one of these is wrong.
    because : str
        A sentence that says why.
    """

    name: ContradictionName
    rules: tuple[str, ...]
    grounds: Grounds
    because: str


@dataclass(frozen=True, slots=True)
class Conclusions:
    """All that the rules say about a list of findings.

    Parameters
    ----------
    firings : tuple of Firing
        Every rule that fired, in the order of the ids.
    inferred : tuple of Finding
        Findings that follow from others and that nobody has answered.
    weights : mapping of str to float
        Factor on the odds of a cause, from rules only; the links are in the tables.
    excluded, established : tuple of str
        Causes that a rule excludes or says were seen directly.
    warnings : tuple of str
        Ids of cautions, dangers first.
    out_of_scope : str, optional
        Why this is not a case for the program.
    contradictions : tuple of Contradiction
        What cannot all be true.
    """

    firings: tuple[Firing, ...]
    inferred: tuple[Finding, ...] = ()
    weights: Mapping[str, float] = field(default_factory=dict)
    excluded: tuple[str, ...] = ()
    established: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    out_of_scope: str | None = None
    contradictions: tuple[Contradiction, ...] = ()
