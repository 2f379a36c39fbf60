"""The ways in beside a file: two phones, counting, the browser's own recording, a phone whose clock is known."""

from __future__ import annotations

import html
import json
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from diagnose.cases import events as ev
from diagnose.cases.case import read_case
from diagnose.cases.case_text import case_to_yaml
from diagnose.cases.devices import Device, known_devices, remember_device
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge
from tests.measurement.synthetic_clock import Clock, sound_of
from tests.web.examples import as_wave, begun, ticking


@pytest.fixture(autouse=True)
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def note_of(recordings: Path) -> dict:  # type: ignore[type-arg]
    (path,) = recordings.glob("*.json")
    return json.loads(path.read_text(encoding="utf-8"))  # type: ignore[no-any-return]


def files(*sounds: bytes) -> dict:  # type: ignore[type-arg]
    names = ("recording", "beside")
    return {name: (f"{name}.wav", sound, "audio/wav") for name, sound in zip(names, sounds, strict=False)}


def two_impacts(share: float) -> bytes:
    """Return a clock at 7200 whose every second drop is 10 ms late and followed by an impact `share` as loud."""
    rate_hz, random = 16_000, np.random.default_rng(5)
    sound = 2e-4 * random.standard_normal(30 * rate_hz)
    ring = np.exp(-np.arange(int(0.03 * rate_hz)) / (0.002 * rate_hz))
    voices = [ring * np.sin(2 * np.pi * hz * np.arange(len(ring)) / rate_hz) for hz in (2300.0, 1700.0, 2900.0)]
    for beat in range(58):
        drop_s = 0.4 + 0.5 * beat + random.normal(0.0, 1e-4) + (0.01 if beat % 2 else 0.0)
        for voice, late_s, loud in ((beat % 2, 0.0, 0.25), (2, 0.018, 0.25 * share * (beat % 2))):
            start = round((drop_s + late_s) * rate_hz)
            sound[start : start + len(ring)] += loud * voices[voice]
    return as_wave(sound, rate_hz)


# ---- two phones ----------------------------------------------------------------------------------------------


def test_two_phones_sent_together_are_heard_together(client: TestClient, token: str, recordings: Path) -> None:
    page = client.post("/note", data={"token": token, "bph": "7200"}, files=files(two_impacts(3.0), two_impacts(0.1)))

    note = note_of(recordings)
    assert page.status_code == 200 and note["beats"]["beat_error_percent"] == pytest.approx(2.0, abs=0.3)
    assert note["beats"]["rivals_percent"] == [] and Path(note["made"]["beside"]).exists()


def test_where_two_impacts_compete_a_second_place_is_asked_for_and_settles_it(
    client: TestClient, token: str, knowledge: Knowledge, recordings: Path
) -> None:
    first = client.post("/note", data={"token": token, "bph": "7200"}, files=files(two_impacts(3.0)))
    assert knowledge.screen["page-two-title"].staff.replace("?", "") in first.text

    second = client.post(f"{first.url.path}/beside", data={"token": token}, files=files(two_impacts(0.1)))

    assert second.url.path == first.url.path
    assert "settles it" in second.text and knowledge.screen["page-two-now"].staff not in second.text
    assert note_of(recordings)["beats"]["beat_error_percent"] == pytest.approx(2.0, abs=0.3)


def test_a_second_recording_that_is_none_leaves_the_note_as_it_was(
    client: TestClient, token: str, recordings: Path
) -> None:
    first = client.post("/note", data={"token": token, "bph": "7200"}, files=files(two_impacts(3.0)))
    before = note_of(recordings)

    second = client.post(f"{first.url.path}/beside", data={"token": token})

    assert second.status_code == 422 and note_of(recordings) == before
    assert client.post("/note/0000000000000000/beside", data={"token": token}).status_code == 404


def test_only_the_second_of_two_files_is_taken_as_the_first(client: TestClient, token: str) -> None:
    sent = {"beside": ("b.wav", ticking(), "audio/wav")}
    assert "56.0 : 44.0" in client.post("/note", data={"token": token, "bph": "5400"}, files=sent).text


def test_two_phones_in_a_case_stay_two_in_its_file(
    client: TestClient, store: Store, knowledge: Knowledge, token: str, tmp_path: Path
) -> None:
    consultation = begun(knowledge, store)
    sent = {"token": token, "bph": "7200"}
    client.post(f"/case/{consultation.kept_as}/hear", data=sent, files=files(two_impacts(3.0), two_impacts(0.1)))
    case = Consultation.resume(knowledge, store, str(consultation.kept_as)).case
    (heard,) = (event for event in case.events if isinstance(event, ev.Heard))

    path = tmp_path / "case.yaml"
    path.write_text(case_to_yaml(case), encoding="utf-8")
    again = Consultation.replay(read_case(path, knowledge), knowledge).case
    (replayed,) = (event for event in again.events if isinstance(event, ev.Heard))

    assert heard.made["beside"] and replayed.made == heard.made
    assert replayed.beats["beat_error_percent"] == pytest.approx(heard.beats["beat_error_percent"], abs=1e-6)


# ---- counting ------------------------------------------------------------------------------------------------


