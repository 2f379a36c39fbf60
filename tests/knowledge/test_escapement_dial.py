"""Escapement, hands, dial and motion work: few answers put the right cause first, a look-alike's do not."""

from __future__ import annotations

import re

import pytest

from diagnose.model.reading import Knowledge
from tests.knowledge.pairs_of_causes import Pair, Published, base_of, of_files, ranked_in, row_of, shipped, twin

CAUSE_FILES = ("escapement_wear", "dial_work")
REMEDY_FILES = ("escapement_wear", "escapement_pins", "dial_work", "moon_date_glass")

PAIRS = (
    twin("floor", "pallets-shallow", "tick-skips=quick-ticks drop-size=large escape-tips=sound",
          "pallets-deep", "overswing=hardly-any helped-runs=yes drop-size=even-small tick-evenness=even"
                          " work-lately=repaired"),
    twin("wall", "anchor-loose", "evenness-holds=changes-at-once anchor-firm=turns-on-arbor crutch-joint=firm",
          "crutch-friction-loose", "evenness-holds=changes-at-once anchor-firm=firm crutch-joint=slips-at-nothing"),
    twin("mantel", "escape-tips-worn", "years-since-service=over-10 swing-size=small escape-tips=worn-all-round"
                                        " pallets=smooth",
          "pallets-worn", "years-since-service=over-10 swing-size=small escape-tips=sound pallets=grooved"),
    twin("floor", "escape-wheel-eccentric",
          "tick-cycle=once-a-turn escape-wheel-runout=out-of-true drop-size=changes-round raced=no",
          "escape-tooth-spot", "tick-cycle=once-a-turn escape-wheel-runout=runs-true escape-tips=one-bad raced=no"),
    twin("wall", "escape-endplay-wrong", "runs-when-tilted=fore-and-aft escape-endplay=runs-off rod-clear=clear",
          "case-leans", "runs-when-tilted=fore-and-aft escape-endplay=right rod-clear=touches-back"),
    twin("mantel", "pallet-pin-loose", "tick-skips=missing pallet-pins=moves anchor-firm=firm",
          "anchor-loose", "tick-skips=missing pallet-pins=firm anchor-firm=turns-on-arbor"),
    twin("floor", "escapement-magnetized", "magnet-near=yes rate-steady=wanders magnetism=drawn",
          "pallets-gummy", "rate-steady=wanders magnetism=quiet pallets=gummy swing-size=small"),
    twin("mantel", "pallet-cock-bent",
          "evenness-holds=changes-at-once louder-side=one-louder anchor-firm=rocks-on-pin",
          "pallet-pivot-worn", "louder-side=one-louder anchor-firm=firm arbors=one-arbor swing-size=small"),
    twin("floor", "deadbeat-recoils", "seconds-hand=kicks-back escape-lock=recoils pallets=smooth",
          "pallets-worn", "seconds-hand=steps escape-lock=dead pallets=grooved swing-size=small"),
    twin("floor", "second-hand-touches", "seconds-hand=same-mark swing-course=stops-dead second-hand-clear=touches",
          "escape-tooth-spot", "seconds-hand=same-mark second-hand-clear=clear seconds-hand-off=no-change"
                               " tick-cycle=once-a-turn raced=no"),
    twin("wall", "seconds-arbor-binds", "seconds-hand=twitches second-hand-clear=clear seconds-pipe=binds",
          "second-hand-touches", "seconds-hand=same-mark second-hand-clear=touches seconds-pipe=free"),
    twin("mantel", "hand-bush-loose", "hands-set-lately=forward strike-moment=off-the-same hand-bush=turns",
          "hands-slip", "hands-follow=lag hand-nut=loose hand-bush=holds strike-moment=on-the-hour"),
    twin("wall", "hour-hand-loose", "hands-set-lately=forward hour-hand-goes=loose strike-moment=on-the-hour",
          "hand-bush-loose", "hour-hand-goes=goes-along strike-moment=off-the-same hand-bush=turns"),
    twin("floor", "moon-disc-jams", "stop-pattern=same-time-each-day swing-course=stops-dead moon-disc=stiff",
          "calendar-jams", "stop-pattern=same-time-each-day moon-disc=gives date-work=tight"),
    twin("wall", "calendar-jams", "calendar-set-at-night=yes stop-pattern=night-only date-work=tight",
          "oil-cold", "calendar-set-at-night=no stop-pattern=night-only date-work=steps room-cold=yes"),
    twin("floor", "minute-wheel-slack", "work-lately=repaired hour-hand-goes=stands minute-wheel=out-of-mesh",
          "motion-work-binds", "hour-hand-goes=goes-along minute-wheel=in-mesh hand-stiff-at=one-place"
                               " stop-pattern=same-minute-each-hour"),
    twin("mantel", "glass-presses-hands", "stops-door-shut=yes glass-gap=presses hands-clear=clear",
          "door-touches-hands", "stops-door-shut=yes glass-gap=gap hands-clear=glass"),
)  # fmt: skip


