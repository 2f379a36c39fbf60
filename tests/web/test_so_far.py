"""What the page is told while something runs: the sound so far, the taps so far, how far a file was heard."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.model.reading import Knowledge
from diagnose.web.forms import Given
from diagnose.web.so_far import followed
from tests.web.examples import ticking


def ask(client: TestClient, token: str, sound: bytes | None = None, **more: str):  # type: ignore[no-untyped-def]
    """Ask what can be told so far, as the script of the page does."""
    files = None if sound is None else {"recording": ("recorded.wav", sound, "audio/wav")}
    return client.post("/hear/so-far", data={"token": token, **more}, files=files)


def test_of_a_clock_that_is_being_recorded_level_and_figures_are_told(
    client: TestClient, token: str, knowledge: Knowledge
) -> None:
    told = ask(client, token, ticking(seconds=12.0), side="left", bph="5400").json()

    assert (told["state"], told["level"]) == ("good", knowledge.screen["level-good"].staff)
    assert told["lines"][0].startswith("12 s can tell the beat within")
    assert any("56.0 : 44.0" in line for line in told["lines"])


def test_the_first_seconds_tell_the_level_and_no_figure(client: TestClient, token: str) -> None:
    told = ask(client, token, ticking(seconds=3.0)).json()

    assert told["state"] == "good" and told["lines"] == []


def test_nothing_of_the_sound_so_far_is_kept(client: TestClient, token: str, recordings: Path) -> None:
    ask(client, token, ticking(seconds=6.0))

    assert list(recordings.glob("*")) == []


def test_without_the_token_nothing_is_told(client: TestClient, recordings: Path) -> None:
    reply = ask(client, "guessed", ticking(seconds=6.0))

    assert reply.status_code == 422 and "state" not in reply.json()
    assert list(recordings.glob("*")) == []


def test_what_is_no_sound_is_told_in_one_sentence(client: TestClient, token: str) -> None:
    reply = ask(client, token, b"this is a letter, not a sound " * 40)

    assert reply.status_code == 422 and "text file" in reply.json()["lines"][0]


@pytest.mark.parametrize(
    ("count", "begins", "enough"),
    [(3, "Taps: 3. At least 8", False), (10, "10 taps: out of beat", False), (40, "40 taps: out of beat", True)],
)
def test_taps_say_how_sure_they_are_and_when_they_do(
    client: TestClient, token: str, count: int, begins: str, enough: bool
) -> None:
    times = "\n".join(f"{tap * 0.5 + (0.03 if tap % 2 else 0.0) + 0.004 * (tap % 3):.3f}" for tap in range(count))
    told = ask(client, token, times=times).json()

    assert told["lines"][0].startswith(begins) and told["enough"] == enough


def test_taps_that_are_no_times_are_told(client: TestClient, token: str) -> None:
    assert "is not a time" in ask(client, token, times="0 later").json()["lines"][0]


def test_how_far_a_recording_was_heard_is_told_until_it_is_done(client: TestClient) -> None:
    desk = client.app.state.desk  # type: ignore[attr-defined]
    given = Given({"ticket": ["0123456789abcdef"]})
    address = "/hear/how-far/0123456789abcdef"
    with followed(desk, given) as progress:
        progress(90.0, 600.0)
        during = client.get(address).json()["line"]
    assert "1:30 of 10:00 min (15 %)" in during
    assert client.get(address).json() == {"line": None}


@pytest.mark.parametrize("ticket", ["", "../../etc", "x" * 16, "ab"])
def test_a_ticket_of_another_form_is_not_followed(client: TestClient, ticket: str) -> None:
    desk = client.app.state.desk  # type: ignore[attr-defined]
    with followed(desk, Given({"ticket": [ticket]})) as progress:
        progress(1.0, 2.0)
        assert desk.how_far == {}


def test_a_voice_note_with_a_ticket_leaves_nothing_behind(client: TestClient, token: str) -> None:
    given = {"token": token, "ticket": "0123456789abcdef", "bph": "5400"}
    client.post("/note", data=given, files={"recording": ("note.wav", ticking(), "audio/wav")})

    assert client.app.state.desk.how_far == {}  # type: ignore[attr-defined]
