"""Strike, chime and behavior that is no fault: a few answers put the right cause first, a look-alike's do not."""

from __future__ import annotations

from functools import lru_cache

import pytest

from diagnose.model.observations import Answer, ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning.findings import findings_from
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.rules import run_rules
from diagnose.reasoning.tables import Base, compile_base
from tests.knowledge.pairs_of_causes import (
    Pair,
    Published,
    Said,
    answers_in,
    of_files,
    ranked_in,
    row_of,
    shipped,
    twin,
)

CAUSE_FILES = ("strike", "strike_works", "hammers", "chime", "no_fault")


# The clock: family, strike, chime.
PAIRS = (
    twin("mantel rack no-chime", "silence-lever-halfway",
          "strike-count=none silence-lever=half-way runs-for=keeps-running",
          "strike-run-down", "strike-count=none silence-lever=sounding strike-wound=run-down"),
    twin("floor rack several-tunes", "night-silence-wrong-half",
          "silent-when=by-day night-lever=switched-on hands-set-lately=forward",
          "night-silence-on", "silent-when=by-night night-lever=switched-on runs-for=keeps-running"),
    twin("mantel rack no-chime", "hands-turned-back",
          "hands-set-lately=backward warning-heard=no-click strike-count=none lifting-piece=bent-or-off",
          "warning-lever-stuck", "warning-heard=click-then-nothing strike-count=none warning-run=lever-hangs"),
    twin("mantel count no-chime", "count-out-of-step",
          "strike-count=wrong-same-offset hands-set-lately=forward hour-hand-at-the-hour=at-a-number",
          "count-lever-not-dropping", "strike-count=on-and-on count-lever=rides-high"),
    twin("wall rack no-chime", "repeat-cord-badly-hung", "wrong-after-the-cord=yes strike-count=right",
          "gathering-pallet-loose", "wrong-after-the-cord=no strike-count=wrong-random rack-action=gathered-badly"),
    twin("floor rack no-chime", "rack-tail-caught",
          "stop-pattern=near-one swing-course=stops-dead strike-wound=wound rack-action=tail-on-the-step",
          "strike-run-down", "stop-pattern=near-one swing-course=stops-dead strike-wound=run-down"),
    twin("wall rack no-chime", "rack-does-not-fall", "strike-count=one-or-few strike-speed=even rack-action=stays-up",
          "strike-train-dirty", "strike-count=one-or-few strike-speed=slow years-since-service=over-10"),
    twin("mantel rack no-chime", "gathering-pallet-loose",
          "strike-count=wrong-random work-lately=repaired rack-action=gathered-badly",
          "rack-does-not-fall", "strike-count=one-or-few rack-action=stays-up"),
    twin("floor rack no-chime", "rack-past-the-gatherer",
          "strike-count=on-and-on strike-wound=run-down rack-action=past-the-gatherer",
          "gathering-pallet-loose", "strike-count=on-and-on rack-action=gathered-badly"),
    twin("floor rack no-chime", "rack-first-tooth-short", "warning-heard=harsh rack-action=first-tooth-grates",
          "warning-lever-stuck", "warning-heard=click-then-nothing warning-run=lever-hangs"),
    twin("mantel count no-chime", "count-lever-not-dropping", "strike-count=on-and-on count-lever=rides-high",
          "count-out-of-step", "strike-count=wrong-same-offset count-lever=drops"),
    twin("wall rack no-chime", "warning-lever-stuck",
          "stop-pattern=just-before-hour warning-heard=click-then-nothing warning-run=lever-hangs",
          "lift-load", "stop-pattern=just-before-hour warning-heard=click-then-strike lift-load=heavy"),
    twin("floor rack no-chime", "strike-train-dirty",
          "strike-speed=slow years-since-service=over-10 oil-state=dry-black swing-size=wide",
          "fly-jammed", "strike-speed=slow years-since-service=under-5 fly-look=stands"),
    twin("floor rack no-chime", "fly-loose", "strike-speed=fast weights-by-label=by-label fly-look=slips",
          "weights-swapped", "strike-speed=fast weights-by-label=swapped moved-lately=yes"),
    twin("floor rack one-tune", "fly-jammed", "chime-speed=stops-in-the-tune work-lately=cleaned fly-look=stands",
          "chime-train-dirty", "chime-speed=stops-in-the-tune years-since-service=over-10 fly-look=turns"),
    twin("mantel rack no-chime", "hammer-rests", "strike-tone=dull rods-moved=yes hammers-at-rest=touches",
          "gong-loose", "strike-tone=buzzing hammers-at-rest=clear gong-state=loose"),
    twin("mantel count no-chime", "hammer-tail-up", "strike-tone=first-weak hammers-at-rest=half-raised",
          "hammer-rests", "strike-tone=dull hammers-at-rest=touches"),
    twin("mantel rack one-tune", "hammers-out-of-line", "strike-tone=harsh rods-moved=yes hammers-in-line=out-of-line",
          "gong-loose", "strike-tone=note-missing hammers-in-line=in-line gong-state=cracked"),
    twin("floor rack one-tune", "gong-loose", "strike-tone=buzzing moved-lately=yes gong-state=loose",
          "hammers-out-of-line", "strike-tone=harsh moved-lately=yes hammers-in-line=out-of-line"),
    twin("floor rack one-tune", "chime-run-down", "quarter-tune=none chime-wound=run-down",
          "chime-not-let-off", "quarter-tune=none chime-wound=wound quarter-click=click-only"),
    twin("floor rack several-tunes", "tune-lever-between", "quarter-tune=jumbled tune-lever=between",
          "chime-drum-off", "quarter-tune=jumbled tune-lever=on-a-name work-lately=repaired chime-drum=out-of-step"),
    twin("floor rack one-tune", "chime-train-dirty",
          "chime-speed=slow years-since-service=over-10 weights-by-label=by-label strike-speed=even",
          "weights-swapped", "chime-speed=slow moved-lately=yes weights-by-label=swapped"),
    twin("mantel rack one-tune", "chime-lift-stiff",
          "stop-pattern=quarters swing-course=stops-dead chime-levers=stiff chime-wound=wound",
          "lift-load", "stop-pattern=just-before-hour swing-course=stops-dead lift-load=heavy"),
    twin("mantel rack one-tune", "chime-drum-off", "quarter-tune=jumbled work-lately=repaired chime-drum=out-of-step",
          "quarters-out-of-step", "quarter-tune=wrong-all-day hands-set-lately=backward"),
    twin("floor rack one-tune", "quarters-out-of-step", "quarter-tune=wrong-all-day hands-set-lately=backward",
          "chime-corrects-itself", "quarter-tune=wrong-cures-itself hands-set-lately=forward"),
    twin("floor rack one-tune", "chime-overruns", "quarter-tune=never-ends chime-levers=do-not-lock",
          "chime-drum-off", "quarter-tune=jumbled chime-levers=work chime-drum=out-of-step"),
    twin("floor rack one-tune", "strike-held-by-quarter",
          "strike-after-chime=does-not-follow strike-wound=wound chime-levers=hold-the-strike",
          "strike-run-down", "strike-after-chime=does-not-follow strike-wound=run-down"),
    twin("floor rack one-tune", "chime-not-let-off",
          "quarter-click=click-only chime-wound=wound chime-levers=do-not-let-go",
          "fly-jammed", "quarter-click=click-only chime-levers=work fly-look=stands"),
    twin("mantel rack one-tune", "chime-corrects-itself", "quarter-tune=wrong-cures-itself hands-set-lately=forward",
          "quarters-out-of-step", "quarter-tune=wrong-all-day hands-set-lately=backward"),
    twin("mantel rack one-tune", "night-silence-on", "silent-when=by-night runs-for=keeps-running",
          "switched-to-silent", "silent-when=never strike-count=none silence-lever=at-silent"),
    twin("mantel rack no-chime", "switched-to-silent", "strike-count=none silence-lever=at-silent",
          "silence-lever-halfway", "strike-count=none silence-lever=half-way"),
    twin("wall rack no-chime", "weekly-spread-ordinary",
          "week-spread=few-minutes runs-for=keeps-running rate=keeps-time",
          "season-shift", "rate-over-time=with-the-season runs-for=keeps-running"),
    twin("floor rack no-chime", "stops-while-wound", "while-winding=pauses runs-for=keeps-running",
          "cable-crossed", "while-winding=goes-on stopped-after-winding=yes cable-lay=crossed"),
    twin("mantel rack no-chime", "hands-yield", "hands-when-held=yield hands-follow=follow",
          "hands-slip", "hands-follow=lag hand-nut=loose"),
    twin("mantel rack no-chime", "loud-on-shelf", "louder-here=louder moved-lately=yes tick-evenness=even",
          "case-out-of-beat", "louder-here=louder moved-lately=yes tick-evenness=limping runs-for=minutes"),
    twin("mantel count no-chime", "count-goes-on", "count-when-set=next-number strike-count=right",
          "count-out-of-step", "strike-count=wrong-same-offset hands-set-lately=forward"),
)  # fmt: skip