PUBLISHED = (
    row_of("Jerome 1860, ch. XIV: stops after a short run, pallet faces dented", "mantel",
               "runs-for=hours pallets=grooved", "pallets-worn", "renew-the-pallet-faces"),
    row_of("Jerome 1860, ch. XIV: scrape, lines across the pallet", "mantel",
               "scrape=scrape pallets=grooved escape-tips=sound", "pallets-worn", "renew-the-pallet-faces"),
    row_of("Beckett p. 84: dirty pallets, less force and more friction", "wall",
               "pallets=gummy swing-size=small", "pallets-gummy", "clean-the-pallets"),
    row_of("Beckett p. 79: wear lets teeth clear too far, close the pallets", "floor",
               "drop-size=large swing-size=small", "pallets-shallow", "close-the-pallet-depth"),
    row_of("Beckett p. 79: wear lets teeth clear too far, renew the pallets", "floor",
               "pallets=grooved swing-size=small overswing=hardly-any", "pallets-worn", "renew-the-pallet-faces"),
    row_of("Workshop Receipts, 4th series, Repairing Clocks: marks on the pallets, move the wheel", "floor",
               "pallets=grooved years-since-service=over-10", "pallets-worn", "renew-the-pallet-faces"),
    row_of("US Army ordnance text, 43b: hands catch on the glass", "mantel",
               "hands-clear=glass swing-course=stops-dead", "hand-rubs", "bend-the-hands-clear"),
    row_of("US Army ordnance text, 43c: loose dial, the hour wheel must not bind", "floor",
               "dial-central=moved swing-course=stops-dead", "dial-moved", "center-the-dial"),
    row_of("US Army ordnance text, 43e: minute wheel binds", "floor",
               "hand-stiff-at=one-place swing-course=stops-dead", "motion-work-binds", "free-the-motion-work"),
    row_of("US Army ordnance text, 43f: hands stop, the movement goes", "floor",
               "hands-follow=stand-still hand-nut=loose", "hands-slip", "tension-the-hand-friction"),
)  # fmt: skip


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.cause)
def test_two_to_five_answers_put_the_cause_first(pair: Pair) -> None:
    assert 2 <= len(pair.said) <= 5
    assert ranked_in(base_of(pair.clock), pair.said)[0] == pair.cause


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: f"{pair.look_alike}-not-{pair.cause}")
def test_the_answers_of_a_look_alike_put_the_look_alike_first(pair: Pair) -> None:
    assert pair.look_alike != pair.cause
    assert ranked_in(base_of(pair.clock), pair.said_of_look_alike)[0] == pair.look_alike


