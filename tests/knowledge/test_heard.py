"""What is noticed in a recording becomes findings, which put the right cause first; a look-alike's do not."""

from __future__ import annotations

import pytest

from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.measurement.noticing.noticed import KINDS, Noticed
from diagnose.model.observations import Answer
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning.findings import heard_findings
from diagnose.reports.noticed_lines import noticed_lines
from tests.knowledge.pairs_of_causes import Pair, base_of, ranked_in, twin

KNOWLEDGE = read_knowledge()
# What is only told, and speaks for no cause.
TOLD_ONLY = {"loud-sound", "turn-too-short", "steadiness-scatter", "steadiness-wander", "steadiness-drift"}
PAIRS = (
    twin("floor", "escape-tooth-spot", "tick-cycle=once-a-turn turn-shape=one-tick raced=no",
         "teeth-bent", "tick-cycle=once-a-turn turn-shape=several-ticks raced=yes"),
    twin("floor", "teeth-bent", "tick-cycle=once-a-turn turn-shape=several-ticks",
         "escape-wheel-eccentric", "tick-cycle=once-a-turn turn-shape=swells"),
    twin("floor", "escape-wheel-eccentric", "tick-cycle=once-a-turn turn-shape=swells",
         "escape-tooth-spot", "tick-cycle=once-a-turn turn-shape=one-tick"),
    twin("wall", "anchor-loose", "second-click=now-and-then evenness-holds=changes-at-once anchor-firm=turns-on-arbor",
         "pallet-pin-loose", "second-click=now-and-then tick-skips=missing pallet-pins=moves"),
    twin("wall", "clocks-share-a-shelf", "other-ticking=another second-clock=pulls swing-course=shrinking",
         "floor-traffic", "other-ticking=none stops-when-people-walk=yes"),
)  # fmt: skip


def heard(*kinds: str, chance: float = 0.9) -> list[dict[str, object]]:
    return [{"kind": kind, "chance": chance, "figures": {}} for kind in kinds]


def consultation_with(noticed: list[dict[str, object]], *answers: Answer) -> Consultation:
    consultation = Consultation.begin(KNOWLEDGE, "stops")
    for answer in answers:
        consultation.answer(answer.finding, answer.value)
    consultation.take_heard(ev.Heard("tick.wav", {"beats_per_hour": 7200.0, "noticed": noticed}))
    return consultation


def said(consultation: Consultation) -> dict[str, str | None]:
    return {finding.finding: finding.said for finding in consultation.assessment.findings}


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.cause)
def test_what_is_heard_puts_the_right_cause_first(pair: Pair) -> None:
    base = base_of(pair.clock)
    assert ranked_in(base, pair.said)[0] == pair.cause
    assert ranked_in(base, pair.said_of_look_alike)[0] == pair.look_alike


def test_each_kind_that_is_noticed_speaks_for_a_value_or_is_only_told() -> None:
    named = {kind for entry in KNOWLEDGE.findings.values() for value in entry.values.values() for kind in value.heard}
    assert named <= set(KINDS)
    assert set(KINDS) - named == TOLD_ONLY


def test_a_thing_noticed_is_as_sure_as_it_was_heard() -> None:
    finding = heard_findings(heard("bad-tooth", chance=0.8), KNOWLEDGE)[0]
    assert (finding.finding, finding.said, finding.source) == ("tick-cycle", "once-a-turn", "recording")
    assert finding.likelihood == pytest.approx((0.1, 0.8, 0.1))


def test_nothing_noticed_is_surer_than_any_reading() -> None:
    # Wrong with 0.02 at least, as whatever is read off (settings, wrong_read_off).
    assert heard_findings(heard("balance-wheel", chance=1.0), KNOWLEDGE)[0].sure == pytest.approx(0.98)


def test_of_two_things_about_one_sign_the_surer_counts() -> None:
    found = heard_findings([*heard("turn-steady", chance=0.6), *heard("slow-cycle", chance=0.8)], KNOWLEDGE)
    assert [finding.said for finding in found] == ["other-cycle"]


def test_a_strike_heard_speaks_against_silence_and_says_no_count() -> None:
    finding = next(one for one in heard_findings(heard("strike-heard"), KNOWLEDGE) if one.finding == "strike-count")
    values = list(KNOWLEDGE.findings["strike-count"].values)
    assert finding.said is None
    assert finding.likelihood[values.index("none")] < 0.2 < finding.likelihood[values.index("right")]


