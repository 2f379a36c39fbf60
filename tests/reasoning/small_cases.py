"""Cases on the small knowledge, for several tests of the reasoning."""

from pathlib import Path

import yaml
from hypothesis import strategies as st

from diagnose.model.observations import Answer, ClockFacts, Measurement
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.ranking import Piece, Ranking, rank
from diagnose.reasoning.rules import Conclusions, run_rules
from diagnose.reasoning.tables import Base, compile_base
from diagnose.reasoning.values import Finding

SMALL = Path(__file__).parent / "small_knowledge"


def small_knowledge() -> Knowledge:
    return read_knowledge(SMALL)


def said(knowledge: Knowledge, **answers: str) -> tuple[Finding, ...]:
    """Return findings of sure answers; underscores stand for hyphens."""
    return findings_from([Answer(name.replace("_", "-"), value) for name, value in answers.items()], [], knowledge)


def fresh(findings: tuple[Finding, ...], knowledge: Knowledge, base: Base) -> Conclusions:
    """Return the conclusions of a network that has seen nothing before."""
    run_rules((), knowledge, base)
    return run_rules(findings, knowledge, base)


def ids(conclusions: Conclusions, kind: str) -> list[str]:
    return [firing.rule for firing in conclusions.firings if firing.kind == kind]


def some_answers(knowledge: Knowledge) -> st.SearchStrategy[list[Answer]]:
    """Return answers to some findings, in any order, with any certainty."""
    values = {name: tuple(entry.values) for name, entry in knowledge.findings.items()}
    one = st.sampled_from(sorted(values)).flatmap(
        lambda name: st.builds(
            Answer, st.just(name), st.sampled_from(values[name]), st.sampled_from(["sure", "think-so"])
        )
    )
    return st.lists(one, max_size=14, unique_by=lambda answer: answer.finding)


def small_folder(tmp_path: Path, rules: dict[str, object]) -> Path:
    """Return a copy of the small knowledge with other rules."""
    folder = tmp_path / "knowledge"
    folder.mkdir()
    for file in SMALL.glob("*.yaml"):
        if file.name != "rules.yaml":
            (folder / file.name).write_text(file.read_text())
    (folder / "rules.yaml").write_text(yaml.safe_dump({"rules": rules}))
    return folder


def rule(kind: str, ground: str, seen: str, /, **target: str) -> dict[str, object]:
    return {
        "kind": kind,
        "when": [{"finding": ground, "is": [seen]}],
        "because": f"Because {ground} is {seen}.",
        "sources": ["practice"],
        "fires_on": [{ground: seen}],
        "silent_on": [{ground: "nothing-like-it"}],
        **target,
    }


def read_small(tmp_path: Path, **rules: dict[str, object]) -> tuple[Knowledge, Base]:
    """Return knowledge with these rules; the example that stays silent is the other value."""
    small = read_knowledge(SMALL)
    for entry in rules.values():
        (ground,) = entry["when"]  # type: ignore[misc]
        others = [value for value in small.findings[ground["finding"]].values if value not in ground["is"]]
        entry["silent_on"] = [{ground["finding"]: others[0]}]
    knowledge = read_knowledge(small_folder(tmp_path, dict(rules)))
    return knowledge, compile_base(knowledge, ClockFacts())


Case = tuple[tuple[Piece, ...], Ranking, Conclusions]


def case(knowledge: Knowledge, base: Base, *answers: Answer, readings: tuple[Measurement, ...] = ()) -> Case:
    """Return pieces, ranking and conclusions of some answers."""
    findings = findings_from(answers, readings, knowledge)
    conclusions = run_rules(findings, knowledge, base)
    pieces = (Piece((*findings, *conclusions.inferred), conclusions.weights),)
    return pieces, rank(base, pieces), conclusions


SOME = (
    Answer("moved-lately", "yes"),
    Answer("part-fitted", "suspension"),
    Answer("runs-for", "minutes"),
    Answer("case-steady", "firm"),
    Answer("weights-height", "at-the-bottom", "think-so"),
    Answer("leaf-shape", "flat", source="seen"),
)
