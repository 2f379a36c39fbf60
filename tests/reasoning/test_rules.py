"""Forward chaining: what fires, what follows, and that neither order nor history matters."""

import math
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.model.observations import Answer, ClockFacts, Measurement
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning import rules as rules_module
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.rule_weights import odds_factor
from diagnose.reasoning.rules import Conclusions, factors_from_firings, run_rules
from diagnose.reasoning.tables import Base, compile_base
from diagnose.reasoning.values import Finding
from tests.reasoning.small_cases import (
    SMALL,
    fresh,
    ids,
    said,
    small_knowledge,
    some_answers,
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return small_knowledge()


@pytest.fixture(scope="module")
def base(knowledge: Knowledge) -> Base:
    return compile_base(knowledge, ClockFacts())


def test_an_answer_fires_the_link_of_every_cause_that_speaks_of_it(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, pin_seen="missing"), knowledge, base)
    (firing,) = conclusions.firings
    assert (firing.rule, firing.kind, firing.cause) == ("link:pin-seen=missing", "link", "pin-missing")
    assert firing.because == "What is gone cannot be seen."


def test_a_normal_answer_fires_too_because_it_speaks_against(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, pin_seen="through-all"), knowledge, base)
    (firing,) = conclusions.firings
    assert firing.cause == "pin-missing"
    assert firing.because == "It would sooner be 'missing': What is gone cannot be seen."


def test_a_circumstance_says_how_it_changes_a_cause(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, moved_lately="yes"), knowledge, base)
    sentences = {firing.cause: firing.because for firing in conclusions.firings}
    assert sentences["case-rocks"] == "Far more often seen where the answer is 'moved'."


def test_every_firing_has_rule_grounds_and_sentence(knowledge: Knowledge, base: Base) -> None:
    everything = {name: next(reversed(entry.values)) for name, entry in knowledge.findings.items()}
    findings = findings_from([Answer(name, value) for name, value in everything.items()], [], knowledge)
    for firing in fresh(findings, knowledge, base).firings:
        assert firing.rule
        assert firing.grounds
        assert firing.because.strip()


def test_links_of_causes_that_do_not_fit_the_clock_are_left_out(knowledge: Knowledge) -> None:
    weights_only = compile_base(knowledge, ClockFacts(drive="weight-cable"))
    conclusions = fresh(said(knowledge, runs_for="days"), knowledge, weights_only)
    assert "mainspring-tired" not in {firing.cause for firing in conclusions.firings}


def test_a_reading_is_classified_into_its_band(knowledge: Knowledge, base: Base) -> None:
    findings = findings_from([], [Measurement("beat-error", 12.8, 0.5, "%")], knowledge)
    conclusions = fresh(findings, knowledge, base)
    assert ids(conclusions, "classify") == ["classify:tick-evenness=limping"]
    assert "link:tick-evenness=limping" in ids(conclusions, "link")


def test_what_the_ear_heard_is_not_classified(knowledge: Knowledge, base: Base) -> None:
    assert ids(fresh(said(knowledge, tick_evenness="limping"), knowledge, base), "classify") == []


def test_a_rule_with_two_grounds_needs_both(knowledge: Knowledge, base: Base) -> None:
    one = fresh(said(knowledge, part_fitted="suspension"), knowledge, base)
    both = fresh(said(knowledge, part_fitted="suspension", moved_lately="yes"), knowledge, base)
    assert ids(one, "support") == []
    assert ids(both, "support") == ["silent-after-fitting"]


def test_a_warning_names_its_caution_dangers_first(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, leaf_shape="bowed-middle", case_steady="rocks")
    assert fresh(findings, knowledge, base).warnings == ("tall-case-tips", "leaf-cuts-and-creases")


def test_a_clock_out_of_scope_is_named_with_the_reason(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, works_by="battery"), knowledge, base)
    assert conclusions.out_of_scope == "It runs on a battery; this advice is for mechanical clocks."


def test_an_inferred_finding_feeds_the_links(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, weights_height="at-the-bottom"), knowledge, base)
    (inferred,) = conclusions.inferred
    assert (inferred.finding, inferred.said) == ("wound", "run-down")
    assert "link:wound=run-down" in ids(conclusions, "link")


def test_an_inferred_finding_is_as_doubtful_as_its_weakest_ground(knowledge: Knowledge, base: Base) -> None:
    doubtful = findings_from([Answer("weights-height", "at-the-bottom", "think-so")], [], knowledge)
    (inferred,) = fresh(doubtful, knowledge, base).inferred
    assert inferred.likelihood == pytest.approx((0.26, 0.74))


def test_an_answered_finding_is_not_inferred(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, weights_height="at-the-bottom", wound="run-down")
    conclusions = fresh(findings, knowledge, base)
    assert conclusions.inferred == ()
    assert ids(conclusions, "infer") == ["weights-at-the-bottom-means-run-down"]


def test_an_inferred_finding_feeds_other_rules(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, weights_height="at-the-bottom", runs_for="keeps-running")
    assert ids(fresh(findings, knowledge, base), "contradict") == ["run-down-cannot-keep-running"]


def test_an_exclusion_weighs_as_much_as_its_ground_is_wrong(knowledge: Knowledge, base: Base) -> None:
    conclusions = fresh(said(knowledge, runs_for="seconds"), knowledge, base)
    assert conclusions.excluded == ("weights-sway",)
    assert conclusions.weights["weights-sway"] == pytest.approx(0.06)


