"""Case and place, pendulum rod, season and room: a few answers put the right cause first, a look-alike's do not."""

from __future__ import annotations

import re

import pytest

from diagnose.mechanics.pendulum import (
    EXPANSION_PER_C,
    SECONDS_PER_DAY,
    gravity_at,
    normal_gravity,
    rate_by_gravity,
)
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.tables import compile_base
from tests.knowledge.pairs_of_causes import (
    Pair,
    Published,
    Said,
    answers_in,
    base_of,
    fired_on,
    of_files,
    ranked_in,
    row_of,
    shipped,
    twin,
)

CAUSE_FILES = ("case_place", "pendulum_rod", "expectation")

PAIRS = (
    twin("floor", "seat-board-sagged", "seat-board=sagged bob-central=off-center tick-evenness=limping",
          "case-out-of-beat", "moved-lately=yes seat-board=sound bob-central=off-center tick-evenness=limping"),
    twin("mantel", "shelf-warped", "shelf-level=bowed evenness-holds=drifts-in-days tick-evenness=limping",
          "case-out-of-beat", "moved-lately=yes shelf-level=flat evenness-holds=holds tick-evenness=limping"),
    twin("floor", "building-settles",
          "floor-works-lately=yes evenness-holds=drifts-in-months tick-evenness=limping old-marks=in-them",
          "case-out-of-beat", "moved-lately=yes tick-evenness=limping old-marks=beside-them floor-works-lately=no"),
    twin("mantel", "cover-fouls", "work-lately=cleaned cover-clear=fouls runs-for=minutes",
          "crutch-rubs", "cover-clear=clear fork-clear=touches-plate runs-for=minutes scrape=scrape"),
    twin("wall", "movement-tilted", "work-lately=repaired winding-squares=off-center movement-level=tilted",
          "dial-moved", "work-lately=repaired winding-squares=off-center movement-level=square dial-central=moved"),
    twin("wall", "case-swollen", "stored-damp=yes doors-stick=sticks stops-door-shut=yes",
          "door-touches-hands", "doors-stick=free stops-door-shut=yes hands-clear=glass"),
    twin("mantel", "spot-unfit", "sunny-spot=sun-or-heat rate-over-time=with-sun-or-heater rate-steady=wanders",
          "season-shift", "sunny-spot=calm rate-over-time=with-the-season rate=keeps-time"),
    twin("wall", "draft-on-pendulum", "draft=moves runs-for=about-a-day stops-when-people-walk=no",
          "floor-traffic", "draft=still-air runs-for=about-a-day stops-when-people-walk=yes"),
    twin("wall", "leader-rubs-plate", "leader-back-clear=rubs scrape=scrape fork-square=square leader-way=same",
          "crutch-slopes", "leader-back-clear=rubs fork-square=slopes leader-plumb=held-off scrape=scrape"),
    twin("floor", "rod-warped", "rod-material=wood rod-straight=warped rate-steady=wanders",
          "bob-loose", "rod-straight=straight bob-firm=turns rate-steady=wanders"),
    twin("mantel", "bob-loose", "bob-firm=turns rate-steady=wanders nut-moves-bob=moves",
          "nut-slack", "bob-firm=firm rate-steady=wanders nut-moves-bob=slack bob-height=lower"),
    twin("floor", "jars-loose", "jars=uneven rate-over-time=one-step",
          "bob-loose", "jars=none-or-sound bob-firm=turns rate-over-time=one-step"),
    twin("mantel", "silk-thread-worn", "thread=hairy rate-over-time=creeps rate=loses",
          "rate-arbor-slips", "thread=sound rate-arbor=slips rate-over-time=creeps rate=loses"),
    twin("mantel", "rate-arbor-slips", "rate-arbor=slips rate=loses nut-moves-bob=moves",
          "wrong-pendulum", "rate-arbor=at-its-end rate=loses-much beats-match=wrong"),
    twin("wall", "hook-bent", "hook-straight=bent bob-path=oval runs-for=minutes leaf-shape=flat",
          "hook-worn", "hook-straight=straight bob-face=turns-in-hook bob-path=oval"),
    twin("wall", "rod-catches", "rod-free-path=catches knock=double runs-for=minutes",
          "bob-hits", "rod-free-path=free bob-clear=hits-side knock=double runs-for=minutes"),
    twin("floor", "hook-other-notch", "hook-notch=other-one rate-over-time=one-step rate=loses",
          "wrong-pendulum", "hook-notch=old-one part-fitted=pendulum-or-leader beats-match=wrong rate=loses-much"),
    twin("floor", "season-shift", "rate-over-time=with-the-season sunny-spot=calm runs-for=keeps-running",
          "nut-slack", "rate-over-time=creeps nut-moves-bob=slack rate=loses"),
    twin("floor", "moved-to-other-place",
          "altitude-moved=far-or-high moved-lately=yes rate-over-time=one-step bob-height=as-ever",
          "nut-slack", "altitude-moved=no moved-lately=yes rate=loses bob-height=lower nut-moves-bob=slack"),
    twin("mantel", "magnet-close", "magnet-by-case=near rate-over-time=one-step rate-steady=wanders",
          "clocks-share-a-shelf", "magnet-by-case=none second-clock=pulls rate-steady=wanders"),
    twin("wall", "insect-or-hair-outside", "web-or-hair=found swing-course=shrinking runs-for=hours",
          "lint-in-pinion", "web-or-hair=none swing-course=stops-dead oil-state=fiber"),
)  # fmt: skip


