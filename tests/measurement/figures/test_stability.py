"""The deviations against published tables and an independent library; what is told of a clock's steadiness.

The tables: Riley, NIST SP 1065 (2008), section 12.3, pages 107 and 108: nine frequencies (NBS Monograph 140, annex 8.E)
and a thousand made by a congruence.
"""

import allantools
import numpy as np
import pytest

from diagnose.measurement.figures import stability
from diagnose.measurement.figures.stability import MEASURES, phase_from_rates, steadiness, swing_phase

NINE = np.array([892.0, 809.0, 823.0, 798.0, 671.0, 644.0, 883.0, 903.0, 677.0])
NINE_TABLE = {
    "allan": (91.22945, 115.8082),
    "overlapping-allan": (91.22945, 85.95287),
    "modified-allan": (91.22945, 74.78849),
    "time": (52.67135, 86.35831),
    "hadamard": (70.80607, 116.7980),
    "overlapping-hadamard": (70.80607, 85.61487),
    "total": (91.22945, 93.90379),
}
THOUSAND_TABLE = {
    "allan": (2.922319e-1, 9.965736e-2, 3.897804e-2),
    "overlapping-allan": (2.922319e-1, 9.159953e-2, 3.241343e-2),
    "modified-allan": (2.922319e-1, 6.172376e-2, 2.170921e-2),
    "time": (1.687202e-1, 3.563623e-1, 1.253382),
    "hadamard": (2.943883e-1, 1.052754e-1, 3.910861e-2),
    "overlapping-hadamard": (2.943883e-1, 9.581083e-2, 3.237638e-2),
    "total": (2.922319e-1, 9.134743e-2, 3.406530e-2),
}
IN_LIBRARY = {
    "allan": allantools.adev,
    "overlapping-allan": allantools.oadev,
    "modified-allan": allantools.mdev,
    "time": allantools.tdev,
    "hadamard": allantools.hdev,
    "overlapping-hadamard": allantools.ohdev,
    "total": allantools.totdev,
}


def thousand() -> np.ndarray:
    """Return the thousand frequencies of the table, made as SP 1065 says."""
    made, number = [], 1234567890
    for _ in range(1000):
        made.append(number / 2147483647)
        number = 16807 * number % 2147483647
    return np.array(made)


def beats(count=600, scatter_ms=0.2, walk_ms=0.0, seed=1, drift=0.0, error_ms=10.0):
    """Return times, numbers and pieces of a clock of 7200 beats an hour."""
    rng = np.random.default_rng(seed)
    number = np.arange(count)
    times = 0.5 * number + np.where(number % 2, 1, -1) * error_ms / 2e3
    times = times + rng.normal(0, scatter_ms / 1e3, count) + np.cumsum(rng.normal(0, walk_ms / 1e3, count))
    return times + drift * np.square(number), number, np.zeros(count, int)


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("m", [1, 2])
def test_nine_frequencies_give_the_published_deviations(name, m):
    made = MEASURES[name](phase_from_rates(NINE, 1.0), 1.0, m).value
    assert made == pytest.approx(NINE_TABLE[name][m - 1], rel=1e-6)


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_thousand_frequencies_give_the_published_deviations(name, place):
    made = MEASURES[name](phase_from_rates(thousand(), 1.0), 1.0, 10**place).value
    assert made == pytest.approx(THOUSAND_TABLE[name][place], rel=1e-6)


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("m", [1, 3, 16])
def test_an_independent_library_gives_the_same(name, m):
    # allantools 2024.6
    phase = np.cumsum(np.random.default_rng(4).normal(0, 1e-3, 201))
    other = IN_LIBRARY[name](phase, rate=1 / 0.9, data_type="phase", taus=[m * 0.9])[1][0]
    assert MEASURES[name](phase, 0.9, m).value == pytest.approx(other, rel=1e-9)


@pytest.mark.parametrize("name", ["allan", "overlapping-allan", "modified-allan", "hadamard", "overlapping-hadamard"])
def test_no_term_is_formed_over_a_gap(name):
    phase = np.random.default_rng(2).normal(0, 1e-3, 60)
    phase[30] = np.nan
    whole, gapped = MEASURES[name](phase[:30], 1.0, 2), MEASURES[name](phase, 1.0, 2)
    assert np.isfinite(gapped.value)
    assert whole.terms < gapped.terms < MEASURES[name](np.nan_to_num(phase), 1.0, 2).terms


def test_a_gap_keeps_the_place_of_what_follows():
    times, number, piece = beats(40, scatter_ms=0.0)
    kept = np.delete(np.arange(40), [10, 11])
    phase, swing = swing_phase(times[kept], number[kept], piece[kept])
    assert np.flatnonzero(np.isnan(phase)).tolist() == [5]
    assert swing == pytest.approx(1.0)


def test_a_beat_error_is_not_taken_for_noise():
    phase, _ = swing_phase(*beats(200, scatter_ms=0.0, error_ms=80.0))
    assert np.nanmax(np.abs(phase)) < 1e-9


def test_too_few_beats_for_a_line_are_refused_in_words():
    with pytest.raises(stability.UsageError, match="whole swings"):
        swing_phase(*beats(5))


@pytest.mark.parametrize(
    ("clock", "kind"),
    [
        ({"scatter_ms": 0.5}, "scatter"),
        ({"scatter_ms": 0.05, "walk_ms": 0.1}, "wander"),
        ({"scatter_ms": 0.05, "drift": 1e-7}, "drift"),
    ],
)
def test_what_rules_the_longer_times_is_named(clock, kind):
    found = [steadiness(*beats(1200, seed=seed, **clock)).kind for seed in range(10)]
    assert found.count(kind) >= 9


def test_the_steadiness_of_wandering_is_as_it_was_made():
    # White noise of the rate: the Allan deviation is the walk in one swing over the root of the swings (SP 1065, 3.2).
    told = steadiness(*beats(4000, scatter_ms=0.0, walk_ms=0.1, seed=3))
    walk_per_swing_s = 1e-4 * np.sqrt(2)
    expected = [86_400 * walk_per_swing_s / np.sqrt(tau) for tau in told.tau_s[:6]]
    assert told.rate_s_per_day[:6] == pytest.approx(expected, rel=0.2)


def test_a_short_recording_tells_nothing_of_steadiness():
    assert steadiness(*beats(120)) is None
