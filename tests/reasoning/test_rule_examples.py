"""Each rule fires on its examples, and only there, through the real engine."""

import pytest

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.rules import run_rules
from diagnose.reasoning.tables import compile_base
from tests.reasoning.small_cases import small_knowledge


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return small_knowledge()


def examples(knowledge: Knowledge) -> list[tuple[str, dict[str, str], bool]]:
    """Return rule, example and whether it must fire, for each example of each rule."""
    return [
        (name, dict(example), fires)
        for name, entry in sorted(knowledge.rules.items())
        for fires, given in ((True, entry.fires_on), (False, entry.silent_on))
        for example in given
    ]


def fired(name: str, example: dict[str, str], knowledge: Knowledge) -> bool:
    answers = [Answer(finding, value) for finding, value in example.items()]
    # A rule about a cause needs a clock that has it: nothing known of the clock leaves all causes in.
    base = compile_base(knowledge, ClockFacts())
    findings = findings_from(answers, [], knowledge)
    return name in {firing.rule for firing in run_rules(findings, knowledge, base).firings}


@pytest.mark.parametrize(("name", "example", "fires"), examples(small_knowledge()))
def test_each_rule_of_the_small_knowledge_fires_on_its_examples_only(
    name: str, example: dict[str, str], fires: bool, knowledge: Knowledge
) -> None:
    assert fired(name, example, knowledge) is fires


def test_each_rule_of_the_knowledge_fires_on_its_examples_only() -> None:
    knowledge = read_knowledge(check=False)
    base = compile_base(knowledge, ClockFacts())
    wrong = []
    for name, example, fires in examples(knowledge):
        answers = [Answer(finding, value) for finding, value in example.items()]
        findings = findings_from(answers, [], knowledge)
        firings = {firing.rule for firing in run_rules(findings, knowledge, base).firings}
        if (name in firings) is not fires:
            wrong.append(f"{name} {example} must {'fire' if fires else 'stay silent'}")
    assert wrong == []