def test_an_exclusion_never_weighs_more_than_its_floor(knowledge: Knowledge, base: Base) -> None:
    certain = Finding("runs-for", (0.0005, 0.0005, 0.0005, 0.9985), "seconds")
    assert fresh((certain,), knowledge, base).weights["weights-sway"] == 0.02


def test_support_and_weakening_have_the_factors_of_their_words(knowledge: Knowledge, base: Base) -> None:
    up = fresh(said(knowledge, part_fitted="suspension", moved_lately="yes"), knowledge, base)
    down = fresh(said(knowledge, part_fitted="none", moved_lately="no"), knowledge, base)
    assert up.weights == {"leader-outside-crutch": 4.0}
    assert down.weights == {"leader-outside-crutch": 0.5}


def test_what_was_seen_directly_counts_with_its_links_once(knowledge: Knowledge, base: Base) -> None:
    findings = findings_from(
        [Answer("pin-seen", "missing", source="seen"), Answer("leaf-shape", "flat", source="seen")], [], knowledge
    )
    conclusions = fresh(findings, knowledge, base)
    link = math.prod(odds_factor(base, finding, base.index["pin-missing"]) for finding in findings)
    # Link .97 and leak .005 of a finding seen directly, its ground wrong with .03.
    seen = (0.97 * 0.97 + 0.03 * 0.03) / (0.97 * 0.005 + 0.03 * 0.995)
    assert conclusions.established == ("pin-missing",)
    assert link * conclusions.weights["pin-missing"] == pytest.approx(max(link, seen))


STRATEGY = some_answers(read_knowledge(SMALL))
FEW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@FEW
@given(STRATEGY, st.randoms(use_true_random=False))
def test_the_order_of_the_findings_does_not_matter(
    knowledge: Knowledge, base: Base, answers: list[Answer], random: st.randoms
) -> None:
    findings = list(findings_from(answers, [], knowledge))
    expected = fresh(tuple(findings), knowledge, base)
    random.shuffle(findings)
    assert fresh(tuple(findings), knowledge, base) == expected


@FEW
@given(STRATEGY, st.integers(0, 14))
def test_extending_a_run_equals_a_fresh_one(
    knowledge: Knowledge, base: Base, answers: list[Answer], before: int
) -> None:
    findings = findings_from(answers, [], knowledge)
    expected = fresh(findings, knowledge, base)
    run_rules((), knowledge, base)
    run_rules(findings[:before], knowledge, base)
    assert run_rules(findings, knowledge, base) == expected


@FEW
@given(STRATEGY, st.integers(0, 13))
def test_a_withdrawn_answer_leaves_no_trace(
    knowledge: Knowledge, base: Base, answers: list[Answer], withdrawn: int
) -> None:
    findings = findings_from(answers, [], knowledge)
    kept = tuple(finding for place, finding in enumerate(findings) if place != withdrawn)
    expected = fresh(kept, knowledge, base)
    run_rules(findings, knowledge, base)
    assert run_rules(kept, knowledge, base) == expected


@FEW
@given(STRATEGY)
def test_what_ranks_a_cause_is_the_record_of_the_rules_that_fired(
    knowledge: Knowledge, base: Base, answers: list[Answer]
) -> None:
    findings = findings_from(answers, [], knowledge)
    conclusions = run_rules(findings, knowledge, base)
    ranking = rank(base, [Piece((*findings, *conclusions.inferred), conclusions.weights)])
    weight = dict(zip(ranking.sets, ranking.weights, strict=True))
    prior = base.nothing_wrong * base.all_odds / (1 - base.nothing_wrong - base.none_of_these)
    for cause, factor in factors_from_firings(conclusions, findings, knowledge, base).items():
        place = base.index[cause]
        if (place,) in weight and () in weight and weight[()] > 1e-12:
            shown = weight[(place,)] / weight[()] * prior / base.odds[place]
            assert factor == pytest.approx(shown, rel=1e-9)


def test_without_the_firing_of_a_link_the_factor_is_another(knowledge: Knowledge, base: Base) -> None:
    findings = said(knowledge, wound="run-down")
    conclusions = fresh(findings, knowledge, base)
    silenced = Conclusions(firings=())
    assert factors_from_firings(conclusions, findings, knowledge, base)["not-wound"] > 5
    assert factors_from_firings(silenced, findings, knowledge, base)["not-wound"] == 1


def test_the_name_lent_to_the_old_frozendict_is_taken_back() -> None:
    code = (
        "import collections, logging\n"
        "from diagnose.reasoning.rules import _experta\n"
        "engine = _experta()\n"
        "print(engine.__name__, hasattr(collections, 'Mapping'), logging.getLogger().handlers)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["experta", "False", "[]"]


def test_importing_the_rules_does_not_import_experta() -> None:
    code = "import sys, diagnose.reasoning.rules; print('experta' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_only_one_file_imports_experta() -> None:
    package = Path(rules_module.__file__).parents[1]
    named = [file.name for file in package.rglob("*.py") if "import experta" in file.read_text()]
    assert named == ["rules.py"]


def test_forty_facts_replay_in_under_forty_milliseconds() -> None:
    knowledge = read_knowledge(check=False)
    base = compile_base(knowledge, ClockFacts())
    names = sorted(knowledge.findings)[:: max(1, len(knowledge.findings) // 40)][:40]
    findings = findings_from(
        [Answer(name, next(reversed(knowledge.findings[name].values))) for name in names], [], knowledge
    )
    best = math.inf
    for _ in range(5):
        run_rules((), knowledge, base)
        start = time.perf_counter()
        run_rules(findings, knowledge, base)
        best = min(best, time.perf_counter() - start)
    assert len(findings) >= 30
    assert best < 0.2
