"""The words record, live, tap and count in a talk."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import soundfile
from rich.console import Console

from diagnose.cases import events as ev
from diagnose.cases.events import Contact
from diagnose.consultation import Consultation
from diagnose.measurement.incoming import microphone as mic
from diagnose.measurement.incoming.microphone import played
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal.talk import Talk
from tests.measurement.synthetic_clock import Clock, sound_of

KNOWLEDGE = read_knowledge(check=False)
RATE = 16_000


@pytest.fixture
def clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))
    path = tmp_path / "clock.wav"
    sound = sound_of(Clock(beats_per_hour=7200.0, beat_error_percent=8.0, seconds=14.0, rate_hz=RATE), 3)
    soundfile.write(path, sound.samples, RATE)
    return path


def talked(*lines: str) -> tuple[str, list[ev.Heard]]:
    """Play lines in a talk about a clock of 7200 beats an hour; return what was shown, and what was heard."""
    consultation = Consultation.begin(KNOWLEDGE, "stops", Contact("c1", "visit"))
    for field, value in (("family", "wall"), ("drive", "spring"), ("beats_per_hour", "7200")):
        consultation.set_fact("clock", field, value)
    consultation.say("it limps")
    console, rows = Console(record=True, width=100, file=io.StringIO()), iter(("all", *lines))
    Talk(consultation, Wording(KNOWLEDGE), console, lambda prompt: next(rows, None)).run()
    heard = [event for event in consultation.case.events if isinstance(event, ev.Heard)]
    return " ".join(console.export_text().split()), heard


def test_the_microphone_is_heard_until_it_is_stopped_and_its_sound_is_kept(
    clock: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped_by_hand() -> Iterator[mic.Block]:
        yield from played(clock).blocks
        raise KeyboardInterrupt

    monkeypatch.setattr(mic, "microphone", lambda: mic.Source(float(RATE), stopped_by_hand()))
    shown, (heard,) = talked("live left")

    assert "54.0 : 46.0" in shown
    assert heard.first_side == "left" and soundfile.info(heard.file).duration == pytest.approx(14.0)


def test_a_microphone_that_gives_nothing_leaves_nothing_behind(
    clock: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mic, "microphone", lambda: mic.Source(float(RATE), iter(())))
    shown, heard = talked("live")

    assert "Nothing was heard." in shown and heard == []
    assert list((tmp_path / "data" / "recordings").glob("*")) == []


def test_two_recordings_of_one_clock_count_as_one(clock: Path) -> None:
    _, (heard,) = talked(f"record {clock} beside {clock} left")

    assert heard.made == {"beside": str(clock)} and heard.first_side == "left"


def test_taps_are_taken_in_and_kept(clock: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    moments = iter(0.25 * tap for tap in range(1, 400))
    monkeypatch.setattr(time, "perf_counter", lambda: next(moments))
    _, (heard,) = talked("tap left", *[""] * 12, "q")

    assert (heard.beats["tool"], heard.beats["beats"], heard.first_side) == ("tapped", 12, "left")
    assert len(Path(heard.file).read_text().split()) == 12


def test_a_count_is_taken_in_and_read_again(clock: Path) -> None:
    shown, (heard,) = talked("count 240/120")

    assert "7200 beats an hour" in shown and heard.beats["tool"] == "counted"
    assert Path(heard.file).read_text() == "240/120\n"


def test_what_is_no_count_says_how_to_write_one(clock: Path) -> None:
    shown, heard = talked("count the beats")

    assert "such as 118/120" in shown and heard == []
