"""Going train, weights, springs and winding: a few answers put the right cause first, a look-alike's do not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

import pytest

from diagnose.mechanics.train import great_wheel_min, turning_times_min
from diagnose.model.entries import RemedyEntry, Step
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.tables import Base, compile_base
from tests.knowledge.pairs_of_causes import (
    Pair,
    Published,
    Said,
    fired_on,
    of_files,
    ranked_in,
    row_of,
    shipped,
    twin,
)

TOPICS = ("train_bench", "train_wear", "power_cables", "power_springs", "winding")
FINDING_FILES = ("weights_look", "winding", "power_bench", "train_bench")
OWNERS = {"owner", "owner-on-the-phone"}

CLOCKS = {
    "floor": ClockFacts(family="floor", drive="weight-cable", strike="rack"),
    "chain": ClockFacts(family="floor", drive="weight-chain", strike="rack"),
    "wall": ClockFacts(family="wall", drive="spring", strike="rack"),
    "regulator": ClockFacts(family="wall", drive="weight-cable"),
    "mantel": ClockFacts(family="mantel", drive="spring", strike="rack"),
}

PAIRS = (
    twin("wall", "pivot-rough", "swing-size=small oil-state=clean arbors=none pivot-face=scored",
          "pivots-worn", "swing-size=small arbors=several pivot-face=bright"),
    twin("mantel", "arbor-bent", "tick-cycle=other-cycle wheel-teeth=sound wheel-wobble=wobbles",
          "tooth-damaged", "tick-cycle=other-cycle swing-course=stops-dead wheel-teeth=damaged wheel-wobble=runs-true"),
    twin("wall", "pinion-worn", "swing-size=small swing-over-week=jumps runs-for=days pinion-leaves=grooved",
          "mainspring-coils-stick", "swing-over-week=jumps runs-for=days barrel-noise=clonk pinion-leaves=even"),
    twin("mantel", "end-shake-gone", "work-lately=repaired runs-for=hours end-shake=one-stiff",
          "plates-not-parallel", "work-lately=repaired evenness-holds=changes-at-once end-shake=too-much plates=loose"),
    twin("floor", "wheel-loose", "hands-follow=stand-still hand-nut=tight wheel-on-arbor=turns-on-arbor",
          "hands-slip", "hands-follow=lag hand-nut=loose wheel-on-arbor=fast"),
    twin("wall", "depth-wrong", "work-lately=repaired swing-size=small depth-feel=wrong-all-round",
          "pivots-worn", "work-lately=none years-since-service=over-10 swing-size=small arbors=several"),
    twin("floor", "train-rusted", "stored-damp=yes runs-for=minutes rust-seen=rust",
          "oil-old", "stored-damp=no years-since-service=over-10 oil-state=dry-black rust-seen=none"),
    twin("mantel", "plates-not-parallel", "work-lately=repaired evenness-holds=changes-at-once plates=loose",
          "movement-loose", "evenness-holds=changes-at-once movement-firm=shifts plates=firm"),
    twin("floor", "maintaining-work-weak", "while-winding=pauses stopped-after-winding=yes maintaining-work=weak",
          "stops-while-wound", "while-winding=pauses stopped-after-winding=no maintaining-work=none-fitted"),
    twin("wall", "train-tight-at-one-place",
          "stop-pattern=same-minute-each-hour hand-stiff-at=nowhere wheel-teeth=sound train-coasts=tight-at-one-place",
          "motion-work-binds", "stop-pattern=same-minute-each-hour hand-stiff-at=one-place train-coasts=coasts"),
    twin("wall", "wheel-eccentric", "tick-cycle=other-cycle repeats-with=third-wheel wheel-wobble=off-center",
          "arbor-bent", "tick-cycle=other-cycle repeats-with=third-wheel wheel-wobble=wobbles"),
    twin("mantel", "rebuilt-wrong", "work-lately=repaired rate=gains-much train-count=not-right",
          "wrong-pendulum", "part-fitted=pendulum-or-leader rate=gains-much beats-match=wrong train-count=right"),
    twin("chain", "chain-off-sprocket", "moved-lately=yes swing-course=stops-dead chain-lay=off-or-twisted",
          "chain-ratchet-worn", "winding-feel=kicked-back wound=run-down chain-lay=in-its-teeth"),
    twin("floor", "weight-rubs", "stop-pattern=same-weekday runs-for=days weight-clear=touches-case",
          "weights-sway", "stop-pattern=same-weekday runs-for=days weight-clear=clear weights-sway=sway-at-bob-height"),
    twin("floor", "pulley-at-seat-board", "stopped-after-winding=yes weight-height-at-stop=hard-up",
          "overwound-belief",
          "stopped-after-winding=yes winding-feel=will-not-turn weight-height-at-stop=hanging-free"),
    twin("floor", "slug-missing", "weights-by-label=one-odd swing-size=small weight-shell=light-or-rattles",
          "weight-wrong", "part-fitted=weight weights-by-label=one-odd swing-size=small weight-shell=full"),
    twin("floor", "pulley-seized", "weight-descent=in-jerks cable-lay=side-by-side pulley-turns=still",
          "cable-crossed", "weight-descent=in-jerks cable-lay=crossed pulley-turns=turns"),
    twin("chain", "chain-ratchet-worn", "winding-feel=kicked-back wound=run-down chain-lay=in-its-teeth",
          "chain-off-sprocket", "stopped-after-winding=yes swing-course=stops-dead chain-lay=off-or-twisted"),
    twin("mantel", "mainspring-coils-stick", "swing-over-week=jumps barrel-noise=clonk runs-for=days",
          "mainspring-tired", "swing-over-week=fades-late barrel-noise=quiet runs-for=days mainspring-look=set"),
    twin("mantel", "mainspring-unhooked", "winding-feel=slips-at-one-feel runs-for=dead",
          "mainspring-broken", "winding-feel=bang runs-for=dead mainspring-look=broken"),
    twin("wall", "great-wheel-damaged", "swing-course=stops-dead repeats-with=great-wheel great-wheel=teeth-bent",
          "tooth-damaged", "swing-course=stops-dead repeats-with=third-wheel great-wheel=sound wheel-teeth=damaged"),
    twin("mantel", "barrel-cover-sprung", "barrel-noise=grinds runs-for=days barrel-look=cover-raised",
          "mainspring-coils-stick", "barrel-noise=clonk runs-for=days barrel-look=runs-true swing-over-week=jumps"),
    twin("mantel", "wound-wrong-way", "winding-feel=will-not-turn wound=run-down winding-way=other-way",
          "overwound-belief", "winding-feel=will-not-turn wound=wound winding-way=with-the-click"),
    twin("mantel", "winding-square-rounded", "wound=run-down key-fit=square-rounded",
          "wound-wrong-way", "wound=run-down winding-habit=somebody-new key-fit=loose"),
    twin("floor", "one-of-three-unwound", "strike-wound=run-down runs-for=days wound-how-far=one-side",
          "not-wound", "wound=run-down runs-for=seconds wound-how-far=to-the-full"),
    twin("mantel", "fusee-line-off", "runs-for=dead stopped-after-winding=yes fusee-line=off-or-slack",
          "mainspring-broken", "runs-for=dead winding-feel=bang fusee-line=in-its-groove"),
    twin("floor", "line-worn", "weight-descent=in-jerks pulley-turns=turns line-ends=worn",
          "pulley-seized", "weight-descent=in-jerks pulley-turns=still line-ends=sound"),
    twin("mantel", "stop-work-wrong", "key-turns-count=fewer runs-for=days stop-work=too-few-turns",
          "mainspring-tired", "key-turns-count=as-ever runs-for=days swing-over-week=fades-late mainspring-look=set"),
    twin("floor", "crank-blocked", "winding-feel=will-not-turn wound=run-down crank-clear=touches",
          "pulley-at-seat-board", "winding-feel=will-not-turn weight-height-at-stop=hard-up crank-clear=clear"),
)  # fmt: skip


PUBLISHED = (
    row_of("Beckett pp. 147-149: loses after someone winds, no maintaining work", "floor",
               "while-winding=pauses maintaining-work=none-fitted", "stops-while-wound",
               "explain-the-pause-at-winding"),
    row_of("Beckett pp. 147-149: loses after someone winds, repair the maintaining click", "regulator",
               "while-winding=pauses maintaining-work=weak", "maintaining-work-weak", "mend-the-maintaining-work"),
    row_of("Beckett p. 150: stops for good after winding, maintaining click jams in a tooth", "floor",
               "stopped-after-winding=yes swing-course=stops-dead maintaining-work=jammed",
               "maintaining-work-weak", "mend-the-maintaining-work"),
    row_of("Beckett p. 84: arc falls at one end of the week, weight bears on one thin pivot", "floor",
               "swing-over-week=fades-late arbors=one-arbor", "pivots-worn", "bush-the-worn-holes"),
    row_of("Beckett p. 289: pinions wear, oil on pinions that brass drives", "wall",
               "household-oil=yes pinion-leaves=grooved", "pinion-worn", "mend-the-pinion"),
    row_of("Beckett p. 192: pivot runs dry, bush full of grit, oil hole drilled into it", "wall",
               "oil-state=dry-black pivot-face=scored", "pivot-rough", "polish-the-pivots"),
    row_of("Workshop Receipts, 4th series: spring set up too far, cannot be let down", "mantel",
               "winding-feel=will-not-turn stop-work=set-up-too-far", "stop-work-wrong", "set-up-the-stop-work"),
    row_of("Beckett pp. 137-138: winding strains the arbor, key too short", "mantel",
               "wound=run-down key-fit=too-short", "wound-wrong-way", "find-key-and-way"),
    row_of("Beckett, watches: spring breaks, barrel kicks back, look at the great wheel", "mantel",
               "winding-feel=bang swing-course=stops-dead great-wheel=teeth-bent",
               "great-wheel-damaged", "mend-the-great-wheel"),
    row_of("Beckett pp. 22-23: a fault once an hour is on the center wheel", "floor",
               "repeats-with=center-hour swing-course=stops-dead train-coasts=tight-at-one-place",
               "train-tight-at-one-place", "find-the-tight-place"),
)  # fmt: skip


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


@lru_cache(maxsize=len(CLOCKS))
def _base(clock: str) -> Base:
    return compile_base(shipped(), CLOCKS[clock])


def _ranked(clock: str, answers: Said) -> list[str]:
    """Return the causes of such a clock, most likely first."""
    return ranked_in(_base(clock), answers)


def _remedies(knowledge: Knowledge) -> Iterator[tuple[str, RemedyEntry]]:
    for key in of_files(knowledge, "remedies", TOPICS):
        yield key, knowledge.remedies[key]


def _owners_steps(knowledge: Knowledge) -> list[tuple[str, Step]]:
    return [
        (key, step)
        for key, remedy in _remedies(knowledge)
        for step in remedy.steps
        if (step.who or remedy.who) in OWNERS
    ]


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.cause)
def test_two_to_five_answers_put_the_cause_first(pair: Pair) -> None:
    assert 2 <= len(pair.said) <= 5
    assert _ranked(pair.clock, pair.said)[0] == pair.cause


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair.look_alike}-not-{pair.cause}")
def test_the_answers_of_a_look_alike_put_the_look_alike_first(pair: Pair) -> None:
    assert pair.look_alike != pair.cause
    assert _ranked(pair.clock, pair.said_of_look_alike)[0] == pair.look_alike


def test_every_cause_of_these_files_has_a_case(knowledge: Knowledge) -> None:
    assert {pair.cause for pair in PAIRS} == set(of_files(knowledge, "causes", TOPICS))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_a_published_cause_is_among_the_first_three(row: Published) -> None:
    assert row.cause in _ranked(row.clock, row.said)[:3]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_the_published_remedy_is_offered(row: Published, knowledge: Knowledge) -> None:
    assert row.remedy in knowledge.causes[row.cause].remedies


def test_the_escapement_is_tried_with_the_power_on_before_anything_comes_off(knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks: try the escapement first, note every loose hole.
    first = knowledge.remedies["service-the-movement"].steps[0].do.staff
    assert "power on before anything comes off" in first
    assert "loose hole" in first


def test_no_oil_hole_is_drilled_into_a_new_bush(knowledge: Knowledge) -> None:
    # Beckett p. 192: it drains the oil and lets grit in; oil enters at the pivot end.
    texts = [step.do.staff for step in knowledge.remedies["polish-the-pivots"].steps]
    assert any("No oil hole is drilled into the bush" in text and "pivot end" in text for text in texts)


def test_pinions_stay_dry_after_their_repair(knowledge: Knowledge) -> None:
    # Beckett p. 289: oil on pinions that brass drives wears them.
    assert any("Pinions stay dry" in step.do.staff for step in knowledge.remedies["mend-the-pinion"].steps)


def test_a_click_is_never_lifted_with_the_key_unheld(knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks; the order of key and click is common practice.
    first = knowledge.remedies["set-up-the-stop-work"].steps[0].do.staff
    assert first.index("Let-down key carrying the whole pull first") < first.index("then the click through")
    assert "never a click lifted with the key unheld" in first


def test_the_periods_that_the_question_names_are_those_of_the_usual_train(knowledge: Knowledge) -> None:
    # Beckett pp. 22-23 and 133: 64 on 8, 60 on 8, escape 30; great wheel 96 on 8. His 8 minutes are a slip for 7.5.
    center, third, escape = turning_times_min((64, 60), (8, 8))
    assert (center, third, escape) == (Fraction(60), Fraction(15, 2), Fraction(1))
    assert great_wheel_min(96, 8) == 12 * 60
    values = knowledge.findings["repeats-with"].values
    assert "7.5 minutes in a 64/8, 60/8 train" in values["third-wheel"].staff
    assert "About a minute" in values["escape-turn"].staff
    assert "up to 12" in values["great-wheel"].staff


BENCH = [key for key, remedy in _remedies(shipped()) if remedy.who == "workshop"]


@pytest.mark.parametrize("name", BENCH)
def test_the_bench_takes_the_power_off_before_plates_part(name: str, knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series: fully release the spring before taking plates apart.
    remedy = knowledge.remedies[name]
    steps = [step.do.staff.lower() for step in remedy.steps]
    off = next(n for n, text in enumerate(steps) if re.search(r"let-down (key|chuck)|supported from below", text))
    apart = [n for n, text in enumerate(steps) if re.search(r"plates apart|movement out", text)]
    assert all(off <= number for number in apart)
    assert remedy.steps[off].under_load and remedy.steps[off].hold
    assert remedy.steps[off].stop_if is not None
    assert {"mainspring", "weights-fall", "spinning-key"} & set(remedy.cautions)


def test_there_are_bench_remedies_to_look_at() -> None:
    assert len(BENCH) >= 18


def test_a_part_under_load_is_held_on_every_such_step(knowledge: Knowledge) -> None:
    steps = [(key, step) for key, remedy in _remedies(knowledge) for step in remedy.steps if step.under_load]
    assert len(steps) > 40
    assert not [(key, step.do.staff) for key, step in steps if step.hold is None or step.stop_if is None]


def test_no_owner_takes_a_load_or_a_tool_in_hand(knowledge: Knowledge) -> None:
    assert len(_owners_steps(knowledge)) >= 10
    for key, step in _owners_steps(knowledge):
        assert not step.under_load and not step.cannot_be_undone, key
        assert step.do.customer and step.stop_if is not None and step.stop_if.text.customer, key
    assert not [key for key, remedy in _remedies(knowledge) if remedy.who in OWNERS and remedy.tools]


@pytest.mark.parametrize("name", ["find-key-and-way", "clear-the-crank"])
def test_an_owner_is_asked_for_kick_and_wire_before_a_key_is_turned(name: str, knowledge: Knowledge) -> None:
    # Common practice, no source: no trial winding after a kick, a bang or a slip.
    first = knowledge.remedies[name].steps[0]
    assert "jump back" in (first.do.customer or "") and "wire" in (first.do.customer or "")
    assert any(way.go == "stop" and way.value == "kicked-back" for way in first.not_so)


HANDS_ON = re.compile(r"\b(lift|pull|unhook|unwind|loosen|push|climb|bend)\b", re.IGNORECASE)
REFUSED = re.compile(r"\b(not|never|nothing|no)\b", re.IGNORECASE)


def test_no_question_of_these_files_has_an_owner_touch_a_weight_or_a_line(knowledge: Knowledge) -> None:
    for key in of_files(knowledge, "findings", FINDING_FILES):
        finding = knowledge.findings[key]
        for sentence in re.split(r"(?<=[.!?])\s+", finding.question.customer or ""):
            assert not HANDS_ON.search(sentence) or REFUSED.search(sentence), (key, sentence)


def test_the_rules_of_power_and_train_fire_on_their_examples_only(knowledge: Knowledge) -> None:
    base = compile_base(knowledge, ClockFacts())
    rules = of_files(knowledge, "rules", ("power_train",))
    assert len(rules) >= 12
    for key in rules:
        rule = knowledge.rules[key]
        assert all(key in fired_on(example, knowledge, base) for example in rule.fires_on), key
        assert not any(key in fired_on(example, knowledge, base) for example in rule.silent_on), key


def test_a_slip_with_a_thump_ends_the_winding_as_a_kick_does(knowledge: Knowledge) -> None:
    # Common practice, no source.
    base = compile_base(knowledge, ClockFacts(family="mantel", drive="spring"))
    assert "kick-ends-winding" in fired_on({"winding-feel": "slips-at-one-feel"}, knowledge, base)