PUBLISHED = (
    row_of("Beckett pp. 147-149: loses a few seconds when wound, no maintaining power", "floor rack no-chime",
               "while-winding=pauses", "stops-while-wound", "explain-the-pause-at-winding"),
    row_of("Beckett pp. 163-165: bell jars, the hammer rests on it, set the check spring", "floor rack no-chime",
               "strike-tone=buzzing hammers-at-rest=touches", "hammer-rests", "set-the-hammer-clear"),
    row_of("Beckett p. 166: wrong count when the repeat cord is used, cord to the lifting piece",
               "floor rack no-chime", "wrong-after-the-cord=yes",
               "repeat-cord-badly-hung", "hang-the-cord-on-the-lifting-piece"),
    row_of("Beckett p. 167: stops near twelve with the strike silenced, rack left down, slope the step",
               "floor rack no-chime", "stop-pattern=near-one silence-lever=at-silent",
               "rack-tail-caught", "ease-the-snail-step"),
    row_of("Beckett p. 172: count-wheel strike wrong after it stopped or ran down, trip it round",
               "mantel count no-chime", "strike-count=wrong-same-offset", "count-out-of-step", "trip-the-strike-round"),
    row_of("Beckett pp. 176-177: quarters out of step, count wheel, strike round", "floor rack one-tune",
               "quarter-tune=wrong-all-day", "quarters-out-of-step", "strike-the-quarters-round"),
    row_of("Hasluck ch. V: strike irregular or runs on, gatherer lifts barely one tooth", "mantel rack no-chime",
               "strike-count=wrong-random", "gathering-pallet-loose", "reset-the-gatherer"),
    row_of("Hasluck ch. V: harsh noise at the warning, first rack tooth no longer than the rest",
               "mantel rack no-chime", "warning-heard=harsh", "rack-first-tooth-short", "lengthen-the-first-tooth"),
    row_of("Hasluck ch. V: strikes on to the end when wound, it ran down first, rack left the gatherer",
               "mantel rack no-chime", "strike-count=on-and-on strike-wound=run-down",
               "rack-past-the-gatherer", "reset-the-rack-and-fit-a-stop-pin"),
    row_of("Hasluck ch. V: rack arm beyond the twelve step, no guard pin", "mantel rack no-chime",
               "rack-action=past-the-gatherer", "rack-past-the-gatherer", "reset-the-rack-and-fit-a-stop-pin"),
    row_of("Workshop Receipts, 4th series: rack depth unsafe, hole of the gatherer's pivot worn",
               "mantel rack no-chime", "rack-action=gathered-badly arbors=one-arbor",
               "gathering-pallet-loose", "bush-the-worn-holes"),
)  # fmt: skip

