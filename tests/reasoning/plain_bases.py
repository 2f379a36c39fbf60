"""Small bases in plain numbers, shared by the tests of tables, ranking and remedies."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.tables import Base, base_from, choice, circumstance
from diagnose.reasoning.values import Finding


def worked_base() -> Base:
    """Three causes, a choice with two links of one cause, a sign and a circumstance."""
    return base_from(
        {"A": 0.16, "B": 0.08, "C": 0.04},
        {
            "f": choice(["n", "u", "w"], {"A": {"u": 0.75}, "B": {"w": 0.5, "u": 0.25}}, {"u": 0.02, "w": 0.01}),
            "g": choice(["n", "x"], {"C": {"x": 0.85}, "A": {"x": 0.15}}, 0.03),
            "m": circumstance({"no": 0.8, "yes": 0.2}, {"A": {"yes": 5}}),
        },
    )


def worked_answers() -> tuple[Finding, ...]:
    return (
        Finding("m", (0.06, 0.94), "yes"),
        Finding("f", (0.03, 0.94, 0.03), "u"),
        Finding("g", (0.74, 0.26), "n"),
    )


def two_causes() -> Base:
    """A complaint that both causes show, a sign that only A shows, and a remedy for A."""
    return base_from(
        {"A": 0.16, "B": 0.08},
        {
            "complaint": choice(["no", "yes"], {"A": {"yes": 0.9}, "B": {"yes": 0.9}}, 0.01),
            "f": choice(["no", "yes"], {"A": {"yes": 0.9}}, 0.02),
        },
        nothing_wrong=0.0,
        none_of_these=0.0,
        remedies={"mend-A": (("A",), 0.9), "mend-nothing-here": ((), 0.9)},
    )


def said(finding: str, value: str, wrong: float = 0.0) -> Finding:
    """Return an answer to a finding with the values no and yes."""
    shown = (1 - wrong, wrong) if value == "no" else (wrong, 1 - wrong)
    return Finding(finding, shown, value, 1 - wrong)


def by_set(base: Base, ranking: Ranking) -> dict[str, float]:
    """Return the weights of the sets, each named by its causes run together."""
    return {
        "".join(base.causes[place] for place in causes): float(weight)
        for causes, weight in zip(ranking.sets, ranking.weights, strict=True)
    }


def ranked(base: Base, *pieces: Piece) -> dict[str, float]:
    return {entry.cause: entry.probability for entry in rank(base, pieces).causes}


def one_piece(findings: Iterable[Finding]) -> tuple[Piece]:
    return (Piece(tuple(findings)),)
