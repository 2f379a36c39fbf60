"""Answers and measurements become likelihoods over the true value."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from diagnose.errors import InputError
from diagnose.model.observations import Answer, Measurement
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.findings import chance_wrong, findings_from, measured_likelihood, said_likelihood
from diagnose.reasoning.rule_weights import odds_factor
from diagnose.reasoning.tables import base_from, choice
from diagnose.reasoning.values import Finding

BEAT_BANDS = ((0.0, 3.0), (3.0, 5.0), (5.0, 50.0))


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge(Path(__file__).parent / "small_knowledge")


# Worked example W4: link .85, leak .02, two values, against a cause without the link. The decibans were
# computed by hand from lambda(said) P(said | cause) / lambda(said) P(said | no cause).
@pytest.mark.parametrize(
    ("said", "wrong", "expected_db"),
    [
        (1, 0.0, 16.299),
        (1, 0.06, 10.190),
        (1, 0.26, 3.950),
        (0, 0.0, -8.239),
        (0, 0.06, -6.876),
        (0, 0.26, -3.443),
    ],
)
def test_an_answer_weighs_what_the_worked_example_says(said: int, wrong: float, expected_db: float) -> None:
    base = base_from({"a": 0.1, "b": 0.1}, {"f": choice(["no", "yes"], {"a": {"yes": 0.85}}, leak=0.02)})
    finding = Finding("f", said_likelihood(said, 2, wrong))
    gain = odds_factor(base, finding, 0) / odds_factor(base, finding, 1)
    assert 10 * math.log10(gain) == pytest.approx(expected_db, abs=5e-4)


# Worked example W7: 4.2 +- .6 %, bands 0-3, 3-5, 5-50.
def test_a_reading_counts_by_mean_density_and_gross_error() -> None:
    likelihood = measured_likelihood(4.2, 0.6, BEAT_BANDS, gross_error=0.03)
    assert likelihood == pytest.approx((0.026251, 0.959405, 0.014344), abs=5e-7)


def test_without_gross_error_the_density_gives_the_posterior_of_the_worked_example() -> None:
    density = np.array(measured_likelihood(4.2, 0.6, BEAT_BANDS, gross_error=0.0))
    posterior = density * (0.7, 0.2, 0.1)
    assert posterior / posterior.sum() == pytest.approx((0.056403, 0.941443, 0.002154), abs=5e-7)


def test_by_area_instead_of_density_wide_bands_would_win() -> None:
    # The wrong way of the worked example W7, as a guard that the two ways differ.
    widths = np.array([high - low for low, high in BEAT_BANDS])
    area = np.array(measured_likelihood(4.2, 0.6, BEAT_BANDS, gross_error=0.0)) * widths * (0.7, 0.2, 0.1)
    assert area / area.sum() == pytest.approx((0.0787, 0.8762, 0.0451), abs=5e-5)


@given(st.floats(-60, 60), st.floats(0.05, 20))
def test_band_masses_agree_with_the_normal_distribution_of_scipy(reading: float, uncertainty: float) -> None:
    normal = stats.norm(reading, uncertainty)
    mass = [
        normal.cdf(high) - normal.cdf(low) if low < reading else normal.sf(low) - normal.sf(high)
        for low, high in BEAT_BANDS
    ]
    density = np.array([part / (high - low) for part, (low, high) in zip(mass, BEAT_BANDS, strict=True)])
    if density.sum() > 1e-250:
        expected = density / density.sum()
        assert measured_likelihood(reading, uncertainty, BEAT_BANDS, gross_error=0.0) == pytest.approx(
            expected, rel=1e-6, abs=1e-12
        )


def test_the_sign_of_a_folded_quantity_does_not_count() -> None:
    early_right = measured_likelihood(4.2, 0.6, BEAT_BANDS, folded=True)
    assert early_right == pytest.approx(measured_likelihood(-4.2, 0.6, BEAT_BANDS, folded=True))


def test_a_reading_near_zero_of_a_folded_quantity_counts_both_sides() -> None:
    folded = measured_likelihood(0.0, 2.0, BEAT_BANDS, folded=True, gross_error=0.0)
    plain = measured_likelihood(0.0, 2.0, BEAT_BANDS, folded=False, gross_error=0.0)
    assert folded == pytest.approx(plain)  # symmetric: both sides add the same share to every band


def test_a_two_sided_quantity_keeps_its_sign() -> None:
    bands = ((-90.0, 90.0), (90.0, 600.0), (-600.0, -90.0))
    gains = measured_likelihood(200.0, 10.0, bands)
    loses = measured_likelihood(-200.0, 10.0, bands)
    assert gains[1] == pytest.approx(loses[2])
    assert gains[1] > 0.9


def test_a_reading_outside_every_band_says_nothing() -> None:
    assert measured_likelihood(4000.0, 0.5, BEAT_BANDS) == pytest.approx((1 / 3,) * 3)


@given(st.floats(-100, 100), st.floats(1e-3, 50), st.booleans())
def test_a_measured_likelihood_adds_up_to_one_and_is_never_zero(value: float, uncertainty: float, folded: bool) -> None:
    likelihood = measured_likelihood(value, uncertainty, BEAT_BANDS, folded=folded)
    assert math.fsum(likelihood) == pytest.approx(1)
    assert min(likelihood) >= 0.03 / 3 - 1e-12


@given(st.integers(2, 6), st.floats(0.01, 0.5), st.data())
def test_a_said_likelihood_adds_up_to_one(values: int, wrong: float, data: st.DataObject) -> None:
    said = data.draw(st.integers(0, values - 1))
    assert math.fsum(said_likelihood(said, values, wrong)) == pytest.approx(1)


# Error rates are estimates, not published values.
def test_trained_hands_err_half_as_often_as_an_owner() -> None:
    assert chance_wrong("told", "sure") == 0.06
    assert chance_wrong("seen", "sure") == 0.03
    assert chance_wrong("told", "think-so") == 0.26
    assert chance_wrong("seen", "think-so") == 0.15
    assert chance_wrong("measured", "sure") == 0.02


@pytest.mark.parametrize("source", ["told", "seen", "photo", "recording", "measured"])
@pytest.mark.parametrize("certainty", ["sure", "think-so"])
def test_no_answer_is_ever_beyond_doubt(source: str, certainty: str) -> None:
    assert 0 < chance_wrong(source, certainty) < 0.5  # type: ignore[arg-type]


def test_a_later_answer_replaces_an_earlier_one(knowledge: Knowledge) -> None:
    answers = [Answer("runs-for", "days"), Answer("runs-for", "minutes")]
    (finding,) = findings_from(answers, [], knowledge)
    assert finding.said == "minutes"


@pytest.mark.parametrize("state", ["cannot-tell", "later"])
def test_what_cannot_be_told_gives_no_finding(knowledge: Knowledge, state: str) -> None:
    answers = [Answer("runs-for", "days"), Answer("runs-for", None, state=state)]  # type: ignore[arg-type]
    assert findings_from(answers, [], knowledge) == ()


@pytest.mark.parametrize("answer_first", [True, False])
def test_the_recording_counts_and_the_ear_does_not(knowledge: Knowledge, answer_first: bool) -> None:
    ear = [Answer("tick-evenness", "even")] if answer_first else []
    (finding,) = findings_from(ear, [Measurement("beat-error", -12.8, 0.5, "%")], knowledge)
    assert (finding.said, finding.source) == ("limping", "recording")
    assert finding.likelihood == pytest.approx((0.01, 0.01, 0.98))


def test_the_ear_counts_where_nothing_is_measured(knowledge: Knowledge) -> None:
    (finding,) = findings_from([Answer("tick-evenness", "limping")], [], knowledge)
    assert (finding.said, finding.source) == ("limping", "told")


def test_a_reading_between_two_bands_says_neither(knowledge: Knowledge) -> None:
    (finding,) = findings_from([], [Measurement("beat-error", 3.0, 0.6, "%")], knowledge)
    assert finding.said is None
    assert finding.likelihood[0] > 0.3
    assert finding.likelihood[1] > 0.3


def test_the_sentence_names_the_reading_with_its_uncertainty(knowledge: Knowledge) -> None:
    (finding,) = findings_from([], [Measurement("beat-error", 12.84, 0.5, "percent")], knowledge)
    assert finding.because == "heard on a recording: 12.8 ± 0.5 %, limping"


def test_a_dead_clock_has_no_evenness_of_tick(knowledge: Knowledge) -> None:
    answers = [Answer("tick-evenness", "limping"), Answer("tick", "silent")]
    assert [finding.finding for finding in findings_from(answers, [], knowledge)] == ["tick"]


def test_a_gate_that_nobody_answered_is_open(knowledge: Knowledge) -> None:
    (finding,) = findings_from([Answer("tick-evenness", "limping")], [], knowledge)
    assert finding.finding == "tick-evenness"


def test_findings_come_in_the_order_of_their_ids(knowledge: Knowledge) -> None:
    answers = [Answer("wound", "wound"), Answer("case-steady", "firm"), Answer("runs-for", "days")]
    forward = findings_from(answers, [], knowledge)
    assert forward == findings_from(answers[::-1], [], knowledge)
    assert [finding.finding for finding in forward] == ["case-steady", "runs-for", "wound"]


def test_an_unknown_finding_is_refused_with_a_near_name(knowledge: Knowledge) -> None:
    with pytest.raises(InputError, match=r"unknown finding 'run-for'.*runs-for"):
        findings_from([Answer("run-for", "days")], [], knowledge)


def test_an_unknown_value_is_refused_with_all_that_there_are(knowledge: Knowledge) -> None:
    with pytest.raises(InputError, match=r"unknown value 'hours'.*It has keeps-running, days, minutes, seconds"):
        findings_from([Answer("runs-for", "hours")], [], knowledge)


def test_a_quantity_without_bands_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(InputError, match=r"no finding has bands of 'swing'.*beat-error"):
        findings_from([], [Measurement("swing", 3.0, 0.1, "degrees")], knowledge)


def test_another_unit_is_refused(knowledge: Knowledge) -> None:
    with pytest.raises(InputError, match=r"the unit is 'ms'.*measured in %"):
        findings_from([], [Measurement("beat-error", 40.0, 1.0, "ms")], knowledge)


@pytest.mark.parametrize("uncertainty", [0.0, -1.0, math.nan, math.inf])
def test_a_reading_without_an_uncertainty_is_refused(knowledge: Knowledge, uncertainty: float) -> None:
    with pytest.raises(InputError, match=r"must be above 0"):
        findings_from([], [Measurement("beat-error", 4.0, uncertainty, "%")], knowledge)
