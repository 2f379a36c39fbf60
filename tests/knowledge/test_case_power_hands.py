"""Case, pendulum, power, train, hands and room: a few answers put the right cause first, a look-alike's do not."""

from __future__ import annotations

import re

import pytest

from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.tables import compile_base
from tests.knowledge.pairs_of_causes import (
    Pair,
    Published,
    Said,
    base_of,
    fired_on,
    of_files,
    ranked_in,
    row_of,
    shipped,
    twin,
)

CAUSE_FILES = ("case", "pendulum", "power", "springs", "train", "hands", "surroundings")

PAIRS = (
    twin("floor", "case-out-of-beat", "moved-lately=yes tick-evenness=limping case-steady=firm runs-for=minutes",
          "case-rocks", "moved-lately=yes tick-evenness=limping case-steady=rocks runs-for=minutes"),
    twin("floor", "case-rocks", "case-steady=rocks stops-when-people-walk=yes runs-for=hours",
          "floor-traffic", "case-steady=firm stops-when-people-walk=yes runs-for=about-a-day"),
    twin("wall", "wall-fixing-loose", "wall-fixing=pivots evenness-holds=drifts-in-days stopped-after-winding=yes",
          "case-out-of-beat", "wall-fixing=firm moved-lately=yes tick-evenness=limping evenness-holds=holds"),
    twin("floor", "case-leans", "moved-lately=yes rod-clear=touches-back swing-course=shrinking fork-square=square",
          "crutch-slopes", "bent-by-hand=crutch fork-square=slopes scrape=scrape leader-plumb=held-off"),
    twin("floor", "case-racks", "case-steady=racks swing-size=small runs-for=days",
          "case-rocks", "case-steady=rocks swing-size=small runs-for=hours"),
    twin("floor", "packing-left", "moved-lately=yes packing=found runs-for=dead",
          "pendulum-off-hook", "moved-lately=yes packing=none-left hook-seat=off tick=gallops"),
    twin("mantel", "movement-loose", "work-lately=repaired movement-firm=shifts evenness-holds=changes-at-once",
          "crutch-joint-loose", "movement-firm=firm evenness-holds=changes-at-once crutch-joint=clicks"),
    twin("floor", "bob-hits", "bob-clear=hits-side runs-for=minutes started-by=let-go",
          "case-leans", "bob-clear=clear rod-clear=touches-back runs-for=minutes scrape=scrape"),
    twin("floor", "started-with-a-shove", "started-by=shove runs-for=minutes knock=double",
          "bob-hits", "started-by=let-go bob-clear=hits-side runs-for=minutes"),
    twin("mantel", "nut-slack", "nut-moves-bob=slack rate=loses rate-steady=wanders",
          "hands-slip", "nut-moves-bob=moves rate=loses hands-follow=lag hand-nut=loose"),
    twin("floor", "bob-binds", "nut-moves-bob=binds rate-steady=wanders",
          "nut-slack", "nut-moves-bob=slack rate-steady=wanders"),
    twin("mantel", "wrong-pendulum", "part-fitted=pendulum-or-leader rate=loses-much beats-match=wrong",
          "hands-slip", "rate=loses-much beats-match=right hands-follow=lag hand-nut=loose"),
    twin("wall", "bob-wobbles", "part-fitted=pendulum-or-leader bob-path=in-and-out leaf-shape=flat runs-for=hours",
          "spring-kinked", "bob-path=in-and-out leaf-shape=wavy runs-for=minutes"),
    twin("wall", "oil-cold", "room-cold=yes stop-pattern=night-only runs-for=about-a-day",
          "oil-old", "years-since-service=over-10 room-cold=no swing-size=small oil-state=dry-black"),
    twin("wall", "floor-traffic", "stops-when-people-walk=yes case-steady=firm runs-for=about-a-day",
          "case-racks", "stops-when-people-walk=yes case-steady=racks swing-size=small"),
    twin("mantel", "clocks-share-a-shelf",
          "second-clock=pulls swing-course=shrinking runs-for=hours rate-steady=wanders",
          "case-rocks", "second-clock=none swing-course=shrinking case-steady=rocks"),
    twin("floor", "not-wound", "wound=run-down runs-for=seconds",
          "cable-crossed", "wound=wound cable-lay=crossed swing-course=stops-dead"),
    twin("floor", "weights-swapped", "moved-lately=yes weights-by-label=swapped runs-for=days",
          "weight-wrong", "part-fitted=weight weights-by-label=one-odd swing-size=small"),
    twin("floor", "weight-wrong", "part-fitted=weight weights-by-label=one-odd swing-size=small",
          "pivots-worn", "weights-by-label=by-label swing-size=small arbors=several"),
    twin("floor", "weights-sway", "weights-sway=sway-at-bob-height stop-pattern=same-weekday runs-for=days",
          "pivots-worn", "weights-sway=still swing-over-week=fades-late runs-for=days arbors=several"),
    twin("floor", "cable-crossed", "moved-lately=yes cable-lay=crossed swing-course=stops-dead",
          "cable-frayed", "cable-lay=off-or-frayed runs-for=dead"),
    twin("floor", "cable-frayed", "cable-lay=off-or-frayed runs-for=dead",
          "cable-crossed", "cable-lay=crossed swing-course=stops-dead"),
    twin("mantel", "overwound-belief", "winding-feel=will-not-turn stopped-after-winding=yes",
          "mainspring-broken", "winding-feel=bang stopped-after-winding=yes runs-for=dead"),
    twin("mantel", "click-failed", "winding-feel=kicked-back stopped-after-winding=yes wound=run-down",
          "mainspring-broken", "winding-feel=turns-for-ever runs-for=dead wound=run-down"),
    twin("mantel", "mainspring-broken", "winding-feel=bang runs-for=dead",
          "click-failed", "winding-feel=kicked-back runs-for=dead"),
    twin("mantel", "mainspring-tired", "swing-over-week=fades-late runs-for=days oil-state=clean arbors=none",
          "oil-old", "years-since-service=over-10 swing-over-week=fades-late runs-for=days oil-state=dry-black"),
    twin("wall", "oil-old", "years-since-service=over-10 swing-size=small oil-state=dry-black",
          "household-oil-used", "household-oil=yes swing-size=small oil-state=wet-pasty"),
    twin("wall", "pivots-worn", "years-since-service=over-10 swing-size=small arbors=several",
          "pallet-pivot-worn", "years-since-service=over-10 swing-size=small arbors=one-arbor"),
    twin("floor", "lint-in-pinion", "swing-course=stops-dead oil-state=fiber",
          "tooth-damaged", "swing-course=stops-dead oil-state=clean wheel-teeth=damaged"),
    twin("mantel", "household-oil-used", "household-oil=yes runs-for=days swing-size=small",
          "oil-old", "household-oil=no runs-for=days swing-size=small years-since-service=over-10"),
    twin("wall", "tooth-damaged", "swing-course=stops-dead tick-cycle=other-cycle wheel-teeth=damaged",
          "escape-tooth-spot", "tick-cycle=once-a-turn wheel-teeth=sound runs-for=minutes raced=no"),
    twin("mantel", "hands-touch", "stop-pattern=every-65-min hands-clear=each-other",
          "lift-load", "stop-pattern=just-before-hour hands-clear=clear runs-for=hours"),
    twin("floor", "hand-rubs", "hands-clear=dial swing-course=stops-dead",
          "dial-moved", "hands-clear=clear dial-central=moved work-lately=repaired"),
    twin("mantel", "door-touches-hands", "stops-door-shut=yes hands-clear=glass",
          "hand-rubs", "stops-door-shut=no hands-clear=dial swing-course=stops-dead"),
    twin("mantel", "hand-nut-tight", "hands-set-lately=forward hand-nut=tight runs-for=hours",
          "hands-slip", "hand-nut=loose hands-follow=lag"),
    twin("mantel", "hands-slip", "hands-follow=lag hand-nut=loose",
          "nut-slack", "hands-follow=follow nut-moves-bob=slack rate=loses"),
    twin("mantel", "motion-work-binds",
          "stop-pattern=same-minute-each-hour swing-course=stops-dead hand-stiff-at=one-place",
          "tooth-damaged", "stop-pattern=same-minute-each-hour hand-stiff-at=nowhere wheel-teeth=damaged"),
    twin("wall", "dial-moved", "work-lately=repaired dial-central=moved runs-for=hours",
          "hand-rubs", "dial-central=central hands-clear=dial"),
    twin("floor", "lift-load", "stop-pattern=just-before-hour swing-course=stops-dead lift-load=heavy",
          "hands-touch", "stop-pattern=every-65-min hands-clear=each-other"),
    twin("floor", "strike-run-down", "strike-wound=run-down stop-pattern=near-one swing-course=stops-dead",
          "hands-touch", "strike-wound=wound stop-pattern=near-one hands-clear=each-other"),
)  # fmt: skip


