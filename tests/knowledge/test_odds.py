"""Each link and each rule stands in a recorded case; spoiled knowledge is noticed."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.tables import Base, compile_base
from tests.knowledge.mutations import count_links, count_rules
from tests.knowledge.odds_cases import TOLERANCE_DB, concluded, read, read_rules, rule_cases, weigh

CASES = read()
RULES = read_rules()
# What must be noticed of knowledge that is spoiled; words one off may pass where both words weigh alike.
MOST, ONE_WORD = 0.95, 0.7


@lru_cache(maxsize=1)
def whole_base() -> Base:
    """Return the tables for a clock nothing is known of."""
    return compile_base(read_knowledge(), ClockFacts())


@pytest.mark.parametrize("cause", sorted(read_knowledge().causes))
def test_what_is_said_weighs_for_a_cause_what_was_recorded(cause: str) -> None:
    knowledge = read_knowledge()
    cases = [case for case in CASES if case.cause == cause]
    assert cases, "no case: python -m tests.knowledge.odds_cases"
    for case in cases:
        assert 1 <= len(case.said) <= 4
        assert weigh(cause, case.said, knowledge) == pytest.approx(case.decibans, abs=TOLERANCE_DB), case.said


def test_each_link_stands_in_a_case_as_it_is_shown() -> None:
    said = {(case.cause, finding, value) for case in CASES for finding, value in case.said.items()}
    links = {(key, link.finding, link.value) for key, cause in read_knowledge().causes.items() for link in cause.shows}
    assert not links - said


@pytest.mark.parametrize("rule", sorted(read_knowledge().rules))
def test_a_rule_concludes_what_was_recorded(rule: str) -> None:
    knowledge = read_knowledge()
    examples = [said for name, said in rule_cases(knowledge) if name == rule]
    assert [item["said"] for item in RULES[rule]] == examples, "python -m tests.knowledge.odds_cases"
    for item in RULES[rule]:
        assert concluded(item["said"], knowledge, whole_base()) == item["concluded"]


def test_spoiled_links_are_noticed() -> None:
    knowledge = read_knowledge()
    causes = sorted(knowledge.causes)
    # Every fourth cause here; all of them in `make bench`.
    tried, seen = count_links(CASES, knowledge, causes[::4])
    shares = {kind: seen[kind] / tried[kind] for kind in tried}
    assert min(tried.values()) > 20
    assert min(shares[kind] for kind in ("deleted", "flipped", "two words off")) >= MOST, shares
    assert shares["one word off"] >= ONE_WORD, shares


def test_spoiled_rules_are_noticed() -> None:
    knowledge = read_knowledge()
    names = [str(name) for name in np.random.default_rng(20310312).permutation(sorted(knowledge.rules))[:6]]
    tried, seen = count_rules(RULES, knowledge, names)
    assert sum(seen.values()) / sum(tried.values()) >= MOST, (tried, seen)
