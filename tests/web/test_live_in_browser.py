"""The ways in that need a script, in a browser whose microphone hears a clock: record, tap, count, drop, send."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import soundfile

from diagnose.model.reading import Knowledge
from tests.measurement.synthetic_clock import Clock, sound_of
from tests.web.in_browser import DESK, IN_BROWSER, PHONE, chromium, looked_at, served

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = IN_BROWSER
NEEDED_S = 9.0


@dataclass
class Site:
    """The page as it is served, and where it keeps recordings."""

    address: str
    recordings: Path
    knowledge: Knowledge

    def say(self, key: str) -> str:
        return self.knowledge.screen[key].staff

    def last_note(self) -> dict[str, Any]:
        path = max(self.recordings.glob("*.json"), key=lambda one: one.stat().st_mtime_ns)
        body: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return body


@pytest.fixture(scope="module")
def site(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("live")
    with served(knowledge, folder) as (address, _):
        yield Site(address, folder / "recordings", knowledge)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    clock = tmp_path_factory.mktemp("microphone") / "clock.wav"
    sound = sound_of(Clock(beats_per_hour=7200.0, beat_error_percent=8.0, seconds=30.0, rate_hz=48_000), 3)
    soundfile.write(clock, sound.samples, 48_000, subtype="PCM_16")
    microphone = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
    with chromium(sync_api, *microphone, f"--use-file-for-fake-audio-capture={clock}") as browser:
        yield browser


@pytest.fixture
def page(browser: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    # A form that is not taken is answered with 422, which the browser counts as an error.
    with looked_at(browser, 20.0, "422", viewport=getattr(request, "param", DESK)) as page:
        yield page


def begin(page: Any, site: Site) -> Any:
    """Open the first page and press record; return the part of the page that listens."""
    page.goto(site.address)
    page.get_by_text(site.say("page-live"), exact=True).click()
    page.get_by_role("button", name=site.say("page-live-start")).click()
    return page.locator("[data-live]")


def until(live: Any, seconds: float) -> None:
    """Wait until so much is recorded."""
    for _ in range(100):
        heard = live.locator("[data-seconds]").inner_text().split()
        if heard and float(heard[0]) >= seconds:
            return
        live.page.wait_for_timeout(200)
    raise AssertionError(f"not recorded: {seconds} s")


@pytest.mark.parametrize("page", [PHONE], indirect=True, ids=["phone"])
def test_from_pressing_record_to_the_figures(page: Any, site: Site) -> None:
    live = begin(page, site)
    live.get_by_text("can tell the beat within").wait_for(timeout=20_000)

    said = live.locator("[data-running]").inner_text()
    assert site.say("level-good") in said and "7200 beats an hour" in said
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    until(live, NEEDED_S)
    live.get_by_role("button", name=site.say("page-live-stop")).click()
    page.wait_for_url("**/note/*")

    note = site.last_note()
    assert note["beats"]["beat_error_percent"] == pytest.approx(8.0, abs=0.5)
    assert note["beats"]["seconds"] >= NEEDED_S - 0.1
    assert note["made"] == {"noise_suppression": False, "echo_cancellation": False, "gain_control": False}
    assert soundfile.info(note["file"]).format == "WAV"


def test_the_meter_shows_the_ticks_beyond_what_lies_between_them(page: Any, site: Site) -> None:
    live = begin(page, site)
    until(live, 2.0)
    widths = [live.locator(f"[data-{name}]").bounding_box()["width"] for name in ("tick", "floor")]
    assert widths[0] > widths[1] + 10

    live.get_by_role("button", name=site.say("page-live-drop")).click()
    assert live.locator("[data-running]").is_hidden() and page.url.rstrip("/") == site.address


REFUSING = """navigator.mediaDevices.getUserMedia = async () => { throw new DOMException("no", "%s"); };"""


@pytest.mark.parametrize(
    ("error", "trouble"),
    [("NotAllowedError", "refused"), ("NotFoundError", "missing"), ("NotReadableError", "failed")],
)
def test_a_microphone_that_cannot_be_had_is_told_with_another_way(
    page: Any, site: Site, error: str, trouble: str
) -> None:
    page.add_init_script(REFUSING % error)
    live = begin(page, site)

    live.get_by_text(site.say(f"page-live-{trouble}")).wait_for()
    assert live.get_by_label(site.say("page-live-instead")).get_attribute("capture") is not None
    assert live.get_by_role("button", name=site.say("page-live-start")).is_enabled()


def test_on_plain_http_elsewhere_the_recorder_of_the_phone_is_offered(page: Any, site: Site) -> None:
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false});")
    live = begin(page, site)

    live.get_by_text(site.say("page-live-insecure")).wait_for()
    assert live.get_by_label(site.say("page-live-instead")).is_visible()


WISHES = """
const real = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
window.asked = [];
navigator.mediaDevices.getUserMedia = async (wish) => {
  window.asked.push(JSON.stringify(wish.audio));
  if (window.asked.length === 1) throw new OverconstrainedError("noiseSuppression");
  return real(wish);
};
"""


def test_a_browser_that_cannot_promise_is_asked_again_with_a_wish(page: Any, site: Site) -> None:
    page.add_init_script(WISHES)
    begin(page, site).get_by_role("button", name=site.say("page-live-stop")).wait_for()

    asked = [json.loads(wish) for wish in page.evaluate("window.asked")]
    off = {"exact": False}
    assert asked[0] == {
        "echoCancellation": off, "noiseSuppression": off, "autoGainControl": False, "channelCount": 1,
    }  # fmt: skip
    assert asked[1] == {"echoCancellation": False, "noiseSuppression": False, "autoGainControl": False}


# ---- files -----------------------------------------------------------------------------------------------------


def test_a_file_may_be_dropped_anywhere_on_the_page(page: Any, site: Site) -> None:
    page.goto(site.address)
    page.evaluate(
        """() => {
            const data = new DataTransfer();
            data.items.add(new File(["x"], "dropped.wav"));
            const drop = (kind) => document.querySelector("h1").dispatchEvent(
                new DragEvent(kind, {dataTransfer: data, bubbles: true, cancelable: true}));
            drop("dragenter");
            window.marked = document.querySelector("[data-drop]").classList.contains("over");
            drop("drop");
        }"""
    )

    assert page.evaluate("document.querySelector('#recording').files[0].name") == "dropped.wav"
    assert page.evaluate("window.marked") is True
    assert page.evaluate("document.querySelector('[data-drop]').classList.contains('over')") is False


def test_a_large_file_is_sent_and_heard_while_the_page_says_so(page: Any, site: Site, tmp_path: Path) -> None:
    large = tmp_path / "large.wav"
    sound = sound_of(Clock(beats_per_hour=7200.0, beat_error_percent=8.0, seconds=20.0, rate_hz=48_000), 4)
    soundfile.write(large, sound.samples, 48_000, subtype="PCM_16")
    page.goto(site.address)
    page.evaluate(
        """() => {
            window.name = "[]";
            const busy = document.querySelector("form[data-hear] [data-busy]");
            new MutationObserver(() => {
                window.name = JSON.stringify([...JSON.parse(window.name), busy.textContent]);
            }).observe(busy, {childList: true, characterData: true, subtree: true});
        }"""
    )
    page.get_by_label("Recording", exact=True).set_input_files(str(large))
    page.get_by_role("button", name=site.say("page-hear"), exact=True).click()
    page.wait_for_url("**/note/*")

    said = json.loads(page.evaluate("window.name"))
    assert site.say("page-sending").replace("{percent}", "100") in said
    assert "54.0 : 46.0" in page.locator("main").inner_text()


def test_a_large_file_that_is_no_sound_is_told_and_the_form_can_be_sent_again(
    page: Any, site: Site, tmp_path: Path
) -> None:
    letter = tmp_path / "letter.wav"
    letter.write_text("this is a letter, not a sound " * 40_000, encoding="utf-8")
    page.goto(site.address)
    page.get_by_label("Recording", exact=True).set_input_files(str(letter))
    page.get_by_role("button", name=site.say("page-hear"), exact=True).click()
    form = page.locator("form[data-hear]").first

    form.get_by_text("text file").wait_for()
    assert form.get_attribute("data-sent") is None and form.get_attribute("aria-busy") is None


# ---- tapping and counting ----------------------------------------------------------------------------------------


def test_taps_say_how_sure_they_are_until_they_do(page: Any, site: Site) -> None:
    page.goto(site.address)
    page.get_by_text(site.say("page-tap-now"), exact=True).click()
    page.locator("[data-tap]").focus()
    form = page.locator("form[data-taps]")
    for _ in range(60):
        page.keyboard.press("Space")
        page.wait_for_timeout(200)
        if "Enough" in form.locator("[data-said]").inner_text():
            break

    taps = len(form.locator("textarea").input_value().split())
    assert 20 <= taps < 60
    page.keyboard.press("Space")
    assert len(form.locator("textarea").input_value().split()) == taps
    form.get_by_role("button", name=site.say("page-tap-again")).click()
    assert form.locator("textarea").input_value() == "" and form.locator("[data-said]").inner_text() == ""


def test_the_watch_of_a_count_writes_the_seconds(page: Any, site: Site) -> None:
    page.goto(site.address)
    page.get_by_text(site.say("page-count"), exact=True).click()
    watch = page.locator("[data-watch]")
    watch.click()
    page.wait_for_timeout(1200)
    assert site.say("page-count-stop") in watch.inner_text()
    watch.click()

    assert 1.0 < float(page.locator("#seconds").input_value()) < 4.0
    assert page.evaluate("document.activeElement.id") == "count"
