"""What cannot all be true: stated by a rule, inferred against an answer, or causes that rule each other out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from diagnose.reasoning.firings import Contradiction, ContradictionName, Firing, Grounds
from diagnose.reasoning.rule_weights import best_value
from diagnose.reasoning.values import Finding

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge
    from diagnose.reasoning.tables import Base

# Two causes seen directly are taken to exclude each other where each shows, this surely, another
# value of one finding.
_SURELY_SHOWS = 0.95


def stated(firings: Iterable[Firing]) -> list[Contradiction]:
    """Return the contradictions that rules of the knowledge state."""
    return [
        Contradiction("cannot-both-be", (firing.rule,), firing.grounds, firing.because)
        for firing in firings
        if firing.kind == "contradict"
    ]


def inferred_against(
    firings: Iterable[Firing], findings: Iterable[Finding], knowledge: Knowledge
) -> list[Contradiction]:
    """Return what is inferred otherwise than answered, or in two ways."""
    rules: dict[str, list[Firing]] = {}
    for firing in firings:
        if firing.kind == "infer":
            rules.setdefault(str(firing.finding), []).append(firing)
    answers = {finding.finding: finding for finding in findings}
    found = []
    for name, inferring in sorted(rules.items()):
        entry = knowledge.findings[name]
        said = best_value(answers[name], tuple(entry.values)) if name in answers else None
        against = [firing for firing in inferring if said is not None and firing.value != said]
        if said is not None and against:
            words = f"{against[0].because} Yet the answer was: {entry.values[said].staff}."
            found.append(_contradiction("inferred-otherwise", against, words, ((name, said),)))
        elif said is None and len({firing.value for firing in inferring}) > 1:
            words = " Yet: ".join(sorted({firing.because for firing in inferring}))
            found.append(_contradiction("inferred-twice", inferring, words))
    return found


def _contradiction(
    name: ContradictionName, firings: Sequence[Firing], because: str, further: Grounds = ()
) -> Contradiction:
    grounds = {ground for firing in firings for ground in firing.grounds} | set(further)
    return Contradiction(name, tuple(sorted({firing.rule for firing in firings})), tuple(sorted(grounds)), because)


def causes_against(
    firings: Sequence[Firing],
    excluded: tuple[str, ...],
    established: tuple[str, ...],
    knowledge: Knowledge,
    base: Base,
) -> list[Contradiction]:
    """Return causes both seen and excluded, causes seen that exclude each other, and the exclusion of all."""

    def rules(kinds: tuple[str, ...], causes: Iterable[str]) -> list[Firing]:
        wanted = set(causes)
        return [firing for firing in firings if firing.kind in kinds and firing.cause in wanted]

    found = []
    for cause in sorted(set(excluded) & set(established)):
        words = f"Seen directly and yet excluded: {knowledge.causes[cause].title.staff}."
        found.append(_contradiction("established-and-excluded", rules(("exclude", "establish"), [cause]), words))
    for one, other in combinations(established, 2):
        apart = _apart(one, other, knowledge)
        if apart is not None:
            words = (
                f"Seen directly were both: {knowledge.causes[one].title.staff}; {knowledge.causes[other].title.staff}. "
                f"They cannot both be there, because each shows another {apart}."
            )
            found.append(_contradiction("established-apart", rules(("establish",), [one, other]), words))
    if base.causes and set(base.causes) <= set(excluded):
        words = "Every cause on the list is excluded: one of the answers is wrong, or it is something else."
        found.append(_contradiction("all-excluded", rules(("exclude",), base.causes), words))
    return found


def _apart(one: str, other: str, knowledge: Knowledge) -> str | None:
    """Return the finding of which two causes surely show different values, if there is one."""
    sure = []
    for cause in (one, other):
        sure.append(
            {
                link.finding: link.value
                for link in knowledge.causes[cause].shows
                if knowledge.probabilities[link.often].probability >= _SURELY_SHOWS
            }
        )
    differing = sorted(name for name, value in sure[0].items() if sure[1].get(name, value) != value)
    return differing[0] if differing else None
