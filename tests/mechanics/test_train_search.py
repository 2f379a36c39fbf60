"""Trains found backward from a beat, against those that are printed, and against every train there is."""

from __future__ import annotations

import itertools

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics import train, train_search
from diagnose.mechanics.train_search import Counted, Train

PRINTED = [
    ((64, 60), (8, 8), 3600),  # Beckett pp. 22-23, 133
    ((96, 80), (8, 8), 7200),  # Beckett p. 135
    ((84, 80), (8, 7), 7200),  # Beckett p. 135
    ((72, 60), (6, 6), 7200),  # Beckett p. 135, lantern pinions
    ((80, 75), (10, 10), 3600),  # Goodrich ch. XV
]


@pytest.mark.parametrize(("wheels", "pinions", "beats"), PRINTED)
def test_a_printed_train_is_found_from_its_beat(wheels, pinions, beats):
    assert Train(wheels, pinions, 30) in train_search.trains_for(beats)


@pytest.mark.parametrize("beats", [3600, 4320, 5400, 8400, 10_800, 14_400])
def test_every_train_found_gives_the_beat_exactly_within_the_usual_counts(beats):
    found = train_search.trains_for(beats)
    assert found
    for each in found:
        assert each.beats_per_hour == beats
        assert set(each.wheels) <= set(train_search.WHEEL_TEETH)
        assert set(each.pinions) <= set(train_search.PINION_LEAVES)
        assert each.escape_teeth in train_search.ESCAPE_TEETH


def test_no_train_is_left_out():
    # every pair of wheels in order, pinions of 8 and 7, 30 teeth: counted by brute force
    counted = Counted((None, None), (8, 7), 30)
    expected = {
        (one, other)
        for one, other in itertools.product(train_search.WHEEL_TEETH, repeat=2)
        if one >= other and train.beats_per_hour((one, other), (8, 7), 30) == 7200
    }
    assert {each.wheels for each in train_search.trains_for(7200, 0.0, counted)} == expected != set()


@pytest.mark.parametrize(
    ("counted", "found"),
    [
        (Counted((None, 60), (8, 8), 30), Train((64, 60), (8, 8), 30)),
        (Counted((64, None), (8, 8), 30), Train((64, 60), (8, 8), 30)),
        (Counted((64, 60), (None, 8), 30), Train((64, 60), (8, 8), 30)),
        (Counted((64, 60), (8, 8), None), Train((64, 60), (8, 8), 30)),
        (Counted((64, 60), (8, 8), 30), Train((64, 60), (8, 8), 30)),
    ],
)
def test_a_missing_count_is_found(counted, found):
    assert train_search.trains_for(3600, 0.0, counted) == (found,)


def test_counts_that_give_another_beat_find_nothing():
    assert train_search.trains_for(3600, 0.0, Counted((64, 61), (8, 8), 30)) == ()


def test_a_measured_beat_allows_for_twice_its_uncertainty():
    counted = Counted((64, None), (8, 8), 30)
    assert [each.wheels[1] for each in train_search.trains_for(3620, 30, counted)] == [60, 61]
    assert train_search.trains_for(3620, 0.0, counted) == ()


def test_three_unknown_wheels_with_their_pinions_are_too_many():
    with pytest.raises(UsageError, match="Count one or two more"):
        train_search.trains_for(14_400, 0.0, Counted((None,) * 3, (None,) * 3))


def test_one_missing_wheel_of_three_is_found():
    # 2 x 30 x (80 x 75 x 60) / (10 x 10 x 6) = 36000
    counted = Counted((80, 75, None), (10, 10, 6), 30)
    assert train_search.trains_for(36_000, 0.0, counted) == (Train((80, 75, 60), (10, 10, 6), 30),)


@pytest.mark.parametrize(
    ("counted", "complaint"),
    [(Counted((64,), (8, 8)), "one pinion for each wheel"), (Counted((64, 0), (8, 8)), "at least 1")],
)
def test_counts_that_cannot_be_are_refused(counted, complaint):
    with pytest.raises(UsageError, match=complaint):
        train_search.trains_for(3600, 0.0, counted)


def test_equal_pinions_and_an_escape_wheel_of_30_come_first():
    # the usual trains of the books above; the order is common practice, no source
    assert [(each.wheels, each.pinions) for each in train_search.trains_for(3600)[:3]] == [
        ((64, 60), (8, 8)), ((48, 45), (6, 6)), ((80, 75), (10, 10)),
    ]  # fmt: skip


def test_a_measured_beat_names_the_common_train_and_its_rate():
    (fit,) = train_search.common_trains(3599, 1)
    assert fit.beats_per_hour == 3600
    assert fit.rate_s_per_day == pytest.approx(-24)  # 86400 / 3600 for each beat
    assert fit.rate_unsure == pytest.approx(24)


def test_an_unsure_beat_names_more_than_one_train_nearest_first():
    assert [fit.beats_per_hour for fit in train_search.common_trains(7380, 150)] == [7560, 7200]


def test_far_from_all_common_trains_none_is_named():
    assert train_search.common_trains(3920) == ()
