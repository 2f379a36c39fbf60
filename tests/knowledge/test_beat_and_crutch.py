"""Beat, crutch and escapement: a few answers put the right cause first, and a look-alike's answers do not."""

import re
from collections.abc import Iterator
from typing import NamedTuple

import pytest

from diagnose.model.entries import RemedyEntry, Step
from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.assessment import Stretch, assess
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.rules import run_rules
from diagnose.reasoning.tables import Base, compile_base

CAUSE_FILES = {f"knowledge/causes/{name}.yaml" for name in ("crutch", "fork", "adjuster", "escapement")}
REMEDY_FILES = {
    f"knowledge/remedies/{name}.yaml"
    for name in ("beat", "slip", "adjuster", "crutch", "fork", "escapement", "escapement_bench")
}
RULE_FILES = {f"knowledge/rules/{name}.yaml" for name in ("beat", "hanging", "scope", "warnings")}
OWNERS = {"owner", "owner-on-the-phone"}


class Case(NamedTuple):
    """A clock family, what was said, and the cause that comes first."""

    family: str
    said: dict[str, str]
    first: str


class Pair(NamedTuple):
    """A case of one cause, and what is said of the look-alike it is taken for (common practice, no source)."""

    case: Case
    look_alike: Case


def _case(family: str, first: str, **said: str) -> Case:
    return Case(family, {name.replace("_", "-"): value for name, value in said.items()}, first)


