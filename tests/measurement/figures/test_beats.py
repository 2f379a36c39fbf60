"""The result of listening as values for JSON, for the reasoning and for a person."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import pytest

from diagnose.measurement.figures.beats import MEASURED, Beats, refused, to_dict
from diagnose.measurement.figures.named_results import no_ticks
from diagnose.mechanics.train import COMMON_TRAINS, nearest_train

MEASURED_BEATS = Beats(
    beats=60,
    beats_per_hour=7205.0,
    nominal_beats_per_hour=7200.0,
    rate_s_per_day=60.0,
    beat_error_ms=-20.0,
    beat_error_percent=-4.0,
    longer="odd",
    early_side="left",
    uncertainty={
        "beats_per_hour": 0.4,
        "rate_s_per_day": 4.4,
        "beat_error_ms": 0.15,
        "beat_error_percent": 0.03,
    },
    times_s=(0.1, 0.6, 1.1),
    numbers=(0, 1, 2),
    quality="good",
)


def test_the_keys_for_json_are_all_there():
    plain = json.loads(json.dumps(to_dict(MEASURED_BEATS)))
    wanted = {
        "beats", "beats_per_hour", "nominal_beats_per_hour", "nominal_guessed", "rate_s_per_day", "beat_error_ms",
        "beat_error_percent", "longer", "early_side", "uncertainty", "times_s", "quality", "warnings", "refused",
        "way_out", "split",
    }  # fmt: skip
    assert wanted <= set(plain)
    assert set(plain["uncertainty"]) == set(MEASURED)
    assert (plain["split"], plain["times_s"], plain["refused"]) == ("52.0 : 48.0", [0.1, 0.6, 1.1], None)


def test_a_refusal_has_a_name_a_reason_and_a_way_out_in_json():
    plain = json.loads(json.dumps(to_dict(refused(no_ticks()))))
    assert plain["refused"] == "no ticks found"
    assert plain["reason"]
    assert plain["way_out"]
    assert [plain[name] for name in MEASURED] == [None] * 4


@pytest.mark.parametrize(("percent", "split"), [(0.0, "50.0 : 50.0"), (12.8, "56.4 : 43.6"), (-4.0, "52.0 : 48.0")])
def test_the_split_says_the_beat_error_in_shares_of_the_swing(percent, split):
    assert replace(MEASURED_BEATS, beat_error_percent=percent).split == split


def test_the_reasoning_gets_both_measurements_with_sign_and_uncertainty():
    error, rate = MEASURED_BEATS.measurements("c2")
    assert (error.quantity, error.value, error.uncertainty, error.unit) == ("beat-error", -4.0, 0.03, "%")
    assert (rate.quantity, rate.value, rate.uncertainty, rate.contact) == ("rate", 60.0, 4.4, "c2")


def test_a_rate_against_a_guessed_train_is_kept_from_the_reasoning():
    guessed = replace(MEASURED_BEATS, nominal_guessed=True)
    assert [one.quantity for one in guessed.measurements()] == ["beat-error"]


@pytest.mark.parametrize("train", COMMON_TRAINS)
def test_a_common_train_is_the_nearest_to_itself_and_to_a_clock_a_quarter_hour_off(train):
    assert nearest_train(train) == train
    assert nearest_train(train * 1.01) == train


def test_far_from_every_common_train_none_is_proposed():
    assert nearest_train(3920.0) is None


def test_listening_is_imported_without_the_slow_libraries():
    code = "import sys, diagnose.measurement; print(sorted({'scipy', 'soundfile', 'av', 'numpy'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
