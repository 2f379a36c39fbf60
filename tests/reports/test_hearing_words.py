"""What is said while a clock is being heard: how far so many seconds reach, and nothing beyond that."""

from __future__ import annotations

from typing import Any

import pytest

from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.hearing_words import calibration_figures, progress_text, reach_text, running_text

WORDS = Wording(read_knowledge(check=False))
CUSTOMER = Wording(read_knowledge(check=False), "customer")


def heard(percent: float | None = 0.2, rate: float | None = 3.0, guessed: bool = False, **more: Any) -> dict[str, Any]:
    return {
        "refused": None,
        "beats_per_hour": 7201.0,
        "nominal_beats_per_hour": 7200.0,
        "nominal_guessed": guessed,
        "rate_s_per_day": None if rate is None else 12.0,
        "beat_error_percent": None if percent is None else 8.0,
        "split": "54.0 : 46.0",
        "uncertainty": {"beat_error_percent": percent, "rate_s_per_day": rate},
        "warnings": ["The sound is clipped."],
        **more,
    }


def test_beat_and_rate_are_told_with_the_bound_that_holds_95_of_100() -> None:
    # Twice the standard uncertainty: 2 x 0.2 %, and 2 x 3 s/day.
    assert reach_text(heard(), 40.0, WORDS).startswith(
        "40 s can tell the beat within 0.4 % and the rate within 6 s/day"
    )


@pytest.mark.parametrize("beats", [heard(guessed=True), heard(rate=90.0), heard(rate=None)])
def test_a_rate_that_is_not_known_is_said_to_be_unknown_and_not_shown(beats: dict[str, Any]) -> None:
    assert "not the rate" in reach_text(beats, 12.0, WORDS)
    assert not any("s/day +-" in line for line in running_text(beats, 12.0, WORDS))


def test_a_rate_that_reaches_is_shown_while_it_runs() -> None:
    assert any("+12 s/day +- 3" in line for line in running_text(heard(), 40.0, WORDS))


def test_what_is_wrong_with_the_recording_waits_for_its_end() -> None:
    assert "The sound is clipped." not in running_text(heard(), 40.0, WORDS)


def test_without_a_beat_error_that_is_said() -> None:
    assert reach_text(heard(percent=None), 12.0, WORDS) == "12 s tell the beats an hour, not how even the beat is."


def test_too_early_nothing_is_told_and_later_the_reason_is() -> None:
    nothing = {"refused": "no ticks found", "beats_per_hour": None}
    assert running_text(nothing, 6.0, WORDS) == ["6 s are too few to tell anything yet."]
    assert running_text(nothing, 20.0, WORDS) == ["20 s, and nothing can be measured yet: no ticks found."]


def test_a_customer_is_told_no_figure_of_uncertainty() -> None:
    assert "%" not in reach_text(heard(), 40.0, CUSTOMER)


def test_an_hour_is_told_in_minutes() -> None:
    assert "45:00 of 60:00 min (75 %)" in progress_text(2700.0, 3600.0, WORDS)


def test_a_phone_that_counts_too_many_makes_a_clock_seem_to_lose() -> None:
    # 50 ppm of 86 400 s are 4.32 s.
    assert calibration_figures(50.0, 10.0)["seconds_a_day"] == "-4.32"
