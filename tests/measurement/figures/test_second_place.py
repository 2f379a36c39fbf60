"""A second recording of the same clock from another place settles which of two impacts is the drop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from diagnose.measurement.figures.beats import Beats, refused
from diagnose.measurement.figures.named_results import TWO_CLOCKS, silent
from diagnose.measurement.figures.second_place import together
from diagnose.measurement.figures.timing import TWO_IMPACTS, measure_beats
from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording


def heard(percent: float, *rivals: float, timing_ms: float = 0.05, instant_ms: float = 0.1, **more) -> Beats:
    """Return what a recording at 7200 beats an hour says: a beat is 500 ms, so 1 % is 5 ms."""
    doubt_ms = 0.3 * max((abs(rival - percent) for rival in rivals), default=0.0) * 5.0
    sigma_ms = float(np.sqrt(timing_ms**2 + instant_ms**2 + doubt_ms**2))
    given = Beats(
        beats=60,
        beats_per_hour=7200.0,
        nominal_beats_per_hour=7200.0,
        rate_s_per_day=0.0,
        beat_error_ms=percent * 5.0,
        beat_error_percent=percent,
        longer="even",
        uncertainty={
            "beats_per_hour": 0.1,
            "rate_s_per_day": 4.0,
            "beat_error_ms": sigma_ms,
            "beat_error_percent": sigma_ms / 5.0,
        },
        rivals_percent=rivals,
        warnings=(f"{TWO_IMPACTS}: so and so.",) if rivals else (),
        quality="fair" if rivals else "good",
        terms={"beat_error_timing_ms": timing_ms, "beat_error_instant_ms": instant_ms},
    )
    return replace(given, **more)


def test_the_value_common_to_both_places_is_the_beat_error():
    both = together(heard(8.7, 1.3), heard(1.25))
    assert both.beat_error_percent == pytest.approx(1.3, abs=0.05)
    assert (both.rivals_percent, both.quality) == ((), "good")
    assert not any(text.startswith(TWO_IMPACTS) for text in both.warnings)


def test_the_first_place_keeps_its_value_where_the_other_confirms_it():
    assert together(heard(8.7, 1.3), heard(8.65)).beat_error_percent == pytest.approx(8.68, abs=0.03)


def test_two_rivals_of_which_one_is_in_both_places_are_settled():
    both = together(heard(8.7, 1.3), heard(4.0, 1.35))
    assert both.beat_error_percent == pytest.approx(1.32, abs=0.03)
    # It is the second choice in both: which intervals are the longer is not told by either.
    assert (both.longer, both.early_side) == (None, "unknown")


def test_settled_beats_are_as_sure_as_their_timing_and_no_longer_doubted():
    alone, both = heard(8.7, 1.3), together(heard(8.7, 1.3), heard(1.3))
    assert both.uncertainty["beat_error_percent"] < 0.1 * alone.uncertainty["beat_error_percent"]


def test_scatter_of_the_clock_is_the_same_in_both_and_is_not_lessened():
    both = together(heard(2.0, timing_ms=0.2, instant_ms=0.0), heard(2.0, timing_ms=0.2, instant_ms=0.0))
    assert both.uncertainty["beat_error_ms"] == pytest.approx(0.2)


def test_where_both_places_hear_both_impacts_both_are_still_told():
    both = together(heard(8.7, 1.3), heard(8.6, 1.3))
    assert both.beat_error_percent == pytest.approx(8.65, abs=0.05)
    assert both.rivals_percent == (1.3,)
    assert both.uncertainty["beat_error_percent"] > 1.0
    assert "both places hear both" in both.warnings[-1]


def test_two_places_that_exclude_each_other_give_no_beat_error():
    both = together(heard(8.7), heard(1.3))
    assert (both.beat_error_percent, both.uncertainty["beat_error_percent"]) == (None, None)
    assert both.rivals_percent == (1.3, 8.7)
    assert "do not agree: 8.7 % in one and 1.3 % in the other" in both.warnings[-1]
    assert both.beats_per_hour == 7200.0


def test_two_clocks_are_refused():
    assert together(heard(2.0), heard(2.0, beats_per_hour=7300.0)).refused == TWO_CLOCKS


def test_a_second_recording_without_a_beat_takes_nothing_away():
    both = together(heard(2.0), refused(silent(-110.0)))
    assert both.beat_error_percent == 2.0 and "settles nothing" in both.warnings[-1]
    assert together(refused(silent(-110.0)), heard(2.0)).beat_error_percent == 2.0


def test_the_side_known_in_either_place_is_known():
    left = heard(-3.0, early_side="left")
    for both in (together(heard(3.0), left), together(left, heard(3.0))):
        assert (both.early_side, both.beat_error_percent) == ("left", pytest.approx(-3.0))


def test_two_sides_named_early_make_it_unknown_again():
    both = together(heard(-3.0, early_side="left"), heard(3.0, early_side="right"))
    assert both.early_side == "unknown" and both.beat_error_percent == pytest.approx(3.0)
    assert any("different sides" in text for text in both.warnings)


@pytest.mark.parametrize(("turned", "longer", "side"), [(True, "odd", "right"), (False, "even", "left")])
def test_the_second_choice_of_both_tells_which_side_is_early_where_it_is_known(turned, longer, side):
    one = heard(-8.7, 1.3, early_side="left", rivals_turned=(turned,))
    both = together(one, heard(4.0, 1.35, rivals_turned=(True,)))
    assert (both.longer, both.early_side) == (longer, side)


def in_two_places(share: float, rate_hz: int = 16_000) -> Beats:
    """Return a clock whose every second drop is followed after 18 ms by another impact, `share` as loud as the drop."""
    random = np.random.default_rng(5)
    sound = 2e-4 * random.standard_normal(30 * rate_hz)
    ring = np.exp(-np.arange(int(0.03 * rate_hz)) / (0.002 * rate_hz))
    voices = [ring * np.sin(2 * np.pi * hz * np.arange(len(ring)) / rate_hz) for hz in (2300.0, 1700.0, 2900.0)]
    for beat in range(58):
        drop_s = 0.4 + 0.5 * beat + random.normal(0.0, 1e-4) + (0.01 if beat % 2 else 0.0)
        for voice, late_s, loud in ((beat % 2, 0.0, 0.3), (2, 0.018, 0.3 * share * (beat % 2))):
            start = round((drop_s + late_s) * rate_hz)
            sound[start : start + len(ring)] += loud * voices[voice]
    return measure_beats(find_ticks(Recording(sound, float(rate_hz), 30.0)), 7200.0)


def test_a_late_impact_that_is_faint_in_the_other_place_is_told_apart_from_the_drop():
    # Every second drop is 10 ms late: intervals of 510 and 490 ms, 100 x 20 / 1000 = 2 % of the swing.
    both = together(in_two_places(3.0), in_two_places(0.1))
    assert both.beat_error_percent == pytest.approx(2.0, abs=0.2)
    assert both.rivals_percent == ()
