"""The fit of period and unevenness: against the bounds, and whether its uncertainties are honest."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.measurement.figures.fitting import Fit, fit_beats

PERIOD_S, HALF_S = 0.5, 0.01
TWO_SIGMA = 1.959964


def drops(rng: np.random.Generator, count: int, jitter_s: float, walk_s: float) -> tuple[np.ndarray, np.ndarray]:
    numbers = np.arange(count)
    side = np.where(numbers % 2 == 0, -1.0, 1.0)
    times = numbers * PERIOD_S + side * HALF_S + rng.normal(0, jitter_s, count)
    return times + np.cumsum(rng.normal(0, walk_s, count)), numbers


def fitted(times: np.ndarray, numbers: np.ndarray, segments: np.ndarray | None = None) -> Fit:
    parts = np.zeros(len(times), np.intp) if segments is None else segments
    fit = fit_beats(times, numbers, np.full(len(times), 1e-6), parts)
    assert fit is not None
    return fit


def trials(count: int, jitter_s: float, walk_s: float, runs: int) -> list[Fit]:
    rng = np.random.default_rng([count, round(1e7 * jitter_s), round(1e8 * walk_s)])
    return [fitted(*drops(rng, count, jitter_s, walk_s)) for _ in range(runs)]


def test_exact_times_give_exact_figures():
    times, numbers = drops(np.random.default_rng(0), 40, 0.0, 0.0)
    fit = fitted(times, numbers)
    assert (fit.period_s, fit.half_s) == pytest.approx((PERIOD_S, HALF_S), abs=1e-12)


# Bound of the difference D = a - b of the two intervals for independent jitter s: var(D) >= 16 s^2 / [N (1 - 3 / (N^2 -
# 1))], so sd(D) = 4 s / sqrt(N). Derived (Cramer-Rao for a line with a parity term); the method is that of Kay,
# Fundamentals of Statistical Signal Processing, 1993, from memory, not checked against the book.
@pytest.mark.parametrize("count", [20, 60, 120])
def test_the_beat_error_reaches_the_bound(count):
    jitter_s = 3e-4
    differences = np.array([4.0 * fit.half_s for fit in trials(count, jitter_s, 0.0, 200)])
    bound = np.sqrt(16.0 * jitter_s**2 / (count * (1.0 - 3.0 / (count**2 - 1.0))))
    # 200 trials know a standard deviation to 5 %.
    assert differences.std(ddof=1) / bound == pytest.approx(1.0, abs=0.15)
    assert bound == pytest.approx(4.0 * jitter_s / np.sqrt(count), rel=0.01)


def test_the_uncertainty_of_the_beat_error_is_that_of_the_bound():
    stated = np.median([4.0 * fit.half_sigma_s for fit in trials(60, 3e-4, 0.0, 60)])
    assert stated == pytest.approx(4.0 * 3e-4 / np.sqrt(60), rel=0.15)


# A least-squares line alone covers the true rate in 4 to 53 % of such trials (jitter 0.15 ms, wandering 0.02 ms for the
# root of a beat, 60 to 1200 beats): measured by Monte Carlo when this was planned.
@pytest.mark.parametrize(
    ("count", "jitter_ms", "walk_ms"),
    [(60, 0.15, 0.02), (120, 0.15, 0.02), (120, 0.5, 0.0), (120, 0.15, 0.1), (300, 0.15, 0.02)],
)
def test_intervals_of_95_percent_hold_the_truth(count, jitter_ms, walk_ms):
    fits = trials(count, jitter_ms * 1e-3, walk_ms * 1e-3, 100)
    period = np.mean([abs(fit.period_s - PERIOD_S) < TWO_SIGMA * fit.period_sigma_s for fit in fits])
    half = np.mean([abs(fit.half_s - HALF_S) < TWO_SIGMA * fit.half_sigma_s for fit in fits])
    assert 0.85 <= period <= 1.0
    assert 0.88 <= half <= 1.0


def test_a_straight_line_alone_would_be_sure_of_a_wrong_rate():
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(100):
        times, numbers = drops(rng, 400, 1.5e-4, 2e-5)
        design = np.stack([np.ones(400), numbers, np.where(numbers % 2, 1.0, -1.0)], axis=1)
        solution, chi2, *_ = np.linalg.lstsq(design, times, rcond=None)
        sigma = np.sqrt(float(chi2[0]) / 397 * np.linalg.inv(design.T @ design)[1, 1])
        held += abs(solution[1] - PERIOD_S) < TWO_SIGMA * sigma
    assert held < 40


def test_missing_beats_change_nothing_but_the_uncertainty():
    times, numbers = drops(np.random.default_rng(2), 200, 1e-4, 0.0)
    kept = np.random.default_rng(3).random(200) > 0.3
    fit = fitted(times[kept], numbers[kept])
    assert fit.period_s == pytest.approx(PERIOD_S, abs=4 * fit.period_sigma_s)
    assert fit.half_s == pytest.approx(HALF_S, abs=4 * fit.half_sigma_s)


def test_a_stray_beat_is_left_out():
    times, numbers = drops(np.random.default_rng(2), 60, 1e-4, 0.0)
    times[31] += 0.02
    fit = fitted(times, numbers)
    assert np.flatnonzero(~fit.kept).tolist() == [31]


def test_no_interval_is_taken_over_a_break():
    times, numbers = drops(np.random.default_rng(2), 60, 1e-4, 0.0)
    times[30:] += 0.17
    segments = (np.arange(60) >= 30).astype(np.intp)
    assert fitted(times, numbers, segments).period_s == pytest.approx(PERIOD_S, abs=1e-4)


def test_too_few_beats_give_no_fit():
    assert fit_beats(np.array([0.0, 0.5]), np.array([0, 1]), np.full(2, 1e-6), np.zeros(2, np.intp)) is None


def test_beats_of_one_side_alone_give_no_unevenness():
    times = np.arange(20) * 1.0
    numbers = 2 * np.arange(20)
    assert fit_beats(times, numbers, np.full(20, 1e-6), np.zeros(20, np.intp)) is None
    fit = fit_beats(times, numbers, np.full(20, 1e-6), np.zeros(20, np.intp), even_only=True)
    assert fit is not None
    assert (fit.period_s, fit.half_s) == pytest.approx((0.5, 0.0))