# The textbook case of each behavior that is no fault (list of such behavior: common practice, no source).
NO_FAULT = {
    "chime-corrects-itself": ("mantel rack one-tune", "quarter-tune=wrong-cures-itself hands-set-lately=forward"),
    "night-silence-on": ("mantel rack one-tune", "silent-when=by-night"),
    "switched-to-silent": ("mantel rack one-tune", "strike-count=none silence-lever=at-silent"),
    "weekly-spread-ordinary": ("wall rack no-chime", "week-spread=few-minutes runs-for=keeps-running"),
    "stops-while-wound": ("floor rack no-chime", "while-winding=pauses"),
    "hands-yield": ("mantel rack no-chime", "hands-when-held=yield"),
    "loud-on-shelf": ("mantel rack no-chime", "louder-here=louder"),
    "count-goes-on": ("mantel count no-chime", "count-when-set=next-number strike-count=right"),
}


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


@lru_cache(maxsize=16)
def _base(clock: str) -> Base:
    family, strike, chime = clock.split()
    drive = "weight-cable" if family == "floor" else "spring"
    return compile_base(shipped(), ClockFacts(family=family, drive=drive, strike=strike, chime=chime))


def _ranked(clock: str, answers: Said) -> list[str]:
    """Return the causes of such a clock, most likely first."""
    return ranked_in(_base(clock), answers)


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