PUBLISHED = (
    row_of("Jerome 1860, ch. XIV; Beckett pp. 78-79: stops, beats unequal, stood by a level", "mantel",
               "moved-lately=yes tick-evenness=limping", "case-out-of-beat", "set-the-beat-at-the-case"),
    row_of("Jerome 1860, ch. XIV: out of beat returns, the shelf settles", "mantel",
               "tick-evenness=limping evenness-holds=drifts-in-days moved-lately=yes",
               "case-out-of-beat", "set-the-beat-at-the-case"),
    row_of("Jerome 1860, ch. XIV: rod touches front or back of the loop, pack the feet", "floor",
               "rod-clear=touches-back runs-for=minutes swing-course=shrinking", "case-leans", "set-the-case-upright"),
    row_of("Jerome 1860, ch. XIV: shelf clock, rod at the rear of the loop, raise the back", "mantel",
               "rod-clear=touches-back runs-for=minutes", "case-leans", "set-the-shelf-clock-upright"),
    row_of("Jerome 1860, ch. XIV: stops soon, hand sockets rub the hole of a dial that moved", "wall",
               "dial-central=moved runs-for=minutes", "dial-moved", "center-the-dial"),
    row_of("Jerome 1860, ch. XIV: dial moved, hand sockets rub its hole", "wall",
               "dial-central=moved swing-course=stops-dead", "dial-moved", "center-the-dial"),
    row_of("Jerome 1860, ch. XIV: faint beat, stops on a very cold night, gummed oil", "mantel",
               "room-cold=yes swing-size=small", "oil-cold", "service-the-movement"),
    row_of("Beckett pp. 42-43: rod wobbles, bob or rod not alike back and front", "wall",
               "bob-path=in-and-out part-fitted=pendulum-or-leader leaf-shape=flat",
               "bob-wobbles", "hang-the-bob-square"),
    row_of("Beckett pp. 45, 93: small arc, weak fixing such as a single nail", "wall",
               "swing-size=small wall-fixing=pivots", "wall-fixing-loose", "fix-the-wall-case"),
    row_of("Beckett p. 45: equal pendulums on one wooden wall drive each other", "wall",
               "second-clock=pulls rate-steady=wanders swing-course=shrinking",
               "clocks-share-a-shelf", "part-the-clocks"),
    row_of("Beckett pp. 135-136: ticks, hands lag behind, friction spring slips", "floor",
               "hands-follow=lag hand-nut=loose", "hands-slip", "tension-the-hand-friction"),
    row_of("Beckett p. 84: arc falls at one end of the week, one pivot bears too much", "floor",
               "swing-over-week=fades-late arbors=one-arbor", "pivots-worn", "bush-the-worn-holes"),
    row_of("Beckett p. 241: clogged after flooding with oil", "floor",
               "household-oil=yes oil-state=wet-pasty", "household-oil-used", "wash-out-the-oil"),
    row_of("Beckett p. 167: going train stops near one, rack left fallen", "floor",
               "stop-pattern=near-one strike-wound=run-down", "strike-run-down", "wind-the-strike"),
    row_of("Beckett, watches: a breaking spring kicks the barrel back, look at its teeth", "mantel",
               "winding-feel=bang runs-for=dead", "mainspring-broken", "replace-the-mainspring"),
    row_of("US Army ordnance text, 43b: hands catch on each other, dial or glass", "wall",
               "hands-clear=each-other swing-course=stops-dead", "hands-touch", "bend-the-hands-clear"),
    row_of("US Army ordnance text, 43c: loose dial", "wall",
               "dial-central=moved runs-for=hours", "dial-moved", "center-the-dial"),
    row_of("US Army ordnance text, 43e: minute wheel binds", "wall",
               "hand-stiff-at=one-place stop-pattern=same-minute-each-hour",
               "motion-work-binds", "free-the-motion-work"),
    row_of("US Army ordnance text, 43f: hands stop, movement goes, cannon pinion", "wall",
               "hands-follow=stand-still hand-nut=loose", "hands-slip", "tension-the-hand-friction"),
    row_of("Crook 2001, Eur. J. Phys. 22, 549: stops when the weight has fallen to bob level", "floor",
               "runs-for=days stop-pattern=same-weekday", "weights-sway", "fix-the-case-to-the-wall"),
)  # fmt: skip


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


