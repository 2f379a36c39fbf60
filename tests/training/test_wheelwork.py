"""Checks of the errors of the wheels: what they add to the time of each beat."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose.errors import UsageError
from diagnose.training.wheelwork import BadTooth, TurnError, Wheelwork

TURN = np.arange(60)


def test_a_true_wheel_adds_nothing():
    assert not Wheelwork().lateness_s(TURN).any()


def test_an_eccentric_wheel_adds_one_wave_a_turn():
    late = Wheelwork(30, (TurnError(60, 5e-4),)).lateness_s(np.arange(120))
    assert np.abs(np.fft.rfft(late))[2] / 60 == pytest.approx(5e-4)
    assert late[:60] == pytest.approx(late[60:])


def test_a_slower_wheel_adds_a_slower_wave():
    late = Wheelwork(30, (TurnError(450, 1e-3),)).lateness_s(np.arange(900))
    assert np.argmax(np.abs(np.fft.rfft(late))) == 2


def test_a_bad_tooth_is_late_on_both_pallets():
    wheels = Wheelwork(30, bad_teeth=(BadTooth(4, 5e-4),), spanned_beats=15)
    late = wheels.lateness_s(TURN)
    assert np.flatnonzero(late).tolist() == [8, 23] == list(wheels.beats_of(4))
    assert late[[8, 23]] == pytest.approx(5e-4)


def test_a_bad_tooth_may_be_late_on_one_pallet_only():
    wheels = Wheelwork(30, bad_teeth=(BadTooth(4, 5e-4),), spanned_beats=0)
    assert np.flatnonzero(wheels.lateness_s(TURN)).tolist() == [8]


def test_a_tooth_changes_pallet_and_goes_round_the_turn():
    first, second = Wheelwork(24, spanned_beats=13).beats_of(23)
    assert (first, second) == (46, 11)
    assert first % 2 != second % 2


def test_scatter_of_teeth_comes_back_each_turn():
    scatter = tuple(np.random.default_rng(1).normal(0, 1e-4, 60))
    late = Wheelwork(30, scatter_s=scatter).lateness_s(np.arange(180))
    assert np.array_equal(late[:60], late[120:])


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"bad_teeth": (BadTooth(30, 1e-3),)}, "bad tooth"),
        ({"scatter_s": (0.0,) * 30}, "errors for 60 drops"),
        ({"spanned_beats": 14}, "odd number"),
    ],
)
def test_an_impossible_wheel_is_refused(given, told):
    with pytest.raises(UsageError, match=told):
        Wheelwork(**given)