def test_a_gatherer_lifts_a_little_more_than_one_tooth(knowledge: Knowledge) -> None:
    # Hasluck 1889, ch. V: let it lift slightly more than one, then settle back.
    steps = [step.do.staff for step in knowledge.remedies["reset-the-gatherer"].steps]
    assert any("a little more than one tooth, then lets it settle back" in text for text in steps)


@pytest.mark.parametrize("cause", NO_FAULT)
def test_behavior_that_is_no_fault_comes_first_in_its_textbook_case(cause: str) -> None:
    clock, said = NO_FAULT[cause]
    assert _ranked(clock, answers_in(said))[0] == cause


@pytest.mark.parametrize("cause", NO_FAULT)
def test_where_nothing_is_wrong_no_work_is_offered_beyond_explaining(cause: str, knowledge: Knowledge) -> None:
    entry = knowledge.causes[cause]
    assert entry.no_fault and not entry.parts
    for name in entry.remedies:
        remedy = knowledge.remedies[name]
        assert name.startswith("explain-") and remedy.who == "owner-on-the-phone"
        assert not remedy.tools and not remedy.parts
        assert remedy.steps[0].do.staff.startswith("Tell:") and remedy.steps[-1].do.staff.startswith("Watch")


def test_each_explanation_is_proved_by_a_normal_value(knowledge: Knowledge) -> None:
    for cause in NO_FAULT:
        for name in knowledge.causes[cause].remedies:
            for proof in knowledge.remedies[name].proof:
                assert knowledge.findings[proof.finding].normal == proof.value, name


def test_every_behavior_of_this_file_that_is_no_fault_has_its_textbook_case(knowledge: Knowledge) -> None:
    assert set(of_files(knowledge, "causes", ("no_fault",))) == set(NO_FAULT)


@pytest.mark.parametrize("cause", ["chime-run-down", "tune-lever-between", "chime-overruns", "quarters-out-of-step"])
def test_a_clock_without_chime_has_no_fault_of_the_chime(cause: str) -> None:
    assert cause not in _base("mantel rack no-chime").causes
    assert cause in _base("mantel rack several-tunes").causes


def test_where_nobody_knows_strike_and_chime_nothing_is_left_out(knowledge: Knowledge) -> None:
    base = compile_base(knowledge, ClockFacts(family="mantel", drive="spring"))
    assert {"count-out-of-step", "rack-does-not-fall", "tune-lever-between", "count-goes-on"} <= set(base.causes)


def test_whether_the_strike_finds_back_tells_count_wheel_from_rack() -> None:
    # Beckett p. 172: a count wheel counts on by itself; the snail of a rack turns with the hour pipe.
    base = compile_base(shipped(), ClockFacts(family="mantel", drive="spring", chime="no-chime"))
    firsts = {}
    for kind in ("rack", "count"):
        said = {"strike-count": "wrong-same-offset", "rack-or-count": kind}
        findings = findings_from([Answer(name, value) for name, value in said.items()], (), shipped())
        firsts[kind] = rank(base, [Piece(findings, run_rules(findings, shipped(), base).weights)]).causes[0].cause
    assert firsts["count"] == "count-out-of-step"
    assert firsts["rack"] != "count-out-of-step"
