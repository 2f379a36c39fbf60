"""`diagnose listen` with a second recording and a calibrated phone; `diagnose calibrate`; how far a long one is."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rich.console import Console

from diagnose.errors import InputError, UsageError
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.hearing_words import progress_text
from diagnose.terminal.listening import calibrate, listen, progress_shown
from tests.measurement.synthetic_clock import Clock, sound_of

RATE = 16_000
WORDS = Wording(read_knowledge(check=False))


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))


@pytest.fixture(scope="module")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("sounds")
    for name, clock in (
        ("clock", Clock(beats_per_hour=7200.0, beat_error_percent=8.0, seconds=20.0, rate_hz=RATE)),
        ("other", Clock(beats_per_hour=9000.0, seconds=20.0, rate_hz=RATE)),
    ):
        soundfile.write(folder / f"{name}.wav", sound_of(clock, 3).samples, RATE)
    # A phone that counts 40 ppm too many beside a clock that ticks once a second.
    drops = (0.4 + np.arange(59)) * (1.0 + 40e-6)
    quartz = Clock(beats_per_hour=3600.0, seconds=60.0, rate_hz=RATE, same_kind=True, late_impact=0.0)
    soundfile.write(folder / "quartz.wav", sound_of(quartz, 5, drops).samples, RATE)
    return folder


def heard(capsys: pytest.CaptureFixture[str], path: Path, beside: Path | None = None, device: str = "") -> dict:  # type: ignore[type-arg]
    listen(path, 7200.0, None, True, False, beside, device)
    return json.loads(capsys.readouterr().out)  # type: ignore[no-any-return]


def test_a_calibrated_phone_gives_the_rate_without_its_own_error(sounds: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    before = heard(capsys, sounds / "clock.wav")
    assert calibrate(sounds / "quartz.wav", "MB phone", "quartz", False) == 0
    assert "+40.0 +- 6" in capsys.readouterr().out
    after = heard(capsys, sounds / "clock.wav", device="mb phone")

    # 40 ppm of 86 400 s are 3.456 s a day.
    assert after["rate_s_per_day"] - before["rate_s_per_day"] == pytest.approx(3.456, abs=0.1)
    assert before["terms"]["rate_sample_clock"] == pytest.approx(4.32)
    assert after["terms"]["rate_sample_clock"] < 0.7
    assert after["beat_error_percent"] == pytest.approx(before["beat_error_percent"], abs=1e-3)


def test_what_was_calibrated_is_listed(sounds: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    assert calibrate(None, "", "quartz", False) == 0
    assert WORDS.say("calibrate-none") in capsys.readouterr().err
    calibrate(sounds / "quartz.wav", "bench", "quartz", True)
    assert json.loads(capsys.readouterr().out)["ppm"] == pytest.approx(40.0, abs=1.0)
    calibrate(None, "", "quartz", False)
    assert capsys.readouterr().out.startswith("bench   +40.")


def test_without_a_name_nothing_is_remembered(sounds: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    calibrate(sounds / "quartz.wav", "", "quartz", False)
    assert WORDS.say("calibrate-not-kept") in capsys.readouterr().out
    calibrate(None, "", "quartz", True)
    assert json.loads(capsys.readouterr().out) == []


def test_a_clock_is_no_source_to_calibrate_by(sounds: Path) -> None:
    with pytest.raises(InputError, match="too short"):
        calibrate(sounds / "clock.wav", "MB phone", "quartz", False)


def test_an_unknown_phone_is_told_before_anything_is_heard() -> None:
    with pytest.raises(UsageError, match="no device 'nobody'"):
        listen(Path("not there.wav"), None, None, False, False, None, "nobody")


def test_two_recordings_of_one_clock_are_heard_together(sounds: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    both = heard(capsys, sounds / "clock.wav", beside=sounds / "clock.wav")
    assert both["beat_error_percent"] == pytest.approx(8.0, abs=0.3)


def test_a_recording_of_another_clock_beside_it_is_refused(sounds: Path, capsys) -> None:  # type: ignore[no-untyped-def]
    assert listen(sounds / "clock.wav", None, None, True, False, sounds / "other.wav", "") == 1
    assert json.loads(capsys.readouterr().out)["refused"] == "two clocks"


def test_without_a_recording_it_says_what_can_be_heard() -> None:
    with pytest.raises(UsageError, match="diagnose listen --live"):
        listen(None, None, None, False, False, None, "")


@pytest.mark.parametrize(
    ("done", "promised", "text"),
    [(75.0, 600.0, "1:15 of 10:00 min (12 %)"), (75.0, 0.0, "1:15 min so far"), (700.0, 600.0, "(100 %)")],
)
def test_progress_says_how_much_of_how_much(done: float, promised: float, text: str) -> None:
    assert text in progress_text(done, promised, WORDS)


def test_progress_of_a_long_recording_is_shown_on_a_terminal_and_of_a_short_one_not() -> None:
    def shown(promised: float) -> str:
        console = Console(force_terminal=True, width=80, color_system=None)
        with console.capture() as capture, progress_shown(WORDS, console) as progress:
            progress(1.0, promised)
        return capture.get()

    assert "0:01 of 10:00 min" in shown(600.0)
    assert "min" not in shown(20.0)