def test_every_cause_of_these_files_has_a_case(knowledge: Knowledge) -> None:
    assert {pair.cause for pair in PAIRS} == set(of_files(knowledge, "causes", CAUSE_FILES))


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_a_published_cause_is_among_the_first_three(row: Published) -> None:
    assert row.cause in ranked_in(base_of(row.clock), row.said)[:3]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row.source.split(":")[1].strip())
def test_the_published_remedy_is_offered(row: Published, knowledge: Knowledge) -> None:
    assert row.remedy in knowledge.causes[row.cause].remedies


def test_a_kick_of_the_seconds_hand_is_no_fault_of_a_recoil_clock() -> None:
    # Goodrich 1905, ch. X: about nine pendulum clocks in ten have recoil; Beckett pp. 49, 77: it kicks back.
    recoil = base_of("floor", "recoil")
    assert "deadbeat-recoils" not in recoil.causes
    assert "escape-lock" not in recoil.tables


def test_the_hands_of_a_jam_at_midnight_are_never_led_back(knowledge: Knowledge) -> None:
    # Common practice, no source: the finger of the date breaks when it is driven back through the change.
    steps = [step.do for step in knowledge.remedies["free-the-date"].steps]
    assert any("Never back" in words.staff for words in steps)
    assert any("Never move it back" in (words.customer or "") for words in steps)


def test_a_moon_disc_is_left_alone_while_its_driver_is_in(knowledge: Knowledge) -> None:
    # Common practice, no source: about four hours to each side of its step.
    assert "about four hours to each side of its step" in knowledge.findings["moon-disc"].look


@pytest.mark.parametrize("name", ["close-the-pallet-depth", "set-the-escape-endplay", "restore-the-locking-faces"])
def test_the_escapement_is_tried_with_power_on_before_the_power_is_taken_off(name: str, knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks: faults are found late where nothing was tried before stripping.
    steps = [step.do.staff for step in knowledge.remedies[name].steps]
    tried = next(number for number, text in enumerate(steps) if "Power still on" in text)
    down = next(number for number, text in enumerate(steps) if "ower down" in text)
    assert tried <= down


def test_power_is_off_before_pallets_wheel_or_dial_come_off(knowledge: Knowledge) -> None:
    # Workshop Receipts, 4th series, Repairing Clocks: fully release the spring before taking plates apart.
    off = re.compile(r"plates apart|arbor out|pallets out|wheel out|strip off|dial off", re.IGNORECASE)
    down = re.compile(r"power (?:down|off)|let-down key", re.IGNORECASE)
    taken = 0
    for key in of_files(knowledge, "remedies", REMEDY_FILES):
        texts = [step.do.staff for step in knowledge.remedies[key].steps]
        first_off = next((number for number, text in enumerate(texts) if off.search(text)), None)
        if first_off is not None:
            taken += 1
            assert any(down.search(text) for text in texts[: first_off + 1]), key
    assert taken >= 10


def test_luminous_paint_ends_every_work_at_hands_and_dial(knowledge: Knowledge) -> None:
    # EPA, Radioactive Antiques: radium paint is not to be touched or opened.
    remedies = of_files(knowledge, "remedies", ("dial_work", "moon_date_glass"))
    assert len(remedies) >= 8
    for key in remedies:
        remedy = knowledge.remedies[key]
        assert "radium-paint" in remedy.cautions, key
        assert any(step.stop_if and re.search(r"[Ll]uminous", step.stop_if.text.staff) for step in remedy.steps), key


def test_an_owner_is_given_only_the_hour_hand_and_a_date_out_of_its_finger(knowledge: Knowledge) -> None:
    # Common practice, no source: a hand is never bent, a bush never turned and a moon never pushed by phone.
    owners = {"owner", "owner-on-the-phone"}
    given = {key for key in of_files(knowledge, "remedies", REMEDY_FILES) if knowledge.remedies[key].who in owners}
    assert given == {"set-the-hour-hand", "free-the-date"}
    for key in given:
        assert not any(step.under_load or step.cannot_be_undone for step in knowledge.remedies[key].steps)
