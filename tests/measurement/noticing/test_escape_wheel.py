"""The escape wheel found in the times of the beats: teeth, amplitude, the bad tooth; and silence where there is none.

The goals stand in the bench (`tests/bench/wheel_bench.py`); here a few clocks each, seeded, with margins.
"""

import time

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.measurement.noticing import turning
from diagnose.measurement.noticing.slow_wheel import find_slow_cycle, turns_of_train
from diagnose.measurement.noticing.wheel import find_wheel, odd_ones_out
from diagnose.measurement.noticing.wheel_evidence import pallet_lags, turn_columns
from diagnose.training.wheelwork import BadTooth, Wheelwork
from tests.measurement.noticing.turning_clock import TurningClock, beats_of


def clock_of(turns: float = 5.0, teeth: int = 30, **kinds: float) -> TurningClock:
    return TurningClock(beats=round(turns * 2 * teeth) + 1, teeth=teeth, **kinds)


@pytest.mark.parametrize("teeth", [24, 30, 36, 42])
def test_teeth_and_amplitude_are_found_in_five_turns(teeth):
    wheel = find_wheel(*beats_of(clock_of(teeth=teeth, wheel_ms=0.5), 4)[:2])
    assert wheel.teeth == teeth
    assert wheel.amplitude_s == pytest.approx(0.5e-3, abs=0.05e-3)
    assert abs(wheel.amplitude_s - 0.5e-3) < 3 * wheel.amplitude_sigma_s
    assert wheel.turns == pytest.approx(5.0)


@pytest.mark.parametrize("beats", [(0, 1), (0,), (1,), (0, 15), (0, 13), (0, 19), (-15, 0)])
@pytest.mark.parametrize("tooth", [1, 17])
def test_a_bad_tooth_is_named_by_its_place_from_the_first_beat(beats, tooth):
    clock = clock_of(bad_ms=0.6, bad_tooth=tooth, bad_beats=beats)
    bad = find_wheel(*beats_of(clock, 3)[:2]).bad_tooth
    assert bad.tooth == tooth
    assert bad.late_s == pytest.approx(0.6e-3, abs=3 * bad.uncertainty_s)


@pytest.mark.parametrize(("beats", "named", "also"), [((0,), 32, None), ((0, 15), 32, 47), ((-15, 0), 32, 17)])
def test_a_tooth_tells_at_which_beats_of_the_turn_it_is_out(beats, named, also):
    bad = find_wheel(*beats_of(clock_of(bad_ms=0.6, bad_tooth=17, bad_beats=beats), 3)[:2]).bad_tooth
    assert (bad.beat, bad.also_beat, bad.on_first_pallet) == (named, also, True)


def test_a_tooth_out_at_one_beat_of_the_other_pallet_is_counted_there():
    bad = find_wheel(*beats_of(clock_of(bad_ms=0.6, bad_tooth=17, bad_beats=(1,)), 3)[:2]).bad_tooth
    assert (bad.beat, bad.also_beat, bad.on_first_pallet) == (33, None, False)


@pytest.mark.parametrize("seed", range(6))
def test_a_tooth_of_the_simulated_clock_is_named_by_its_drop_on_the_first_pallet(seed):
    work = Wheelwork(bad_teeth=(BadTooth(tooth := 5 * seed, 0.5e-3),), spanned_beats=15)
    times, number, _ = beats_of(clock_of(), seed)
    bad = find_wheel(times + work.lateness_s(number), number).bad_tooth
    assert (bad.tooth, {bad.beat, bad.also_beat}) == (tooth + 1, set(work.beats_of(tooth)))


def test_the_spans_looked_at_are_odd_and_those_of_anchors():
    # An anchor over n + 1/2 teeth spans 2 n + 1 beats; 6 1/2 to 9 1/2 teeth of 30 (common practice, no source).
    assert {1, 13, 15, 17, 19} <= set(pallet_lags(60).tolist())
    assert {13, 15, 17, 19} <= set(pallet_lags(84).tolist()) & set(pallet_lags(48).tolist())
    assert all(lag % 2 for turn in range(40, 92, 2) for lag in pallet_lags(turn))


def test_products_of_places_are_those_of_their_columns():
    _, number, _ = beats_of(clock_of(silent=0.1), 3)
    intervals = turning.intervals_of(*beats_of(clock_of(silent=0.1), 3)[:2])
    white = turning.whitened(intervals, 0.1)
    columns = np.asarray(number[:, None] % 60 == np.arange(60), float)
    full = turning.products(white, white.whiten(intervals.change(columns)))
    made = turning.place_products(white, number % 60, 60)
    assert made.gram == pytest.approx(full.gram, abs=1e-9)
    assert made.along == pytest.approx(full.along, rel=1e-6, abs=1e-9)
    assert (made.rest, made.log_common) == pytest.approx((full.rest, full.log_common))


def test_twenty_turns_are_searched_in_less_than_a_second_of_processor():
    times, number, _ = beats_of(TurningClock(beats=1200), 3)
    find_wheel(times, number)
    begun = time.process_time()
    find_wheel(times, number)
    assert time.process_time() - begun < 1.0


def test_a_tooth_that_is_early_is_early():
    bad = find_wheel(*beats_of(clock_of(bad_ms=-0.8, bad_tooth=9), 3)[:2]).bad_tooth
    assert (bad.tooth, bad.late_s < 0) == (9, True)


