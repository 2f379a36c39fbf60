"""Cases of two to four answers that record what each answer weighs for a cause, and what each rule concludes.

The weight of evidence for a cause alone against nothing wrong, 10 lg P(answers | cause) / P(answers | nothing wrong),
depends on the entry of that cause and on its findings, not on the rest of the base: a new cause changes no record,
a changed link changes those of its own cause. After a change that is meant, write them anew and read the difference:

    python -m tests.knowledge.odds_cases
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from diagnose.model.checking import CLOCK_KINDS
from diagnose.model.entries import CauseEntry
from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.rules import Conclusions, run_rules
from diagnose.reasoning.tables import Base, compile_base

FOLDER = Path(__file__).parent / "odds"
# Answers of one case: enough to stand for a story, few enough that one changed link cannot hide among them.
ANSWERS = 3
# A record holds to within this, after rounding to a tenth. [dB]
TOLERANCE_DB = 1.0
Said = dict[str, str]


@dataclass(frozen=True, slots=True)
class OddsCase:
    """What is said, and what it weighs for one cause."""

    cause: str
    said: Said
    decibans: float


def clock_of(cause: CauseEntry, findings: Iterable[str], knowledge: Knowledge) -> ClockFacts | None:
    """Return a clock that can have the cause and all these findings; None where there is none."""
    facts: dict[str, str] = {}
    for kind, field in CLOCK_KINDS.items():
        lists = [
            getattr(cause.applies, field),
            *(getattr(knowledge.findings[name].applies, field) for name in findings),
        ]
        named = [set(allowed) for allowed in lists if allowed]
        if named:
            both = sorted(set.intersection(*named))
            if not both:
                return None
            facts[kind] = both[0]
    return ClockFacts(**facts)  # type: ignore[arg-type]


def stories_of(cause: CauseEntry, knowledge: Knowledge) -> Iterator[Said]:
    """Yield answers in which each link is said once as the cause shows it and once as the normal value.

    Two links are said as shown and a third as normal, link after link: of a frequent sign its absence weighs most, of
    a rare one its presence.
    """
    links = [(link.finding, link.value) for link in cause.shows]
    raised = [(finding, value) for finding, factors in cause.raised_by.items() for value in factors]
    for number, (finding, value) in enumerate(links):
        story = {finding: value}
        others = [link for link in links[number + 1 :] + links[:number] if link[0] != finding]
        others = [link for link in others if clock_of(cause, (finding, link[0]), knowledge) is not None]
        for other, shown in others[:1]:
            story[other] = shown
        for other, _ in others[1:]:
            normal = knowledge.findings[other].normal
            if other not in story and normal is not None and clock_of(cause, (*story, other), knowledge) is not None:
                story[other] = normal
                break
        yield story
    for number in range(0, len(raised), ANSWERS - 1):
        story = dict(raised[number : number + ANSWERS - 1])
        for other, shown in links:
            if clock_of(cause, (*story, other), knowledge) is not None:
                story[other] = shown
                break
        yield story


def small_base(cause: str, said: Iterable[str], knowledge: Knowledge) -> Base:
    """Return tables for this cause alone: its weight of evidence depends on nothing else.

    Raises
    ------
    KeyError
        If no clock has both the cause and what is said.
    """
    entry = knowledge.causes[cause]
    clock = clock_of(entry, said, knowledge)
    if clock is None:
        raise KeyError(f"no clock has '{cause}' and {', '.join(said)}")
    findings = {name: knowledge.findings[name] for name in said}
    return compile_base(replace(knowledge, causes={cause: entry}, findings=findings, remedies={}), clock)


def weigh(cause: str, said: Mapping[str, str], knowledge: Knowledge) -> float:
    """Return the weight of evidence of what is said for a cause alone against nothing wrong. [dB]"""
    base = small_base(cause, said, knowledge)
    answers = [Answer(finding, value) for finding, value in said.items()]
    nepers = 0.0
    for finding in findings_from(answers, (), knowledge):
        table = base.tables[finding.finding]
        likelihood = np.asarray(finding.likelihood)
        nepers += math.log(float(likelihood @ table.given([base.index[cause]])))
        nepers -= math.log(float(likelihood @ table.given([])))
    return 10 * nepers / math.log(10)


def odds_cases(cause: str, knowledge: Knowledge) -> list[OddsCase]:
    """Return the cases of a cause as the knowledge now weighs them."""
    stories = stories_of(knowledge.causes[cause], knowledge)
    return [OddsCase(cause, said, round(weigh(cause, said, knowledge), 1)) for said in stories]


def concluded(said: Mapping[str, str], knowledge: Knowledge, base: Base) -> dict[str, Any]:
    """Return what the rules conclude from what is said, as plain values."""
    answers = [Answer(finding, value) for finding, value in said.items()]
    conclusions: Conclusions = run_rules(findings_from(answers, (), knowledge), knowledge, base)
    told = {
        "infers": {item.finding: item.said for item in conclusions.inferred},
        "weights": {cause: round(10 * math.log10(factor), 1) for cause, factor in conclusions.weights.items()},
        "warns": sorted(conclusions.warnings),
        "contradicts": sorted({firing.rule for firing in conclusions.firings if firing.kind == "contradict"}),
        "refers": conclusions.out_of_scope is not None,
    }
    return {name: value for name, value in told.items() if value}


def rule_cases(knowledge: Knowledge) -> Iterator[tuple[str, Said]]:
    """Yield each rule with its own examples, and the first on which it fires with one ground after another left out."""
    for name, rule in knowledge.rules.items():
        for example in (*rule.fires_on, *rule.silent_on):
            yield name, dict(example)
        if len(rule.when) > 1:
            for ground in rule.when:
                yield name, {key: value for key, value in rule.fires_on[0].items() if key != ground.finding}


def write() -> None:
    """Write the records anew; whatever fails, fails before an old record is gone."""
    knowledge = read_knowledge()
    files: dict[str, dict[str, list[dict[str, Any]]]] = {"rules": {}}
    for name, cause in knowledge.causes.items():
        cases = [{"said": case.said, "decibans": case.decibans} for case in odds_cases(name, knowledge)]
        files.setdefault(cause.subsystem, {})[name] = cases
    base = compile_base(knowledge, ClockFacts())
    for name, said in rule_cases(knowledge):
        record = {"said": said, "concluded": concluded(said, knowledge, base)}
        files["rules"].setdefault(name, []).append(record)
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob("*.yaml"):
        old.unlink()
    for stem, body in files.items():
        _dump(FOLDER / f"{stem}.yaml", body)


def _dump(path: Path, body: object) -> None:
    head = "# Written by `python -m tests.knowledge.odds_cases`: read the difference before you keep it.\n"
    path.write_text(
        head + yaml.safe_dump(body, sort_keys=False, default_flow_style=None, width=160, allow_unicode=True)
    )


def read() -> tuple[OddsCase, ...]:
    """Return the records of all causes."""
    cases = []
    for path in sorted(FOLDER.glob("*.yaml")):
        if path.stem != "rules":
            for cause, items in yaml.safe_load(path.read_text()).items():
                cases.extend(OddsCase(cause, item["said"], item["decibans"]) for item in items)
    return tuple(cases)


def read_rules() -> dict[str, list[dict[str, Any]]]:
    """Return the records of all rules."""
    rules: dict[str, list[dict[str, Any]]] = yaml.safe_load((FOLDER / "rules.yaml").read_text())
    return rules


if __name__ == "__main__":
    write()