PUBLISHED = (
    row_of("Jerome 1860, ch. XIV; Beckett pp. 78-79: beats unequal, stood by a level, not by ear", "floor",
               "tick-evenness=limping bob-central=off-center old-marks=beside-them",
               "case-out-of-beat", "set-the-beat-at-the-case"),
    row_of("Jerome 1860, ch. XIV: out of beat slowly returns, the shelf warps", "mantel",
               "tick-evenness=limping evenness-holds=drifts-in-days shelf-level=bowed",
               "shelf-warped", "set-the-beat-at-the-case"),
    row_of("Jerome 1860, ch. XIV: out of beat slowly returns, the place settles", "wall",
               "tick-evenness=limping evenness-holds=drifts-in-months",
               "building-settles", "set-the-beat-at-the-case"),
    row_of("Jerome 1860, ch. XIV: rod touches one end of the crutch loop", "floor",
               "rod-clear=touches-back leader-back-clear=clear bob-central=central",
               "case-leans", "set-the-case-upright"),
    row_of("Beckett pp. 42-43: rod wobbles, all else straight and firm", "wall",
               "bob-path=in-and-out hook-straight=straight bob-firm=firm leaf-shape=flat",
               "bob-wobbles", "hang-the-bob-square"),
    row_of("Beckett pp. 45, 93: small arc on a timber floor", "floor",
               "swing-size=small case-steady=rocks stands-on=boards",
               "case-rocks", "make-the-case-steady"),
    row_of("Beckett p. 52: wood moves with damp, a minute a week is ordinary for iron", "floor",
               "rate-over-time=with-the-season rod-material=metal",
               "season-shift", "explain-the-season"),
    row_of("Beckett p. 39: a pendulum taken to the equator loses 2 1/4 minutes a day", "wall",
               "altitude-moved=far-or-high rate=loses rate-over-time=one-step",
               "moved-to-other-place", "regulate-at-the-new-place"),
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


def test_every_cause_of_these_files_has_a_case(knowledge: Knowledge) -> None:
    assert {pair.cause for pair in PAIRS} == set(of_files(knowledge, "causes", CAUSE_FILES))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_a_published_cause_is_among_the_first_three(row: Published) -> None:
    assert row.cause in _ranked(row.clock, row.said)[:3]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_the_published_remedy_is_offered(row: Published, knowledge: Knowledge) -> None:
    assert row.remedy in knowledge.causes[row.cause].remedies


# Case or crutch: the same sound, told apart by the still bob, the old marks and the crutch arm
# (common practice, no source).


@pytest.mark.parametrize("family", ["floor", "wall"])
def test_a_limp_with_the_bob_off_the_middle_of_the_case_speaks_for_the_case(family: str) -> None:
    ranked = _ranked(family, answers_in("tick-evenness=limping runs-for=minutes bob-central=off-center"))
    assert ranked.index("case-out-of-beat") < ranked.index("crutch-set-wrong")


@pytest.mark.parametrize("family", ["floor", "wall"])
def test_a_limp_with_bob_central_and_feet_in_their_marks_speaks_for_the_crutch(family: str) -> None:
    ranked = _ranked(family, answers_in("tick-evenness=limping runs-for=minutes bob-central=central old-marks=in-them"))
    assert ranked.index("crutch-set-wrong") < ranked.index("case-out-of-beat")


def test_a_fresh_bend_in_the_arm_speaks_for_the_crutch() -> None:
    ranked = _ranked("floor", answers_in("tick-evenness=limping runs-for=minutes crutch-arm=bend-marks"))
    assert ranked.index("crutch-set-wrong") < ranked.index("case-out-of-beat")


def test_no_single_look_at_the_case_decides_alone() -> None:
    # Jerome 1860, ch. XIV, and Beckett p. 78: a level proves nothing about the beat.
    for look in ("bob-central=off-center", "bob-central=central", "old-marks=beside-them", "old-marks=in-them"):
        ranked = _ranked("floor", answers_in(f"tick-evenness=limping runs-for=minutes {look}"))
        assert {"case-out-of-beat", "crutch-set-wrong"} <= set(ranked[:4]), look


# Figures in texts against the formulas and the printed figures.


def _numbers(text: str) -> list[float]:
    return [float(item) for item in re.findall(r"\d+(?:\.\d+)?", text)]


@pytest.mark.parametrize(("material", "printed"), [("steel", 0.498), ("brass", 0.778), ("wood", 0.179)])
def test_the_season_explained_gives_the_rate_of_each_rod(material: str, printed: float, knowledge: Knowledge) -> None:
    # Beckett p. 53: 0.498 s a day for each degree C for steel, 0.778 for brass, 0.179 for softwood.
    text = knowledge.remedies["explain-the-season"].steps[0].do.staff
    said = float(re.search(rf"{material}(?: about)? (\d\.\d)", text).group(1))  # type: ignore[union-attr]
    assert EXPANSION_PER_C[material] * SECONDS_PER_DAY / 2 == pytest.approx(printed, abs=0.002)
    assert said == pytest.approx(printed, abs=0.05)


def test_the_season_cannot_make_a_minute_and_a_half_a_day() -> None:
    # 43200 s times the expansion of brass, the largest of the usual rods (Beckett p. 53).
    warming_c = 90 / (EXPANSION_PER_C["brass"] * SECONDS_PER_DAY / 2)
    assert warming_c > 100


def test_latitude_and_height_stand_as_the_formula_gives_them(knowledge: Knowledge) -> None:
    # WGS 84: 114.05 s a day from the equator to 45 degrees; free air 1.36 s a day for 100 m.
    look = _numbers(knowledge.findings["altitude-moved"].look)
    at_45 = normal_gravity(45.0)
    assert round(rate_by_gravity(at_45, normal_gravity(0.0))) in look
    assert round(-rate_by_gravity(gravity_at(45.0, 100.0), at_45), 1) in look


def test_ten_minutes_a_day_is_no_place_on_earth() -> None:
    # WGS 84: pole against equator, the most that a move can make.
    assert rate_by_gravity(normal_gravity(90.0), normal_gravity(0.0)) < 4 * 60


@pytest.mark.parametrize("cause", ["season-shift", "moved-to-other-place"])
def test_a_clock_that_loses_ten_minutes_a_day_is_not_explained_by_season_or_place(cause: str) -> None:
    said = answers_in("rate-over-time=with-the-season altitude-moved=far-or-high moved-lately=yes rate=loses-much")
    assert cause not in _ranked("floor", said)[:3]


def test_the_season_is_no_fault(knowledge: Knowledge) -> None:
    assert [key for key in of_files(knowledge, "causes", CAUSE_FILES) if knowledge.causes[key].no_fault] == [
        "season-shift"
    ]


# Safety: common practice, no source, unless named.


def test_beads_at_the_jars_raise_the_mercury_alarm(knowledge: Knowledge) -> None:
    assert "beads" in knowledge.alarms["grey-beads"].also_when["jars"]


def test_jars_are_touched_only_when_they_are_proved_to_hold_no_liquid(knowledge: Knowledge) -> None:
    # CDC, MMWR 56 (23), 2007: spilled mercury is not swept or vacuumed.
    first = knowledge.remedies["secure-dummy-jars"].steps[0]
    assert first.stop_if is not None and first.stop_if.then == "refer"
    told = " ".join(step.do.customer or "" for step in knowledge.remedies["leave-the-jars"].steps)
    assert "Never sweep or vacuum" in told
    assert not knowledge.remedies["leave-the-jars"].cures


@pytest.mark.parametrize("name", ["pack-the-seat-board", "square-the-movement"])
def test_weights_come_off_before_the_movement_is_loosened(name: str, knowledge: Knowledge) -> None:
    first = knowledge.remedies[name].steps[0].do.staff.lower()
    assert "weights off" in first and "pulley held down" in first


@pytest.mark.parametrize("name", ["renew-the-thread", "mend-the-rod", "secure-dummy-jars"])
def test_a_spring_is_let_down_before_the_pendulum_comes_off_at_the_bench(name: str, knowledge: Knowledge) -> None:
    steps = [step.do.staff.lower() for step in knowledge.remedies[name].steps]
    assert any("let down on a let-down key" in text for text in steps[:2])


def test_no_owner_bends_a_hook_files_a_catch_or_pulls_at_a_door(knowledge: Knowledge) -> None:
    for name in ("straighten-the-hook", "ease-the-catch", "ease-the-door", "trim-the-cover", "fasten-the-bob"):
        assert knowledge.remedies[name].who == "technician"


def test_the_rules_of_case_and_place_fire_on_their_examples_and_stay_silent_on_the_others(
    knowledge: Knowledge,
) -> None:
    base = compile_base(knowledge, ClockFacts())
    rules = of_files(knowledge, "rules", ("case_place",))
    assert len(rules) >= 9
    for key in rules:
        rule = knowledge.rules[key]
        for example in rule.fires_on:
            assert key in fired_on(example, knowledge, base), (key, example)
        for example in rule.silent_on:
            assert key not in fired_on(example, knowledge, base), (key, example)