def test_a_tooth_far_out_is_no_gross_error_since_it_comes_again():
    clock = clock_of(bad_ms=3.0, bad_tooth=12, bad_beats=(0,), jitter_ms=0.05)
    times, number, _ = beats_of(clock, 6)
    assert odd_ones_out(times, number).any()
    assert find_wheel(times, number).bad_tooth.tooth == 12


def test_gross_errors_of_hearing_do_not_hide_a_wheel():
    times, number, _ = beats_of(clock_of(wheel_ms=0.5), 5)
    times[[40, 111, 205]] += 0.02
    assert find_wheel(times, number).teeth == 30


def test_no_wheel_is_invented():
    found = 0
    for seed in range(12):
        clock = TurningClock(beats=(130, 240)[seed % 2], jitter_ms=(0.05, 0.15, 0.5)[seed % 3], walk_ms=0.04)
        found += find_wheel(*beats_of(clock, seed + 100)[:2]).found
    assert found <= 1


def test_a_wheel_out_of_round_has_no_bad_tooth():
    assert find_wheel(*beats_of(clock_of(wheel_ms=0.8), 7)[:2]).bad_tooth is None


def test_two_turns_are_too_short_to_say_anything():
    wheel = find_wheel(*beats_of(clock_of(turns=1.5, wheel_ms=1.0), 2)[:2])
    assert not wheel.found
    assert wheel.too_short
    assert wheel.turns == pytest.approx(1.5, abs=0.05)


def test_a_true_wheel_in_a_long_recording_is_not_called_too_short():
    assert not find_wheel(*beats_of(clock_of(), 2)[:2]).too_short


def test_silent_beats_cost_nothing_but_their_share():
    wheel = find_wheel(*beats_of(clock_of(wheel_ms=0.5, silent=0.1), 2)[:2])
    assert wheel.teeth == 30


def test_the_pattern_of_a_turn_is_that_of_the_wheel():
    clock = clock_of(turns=10, wheel_ms=0.4, scatter_of_teeth_ms=0.2, jitter_ms=0.05, walk_ms=0.005)
    times, number, truth = beats_of(clock, 8)
    wheel = find_wheel(times, number)
    side = np.where(np.arange(60) % 2 == 0, -1.0, 1.0)
    truth = truth - truth.mean() - side * np.mean(side * truth)
    assert np.max(np.abs(wheel.deviations_s - truth)) < 0.1e-3
    assert np.std((wheel.deviations_s - truth) / wheel.deviations_sigma_s) < 2.0


def test_a_beat_error_that_breathes_with_the_wheel_is_told_apart_from_one_that_does_not():
    times, number, _ = beats_of(clock_of(), 9)
    side = np.where(number % 2 == 0, -1.0, 1.0)
    breathing = find_wheel(times + 4e-4 * side * np.sin(2 * np.pi * number / 60), number)
    assert breathing.teeth == 30
    assert breathing.breathing_s == pytest.approx(4e-4, abs=1e-4)
    assert breathing.breathing_s > breathing.amplitude_s


def test_after_a_break_the_longest_piece_is_taken():
    times, number, _ = beats_of(clock_of(turns=6, wheel_ms=0.6), 3)
    piece = (number > 40).astype(int)
    shifted = number + np.where(piece == 1, 7, 0)
    wheel = find_wheel(times, shifted, None, piece)
    assert wheel.teeth == 30
    assert wheel.turns == pytest.approx(319 / 60, abs=0.1)


def test_the_columns_of_a_turn_come_again_after_it():
    columns = turn_columns(np.arange(120), 60, (1, 2), (1,))
    assert columns.shape == (120, 6)
    assert columns[:60] == pytest.approx(columns[60:])


def test_a_slow_wheel_is_found_by_its_train():
    # Third wheel of 60 driving an escape pinion of 8, 30 teeth: 60 x 60 / 8 = 450 beats a turn.
    periods = turns_of_train(30, (64, 60), (8, 8))
    assert periods == pytest.approx((450.0, 3600.0))
    clock = TurningClock(beats=2700, slow_ms=2.0, slow_beats=450.0)
    times, number, _ = beats_of(clock, 1)
    for tried in (periods, None):
        found = find_slow_cycle(times, number, periods_beats=tried)
        assert found.period_beats == pytest.approx(450.0, rel=0.05)
        assert abs(found.amplitude_s - 2e-3) < 3 * found.amplitude_sigma_s


def test_no_slow_cycle_is_invented_from_wandering():
    assert not [
        seed
        for seed in range(4)
        if find_slow_cycle(*beats_of(TurningClock(beats=1500, walk_ms=0.1), seed)[:2]) is not None
    ]


def test_a_slow_wheel_needs_turns_enough():
    times, number, _ = beats_of(TurningClock(beats=900, slow_ms=2.0, slow_beats=450.0), 1)
    assert find_slow_cycle(times, number, periods_beats=(450.0,)) is None


def test_the_escape_wheel_does_not_pass_for_a_slow_one():
    times, number, _ = beats_of(TurningClock(beats=1200, wheel_ms=0.5, teeth=42), 1)
    assert find_slow_cycle(times, number, also=turn_columns(number, 84)) is None


def test_a_train_with_a_pinion_missing_is_refused():
    with pytest.raises(UsageError, match="Give one pinion for each wheel"):
        turns_of_train(30, (64, 60), (8,))
