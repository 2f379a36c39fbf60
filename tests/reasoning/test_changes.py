"""What has changed since hand-over, and how much each change weighs."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.changes import (
    BEAT,
    BEAT_SHOWS,
    BEAT_SPREAD,
    RATE,
    SPEED,
    SWING,
    Changes,
    Now,
    changes_since,
    odds_of_change,
)

TODAY = date(2031, 3, 12)
HANDED = {BEAT: 1.2, RATE: 12.0, SWING: 38.0, SPEED: 3600.0}
MOVED = BEAT_SHOWS["moved-lately", "yes"]


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


def compared(knowledge: Knowledge, **now: Any) -> Changes:
    return changes_since(HANDED, "2031-01-08", Now(TODAY, **now), knowledge)


def odds(changes: Changes, knowledge: Knowledge, finding: str, value: str, against: str) -> float:
    """How much likelier one value of a finding has become against another."""
    likelihood = next(item.likelihood for item in changes.findings if item.finding == finding)
    values = list(knowledge.findings[finding].values)
    return likelihood[values.index(value)] / likelihood[values.index(against)]


def test_a_beat_that_went_from_even_to_limping_speaks_for_a_move_and_does_not_prove_it(knowledge: Knowledge) -> None:
    found = odds(compared(knowledge, beat_percent=9.0, beat_unsure=0.5), knowledge, "moved-lately", "yes", "no")

    # The bound that three of ten moved clocks are in beat again and one in ten goes off by itself: 0.7 / 0.1.
    assert 5.0 < found <= 7.0


def test_a_move_is_likelier_than_a_knock_after_the_same_change(knowledge: Knowledge) -> None:
    changes = compared(knowledge, beat_percent=9.0)

    moved = odds(changes, knowledge, "moved-lately", "yes", "no")
    assert moved > odds(changes, knowledge, "knocked-lately", "yes", "no") > 2.0


def test_a_beat_that_does_not_hold_is_raised_too(knowledge: Knowledge) -> None:
    changes = compared(knowledge, beat_percent=9.0)

    assert odds(changes, knowledge, "evenness-holds", "drifts-in-days", "holds") > 3.0
    assert odds(changes, knowledge, "evenness-holds", "changes-at-once", "holds") > 2.0


def test_a_beat_as_at_hand_over_speaks_against_a_move(knowledge: Knowledge) -> None:
    changes = compared(knowledge, beat_percent=1.4)

    assert 0.3 < odds(changes, knowledge, "moved-lately", "yes", "no") < 0.6


@pytest.mark.parametrize("unsure", [0.2, 1.0, 4.0])
@pytest.mark.parametrize("difference", [0.0, 0.5, 2.0, 5.0, 20.0, 100.0])
def test_no_change_weighs_more_than_the_chance_that_it_came_by_itself_allows(difference: float, unsure: float) -> None:
    least, most = (1 - MOVED) / (1 - BEAT_SPREAD.by_itself), MOVED / BEAT_SPREAD.by_itself

    assert least - 1e-9 <= odds_of_change(difference, unsure, BEAT_SPREAD, MOVED) <= most + 1e-9


def test_a_change_weighs_less_the_worse_it_was_measured() -> None:
    weights = [odds_of_change(4.0, unsure, BEAT_SPREAD, MOVED) for unsure in (0.2, 1.0, 2.0, 4.0)]

    assert weights == sorted(weights, reverse=True)


def test_a_smaller_swing_speaks_for_a_small_one(knowledge: Knowledge) -> None:
    changes = compared(knowledge, swing=26.0)

    assert odds(changes, knowledge, "swing-size", "small", "wide") > 5.0
    assert any("26" in line.staff and "38" in line.staff for line in changes.lines)


def test_a_swing_as_at_hand_over_speaks_for_a_wide_one(knowledge: Knowledge) -> None:
    assert odds(compared(knowledge, swing=38.0), knowledge, "swing-size", "small", "wide") < 0.5


def test_a_changed_rate_weighs_little(knowledge: Knowledge) -> None:
    changes = compared(knowledge, rate=-150.0, rate_unsure=4.0)

    assert 1.2 < odds(changes, knowledge, "moved-lately", "yes", "no") <= 2.0
    assert odds(changes, knowledge, "rate-steady", "wanders", "steady") > 1.2


def test_the_days_since_hand_over_stand_first(knowledge: Knowledge) -> None:
    # 8 January to 12 March 2031: 23 + 28 + 12 days.
    assert "63 days" in compared(knowledge).lines[0].staff


def test_another_speed_is_told_and_weighs_nothing(knowledge: Knowledge) -> None:
    changes = compared(knowledge, beats_per_hour=4320.0)

    assert "4320" in changes.lines[-1].staff
    assert changes.findings == ()


def test_what_was_handed_over_in_words_is_no_number_to_compare(knowledge: Knowledge) -> None:
    changes = changes_since({BEAT: "even by ear"}, "", Now(TODAY, beat_percent=9.0), knowledge)

    assert changes == Changes()
