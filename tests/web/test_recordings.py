"""A recording dropped on the page is heard; what is no recording is told in one sentence, and nothing is lost."""

from __future__ import annotations

import html
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge
from diagnose.web import forms
from tests.web.examples import begun, ticking

UNEVEN = ticking()
BY_CASE = "set-the-beat-at-the-case"


def send_note(client: TestClient, token: str, sound: bytes, name: str = "note.wav", **more: str):  # type: ignore[no-untyped-def]
    """Send a voice note as the first page does."""
    given = {"token": token, "side": "left", "bph": "5400", "family": "wall"} | more
    return client.post("/note", data=given, files={"recording": (name, sound, "audio/wav")})


def kept(recordings: Path) -> list[str]:
    """Return the kinds of files in the folder of recordings."""
    return sorted(path.suffix for path in recordings.glob("*")) if recordings.is_dir() else []


def test_a_voice_note_gives_the_split_the_early_side_and_one_act(
    client: TestClient, token: str, knowledge: Knowledge
) -> None:
    page = send_note(client, token, UNEVEN)

    assert page.status_code == 200
    assert "56.0 : 44.0" in page.text
    assert knowledge.screen["early-right"].staff in page.text
    assert "to the right" in page.text


def test_without_a_side_the_sentence_to_learn_it_is_said(client: TestClient, token: str, knowledge: Knowledge) -> None:
    page = send_note(client, token, UNEVEN, side="unknown")

    assert "draw the bob to your left" in page.text


def test_with_the_kind_of_clock_unknown_the_tall_case_is_warned_of(client: TestClient, token: str) -> None:
    page = send_note(client, token, UNEVEN, family="unknown")

    assert "A second person holds the case" in page.text


def test_another_adjuster_gives_another_act(client: TestClient, token: str) -> None:
    page = send_note(client, token, UNEVEN)

    assert "move the grip on the leader" in client.get(f"{page.url.path}?adjuster=leader-adjuster").text


def test_a_voice_note_becomes_a_case_with_all_that_was_heard(
    client: TestClient, store: Store, token: str, recordings: Path
) -> None:
    note = send_note(client, token, UNEVEN).url.path
    given = {"token": token, "door": "stops", "where": "call", "clock": "Larch Lane", "staff": "MB", "reader": "staff"}

    page = client.post(f"{note}/case", data=given)

    events = store.events(page.url.path.rsplit("/", 1)[-1])
    (heard,) = (event for event in events if isinstance(event, ev.Heard))
    assert heard.beats["early_side"] == "right" and heard.first_side == "left"
    assert Path(heard.file).parent == recordings and Path(heard.file).is_file()
    assert ev.FactSet("clock", "family", "wall") in events