def _ranked(family: str, answers: Said) -> list[str]:
    """Return the causes of a striking clock of this family, most likely first."""
    return ranked_in(base_of(family), answers)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.cause)
def test_two_to_five_answers_put_the_cause_first(pair: Pair) -> None:
    assert 2 <= len(pair.said) <= 5
    assert _ranked(pair.clock, pair.said)[0] == pair.cause


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair.look_alike}-not-{pair.cause}")
def test_the_answers_of_a_look_alike_put_the_look_alike_first(pair: Pair) -> None:
    assert pair.look_alike != pair.cause
    assert _ranked(pair.clock, pair.said_of_look_alike)[0] == pair.look_alike


@pytest.mark.parametrize("runs_for", ["minutes", "hours"])
def test_a_limp_alone_leaves_case_and_crutch_in_the_first_two(runs_for: str) -> None:
    # Common practice, no source: same sound; setting the beat at the case is the shared cheap cure.
    said = {"tick-evenness": "limping", "runs-for": runs_for, "shorter-way": "left"}
    assert set(_ranked("floor", said)[:2]) == {"case-out-of-beat", "crutch-set-wrong"}


def test_every_cause_of_these_files_has_a_case(knowledge: Knowledge) -> None:
    assert {pair.cause for pair in PAIRS} == set(of_files(knowledge, "causes", CAUSE_FILES))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_a_published_cause_is_among_the_first_three(row: Published) -> None:
    assert row.cause in _ranked(row.clock, row.said)[:3]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_the_published_remedy_is_offered(row: Published, knowledge: Knowledge) -> None:
    assert row.remedy in knowledge.causes[row.cause].remedies