PAIRS = (
    Pair(
        _case("floor", "crutch-set-wrong", tick_evenness="limping", bent_by_hand="crutch", moved_lately="no",
              crutch_joint="firm"),
        _case("floor", "case-out-of-beat", tick_evenness="limping", bent_by_hand="no", moved_lately="yes"),
    ),
    Pair(
        _case("floor", "crutch-friction-loose", tick_evenness="limping", evenness_holds="drifts-in-days",
              crutch_joint="slips-at-nothing"),
        _case("floor", "crutch-joint-loose", tick_evenness="limping", evenness_holds="changes-at-once",
              crutch_joint="clicks"),
    ),
    Pair(
        _case("mantel", "crutch-joint-loose", evenness_holds="changes-at-once", crutch_joint="clicks"),
        _case("mantel", "fork-loose", knock="double", crutch_joint="firm", paper_in_fork="wide"),
    ),
    Pair(
        _case("floor", "fork-tight", runs_for="minutes", swing_course="shrinking", tick_evenness="even",
              paper_in_fork="none", fork_square="square"),
        _case("floor", "fork-twisted", runs_for="minutes", swing_course="shrinking", paper_in_fork="none",
              fork_square="twisted"),
    ),
    Pair(
        _case("wall", "fork-loose", knock="double", paper_in_fork="wide", block_rocks="still"),
        _case("wall", "post-spread", knock="double", paper_in_fork="passes", block_rocks="rocks",
              slot_form="mouth-wider"),
    ),
    Pair(
        _case("mantel", "crutch-off-leader", knocked_lately="yes", crutch_follows="not-at-all",
              part_fitted="none"),
        _case("mantel", "pendulum-off-hook", knocked_lately="yes", hook_seat="off", tick="gallops"),
    ),
    Pair(
        _case("floor", "crutch-rubs", scrape="scrape", fork_clear="touches-plate", fork_square="square"),
        _case("floor", "crutch-slopes", scrape="scrape", fork_clear="clear", fork_square="slopes",
              leader_plumb="held-off"),
    ),
    Pair(
        _case("wall", "dial-touches-crutch", runs_for="minutes", fork_clear="touches-dial"),
        _case("wall", "crutch-rubs", scrape="scrape", fork_clear="touches-plate"),
    ),
    Pair(
        _case("wall", "fork-dry", squeak="squeak", pallets="smooth", paper_in_fork="passes"),
        _case("wall", "pallets-dry", squeak="squeak", pallets="dry"),
    ),
    Pair(
        _case("floor", "crutch-slopes", bent_by_hand="crutch", swing_course="shrinking", fork_square="slopes"),
        _case("floor", "fork-twisted", bent_by_hand="crutch", swing_course="shrinking", fork_square="twisted"),
    ),
    Pair(
        _case("floor", "fork-twisted", bent_by_hand="crutch", swing_course="shrinking", fork_square="twisted"),
        _case("floor", "fork-tight", bent_by_hand="crutch", swing_course="shrinking", fork_square="square",
              paper_in_fork="none"),
    ),
    Pair(
        _case("floor", "fork-wrong-height", part_fitted="suspension", fork_height="touches-above",
              leaf_length="same", leader_way="same"),
        _case("floor", "spring-too-long", part_fitted="suspension", fork_height="touches-above",
              leaf_length="longer"),
    ),
    Pair(
        _case("floor", "adjuster-at-end", tick_evenness="limping", beat_set_by="adjuster-on-leader",
              adjuster_travel="at-its-end", last_step="same"),
        _case("floor", "adjusted-wrong-way", tick_evenness="limping", beat_set_by="adjuster-on-leader",
              adjuster_travel="travel-left", last_step="worse"),
    ),
    Pair(
        _case("floor", "adjusted-wrong-way", tick_evenness="limping", last_step="worse", bent_by_hand="adjuster"),
        _case("floor", "adjuster-at-end", tick_evenness="limping", beat_set_by="adjuster-on-leader",
              adjuster_travel="at-its-end", last_step="same"),
    ),
    Pair(
        _case("floor", "adjuster-slack", tick_evenness="limping", evenness_holds="drifts-in-days",
              beat_set_by="adjuster-on-crutch", adjuster_holds="creeps"),
        _case("floor", "crutch-friction-loose", tick_evenness="limping", evenness_holds="drifts-in-days",
              crutch_joint="slips-at-nothing"),
    ),
    Pair(
        _case("wall", "two-screws", swing_course="shrinking", beat_set_by="adjuster-on-crutch",
              bent_by_hand="adjuster", adjuster_holds="both-screws-tight"),
        _case("wall", "fork-tight", swing_course="shrinking", beat_set_by="bent-crutch", bent_by_hand="crutch",
              paper_in_fork="none"),
    ),
    Pair(
        _case("floor", "self-setting-seized", tick_evenness="limping", moved_lately="yes",
              beat_set_by="self-setting", self_setting_recovers="does-not"),
        _case("floor", "self-setting-bent", tick_evenness="limping", bent_by_hand="crutch",
              crutch_joint="slips-even-drag", fork_square="slopes"),
    ),
    Pair(
        _case("floor", "self-setting-bent", tick_evenness="limping", bent_by_hand="crutch",
              crutch_joint="slips-even-drag", fork_square="slopes"),
        _case("floor", "crutch-slopes", bent_by_hand="crutch", beat_set_by="bent-crutch", crutch_joint="firm",
              fork_square="slopes"),
    ),
    Pair(
        _case("wall", "pallet-pivot-worn", swing_size="small", years_since_service="over-10",
              arbors="one-arbor", pallets="smooth"),
        _case("wall", "pivots-worn", swing_size="small", years_since_service="over-10", arbors="several",
              pallets="smooth"),
    ),
    Pair(
        _case("wall", "pallets-worn", swing_size="small", pallets="grooved", arbors="none"),
        _case("wall", "pallet-pivot-worn", swing_size="small", pallets="smooth", arbors="one-arbor"),
    ),
    Pair(
        _case("wall", "pallets-deep", tick_evenness="even", helped_runs="yes", overswing="hardly-any",
              work_lately="repaired", pallets="smooth"),
        _case("wall", "case-out-of-beat", tick_evenness="limping", overswing="one-side-only",
              moved_lately="yes"),
    ),
    Pair(
        _case("wall", "unequal-drop-set", tick_evenness="even", overswing="one-side-only",
              unequal_drop="unequal"),
        _case("wall", "crutch-set-wrong", tick_evenness="limping", overswing="one-side-only",
              unequal_drop="equal", bent_by_hand="crutch"),
    ),
    Pair(
        _case("floor", "cock-loose", bob_path="in-and-out", work_lately="repaired", cock_tight="loose"),
        _case("floor", "crutch-slopes", leader_plumb="held-off", cock_tight="tight", fork_square="slopes"),
    ),
    Pair(
        _case("wall", "pallets-dry", squeak="squeak", pallets="dry", swing_size="small"),
        _case("wall", "pallets-gummy", squeak="none", pallets="gummy", room_cold="yes"),
    ),
    Pair(
        _case("wall", "pallets-gummy", swing_size="small", pallets="gummy", room_cold="yes"),
        _case("wall", "pallets-dry", swing_size="small", pallets="dry", squeak="squeak"),
    ),
    Pair(
        _case("wall", "teeth-bent", raced="yes", tick_cycle="once-a-turn", swing_course="stops-dead"),
        _case("wall", "escape-tooth-spot", raced="no", tick_cycle="once-a-turn", runs_for="hours"),
    ),
    Pair(
        _case("wall", "escape-tooth-spot", raced="no", tick_cycle="once-a-turn", runs_for="hours"),
        _case("wall", "teeth-bent", raced="yes", tick_cycle="once-a-turn", runs_for="minutes"),
    ),
)  # fmt: skip


class Published(NamedTuple):
    """A row of a published text: symptom in our findings, its cause, its remedy, and where it stands."""

    case: Case
    remedy: str
    source: str


