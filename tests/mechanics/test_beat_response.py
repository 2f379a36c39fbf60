"""Checks of what is learned from acts and beats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from diagnose.mechanics.beat_response import (
    STEP_SPREAD,
    STOPS_ABOUT_PERCENT,
    STOPS_SPREAD_PERCENT,
    Beat,
    Move,
    Prior,
    believe,
    normal_above_zero,
)

PRIOR = Prior(percent_per_mm=10.0, spread=0.4)


def right(percent):
    return Beat(percent, 0.3, signed=True)


def test_the_logistic_form_is_the_normal_distribution():
    # scipy as the referee; the constants were from memory
    z = np.linspace(-8, 8, 1001)
    assert np.abs(normal_above_zero(z) - norm.cdf(z)).max() < 2e-4


def test_before_any_act_the_table_is_believed():
    belief = believe([right(10)], [], PRIOR)
    assert belief.percent_per_mm == pytest.approx(10.0 * np.exp(0.4**2 / 2), rel=0.03)
    assert belief.weights.sum() == pytest.approx(1)


def test_the_response_is_that_of_least_squares_where_nothing_went_wrong():
    moves = [Move(0.2, looked_at=True), Move(0.3, looked_at=True), Move(0.2, looked_at=True)]
    errors = [12.0, 9.4, 5.5, 2.9]
    belief = believe([right(each) for each in errors], moves, PRIOR)
    slope = -np.polyfit(np.cumsum([0, *(move.mm for move in moves)]), errors, 1)[0]
    assert belief.percent_per_mm == pytest.approx(slope, rel=0.05)
    assert belief.percent_per_mm_uncertainty < 0.12 * slope


def test_an_unknown_side_is_even_at_first_and_learned_from_the_answer():
    beats = [Beat(10, 0.3, signed=False), Beat(6, 0.3, signed=False)]
    assert believe(beats[:1], [], PRIOR).right_early == pytest.approx(0.5, abs=1e-6)
    assert believe(beats, [Move(0.4)], PRIOR).right_early > 0.7
    assert believe([beats[0], Beat(14, 0.3, signed=False)], [Move(0.4)], PRIOR).right_early < 0.3


def test_a_worse_beat_speaks_for_an_act_that_went_wrong():
    assert believe([right(10), right(14)], [Move(0.4)], PRIOR).last_went_wrong > 0.95
    assert believe([right(10), right(6)], [Move(0.4)], PRIOR).last_went_wrong < 0.05


def test_what_was_really_moved_follows_the_likeliest_case():
    assert believe([right(10), right(14)], [Move(0.4)], PRIOR).likely_moved_mm == pytest.approx(-0.4)
    assert believe([right(10), right(6)], [Move(0.4)], PRIOR).likely_moved_mm == pytest.approx(0.4)


def test_two_worse_steps_speak_for_an_adjuster_that_works_the_other_way():
    belief = believe([right(8), right(12), right(16)], [Move(0.4), Move(0.4)], PRIOR)
    turned = belief.weights.sum(axis=1)[belief.turned < 0].sum()
    # of the ways to be worse twice it is the likeliest single one but for two slips: 0.04 at first
    assert turned > 0.35


def test_a_stop_speaks_for_a_beat_far_out():
    belief = believe([right(16), Beat(1, 1, signed=True, stopped=True)], [Move(0.7)], PRIOR)
    assert float(np.sum(belief.weights * belief.errors)) > 18


def test_a_stop_tells_how_far_out_it_is_now():
    # a normal density times a probit, by scipy's quadrature as the referee
    belief = believe([right(16), Beat(1, 1, signed=True, stopped=True)], [Move(0.7, looked_at=True)], PRIOR)
    column = 12
    before = believe([right(16)], [], PRIOR)
    start, variance = 16.0 + 7.0, before.variances[0, column] + (STEP_SPREAD * 7.0) ** 2
    went_wrong = [row for row in range(belief.turned.size) if belief.turned[row] * belief.last_went[row] < 0]
    case = went_wrong[0]
    e = np.linspace(-20, 80, 4001)
    density = norm.pdf(e, start, variance**0.5) * norm.cdf((e - STOPS_ABOUT_PERCENT) / STOPS_SPREAD_PERCENT)
    density /= density.sum()
    mean = density @ e
    assert belief.errors[case, column] == pytest.approx(mean, abs=0.05)
    assert belief.variances[case, column] == pytest.approx(density @ (e - mean) ** 2, rel=0.03)


def test_where_nothing_was_heard_after_an_act_the_next_beat_still_counts():
    belief = believe([right(12), None, right(4)], [Move(0.4), Move(0.4)], PRIOR)
    assert belief.percent_per_mm == pytest.approx(10, rel=0.2)
