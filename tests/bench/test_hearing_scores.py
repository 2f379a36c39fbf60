"""Checks of what the benches of hearing measure with: hits, delays, straight lines, and the bound of timing."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from diagnose.training.sound import power_after
from diagnose.training.transmission import telephone_band
from tests.bench.hearing_bound import bound_s
from tests.bench.hearing_peers import peaks_above_noise
from tests.bench.hearing_scores import best_delay_s, f1_of, line, matched, numbered, rate_of, scatter_ms, truth
from tests.bench.hearing_sounds import BANDS, FAMILIES, Cell, cell_of, make_sample, mixed, plan_of

TRUE_S = np.arange(1, 21) * 0.5


def test_each_drop_is_used_once():
    places, rows = matched(np.array([1.0, 1.002, 3.0]), np.array([1.001, 3.005, 5.0]))
    assert rows.tolist() == [0, 1]
    assert places[1] == 2


def test_f1_counts_misses_and_false_ones():
    assert f1_of(TRUE_S, TRUE_S) == 1.0
    assert f1_of(TRUE_S[:10], TRUE_S) == pytest.approx(2 * 10 / 30)
    assert f1_of(np.sort(np.concatenate([TRUE_S, TRUE_S + 0.1])), TRUE_S) == pytest.approx(2 * 20 / 60)
    assert f1_of(TRUE_S + 0.011, TRUE_S) == 0.0
    assert f1_of(np.empty(0), TRUE_S) == 0.0


@pytest.mark.parametrize("delay_s", [-0.03, 0.0, 0.0425])
def test_a_constant_delay_is_found(delay_s):
    assert best_delay_s(TRUE_S + delay_s, TRUE_S) == pytest.approx(delay_s, abs=1e-9)


def test_line_gives_period_and_alternation_and_leaves_gross_errors_out():
    number = np.arange(40)
    times = 0.3 + 0.5 * number + np.where(number % 2, 0.01, -0.01)
    times[7] += 0.1
    assert line(times, number) == pytest.approx((0.5, 0.01))


@pytest.mark.parametrize("count", [60, 240])
def test_line_reaches_the_bounds_of_period_and_beat_error(count):
    # white jitter s: var(T) >= 12 s^2 / (N (N^2 - 4)), var(a - b) >= 16 s^2 / (N (1 - 3 / (N^2 - 1))); Kay 1993 for
    # the first (from memory), the second derived; a - b is four times the alternation
    random, number, sigma = np.random.default_rng(1), np.arange(count), 1e-4
    found = np.array([line(0.5 * number + random.normal(0, sigma, count), number) for _ in range(600)])
    period = sigma * np.sqrt(12 / (count * (count**2 - 4)))
    difference = sigma * np.sqrt(16 / (count * (1 - 3 / (count**2 - 1))))
    assert found[:, 0].std() == pytest.approx(period, rel=0.1)
    assert 4 * found[:, 1].std() == pytest.approx(difference, rel=0.1)


def test_instants_are_numbered_by_their_train():
    times, numbers = numbered(np.sort(np.append(TRUE_S, 3.26)), 7200.0)
    assert numbers.tolist() == list(range(len(numbers)))
    assert times == pytest.approx(TRUE_S)


def test_rate_has_its_sign():
    assert rate_of(0.5 / (1 + 90 / 86_400), 7200.0) == pytest.approx(90.0)


def test_a_matched_filter_reaches_the_bound_of_timing():
    # Monte-Carlo beside the Cramer-Rao bound, a known pulse in white noise at 30 dB
    rate_hz, random = 8000.0, np.random.default_rng(2)
    since = np.arange(400) / rate_hz - 0.02
    pulse = np.where(since > 0, np.sin(2 * np.pi * 1100 * since) * np.exp(-since / 0.003), 0.0)
    pulse *= 1 - np.exp(-np.maximum(since, 0) / 4e-4)
    noise = np.sqrt(np.sum(pulse**2) * 1e-3) * random.standard_normal((1500, len(pulse)))
    fine = 32
    found = []
    for row in noise:
        alike = signal.resample(signal.correlate(pulse + row, pulse, "same"), fine * len(pulse))
        near = slice(fine * 200 - 2 * fine, fine * 200 + 2 * fine + 1)
        found.append((np.argmax(alike[near]) - 2 * fine) / (fine * rate_hz))
    grid_s = 1 / (fine * rate_hz) / np.sqrt(12)
    spread_s = np.sqrt(np.var(found) - grid_s**2)
    assert spread_s == pytest.approx(bound_s(pulse, noise.ravel(), rate_hz), rel=0.08)


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("family", FAMILIES)
def test_a_recording_is_the_same_by_its_key(family, band):
    cell = Cell(family, band, 10, "doubles", 1, 4.0)
    sample, again = make_sample(cell), make_sample(cell)
    assert np.array_equal(sample.samples, again.samples)
    assert sample.rate_hz == (44_100 if band == "full" else 8000)
    assert np.abs(sample.samples).max() == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("band", BANDS)
@pytest.mark.parametrize("snr_db", [10, -5])
def test_noise_is_as_loud_as_said_in_the_final_band(snr_db, band):
    rate_hz, random = 48_000, np.random.default_rng(1)
    drops_s = np.array([0.3, 0.9])
    ticks, noise = np.zeros(rate_hz), random.standard_normal(rate_hz)
    for drop_s in drops_s:
        since = np.arange(rate_hz) / rate_hz - drop_s
        ticks += np.where(since > 0, np.sin(9e3 * since) * np.exp(-since / 0.01), 0.0)
    sound, heard_hz = mixed(ticks, noise, drops_s, Cell("modes", band, snr_db, "clean", 0), rate_hz)
    if band == "phone":
        ticks, noise = telephone_band(ticks, rate_hz), telephone_band(noise, rate_hz)
    loud, faint = np.linalg.lstsq(np.stack([ticks, noise], axis=1), sound, rcond=None)[0]
    ratio = power_after(loud * ticks, drops_s, round(heard_hz)) / np.mean((faint * noise) ** 2)
    assert 10 * np.log10(ratio) == pytest.approx(snr_db, abs=0.1)


def test_a_key_names_its_cell():
    cell = Cell("chirps", "phone", -5, "missing", 3)
    assert cell_of(cell.key) == cell


def test_trains_and_beat_errors_take_turns():
    plans = [
        plan_of(Cell("modes", "full", 10, variant, number)) for number in range(8) for variant in ("clean", "missing")
    ]
    assert len({plan.beats_per_hour for plan in plans}) == 5
    assert len({plan.beat_error_percent for plan in plans}) >= 6


def test_truth_is_that_of_the_drops():
    sample = make_sample(Cell("modes", "phone", 30, "clean", 2, 20.0))
    error_ms, rate = truth(sample)
    given_ms = abs(sample.beat_error_percent) / 100 * 3.6e6 / sample.beats_per_hour
    assert error_ms == pytest.approx(given_ms, abs=0.3)
    assert rate == pytest.approx(sample.rate_s_per_day, abs=5)


def test_a_plain_detector_finds_loud_ticks():
    sample = make_sample(Cell("modes", "full", 20, "clean", 1, 10.0))
    found = peaks_above_noise(sample.samples, sample.rate_hz)
    assert f1_of(found - best_delay_s(found, sample.heard_s), sample.heard_s) > 0.8
    assert scatter_ms(found, sample) < 2.0