def test_a_count_gives_the_train(client: TestClient, token: str, recordings: Path) -> None:
    page = client.post("/note", data={"token": token, "count": "240", "seconds": "120"})

    assert "7200 beats an hour" in page.text
    assert [path.read_text() for path in recordings.glob("*.count")] == ["240/120\n"]


def test_a_count_in_a_case_is_read_again_from_its_file(
    client: TestClient, store: Store, knowledge: Knowledge, token: str
) -> None:
    consultation = begun(knowledge, store)
    client.post(f"/case/{consultation.kept_as}/hear", data={"token": token, "count": "240", "seconds": "120"})
    case = Consultation.resume(knowledge, store, str(consultation.kept_as)).case
    (heard,) = (event for event in case.events if isinstance(event, ev.Heard))

    again = Consultation(case, knowledge).listen_to(Path(heard.file))

    assert heard.beats["tool"] == "counted" and again.beats == heard.beats


@pytest.mark.parametrize(
    ("count", "seconds", "said"),
    [("240", "", "Give both"), ("many", "120", "is not a number"), ("1000", "60", "is no pendulum")],
)
def test_a_count_that_says_nothing_is_told(
    client: TestClient, token: str, count: str, seconds: str, said: str, recordings: Path
) -> None:
    page = client.post("/note", data={"token": token, "count": count, "seconds": seconds})

    assert page.status_code == 422 and said in page.text and not list(recordings.glob("*"))


# ---- what the browser did to the sound -------------------------------------------------------------------------


def test_noise_suppression_that_stayed_on_is_told_and_stays_with_the_recording(
    client: TestClient, token: str, knowledge: Knowledge, recordings: Path
) -> None:
    settings = json.dumps({"noiseSuppression": True, "echoCancellation": False, "sampleRate": 48_000})
    page = client.post("/note", data={"token": token, "bph": "5400", "settings": settings}, files=files(ticking()))

    assert knowledge.screen["page-made-noise_suppression"].staff in html.unescape(page.text)
    assert note_of(recordings)["made"] == {"noise_suppression": True, "echo_cancellation": False}


@pytest.mark.parametrize("settings", ["", "{", "[]", '{"noiseSuppression": "yes"}', "null"])
def test_settings_that_cannot_be_read_say_nothing(
    client: TestClient, token: str, settings: str, recordings: Path
) -> None:
    client.post("/note", data={"token": token, "bph": "5400", "settings": settings}, files=files(ticking()))

    assert note_of(recordings)["made"] == {}


# ---- a phone whose clock is known ------------------------------------------------------------------------------


def test_a_known_phone_can_be_chosen_and_its_rate_is_put_right(
    client: TestClient, token: str, own_data: Path, recordings: Path
) -> None:
    assert 'name="device"' not in client.get("/").text
    remember_device(Device("MB phone", 40.0, 6.4, "2031-03-12"), own_data)
    assert "<option>MB phone</option>" in client.get("/").text

    client.post("/note", data={"token": token, "bph": "5400", "device": "MB phone"}, files=files(ticking()))

    note = note_of(recordings)
    # 6.4 ppm of 86 400 s are 0.553 s a day.
    assert note["beats"]["terms"]["rate_sample_clock"] == pytest.approx(0.553, abs=0.001)
    assert (note["made"]["ppm"], note["made"]["sigma_ppm"]) == (40.0, 6.4)


def test_a_damaged_list_of_phones_keeps_no_page_back(client: TestClient, own_data: Path) -> None:
    own_data.mkdir(parents=True, exist_ok=True)
    (own_data / "devices.json").write_text("{", encoding="utf-8")

    assert client.get("/").status_code == 200
    assert "Delete it and calibrate again" in client.get("/calibrate").text


def quartz(ppm: float = 40.0) -> bytes:
    """Return a battery clock as a phone records it that counts so many parts in a million too many."""
    drops = (0.4 + np.arange(59)) * (1.0 + ppm * 1e-6)
    clock = Clock(beats_per_hour=3600.0, seconds=60.0, rate_hz=8000, same_kind=True, late_impact=0.0)
    return as_wave(sound_of(clock, 5, drops).samples, 8000)


def test_a_phone_is_compared_on_the_page_and_remembered(
    client: TestClient, token: str, own_data: Path, recordings: Path
) -> None:
    given = {"token": token, "device": "MB phone", "source": "quartz"}
    page = client.post("/calibrate/heard", data=given, files=files(quartz()))

    (device,) = known_devices(own_data)
    assert device.ppm == pytest.approx(40.0, abs=2.0) and "MB phone counts" in page.text
    assert not list(recordings.glob("*"))


@pytest.mark.parametrize(
    ("given", "sound", "said"),
    [
        ({"device": "", "source": "quartz"}, True, "Give the phone a name"),
        ({"device": "x", "source": "a clock"}, True, "a clock"),
        ({"device": "x", "source": "quartz"}, False, "No file was chosen"),
    ],
)
def test_what_is_missing_to_compare_a_phone_is_told(
    client: TestClient, token: str, own_data: Path, given: dict[str, str], sound: bool, said: str
) -> None:
    sent = files(ticking(seconds=3.0)) if sound else None
    page = client.post("/calibrate/heard", data={"token": token, **given}, files=sent)

    assert page.status_code == 422 and said in page.text and known_devices(own_data) == []