def test_a_kept_recording_is_heard_the_same_when_the_case_is_replayed(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.set_fact("clock", "beats_per_hour", "5400")
    client.post(
        f"/case/{consultation.kept_as}/hear", data={"token": token, "side": "left"}, files={"recording": UNEVEN}
    )
    case = Consultation.resume(knowledge, store, str(consultation.kept_as)).case
    (heard,) = (event for event in case.events if isinstance(event, ev.Heard))

    again = Consultation(case, knowledge).hear(Path(heard.file), "left")

    assert again.beats["beat_error_percent"] == pytest.approx(heard.beats["beat_error_percent"], abs=1e-9)


def test_a_recording_in_a_case_counts_and_is_told_before_the_next_question(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)

    page = client.post(
        f"/case/{consultation.kept_as}/hear",
        data={"token": token, "side": "left", "bph": "5400"},
        files={"recording": UNEVEN},
    )

    now = Consultation.resume(knowledge, store, str(consultation.kept_as))
    assert "56.0 : 44.0" in page.text
    assert {finding.finding: finding.said for finding in now.assessment.findings}["tick-evenness"] == "limping"
    assert now.case.clock.beats_per_hour == 5400


def test_inside_a_remedy_a_recording_gives_the_next_act_and_the_act_before_it_is_noted(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")
    consultation.begin_walk(BY_CASE)
    while knowledge.remedies[BY_CASE].steps[consultation.walk.step].act != "set-the-beat":  # type: ignore[union-attr]
        consultation.step_right()
    address = f"/case/{consultation.kept_as}"
    given = {"token": token, "side": "left", "bph": "5400"}

    first = client.post(f"{address}/hear", data=given, files={"recording": UNEVEN}).text
    client.post(f"{address}/hear", data=given | {"act_done": "1"}, files={"recording": ticking(percent=6.0)})

    events = store.events(str(consultation.kept_as))
    acts = [event for event in events if isinstance(event, ev.Acted)]
    assert 'name="act_done"' in first
    assert [(act.adjuster, act.direction) for act in acts] == [("case-hook", "right")]
    assert [event.within for event in events if isinstance(event, ev.Heard)] == [BY_CASE, BY_CASE]


@pytest.mark.parametrize(
    ("sound", "name", "sentence"),
    [
        (b"", "empty.wav", "The file is empty"),
        (b"this is a letter, not a sound, " * 40, "letter.wav", "text file"),
        (bytes(range(256)) * 40, "noise.wav", "no sound file of a known kind"),
        (b"RIFF\x00\x00\x00\x00WAVE" + b"\x00" * 200, "broken.wav", "."),
    ],
    ids=["empty", "text", "unknown", "broken"],
)
def test_what_is_no_recording_is_told_in_one_sentence_and_not_kept(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, recordings: Path,
    sound: bytes, name: str, sentence: str,
) -> None:  # fmt: skip
    consultation = begun(knowledge, store)
    before = store.events(str(consultation.kept_as))

    page = client.post(
        f"/case/{consultation.kept_as}/hear",
        data={"token": token, "side": "left", "bph": "5400"},
        files={"recording": (name, sound, "audio/wav")},
    )

    assert page.status_code == 422 and sentence in page.text
    assert str(recordings) not in page.text
    assert 'value="5400"' in page.text and '<option value="left" selected>' in page.text
    assert store.events(str(consultation.kept_as)) == before
    assert kept(recordings) == []


def test_a_recording_without_ticks_is_kept_and_says_the_way_out(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, recordings: Path
) -> None:
    consultation = begun(knowledge, store)
    consultation.answer("tick-evenness", "limping")

    page = client.post(
        f"/case/{consultation.kept_as}/hear", data={"token": token}, files={"recording": ticking(seconds=1.5)}
    )

    assert page.status_code == 200 and "Record" in page.text
    assert kept(recordings) == [".wav"]


@pytest.mark.parametrize("name", ["../../evil.wav", "/etc/passwd", "a\x00b.wav", "x" * 400 + ".exe", "note.php"])
def test_the_name_of_a_file_is_never_used(client: TestClient, token: str, recordings: Path, name: str) -> None:
    send_note(client, token, UNEVEN, name)

    assert kept(recordings) == [".json", ".wav"]
    assert sorted(path.name for path in recordings.parent.iterdir()) == ["cases.sqlite", "recordings"]


def test_a_file_that_is_too_large_is_told_and_not_kept(
    client: TestClient, token: str, recordings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forms, "LARGEST_UPLOAD_MB", 0.1)

    page = send_note(client, token, UNEVEN)

    assert page.status_code == 422 and "larger than" in page.text
    assert 'value="5400"' in page.text
    assert kept(recordings) == []


def test_no_file_at_all_is_told(client: TestClient, token: str, knowledge: Knowledge) -> None:
    page = client.post("/note", data={"token": token, "side": "left"})

    assert page.status_code == 422 and knowledge.screen["page-no-file"].staff in page.text


def test_a_form_that_breaks_off_is_told_and_leaves_no_file(client: TestClient, recordings: Path) -> None:
    body = b'--x\r\nContent-Disposition: form-data; name="recording"; filename="a"\r\n\r\n' + UNEVEN[:5000]

    page = client.post("/note", content=body, headers={"content-type": "multipart/form-data; boundary=x"})

    assert page.status_code in {403, 422}
    assert kept(recordings) == []


def test_without_the_token_a_recording_is_not_kept(client: TestClient, recordings: Path) -> None:
    assert send_note(client, "guessed", UNEVEN).status_code == 403
    assert kept(recordings) == []


def test_taps_are_heard_like_a_recording(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, recordings: Path
) -> None:
    consultation = begun(knowledge, store)
    times = [beat * 2 / 3 + (0.1 if beat % 2 else 0.0) for beat in range(40)]

    client.post(
        f"/case/{consultation.kept_as}/hear",
        data={"token": token, "times": "\n".join(f"{time:.3f}" for time in times), "side": "unknown"},
    )

    (heard,) = (event for event in store.events(str(consultation.kept_as)) if isinstance(event, ev.Heard))
    assert heard.beats["tool"] == "tapped"
    # Two thirds of a second a beat, every second one 0.1 s late: 100 x 0.2 / (4/3) = 15 percent.
    assert abs(heard.beats["beat_error_percent"]) == pytest.approx(15.0, abs=0.1)
    assert kept(recordings) == [".txt"]


def test_a_customer_is_not_told_of_kinds_of_files(client: TestClient, token: str, knowledge: Knowledge) -> None:
    client.cookies.set("reader", "customer")

    page = send_note(client, token, b"this is a letter, not a sound, " * 40, "letter.wav")

    assert str(knowledge.screen["page-not-opened"].customer) in html.unescape(page.text)
    assert "FLAC" not in page.text


def test_a_customer_is_told_once_how_to_learn_the_side(client: TestClient, token: str) -> None:
    client.cookies.set("reader", "customer")

    page = send_note(client, token, UNEVEN, side="unknown")

    assert page.text.count("round weight to your left") == 1