def test_pinions_are_kept_dry_and_no_bush_is_drilled_for_oil(knowledge: Knowledge) -> None:
    # Beckett p. 289: oil on pinions wears them. Beckett p. 192: an oil hole in a bush drains it and feeds dirt.
    oiling = [step.do.staff for step in knowledge.remedies["service-the-movement"].steps]
    bushing = [step.do.staff for step in knowledge.remedies["bush-the-worn-holes"].steps]
    assert any("pinions dry" in text for text in oiling)
    assert any("no oil hole drilled" in text for text in bushing)


def test_feet_are_raised_on_the_early_side_and_a_hanging_foot_goes_there(knowledge: Knowledge) -> None:
    # Beckett p. 79: beat on the right-hand swing too soon, the right side of the case wants raising.
    step = next(s for s in knowledge.remedies["set-the-beat-at-the-case"].steps if "hard packing" in s.do.staff)
    assert "under BOTH feet of the EARLY side" in step.do.staff
    assert "bottom of the case toward the EARLY side" in step.do.staff
    assert step.viewed_from == "dial"


def test_a_rod_at_the_back_raises_the_back_feet(knowledge: Knowledge) -> None:
    # Jerome 1860, ch. XIV: rod at the rear of the loop, raise the back.
    texts = [step.do.staff for step in knowledge.remedies["set-the-case-upright"].steps]
    assert any("Rod at the BACK: case leans back, raise the back feet" in text for text in texts)


def test_a_tall_case_is_never_packed_without_a_helper(knowledge: Knowledge) -> None:
    # Common practice, no source.
    for name in ("set-the-beat-at-the-case", "make-the-case-steady"):
        assert "floor" in knowledge.remedies[name].helper_families


@pytest.mark.parametrize("name", ["renew-the-click", "replace-the-mainspring", "service-the-movement",
                                  "bush-the-worn-holes", "wash-out-the-oil", "mend-the-tooth"])  # fmt: skip
def test_the_bench_lets_the_power_down_before_plates_part(name: str, knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks: fully release the spring before taking plates apart.
    steps = [step.do.staff.lower() for step in knowledge.remedies[name].steps]
    down = next(number for number, text in enumerate(steps) if re.search(r"let .*down|let-down key takes", text))
    apart = [number for number, text in enumerate(steps) if re.search(r"plates apart|^strip|then strip", text)]
    assert all(down <= number for number in apart)
    assert knowledge.remedies[name].who == "workshop"


def test_the_rules_of_power_fire_on_their_examples_and_stay_silent_on_the_others(knowledge: Knowledge) -> None:
    base = compile_base(knowledge, ClockFacts())
    rules = of_files(knowledge, "rules", ("power",))
    assert len(rules) >= 8
    for key in rules:
        rule = knowledge.rules[key]
        for example in rule.fires_on:
            assert key in fired_on(example, knowledge, base), (key, example)
        for example in rule.silent_on:
            assert key not in fired_on(example, knowledge, base), (key, example)
