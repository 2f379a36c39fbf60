"""The hidden clock: answers by the tables, errs as often as people do, and stays itself."""

from __future__ import annotations

from collections import Counter
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chisquare

from diagnose.measurement import listen
from diagnose.measurement.noticing import noticed
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.alarms import find_alarms
from diagnose.reasoning.assessment import base_for
from diagnose.training import hidden_sound
from diagnose.training.hidden_clock import SIDED, HiddenClock, draw_causes, draw_clock

KNOWLEDGE = read_knowledge(check=False)
FLOOR = ClockFacts("clock", "floor", "weight-cable", "recoil", "rack", "one-tune", 3600)
LEAST_P_VALUE = 1e-3
SEEDS = range(1000)


def clock_with(*causes: str, seed: int = 0) -> HiddenClock:
    return HiddenClock(KNOWLEDGE, FLOOR, causes, seed)


@pytest.mark.parametrize(
    ("causes", "finding"),
    [
        (("spring-kinked",), "leaf-shape"),
        (("crutch-set-wrong",), "tick-evenness"),
        (("crutch-set-wrong",), "shorter-way"),
        (("case-out-of-beat", "hands-touch"), "runs-for"),
        (("fork-tight",), "work-lately"),
        ((), "runs-for"),
    ],
)
def test_true_values_come_as_often_as_the_tables_say(causes: tuple[str, ...], finding: str) -> None:
    base = base_for(KNOWLEDGE, FLOOR)
    table = base.tables[finding]
    counts = Counter(clock_with(*causes, seed=seed).true_value(finding) for seed in SEEDS)
    expected = table.given([base.index[cause] for cause in causes]) * len(SEEDS)
    kept = expected >= 1
    seen = [counts[value] for value, keep in zip(table.values, kept, strict=True) if keep]
    rare = [counts[value] for value, keep in zip(table.values, kept, strict=True) if not keep]
    assert sum(rare) <= 5
    assert chisquare(seen, expected[kept] * sum(seen) / expected[kept].sum()).pvalue > LEAST_P_VALUE


@pytest.mark.parametrize(("where", "wrong"), [("call", 0.06), ("visit", 0.03)])
def test_answers_are_wrong_and_missing_as_often_as_the_settings_say(where: str, wrong: float) -> None:
    clocks = [clock_with("spring-kinked", seed=seed) for seed in SEEDS]
    answers = [(clock, clock.answer("leaf-shape", where)) for clock in clocks]  # type: ignore[arg-type]
    said = [(clock, answer) for clock, answer in answers if answer.value is not None]
    assert 1 - len(said) / len(answers) == pytest.approx(0.15, abs=0.03)
    mistaken = sum(answer.value != clock.true_value("leaf-shape") for clock, answer in said)
    assert mistaken / len(said) == pytest.approx(wrong, abs=0.022)


def test_the_same_question_gets_the_same_answer_in_any_order() -> None:
    clock, other = draw_clock(KNOWLEDGE, 5), draw_clock(KNOWLEDGE, 5)
    names = [name for name in clock.base.tables if clock.makes_sense(name)]
    first = {name: clock.answer(name, "visit") for name in names}
    assert {name: other.answer(name, "visit") for name in reversed(names)} == first


def test_another_seed_is_another_clock() -> None:
    assert (
        len({(draw_clock(KNOWLEDGE, seed).facts.family, draw_clock(KNOWLEDGE, seed).causes) for seed in range(12)}) > 8
    )


def test_causes_are_drawn_by_their_odds() -> None:
    base = base_for(KNOWLEDGE, FLOOR)
    random = np.random.default_rng(7)
    drawn = Counter(cause for _ in range(3000) for cause in draw_causes(base, random))
    share = base.odds / base.odds.sum()
    common = [base.causes[place] for place in np.argsort(-share)[:10]]
    expected = sum(share[base.index[cause]] for cause in common)
    assert sum(drawn[cause] for cause in common) / drawn.total() == pytest.approx(expected, abs=0.04)


def test_a_clock_has_one_or_two_causes_and_one_or_two_complaints() -> None:
    for seed in range(30):
        clock = draw_clock(KNOWLEDGE, seed)
        assert 1 <= len(clock.causes) <= 2
        assert 1 <= len(clock.complaints) <= 2


def test_what_the_owner_volunteers_is_true_and_said_as_people_say_it() -> None:
    for seed in range(30):
        clock = draw_clock(KNOWLEDGE, seed)
        for item in clock.complaints:
            value = KNOWLEDGE.findings[item.finding].values[item.value]
            assert not value.normal
            assert item.words in value.said_like
            assert not find_alarms(item.words, KNOWLEDGE)
            assert clock.answer(item.finding, "call").value == item.value == clock.true_value(item.finding)