PUBLISHED = (
    Published(
        _case("mantel", "case-out-of-beat", tick_evenness="limping", runs_for="minutes"),
        "set-the-beat-at-the-case", "Jerome 1860, ch. XIV; Beckett p. 78-79: beats unequal, set up by a level",
    ),
    Published(
        _case("mantel", "crutch-set-wrong", tick_evenness="limping", runs_for="minutes"),
        "set-the-beat-at-the-crutch", "Beckett p. 79: or bend the bottom of the crutch",
    ),
    Published(
        _case("mantel", "case-out-of-beat", tick_evenness="limping", evenness_holds="drifts-in-days"),
        "set-the-beat-at-the-case", "Jerome 1860, ch. XIV: the shelf settles, the beat slowly goes off",
    ),
    Published(
        _case("wall", "dial-touches-crutch", runs_for="minutes", fork_clear="touches-dial"),
        "free-the-dial", "Jerome 1860, ch. XIV: thin dial bent in, the crutch wire touches it",
    ),
    Published(
        _case("mantel", "pallets-worn", runs_for="hours", pallets="grooved"),
        "renew-the-pallet-faces", "Jerome 1860, ch. XIV: short run, soft pallets dented",
    ),
    Published(
        _case("mantel", "pallets-worn", scrape="scrape", pallets="grooved"),
        "renew-the-pallet-faces", "Jerome 1860, ch. XIV: scrape from lines across the pallet",
    ),
    Published(
        _case("mantel", "fork-dry", squeak="squeak"),
        "oil-the-fork", "Jerome 1860, ch. XIV: a dry crutch loop creaks on the rod",
    ),
    Published(
        _case("mantel", "pallets-gummy", room_cold="yes", swing_size="small"),
        "clean-the-pallets", "Jerome 1860, ch. XIV: gummed oil, stops on a very cold night",
    ),
    Published(
        _case("floor", "fork-tight", bent_by_hand="crutch", runs_for="minutes", paper_in_fork="none"),
        "free-the-fork", "Beckett p. 46: stops soon after a change of fork, fork too tight",
    ),
    Published(
        _case("floor", "fork-loose", knock="double"),
        "close-the-fork", "Beckett p. 46: a knock each beat, fork too loose",
    ),
    Published(
        _case("floor", "cock-loose", bob_path="in-and-out", cock_tight="loose"),
        "tighten-the-cock", "Beckett p. 46: rod slides in the fork, plane of swing not square to the arbor",
    ),
    Published(
        _case("floor", "pallets-gummy", swing_size="small", pallets="gummy"),
        "clean-the-pallets", "Beckett p. 84: dirty pallets, less force and more friction",
    ),
    Published(
        _case("wall", "pallets-worn", unequal_drop="unequal", overswing="hardly-any", pallets="grooved"),
        "renew-the-pallet-faces", "Beckett p. 79: wear lets teeth clear too far; renew the pallets",
    ),
    Published(
        _case("wall", "pallets-worn", pallets="grooved", swing_size="small"),
        "renew-the-pallet-faces", "Spon, Workshop Receipts 4th series: wear shows on the pallets first",
    ),
    Published(
        _case("floor", "self-setting-seized", tick_evenness="limping", moved_lately="yes",
              beat_set_by="self-setting"),
        "set-the-beat-by-the-slip", "Beckett p. 154: pallets held by a spring collar set themselves",
    ),
)  # fmt: skip


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


def _ranked(case: Case, knowledge: Knowledge) -> list[str]:
    answers = tuple(Answer(finding, value) for finding, value in case.said.items())
    assessment = assess([Stretch(answers)], knowledge, ClockFacts(family=case.family))
    return [ranked.cause for ranked in assessment.ranking.causes]


def _of_files(knowledge: Knowledge, collection: str, files: set[str]) -> list[str]:
    return [key for (kind, key), (file, _, _) in knowledge.positions.items() if kind == collection and file in files]


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.case.first)
def test_two_to_five_answers_put_the_cause_first(pair: Pair, knowledge: Knowledge) -> None:
    assert 2 <= len(pair.case.said) <= 5
    assert _ranked(pair.case, knowledge)[0] == pair.case.first


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.case.first)
def test_the_answers_of_a_look_alike_put_the_look_alike_first(pair: Pair, knowledge: Knowledge) -> None:
    assert pair.look_alike.first != pair.case.first
    assert _ranked(pair.look_alike, knowledge)[0] == pair.look_alike.first


def test_every_cause_of_these_files_has_a_case(knowledge: Knowledge) -> None:
    assert {pair.case.first for pair in PAIRS} == set(_of_files(knowledge, "causes", CAUSE_FILES))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row.case.first}: {row.source}")
def test_a_published_cause_is_among_the_first_three(row: Published, knowledge: Knowledge) -> None:
    assert row.case.first in _ranked(row.case, knowledge)[:3]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row.case.first}: {row.source}")
def test_the_published_remedy_is_offered(row: Published, knowledge: Knowledge) -> None:
    assert row.remedy in knowledge.causes[row.case.first].remedies


