"""What follows from the rules that fired."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from diagnose.reasoning.contradictions import causes_against, inferred_against, stated
from diagnose.reasoning.firings import Conclusions, Firing
from diagnose.reasoning.rule_weights import inferred_findings, rule_factors
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge
    from diagnose.reasoning.tables import Base

_LEVELS = ("danger", "care", "note")


def conclude(
    firings: Iterable[Firing],
    findings: Sequence[Finding],
    knowledge: Knowledge,
    base: Base,
    parameters: Parameters = DEFAULT,
) -> Conclusions:
    """Draw what follows from the rules that fired; the order of firings and findings does not matter.

    Parameters
    ----------
    firings : iterable of Firing
        Every rule that fired.
    findings : sequence of Finding
        What was answered and measured.
    knowledge : Knowledge
        The rules.
    base : Base
        The causes that fit the clock.
    parameters : Parameters
        The numbers of the reasoning.
    """
    ordered = tuple(sorted(firings))
    inferred = inferred_findings(ordered, findings, knowledge)
    factors = rule_factors(ordered, (*findings, *inferred), knowledge, base, parameters)
    excluded, established = (_causes_of(ordered, kind) for kind in ("exclude", "establish"))
    refusals = [knowledge.rules[firing.rule].reason for firing in ordered if firing.kind == "refer"]
    return Conclusions(
        firings=ordered,
        inferred=inferred,
        weights=_products(factors),
        excluded=excluded,
        established=established,
        warnings=_warnings(ordered, knowledge),
        out_of_scope=next((reason.staff for reason in refusals if reason is not None), None),
        contradictions=(
            *stated(ordered),
            *inferred_against(ordered, findings, knowledge),
            *causes_against(ordered, excluded, established, knowledge, base),
        ),
    )


def _products(factors: Iterable[tuple[Firing, float]]) -> dict[str, float]:
    products: dict[str, float] = {}
    for firing, factor in factors:
        products[str(firing.cause)] = products.get(str(firing.cause), 1.0) * factor
    return products


def _causes_of(firings: Iterable[Firing], kind: str) -> tuple[str, ...]:
    return tuple(sorted({firing.cause for firing in firings if firing.kind == kind and firing.cause is not None}))


def _warnings(firings: Iterable[Firing], knowledge: Knowledge) -> tuple[str, ...]:
    named = {knowledge.rules[firing.rule].caution for firing in firings if firing.kind == "warn"}
    cautions = [caution for caution in named if caution is not None]
    return tuple(sorted(cautions, key=lambda caution: (_LEVELS.index(knowledge.cautions[caution].level), caution)))