def test_the_early_side_is_the_same_however_it_is_looked_for() -> None:
    both = 0
    for seed in range(200):
        clock = clock_with("crutch-set-wrong", seed=seed)
        sides = {SIDED[name].get(clock.true_value(name)) for name in SIDED} - {None}
        both += all(clock.true_value(name) in SIDED[name] for name in SIDED)
        assert sides <= {clock.early_side}
    assert both > 20


def test_a_silent_clock_has_no_even_tick() -> None:
    silent = HiddenClock(KNOWLEDGE, FLOOR, ("pendulum-off-hook",), 1, known={"tick": "silent"})
    assert silent.answer("tick-evenness", "visit").state == "cannot-tell"


def test_a_remedy_cures_as_often_as_it_works() -> None:
    works = base_for(KNOWLEDGE, FLOOR).remedies["free-the-fork"].works
    cured = [clock_with("fork-tight", seed=seed).after("free-the-fork").causes_now == () for seed in range(600)]
    assert sum(cured) / len(cured) == pytest.approx(works, abs=0.045)


def test_a_remedy_for_something_else_leaves_what_the_clock_shows() -> None:
    clock = clock_with("fork-tight", seed=3)
    after = clock.after("clear-the-hands")
    assert after.causes_now == ("fork-tight",)
    assert after.cured_by_last() == ()
    untouched = set(clock.base.tables) - clock.base.remedies["clear-the-hands"].changed
    assert all(clock.true_value(name) == after.true_value(name) for name in untouched)


def test_a_cure_changes_the_look_that_was_wrong() -> None:
    cured = [clock_with("fork-tight", seed=seed).after("free-the-fork") for seed in range(200)]
    right = [clock.true_value("paper-in-fork") == "passes" for clock in cured if not clock.causes_now]
    # Of clocks with nothing wrong a few show it too, by the leak of the table.
    leak = base_for(KNOWLEDGE, FLOOR).tables["paper-in-fork"].nothing[0]
    assert sum(right) / len(right) == pytest.approx(leak, abs=0.05)


def test_making_safe_cures_nothing() -> None:
    clocks = [clock_with("post-cracked", seed=seed).after("soft-block-and-refer") for seed in range(60)]
    assert all(clock.causes_now == ("post-cracked",) for clock in clocks)


@pytest.mark.parametrize("cause", ["crutch-set-wrong", "case-out-of-beat", "hands-touch"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_heard_agrees_with_what_is_so(cause: str, seed: int, tmp_path: Path) -> None:
    """The recording goes through the real ears, and comes out in the band that the clock truly has."""
    clock = clock_with(cause, seed=seed)
    if not hidden_sound.ticks(clock):
        pytest.skip("this clock does not tick")
    hidden_sound.record(clock, tmp_path / "clock.flac")
    beats = listen(tmp_path / "clock.flac", clock.facts.beats_per_hour, hidden_sound.DRAWN_TO)
    assert beats.refused is None and beats.beat_error_percent is not None
    band = KNOWLEDGE.findings["tick-evenness"].values[clock.true_value("tick-evenness")].band
    assert band is not None and band.from_ <= abs(beats.beat_error_percent) <= band.to
    if abs(beats.beat_error_percent) > 1:
        assert beats.early_side == clock.early_side


@pytest.mark.parametrize("kind", [noticed.DOUBLED, noticed.MISSED, noticed.TWO_CLOCKS])
def test_what_else_is_so_can_be_heard_in_recordings(kind: str, tmp_path: Path) -> None:
    """A few faint ones in 24 s may pass unheard: of six such clocks one at least is heard for what it is."""
    clocks = (clock_with("crutch-set-wrong", seed=seed) for seed in SEEDS)
    such = (one for one in clocks if hidden_sound.ticks(one) and kind in hidden_sound.odd_sounds(one))
    heard = set()
    for clock in islice(such, 6):
        hidden_sound.record(clock, tmp_path / "clock.flac")
        beats = listen(tmp_path / "clock.flac", clock.facts.beats_per_hour, hidden_sound.DRAWN_TO)
        heard |= {one.kind for one in beats.noticed}
    assert kind in heard


def test_what_is_not_so_is_not_heard_in_the_recording(tmp_path: Path) -> None:
    odd = {noticed.DOUBLED, noticed.MISSED, noticed.TWO_CLOCKS}
    clocks = (clock_with("crutch-set-wrong", seed=seed) for seed in SEEDS)
    clock = next(one for one in clocks if hidden_sound.ticks(one) and not odd & hidden_sound.odd_sounds(one))
    hidden_sound.record(clock, tmp_path / "clock.flac")
    beats = listen(tmp_path / "clock.flac", clock.facts.beats_per_hour, hidden_sound.DRAWN_TO)
    assert not odd & {one.kind for one in beats.noticed}