def test_a_self_setting_crutch_is_never_tightened(knowledge: Knowledge) -> None:
    # Beckett p. 154: pallets held by a spring collar; do not tighten it.
    for cause in ("self-setting-seized", "self-setting-bent"):
        assert "tighten-the-crutch-friction" not in knowledge.causes[cause].remedies


def _setting_step(remedy: RemedyEntry) -> Step:
    (step,) = (step for step in remedy.steps if step.act == "set-the-beat")
    return step


def test_an_adjuster_on_the_leader_goes_to_the_late_side(knowledge: Knowledge) -> None:
    # Derived from case, arbor, crutch and leader: the grip takes crutch and pallets along.
    step = _setting_step(knowledge.remedies["set-the-beat-at-the-leader-adjuster"])
    assert "LATE side" in step.do.staff and "EARLY" not in step.do.staff
    assert step.do.customer is not None
    assert "LONGER way" in step.do.customer and "SHORTER" not in step.do.customer


@pytest.mark.parametrize(
    "remedy", ["set-the-beat-at-the-crutch-adjuster", "set-the-beat-at-the-crutch", "slip-with-the-pallets-held"]
)
def test_everything_on_the_crutch_goes_to_the_early_side(remedy: str, knowledge: Knowledge) -> None:
    # Beckett p. 79: beat on the right-hand swing too soon, bottom of the crutch to the right.
    step = _setting_step(knowledge.remedies[remedy])
    assert "EARLY side" in step.do.staff and "LATE" not in step.do.staff
    assert "LONGER" not in (step.do.customer or "")


def _owners_steps(knowledge: Knowledge) -> Iterator[tuple[str, Step]]:
    for key in _of_files(knowledge, "remedies", REMEDY_FILES):
        remedy = knowledge.remedies[key]
        yield from ((key, step) for step in remedy.steps if (step.who or remedy.who) in OWNERS)


def test_an_owner_is_given_no_step_under_load_and_none_for_ever(knowledge: Knowledge) -> None:
    assert not [key for key, step in _owners_steps(knowledge) if step.under_load or step.cannot_be_undone]


def test_an_owner_is_told_when_to_stop_and_hears_it_in_plain_words(knowledge: Knowledge) -> None:
    steps = list(_owners_steps(knowledge))
    assert len(steps) > 20
    for key, step in steps:
        assert step.do.customer, key
        assert step.stop_if is not None and step.stop_if.text.customer, key


def test_an_owner_needs_no_tool(knowledge: Knowledge) -> None:
    remedies = [knowledge.remedies[key] for key in _of_files(knowledge, "remedies", REMEDY_FILES)]
    assert not [remedy.title.staff for remedy in remedies if remedy.who in OWNERS and remedy.tools]


BEND = re.compile(r"[Ee]ase the (foot|crutch)|bend the foot|turns the foot|Open the fork|straighten the bend")


def test_every_bend_is_made_with_the_arm_held(knowledge: Knowledge) -> None:
    # Common practice, no source: the pallet back pivot is thin and hard and snaps.
    bends = [
        (key, step)
        for key in _of_files(knowledge, "remedies", REMEDY_FILES)
        for step in knowledge.remedies[key].steps
        if BEND.search(step.do.staff)
    ]
    assert len(bends) >= 6
    for key, step in bends:
        assert step.hold is not None, key
        assert "pallet-pivot-snaps" in knowledge.remedies[key].cautions, key


SIDE = re.compile(r"\b(?:to|on) (?:your|the) (?:left|right)\b|\b(?:left|right) side\b")


def test_left_and_right_are_never_said_without_the_viewpoint(knowledge: Knowledge) -> None:
    named = [
        (key, step)
        for key in _of_files(knowledge, "remedies", REMEDY_FILES)
        for step in knowledge.remedies[key].steps
        if SIDE.search(f"{step.do.staff} {step.do.customer or ''}")
    ]
    assert named
    assert not [key for key, step in named if step.viewed_from is None]


def _fired(example: dict[str, str], knowledge: Knowledge, base: Base) -> set[str]:
    answers = [Answer(finding, value) for finding, value in example.items()]
    return {firing.rule for firing in run_rules(findings_from(answers, (), knowledge), knowledge, base).firings}


def test_the_rules_fire_on_their_examples_and_stay_silent_on_the_others(knowledge: Knowledge) -> None:
    base = compile_base(knowledge, ClockFacts())
    rules = _of_files(knowledge, "rules", RULE_FILES)
    assert len(rules) >= 25
    for key in rules:
        rule = knowledge.rules[key]
        for example in rule.fires_on:
            assert key in _fired(example, knowledge, base), (key, example)
        for example in rule.silent_on:
            assert key not in _fired(example, knowledge, base), (key, example)
