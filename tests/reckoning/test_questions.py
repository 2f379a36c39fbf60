"""Each question answered with a figure from outside beside it, in words and as plain numbers."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reckoning.questions import QUESTIONS

KNOWLEDGE = read_knowledge(check=False)
STAFF, CUSTOMER = Wording(KNOWLEDGE), Wording(KNOWLEDGE, "customer")


def asked(question, **texts):
    return QUESTIONS[question].answered({name.replace("_", "-"): text for name, text in texts.items()}, KNOWLEDGE)


def said(answer, wording=STAFF):
    return "\n".join(answer.said(wording)).replace("\N{NO-BREAK SPACE}", " ")


# What each question is asked in these tests: one way that can be answered.
ASKED = {
    "length": {"beats": "3600"},
    "beats": {"length": "250 mm"},
    "nut": {"out": "4 min fast", "pendulum": "39.14 in", "threads": "18"},
    "small-weight": {"gain": "1", "mass": "6 kg"},
    "shim": {"error": "10", "swing": "3", "drop": "1.5", "base": "300 mm", "fork": "120 mm", "early": "left"},
    "by-hand": {"right": "20 mm", "left": "30 mm", "radius": "1050 mm", "base": "300 mm", "fork": "120 mm"},
    "reserve": {"swing": "3", "drop": "1.5", "error": "10", "base": "300 mm"},
    "arc": {"travel": "104.8 mm", "radius": "1000 mm"},
    "play": {"play": "0.5 mm", "fork": "120 mm", "family": "floor"},
    "train": {"wheels": "64/8, 60/8", "escape": "30"},
    "trains": {"beats": "3600"},
    "run": {"wheels": "100/12, 90/10, 76/10", "days": "380"},
    "hands": {"wheels": "30/90, 10/40"},
    "moon": {"wheels": "6/91, 9/91, 37/171"},
    "spring": {"old": "0.10 x 10 x 25 mm", "new": "0.15 x 12 mm", "mass": "6 kg", "pendulum": "994 mm"},
    "level": {"hangs": "350 mm", "fall": "1400 mm", "pendulum": "994 mm"},
    "warmth": {"warmer": "10 C"},
    "place": {"latitude": "51.5", "to-latitude": "0"},
    "swing": {"before": "2", "now": "2.5"},
    "air": {"rise": "1 inHg"},
}

FIGURES = [
    # question, its figure, expected, tolerance; the source
    ("length", "length_mm", 993.62, 0.005),  # derived at 9.80665 (CGPM 1901)
    ("length", "s_per_day_per_mm", 43.5, 0.05),  # derived, 43200 / L
    ("beats", "beats_per_hour", 3600 * (993.62 / 250) ** 0.5, 0.5),  # derived
    ("nut", "turns_up", -3.9, 0.05),  # derived; 18 threads, Beckett p. 50
    ("nut", "s_per_day_per_turn", 61.318, 0.001),  # Beckett p. 50, Goodrich ch. V
    ("small-weight", "grams", 6000 / 10_800, 1e-9),  # Beckett p. 51
    ("shim", "offset_deg", 0.405, 0.001),  # derived
    ("shim", "base_mm", 2.1, 0.05),  # derived
    ("shim", "fork_mm", 0.85, 0.005),  # derived
    ("by-hand", "offset_deg", 0.273, 0.001),  # derived
    ("by-hand", "base_mm", 1.43, 0.01),  # derived
    ("by-hand", "fork_mm", 0.57, 0.005),  # derived
    ("reserve", "reserve_in_beat_deg", 1.5, 1e-9),  # derived, A - gamma
    ("reserve", "reserve_now_deg", 1.5 - 0.405, 0.001),  # derived
    ("arc", "semi_arc_deg", 3.0, 0.005),  # tangent of 3 degrees is 0.0524
    ("play", "lag_deg", 0.24, 0.005),  # derived
    ("train", "beats_per_hour", 3600, 0),  # Beckett pp. 22-23
    ("run", "turns", 16, 1e-9),  # Beckett p. 138
    ("hands", "turns_of_the_minute_hand", 12, 0),  # Beckett p. 136
    ("moon", "month_h", 708.734234, 1e-6),  # Beckett p. 139
    ("spring", "rate_s_per_day", 148 - 73, 1),  # derived, stiff strip; both figures rounded
    ("level", "level_after_days", 3.68, 0.001),  # (994 - 350) mm at 175 mm a day
    ("warmth", "rate_s_per_day", -4.977, 0.001),  # Beckett p. 53: 0.4977 s a day and degree of steel
    ("warmth", "brass_s_per_day", -7.78, 0.005),  # Beckett
    ("place", "rate_s_per_day", -139.7, 0.05),  # derived, WGS 84; Beckett p. 39 prints 2 1/4 min
    ("swing", "rate_s_per_day", -3.70, 0.005),  # Beckett p. 35
    ("swing", "loss_before_by_rule_s_per_day", 6.5797, 1e-4),  # Beckett p. 34
    ("air", "least_s_per_day", 0.3, 1e-5),  # Beckett p. 73
]


@pytest.mark.parametrize(
    ("question", "figure", "expected", "tolerance"), FIGURES, ids=[f"{row[0]}: {row[1]}" for row in FIGURES]
)
def test_a_question_gives_the_figure_from_outside(question, figure, expected, tolerance):
    assert abs(asked(question, **ASKED[question]).figures[figure] - expected) <= tolerance


def test_every_question_is_asked_here():
    assert set(ASKED) == set(QUESTIONS)
    assert {row[0] for row in FIGURES} >= set(QUESTIONS) - {"trains"}


@pytest.mark.parametrize("question", QUESTIONS)
def test_an_answer_is_said_with_nothing_left_open(question):
    texts = asked(question, **ASKED[question]).said(STAFF)
    assert texts
    for text in texts:
        assert "{" not in text
        assert "None" not in text
        assert "nan" not in text
        assert text.rstrip()[-1] in ".:0123456789"


@pytest.mark.parametrize("question", [name for name, entry in QUESTIONS.items() if entry.for_customers])
def test_a_question_for_customers_is_answered_in_their_words(question):
    answer = asked(question, **ASKED[question])
    assert said(answer, CUSTOMER) != said(answer)
    assert "hPa" not in said(answer, CUSTOMER)


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_figure_of_a_length_stands_in_millimeters_and_inches(question):
    text = said(asked(question, **ASKED[question]))
    for found in re.finditer(r"(?<!\+- )(?<![\d.])(\d+\.\d+) mm(?! a turn)", text):
        assert text[found.end() :].startswith(" ("), (found[0], text)


# ---- what an answer says beside its figure ---------------------------------------------------------------


def test_a_measured_beat_says_the_train_it_was_made_for_and_how_the_pendulum_must_change():
    answer = asked("length", beats="3590")
    assert "A clock made for 3600 then loses 240 s a day" in said(answer)
    # 240 s a day of 994 mm is 5.5 mm (derived, 43200 dL / L)
    assert "5.54 mm (0.218 in) shorter" in said(answer)


def test_more_than_five_minutes_a_day_points_away_from_the_nut():
    # common practice, no source
    assert "look for a wrong pendulum" in said(asked("length", beats="3580"))
    assert "look for a wrong pendulum" not in said(asked("length", beats="3590"))
    assert "suspect a wrong pendulum" in said(asked("nut", out="20 min fast", pendulum="994 mm", pitch="1 mm"))


def test_a_coarse_count_does_not_accuse_the_pendulum():
    assert "wrong pendulum" not in said(asked("trains", beats="119/120"))


def test_gravity_of_the_place_makes_the_pendulum_longer_toward_the_pole():
    # derived, WGS 84: 996.21 mm at the pole, 990.95 mm at the equator
    assert asked("length", beats="3600", latitude="90").figures["length_mm"] == pytest.approx(996.21, abs=0.005)
    assert asked("length", beats="3600", latitude="0").figures["length_mm"] == pytest.approx(990.95, abs=0.005)


def test_large_changes_tell_the_rule_beside_the_exact_turns():
    # derived: 27.8 mm exactly, 27.6 by the rule
    text = said(asked("nut", out="20 min fast", pendulum="994 mm", pitch="0.5 mm"))
    assert "55.61 turns" in text
    assert "rule for small changes" not in text
    assert "rule for small changes would say 165.67" in said(
        asked("nut", out="60 min fast", pendulum="994 mm", pitch="0.5 mm")
    )


@pytest.mark.parametrize(("out", "side", "way"), [("4 min fast", "left", "down"), ("4 min slow", "right", "up")])
def test_the_nut_turns_the_way_that_helps(out, side, way):
    # derived: front edge to the right raises the bob
    text = said(asked("nut", out=out, beats="3600", pitch="1 mm"))
    assert f"front edge to the {side}" in text
    assert f"the bob goes {way}" in text


ROD_AND_BOB = {"rod-mass": "0.5", "rod-length": "1150 mm", "bob-mass": "4 kg", "bob-width": "200 mm"}


def test_a_real_rod_carries_its_bob_lower_and_the_nut_does_less():
    # derived: (m l^2 / 3 + M (d^2 + r^2 / 2)) / (m l / 2 + M d) = 993.62 mm
    answer = asked("length", beats="3600", **ROD_AND_BOB)
    place = answer.figures["bob_mm"]
    inertia, moment = 0.5 * 1150**2 / 3 + 4 * (place**2 + 100**2 / 2), 0.5 * 1150 / 2 + 4 * place
    assert inertia / moment == pytest.approx(993.62, abs=0.005)
    assert "11.26 mm (0.443 in) lower" in said(answer)
    real, ideal = (
        asked("nut", out="4 min fast", beats="3600", pitch="1 mm", **more).figures["turns_up"]
        for more in (ROD_AND_BOB, {})
    )
    assert real == pytest.approx(ideal / answer.figures["nut_share"], rel=1e-3)


def test_a_rod_without_its_bob_is_asked_for_the_rest():
    with pytest.raises(UsageError, match="bob-mass: is missing"):
        asked("length", beats="3600", **{"rod-mass": "0.5", "rod-length": "1150 mm"})


def test_without_a_thread_a_turn_of_a_millimeter_is_told():
    text = said(asked("nut", out="4 min fast", pendulum="994 mm"))
    assert "with 1 mm a turn, one turn makes 43.5 s a day" in text  # derived, 43200 / 994


def test_a_side_that_is_known_gives_each_act_its_side():
    text = said(asked("shim", **ASKED["shim"]))
    assert "raise the left side" in text
    assert "on the crutch to the left side" in text
    assert "on the leader as far to the right side" in text


def test_a_screw_of_half_a_millimeter_gives_its_turns():
    # derived: 0.239 degrees a turn at 120 mm
    answer = asked("shim", **ASKED["shim"], pitch="0.5 mm")
    assert answer.figures["screw_turns"] == pytest.approx(0.405 / 0.239, abs=0.005)
    assert "1.70 turns" in said(answer)


def test_without_the_side_the_side_is_asked_for_first():
    text = said(asked("shim", error="10", family="mantel"))
    assert "raise the early side" in text
    assert "Which side comes early must be known first" in text


def test_usual_angles_are_less_sure_than_measured_ones():
    usual = asked("shim", error="10", family="floor").figures["offset_unsure_deg"]
    measured = asked("shim", error="10", swing="3", drop="1.5").figures["offset_unsure_deg"]
    assert 0 < measured < usual


def test_a_shim_says_its_danger():
    assert "tall-case-tips" in asked("shim", **ASKED["shim"]).cautions
    assert all(
        name in KNOWLEDGE.cautions for question in QUESTIONS for name in asked(question, **ASKED[question]).cautions
    )


def test_a_beat_error_no_clock_can_show_is_refused():
    with pytest.raises(UsageError, match="would have stopped"):
        asked("shim", error="60", swing="3", drop="1.5")


def test_hand_travel_that_is_the_same_both_ways_gives_no_side():
    answer = asked("by-hand", right="25 mm", left="25.4 mm", radius="1050 mm", base="300 mm")
    assert answer.figures["early"] is None
    assert "raise" not in said(answer)


def test_by_hand_an_offset_needs_a_swing():
    # derived: drop + offset
    answer = asked("by-hand", **ASKED["by-hand"], drop="1.5")
    assert answer.figures["swing_needed_deg"] == pytest.approx(1.773, abs=0.001)


def test_beyond_the_reserve_the_answer_is_no():
    answer = asked("reserve", swing="2", drop="1", error="55")
    assert answer.no
    assert "cannot run" in said(answer)


def test_a_swing_that_does_not_reach_the_drop_is_refused():
    with pytest.raises(UsageError, match="more than the drop"):
        asked("reserve", swing="1", drop="1.5")


def test_a_missing_wheel_is_found():
    answer = asked("trains", beats="7200", wheels="?/8, 80/8", escape="30")  # Beckett p. 135: 96
    assert [row["wheels"] for row in answer.figures["trains"]] == [[96, 80]]
    assert "One train of usual counts" in said(answer)


def test_a_number_that_is_given_with_wheels_is_meant_as_it_stands():
    # 2 x 30 x 100 x 50 / (10 x 6) = 5000, near the common 5040
    answer = asked("trains", beats="5000", wheels="100/10, ?/6", escape="30")
    assert [row["wheels"] for row in answer.figures["trains"]] == [[100, 50]]
    assert answer.figures["made_for_beats_per_hour"] == 5000


def test_where_nothing_gives_the_beat_exactly_what_a_nut_puts_right_comes_near():
    # 64/8, 61/8 and 30 teeth give 3660; 3655 heard is 118 s a day from that
    answer = asked("trains", beats="3655 +- 1", wheels="64/8, ?/8", escape="30")
    assert (answer.no, answer.figures["exact"]) == (False, False)
    assert "64/8, 61/8, escape wheel 30: 3660 beats an hour" in said(answer)


def test_a_reading_that_cannot_tell_leaves_the_nut():
    answer = asked("nut", out="0:30 fast", beats="3600", pitch="1 mm")
    assert "front edge" in said(answer)
    assert "leave the nut" in said(asked("nut", out="right", beats="3600", pitch="1 mm"))


def test_no_train_is_an_answer_of_no():
    answer = asked("trains", beats="3600", wheels="64/8, 63/8", escape="30")
    assert answer.no
    assert "count again" in said(answer)


def test_motion_work_that_is_wrong_is_an_answer_of_no():
    assert asked("hands", wheels="30/90, 10/41").no


def test_a_moon_of_59_days_for_two_is_early():
    answer = asked("moon", wheels="1/118", first="12", moons="2")  # common practice, no source
    assert answer.figures["month_h"] == 29.5 * 24
    assert "0.38 days early" in said(answer)


def test_a_thinner_spring_is_not_kinder():
    # derived: 237 MPa at 0.10 mm, 335 MPa at 0.05 mm, 12 mm, 6 kg, 2.5 degrees
    answer = asked("spring", old="0.10 x 12 x 25 mm", new="0.05 mm", mass="6", pendulum="994 mm", swing="2.5")
    assert answer.figures["bending_before_mpa"] == pytest.approx(237, abs=0.6)
    assert answer.figures["bending_now_mpa"] == pytest.approx(335, abs=0.6)
    assert "not kinder" in said(answer)


def test_on_a_light_pendulum_the_wrong_spring_is_more_than_the_nut_takes_up():
    # derived: 955 - 596 s a day at 0.3 kg, 250 mm
    answer = asked("spring", old="0.08 x 4 x 12 mm", new="0.10 x 5 mm", mass="0.3", pendulum="250 mm")
    assert answer.figures["beyond_the_nut"] is True
    assert "wrong spring" in said(answer)


def test_two_leaves_count_as_one_of_both_widths():
    pair = asked("spring", old="0.10 x 5 x 25 mm", new="0.12 mm", mass="6", pendulum="994 mm", leaves="2")
    single = asked("spring", old="0.10 x 10 x 25 mm", new="0.12 mm", mass="6", pendulum="994 mm")
    assert pair.figures["rate_s_per_day"] == pytest.approx(single.figures["rate_s_per_day"])


def test_a_spring_given_only_by_thickness_is_refused():
    with pytest.raises(UsageError, match="Write all three"):
        asked("spring", old="0.10 mm", new="0.12 mm", mass="6", pendulum="994 mm")


def test_a_weight_that_starts_below_the_bob_never_hangs_level_with_it():
    answer = asked("level", hangs="1200 mm", fall="1400 mm", pendulum="994 mm")
    assert answer.figures["meets"] is False
    assert "never" in said(answer)


def test_a_thousand_meters_on_a_tower_and_on_a_plateau():
    # -13.6 in free air, -8.7 on a plateau (gradients second-hand)
    answer = asked("place", latitude="45", to_height="1000 m")
    assert answer.figures["rate_s_per_day"] == pytest.approx(-13.6, abs=0.05)
    assert answer.figures["rate_on_a_plateau_s_per_day"] == pytest.approx(-8.7, abs=0.05)


# ---- whatever is typed -------------------------------------------------------------------------------------


TYPED = st.one_of(
    st.text(alphabet="0123456789.,:/?x mMinfCF%+-slowhPa", max_size=24),
    st.sampled_from(
        ["3600", "250 mm", "64/8, 60/8", "0.1 x 10 x 25 mm", "3 min fast", "10 C", "1 inHg", "floor", "0", "1e9", "?/8"]
    ),
)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
@pytest.mark.parametrize("question", QUESTIONS)
def test_whatever_is_typed_is_answered_or_refused_in_a_sentence(question, data):
    texts = dict(ASKED[question])
    for field in QUESTIONS[question].fields:
        if data.draw(st.booleans()):
            texts[field.name] = data.draw(TYPED)
    try:
        answer = QUESTIONS[question].answered(texts, KNOWLEDGE)
    except StoppedClockError as refused:
        assert str(refused)
    else:
        assert answer.said(STAFF)