def test_a_recording_taken_in_brings_its_findings() -> None:
    found = said(consultation_with(heard("bad-tooth", "missed-ticks")))
    assert found["tick-cycle"] == "once-a-turn"
    assert found["turn-shape"] == "one-tick"
    assert found["tick-skips"] == "missing"


def test_a_bad_tooth_heard_puts_the_escape_tooth_first() -> None:
    ranking = consultation_with(heard("bad-tooth")).assessment.ranking
    assert ranking.causes[0].cause == "escape-tooth-spot"


def test_what_somebody_said_is_not_overruled_by_a_recording() -> None:
    consultation = consultation_with(heard("one-a-second"), Answer("works-by", "mechanical"))
    assert said(consultation)["works-by"] == "mechanical"
    assert not consultation.assessment.conclusions.out_of_scope


def test_a_battery_clock_heard_is_referred() -> None:
    assert consultation_with(heard("one-a-second")).assessment.conclusions.out_of_scope


def test_what_was_heard_can_be_taken_back() -> None:
    consultation = consultation_with(heard("one-a-second"))
    consultation.take_back("works-by")
    assert "works-by" not in said(consultation)


def test_a_recording_within_a_remedy_is_no_evidence_yet() -> None:
    consultation = Consultation.begin(KNOWLEDGE, "stops")
    consultation.take_heard(ev.Heard("tick.wav", {"noticed": heard("bad-tooth")}, within="set-the-beat"))
    assert "tick-cycle" not in said(consultation)


def figures() -> dict[str, float]:
    """Return every figure that a sentence may name."""
    named = (
        "missed beats doubled lag_ms fall_db tenth_minutes at_s first_percent last_percent per_hour blows from_s to_s "
        "interval_s tooth late_ms tick also_tick teeth turns amplitude_ms doubt_ms breathing_ms minutes seconds rate"
    )
    return {**dict.fromkeys(named.split(), 3.0), "heard_s": 90.0}


@pytest.mark.parametrize("reader", ["staff", "customer"])
@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_has_a_sentence_with_its_figures(kind: str, reader: str) -> None:
    wording = Wording(KNOWLEDGE, reader)
    lines = noticed_lines({"noticed": [{"kind": kind, "chance": 0.9, "figures": figures()}]}, wording)
    assert all("{" not in line for line in lines)
    assert lines or reader == "customer"


def test_an_early_tooth_and_a_late_one_are_told_apart() -> None:
    wording = Wording(KNOWLEDGE)
    told = [noticed_lines({"noticed": [tooth_noticed(late)]}, wording)[0] for late in (0.5, -0.5)]
    assert "0.50 ms late" in told[0]
    assert "0.50 ms early" in told[1]


def test_a_tooth_out_on_both_pallets_is_told_with_both_its_ticks() -> None:
    one = tooth_noticed(0.5)
    one["figures"] = {**figures(), "late_ms": 0.5, "tooth": 17.0, "tick": 33.0, "also_tick": 48.0}
    (line,) = noticed_lines({"noticed": [one]}, Wording(KNOWLEDGE))
    assert "tooth 17 comes 0.50 ms late on both pallets, at ticks 33 and 48" in line


def test_a_tooth_out_at_one_tick_is_told_with_that_tick_and_its_pallet() -> None:
    one = tooth_noticed(0.5)
    one["figures"] = {**figures(), "late_ms": 0.5, "tooth": 17.0, "tick": 34.0, "also_tick": 0.0}
    (line,) = noticed_lines({"noticed": [one]}, Wording(KNOWLEDGE))
    assert "tick 34" in line and "tooth 17 on its pallet" in line


def tooth_noticed(late_ms: float) -> dict[str, object]:
    one = Noticed("bad-tooth", 0.9, {**figures(), "late_ms": late_ms})
    return {"kind": one.kind, "chance": one.chance, "figures": one.figures}


def test_a_short_recording_is_not_blamed_for_telling_nothing_of_the_wheel() -> None:
    wording = Wording(KNOWLEDGE)
    short = {"kind": "turn-too-short", "chance": 0.95, "figures": {**figures(), "heard_s": 30.0}}
    assert not noticed_lines({"noticed": [short]}, wording)
