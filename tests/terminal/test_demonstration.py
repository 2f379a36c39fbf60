"""The demo plays the fitting story from the first word to the proof."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.terminal.demonstration import demo

MOST_LINES, WIDTH = 60, 80


def test_the_story_goes_from_the_first_word_to_the_proof(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    demo(tmp_path)
    told = capsys.readouterr().out
    wanted = (
        "Said on the phone",
        "Uneven: 56.4 : 43.6",
        "The right side comes early",
        "others were not needed",
        "Likely causes",
        "What to do: Set the beat at the case",
        "on your right, as you face the dial",
        "Even: 50.5 : 49.5",
        "Proof:",
        "A file that is no recording",
        "serve --browser --case",
    )
    # Where a line ends depends on the size of the act: sentences are looked for without it.
    told = " ".join(told.split())
    places = [told.find(text) for text in wanted]
    assert -1 not in places, wanted[places.index(-1)]
    assert places == sorted(places)
    lines = told.splitlines()
    assert len(lines) < MOST_LINES
    files = [path.suffix for path in tmp_path.iterdir()]
    assert {".svg", ".html", ".json", ".yaml", ".txt"} <= set(files)
    assert not (tmp_path / "voice-note.flac").exists()
