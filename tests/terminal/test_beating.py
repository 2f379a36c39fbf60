"""Tapping on Enter and counting: what is said meanwhile, and when it ends by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from diagnose.errors import InputError, UsageError
from diagnose.measurement.figures.beats import to_dict
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.summary import beats_text
from diagnose.terminal.beating import counted, tapped
from tests.measurement.incoming.test_taps import taps

WORDS = Wording(read_knowledge(check=False))


def hand(times: list[float], last: str = "") -> tuple[Iterator[str], Callable[[], float], list[float]]:
    """Return what is typed, the watch that goes with it, and the list of moments at which Enter was pressed."""
    pressed: list[float] = []

    def lines() -> Iterator[str]:
        for time in times:
            pressed.append(time)
            yield "\n"
        if last:
            pressed.append(times[-1] + 7.0)
            yield last

    return lines(), lambda: pressed[-1], pressed


def test_tapping_ends_by_itself_when_more_taps_would_not_help(capsys: pytest.CaptureFixture[str]) -> None:
    lines, now, pressed = hand(taps(100, percent=12.0))
    beats = tapped(WORDS, 7200.0, None, lines, now)

    assert 20 <= len(pressed) < 60
    assert beats.beat_error_percent == pytest.approx(12.0, abs=2 * (beats.uncertainty["beat_error_percent"] or 0.0))
    said = capsys.readouterr().err
    assert "Taps: 3." in said and "Go on." in said and said.rstrip().endswith("would not make it surer.")


def test_a_letter_ends_it_sooner_and_is_no_tap() -> None:
    times = taps(12, percent=12.0)
    lines, now, _ = hand(times, "q\n")
    assert len(tapped(WORDS, 7200.0, None, lines, now).times_s) == 12


def test_the_side_of_the_first_tap_gives_the_early_side() -> None:
    lines, now, _ = hand(taps(60, percent=20.0))
    assert tapped(WORDS, 7200.0, "left", lines, now).early_side == "right"


def test_too_few_taps_say_how_many_it_takes() -> None:
    lines, now, _ = hand([0.0, 0.5, 1.0], "q\n")
    with pytest.raises(InputError, match="At least 8 are needed"):
        tapped(WORDS, None, None, lines, now)


def test_a_count_names_the_train_once_and_no_rate_that_nobody_knows() -> None:
    said = beats_text(to_dict(counted("240/120", None)), WORDS)
    assert sum("7200 beats an hour" in line for line in said) == 2  # what was counted, and the train it is taken for
    assert not any("s/day +-" in line for line in said)
    # 0.5 in 240 beats and 0.2 s in 120 s: 0.267 % of 86 400 s.
    assert any("within 231 s/day" in line for line in said)


def test_a_long_count_gives_a_rate() -> None:
    assert any("+0 s/day +- 8" in line for line in beats_text(to_dict(counted("7200/3600", 7200.0)), WORDS))


def test_what_is_no_count_says_how_to_write_one() -> None:
    with pytest.raises(UsageError, match="such as 118/120"):
        counted("many/120", None)
