"""Each rule fires on its examples, and only there, through the real engine."""

from pathlib import Path

import pytest
import yaml

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.rules import run_rules
from diagnose.reasoning.tables import Base, compile_base
from diagnose.settings import knowledge_folder
from tests.reasoning.small_cases import SMALL, small_knowledge


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return small_knowledge()


@pytest.fixture(scope="module")
def base(knowledge: Knowledge) -> Base:
    return compile_base(knowledge, ClockFacts())


def examples(folder: Path) -> list[tuple[str, dict[str, str], bool]]:
    """Return rule, example and whether it must fire, for each example of each rule file."""
    found = []
    for file in sorted(folder.rglob("*.yaml")):
        content = yaml.load(file.read_text(), Loader=yaml.CSafeLoader)
        for name, entry in ((content or {}).get("rules") or {}).items():
            found.extend((name, example, True) for example in entry["fires_on"])
            found.extend((name, example, False) for example in entry["silent_on"])
    return found


def fired(name: str, example: dict[str, str], knowledge: Knowledge) -> bool:
    answers = [Answer(finding, value) for finding, value in example.items()]
    # A rule about a cause needs a clock that has it: nothing known of the clock leaves all causes in.
    base = compile_base(knowledge, ClockFacts())
    findings = findings_from(answers, [], knowledge)
    return name in {firing.rule for firing in run_rules(findings, knowledge, base).firings}


@pytest.mark.parametrize(("name", "example", "fires"), examples(SMALL))
def test_each_rule_of_the_small_knowledge_fires_on_its_examples_only(
    name: str, example: dict[str, str], fires: bool, knowledge: Knowledge
) -> None:
    assert fired(name, example, knowledge) is fires


def test_each_rule_of_the_knowledge_fires_on_its_examples_only() -> None:
    knowledge = read_knowledge(check=False)
    base = compile_base(knowledge, ClockFacts())
    wrong = []
    for name, example, fires in examples(knowledge_folder()):
        answers = [Answer(finding, value) for finding, value in example.items()]
        findings = findings_from(answers, [], knowledge)
        firings = {firing.rule for firing in run_rules(findings, knowledge, base).firings}
        if (name in firings) is not fires:
            wrong.append((name, example, "must fire" if fires else "must stay silent"))
    assert wrong == []
