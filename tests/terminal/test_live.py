"""The live microphone: a level with words, first figures soon, the result when it is stopped."""

from __future__ import annotations

import json
import sys
import types
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rich.console import Console

from diagnose.errors import InputError, UsageError
from diagnose.measurement.incoming import microphone as mic
from diagnose.measurement.incoming.level import LEVEL_STATES, Level
from diagnose.measurement.incoming.microphone import Source, microphone, played
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal import live
from diagnose.terminal.listening import check_live_alone
from diagnose.terminal.live import Heard, listen_live, meter_line, picture
from tests.measurement.synthetic_clock import Clock, sound_of

RATE = 16_000
WORDS = Wording(read_knowledge(check=False))


@pytest.fixture(scope="module")
def clock(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("live") / "clock.wav"
    sound = sound_of(Clock(beats_per_hour=7200.0, beat_error_percent=8.0, seconds=24.0, rate_hz=RATE), 3)
    soundfile.write(path, sound.samples, RATE)
    return path


def until_ctrl_c(path: Path | None, seconds: float) -> Source:
    """Return a microphone that hears a file for so long, until somebody presses Ctrl-C."""

    def blocks() -> Iterator[mic.Block]:
        heard_s = 0.0
        for block in played(path).blocks if path else ():
            if heard_s >= seconds:
                break
            heard_s += len(block) / RATE
            yield block
        raise KeyboardInterrupt

    return Source(float(RATE), blocks())


def test_a_clock_heard_live_gives_its_beat(clock: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert listen_live(None, None, 7200.0, None, True, clock) == 0
    body = json.loads(capsys.readouterr().out)
    assert body["beat_error_percent"] == pytest.approx(8.0, abs=0.3)
    assert body["beats_per_hour"] == pytest.approx(7200.0, rel=1e-3)


def test_it_stops_by_itself_after_the_seconds_that_were_named(clock: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.wav"
    assert listen_live(12.0, kept, None, None, True, clock) == 0
    assert soundfile.info(kept).duration == pytest.approx(12.0)


def test_what_is_kept_is_the_sound_that_was_heard(clock: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.wav"
    listen_live(8.0, kept, None, None, True, clock)
    before, after = soundfile.read(clock)[0][: 8 * RATE], soundfile.read(kept)[0]
    # Written with 16 bits: half a step of 2 / 65536.
    assert np.abs(before - after).max() < 2.0 / 65_536


def test_a_file_that_cannot_be_written_is_told_before_anything_is_heard(clock: Path, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        listen_live(8.0, tmp_path / "no such folder" / "kept.wav", None, None, True, clock)


def test_a_file_that_is_there_is_not_written_over(clock: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.wav"
    kept.write_bytes(b"somebody's")
    with pytest.raises(InputError, match="of this name already"):
        listen_live(8.0, kept, None, None, True, clock)
    assert kept.read_bytes() == b"somebody's"


@pytest.mark.parametrize(("recording", "beside", "times"), [("a.wav", None, False), (None, "b.wav", False)])
def test_a_file_and_the_microphone_together_are_no_wish(recording: str, beside: str, times: bool) -> None:
    with pytest.raises(UsageError, match="a file and --live"):
        check_live_alone(recording and Path(recording), beside and Path(beside), times)  # type: ignore[arg-type]


def test_ctrl_c_gives_the_result_so_far(
    clock: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(live, "microphone", lambda: until_ctrl_c(clock, 12.0))
    assert listen_live(None, None, None, None, False, None) == 0
    said = capsys.readouterr().out
    assert "12 s can tell the beat within" in said and "not the rate" in said
    assert "54.0 : 46.0" in said


@pytest.mark.parametrize("seconds", [0.0, 1.0])
def test_ctrl_c_before_there_is_a_figure_ends_as_stopped(
    clock: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], seconds: float
) -> None:
    monkeypatch.setattr(live, "microphone", lambda: until_ctrl_c(clock if seconds else None, seconds))
    assert listen_live(None, None, None, None, False, None) == 130
    assert "out of beat" not in capsys.readouterr().out


def test_a_room_without_a_clock_is_told_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "room.wav"
    soundfile.write(path, 0.001 * np.random.default_rng(1).standard_normal(12 * RATE), RATE)
    assert listen_live(None, None, None, None, False, path) == 1
    heard = capsys.readouterr()
    assert "Not measured" in heard.out
    assert WORDS.say("level-too-quiet") in heard.err


def test_first_figures_stand_within_ten_seconds(clock: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[float, float]] = []

    class Shown:
        def __enter__(self):  # type: ignore[no-untyped-def]
            return lambda heard: seen.append(
                (heard.seconds, heard.beats.beat_error_ms if heard.beats and heard.beats.beat_error_ms else np.nan)
            )

        def __exit__(self, *_: object) -> None:
            return None

    monkeypatch.setattr(live, "_shown", lambda screen, wording: Shown())
    listen_live(10.0, None, None, None, True, clock)
    first_s, error_ms = next((seconds, error) for seconds, error in seen if not np.isnan(error))
    # 8 percent of a swing of 1 s are 80 ms between the intervals, so a beat error of 40 ms.
    assert first_s <= 10.0 and error_ms == pytest.approx(40.0, abs=1.0)


def test_sound_lost_on_the_way_is_told_once(clock: Path, capsys: pytest.CaptureFixture[str], monkeypatch) -> None:  # type: ignore[no-untyped-def]
    source = played(clock)
    source.lost.extend(["Some sound was lost."] * 3)
    monkeypatch.setattr(live, "microphone", lambda: source)
    listen_live(10.0, None, None, None, True, None)
    assert json.loads(capsys.readouterr().out)["warnings"].count("Some sound was lost.") == 1


# ---- what is shown -------------------------------------------------------------------------------------------


def as_text(heard: Heard, width: int = 100) -> str:
    console = Console(width=width, color_system=None, force_terminal=True)
    with console.capture() as capture:
        console.print(picture(heard, WORDS))
    return capture.get()


@pytest.mark.parametrize("state", LEVEL_STATES)
def test_every_state_of_the_level_is_said_in_words(state: str) -> None:
    shown = as_text(Heard(4.0, Level(-20.0, -24.0, -60.0, 36.0, 0.0, state)))  # type: ignore[arg-type]
    assert WORDS.say(f"level-{state}") in shown


def test_the_meter_grows_with_the_tick_and_with_the_floor() -> None:
    def signs(tick: float, floor: float) -> tuple[int, int]:
        line = meter_line(Level(tick, tick, floor, tick - floor, 0.0, "good"), WORDS)
        return line.count("="), line.count("#")

    assert signs(-10.0, -60.0)[1] > signs(-30.0, -60.0)[1]
    assert signs(-10.0, -30.0)[0] > signs(-10.0, -60.0)[0]
    assert signs(0.0, -70.0) == (0, 35)


def test_nothing_heard_yet_fits_the_meter() -> None:
    assert "[...................................]" in as_text(Heard())


# ---- the microphone ------------------------------------------------------------------------------------------


def fake_sounddevice(**parts: object) -> types.ModuleType:
    module = types.ModuleType("sounddevice")
    module.PortAudioError = type("PortAudioError", (Exception,), {})  # type: ignore[attr-defined]
    for name, part in parts.items():
        setattr(module, name, part)
    return module


def test_without_the_extra_one_sentence_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(InputError, match=r"pip install 'stopped-clock\[microphone\]'.*diagnose listen FILE"):
        microphone()


def test_a_machine_without_a_microphone_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    module = fake_sounddevice()

    def none(kind: str) -> None:
        raise module.PortAudioError("Error querying device -1")

    module.query_devices = none  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    with pytest.raises(InputError, match=r"this machine has no microphone\. Plug one in, or record with a phone"):
        microphone()


def test_a_microphone_that_may_not_be_opened_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    module = fake_sounddevice(query_devices=lambda kind: {"default_samplerate": 48_000.0})

    def stream(**_: object) -> None:
        raise module.PortAudioError("Device unavailable")

    module.InputStream = stream  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    with pytest.raises(InputError, match="cannot be opened"):
        next(microphone().blocks)


class Stream:
    """A microphone that gives two blocks, the second after some were lost."""

    def __init__(self, callback, samplerate: float, **_: object) -> None:  # type: ignore[no-untyped-def]
        self.callback, self.rate = callback, samplerate

    def __enter__(self) -> Stream:
        for lost in (False, True):
            status = types.SimpleNamespace(input_overflow=lost)
            self.callback(np.full((4, 1), 0.25, np.float32), 4, None, status)
        return self

    def __exit__(self, *_: object) -> None:
        return None


def test_blocks_of_the_microphone_come_as_one_row_and_losses_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mic, "_WAIT_S", 0.05)
    module = fake_sounddevice(query_devices=lambda kind: {"default_samplerate": 44_100.0}, InputStream=Stream)
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    source = microphone()
    first, second = next(source.blocks), next(source.blocks)
    assert source.rate_hz == 44_100.0 and first.shape == second.shape == (4,)
    assert source.lost and "too busy" in source.lost[0]
    with pytest.raises(InputError, match="nothing comes from the microphone"):
        next(source.blocks)


def test_a_file_is_played_as_fast_as_it_would_come(clock: Path) -> None:
    waited: list[float] = []
    source = played(clock, paced=True, sleep=waited.append)
    assert sum(len(block) for block in source.blocks) == 24 * RATE
    assert sum(waited) == pytest.approx(24.0, abs=0.3)
