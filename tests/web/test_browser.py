"""The page in a browser: with and without script, on a phone's width, by keyboard, readable."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from tests.reports.heard import everything
from tests.web.examples import begun, pages_of_a_week, ticking
from tests.web.in_browser import DESK, IN_BROWSER, PHONE, chromium, looked_at, served

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
pytestmark = IN_BROWSER
REMEDY = "set-the-beat-at-the-case"
TRUTH = {"tick-evenness": "limping", "moved-lately": "yes", "shorter-way": "right", "runs-for": "minutes"}
AT_LAST = {"tick-evenness": "even", "runs-for": "keeps-running"}
ENDINGS = ("hand-over", "contact", "close")


@dataclass
class Site:
    """The page as it is served to the browser, and what it keeps."""

    address: str
    store: Store
    pages: dict[str, str]


@pytest.fixture(scope="module")
def site(knowledge: Knowledge, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("page")
    (folder / "tick.wav").write_bytes(ticking())
    with served(knowledge, folder) as (address, store):
        yield Site(address, store, every_page(knowledge, store))


def every_page(knowledge: Knowledge, store: Store) -> dict[str, str]:
    """Return the address of a page of each kind."""
    pages = {"start": "/", "not there": "/case/nothing", "messages": f"/sheet/{REMEDY}/messages"}

    def keep(name: str, consultation: Consultation, more: str = "") -> Consultation:
        pages[name] = f"/case/{consultation.kept_as}{more}"
        return consultation

    keep("complaint", begun(knowledge, store))
    keep("first look", begun(knowledge, store, "fitting"))
    keep("fit", begun(knowledge, store, "part", "workshop"))
    keep("list of alarms", begun(knowledge, store, "alarm"))
    keep("alarm", begun(knowledge, store)).raise_alarm("bang")
    keep("facts", Consultation.begin(knowledge, "moved", store=store))
    keep("confirm", begun(knowledge, store)).say("it stops after two minutes and limps")
    keep("heard", begun(knowledge, store)).take_heard(ev.Heard("larch.flac", everything(), "left"))
    limping = keep("look", begun(knowledge, store))
    limping.answer("tick-evenness", "limping")
    limping.later("overswing")
    keep("why", limping, "/why")
    keep("second opinion", limping, "/opinion?cause=crutch-set-wrong")
    walked = keep("step", begun(knowledge, store, "stops", "visit"))
    walked.answer("tick-evenness", "limping")
    walked.begin_walk(REMEDY)
    done = keep("proof", begun(knowledge, store))
    done.tried(REMEDY, "done")
    cured = keep("cured", begun(knowledge, store))
    cured.tried(REMEDY, "done")
    for proof in knowledge.remedies[REMEDY].proof:
        cured.answer(proof.finding, proof.value)
    closed = keep("closed", begun(knowledge, store))
    closed.conclude("unknown")
    return pages | pages_of_a_week(knowledge, store)


KINDS = (
    "start", "not there", "messages", "complaint", "first look", "fit", "list of alarms", "alarm", "facts", "confirm",
    "look", "why", "second opinion", "step", "proof", "cured", "closed", "homework with a date", "homework answered",
    "told", "route", "part", "calibrate", "stops", "regulate",
    "heard", "reckon", "reckoned", "shim reckoned",
)  # fmt: skip


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium(sync_api) as browser:
        yield browser


@pytest.fixture
def page(browser: Any, request: pytest.FixtureRequest) -> Iterator[Any]:
    with looked_at(browser, 15.0, "404", **{"viewport": DESK, **getattr(request, "param", {})}) as page:
        yield page


def test_the_list_of_pages_is_whole(site: Site) -> None:
    assert set(KINDS) == set(site.pages)


# ---- a case, with and without script -------------------------------------------------------------------


def answer(page: Any, knowledge: Knowledge, mended: bool) -> str:
    """Fill in the first form of the page as a person would, send it, and return what it does."""
    form = page.locator("main form").first
    act = str(form.get_attribute("action")).rsplit("/", 1)[-1]
    if act == "say":
        form.locator("textarea").fill("it limps and stops after two minutes")
    elif act == "facts":
        for name, value in (("clock.family", "wall"), ("clock.drive", "spring")):
            if form.locator(f'select[name="{name}"]').count():
                form.locator(f'select[name="{name}"]').select_option(value)
    elif act == "confirm":
        for option in form.locator('input[value="yes"]').all():
            option.check()
    elif act == "look":
        for field in form.locator('input[name="findings"]').all():
            finding = str(field.get_attribute("value"))
            entry = knowledge.findings[finding]
            value = (AT_LAST if mended else TRUTH).get(finding) or entry.normal or next(iter(entry.values))
            form.locator(f'input[name="value.{finding}"][value="{value}"]').check()
    form.locator("button").first.click()
    page.wait_for_load_state()
    return act


@pytest.mark.parametrize(
    "page", [{"java_script_enabled": True}, {"java_script_enabled": False, "viewport": PHONE}], indirect=True,
    ids=["with script", "without script, on a phone"],
)  # fmt: skip
def test_a_case_is_played_from_the_first_page_to_the_hand_over(page: Any, site: Site, knowledge: Knowledge) -> None:
    page.goto(site.address)
    page.get_by_label("On a visit").check()
    page.get_by_label("Name of the clock").fill("larch lane")
    page.get_by_role("button", name="It stops or runs badly").click()
    page.wait_for_url("**/case/*")
    acts: list[str] = []
    for _ in range(40):
        acts.append(answer(page, knowledge, "step" in acts))
        if acts[-1] in ENDINGS:
            break

    assert acts[-1] == "hand-over"
    assert page.get_by_role("heading", level=1).inner_text() == knowledge.screen["closed-title"].staff
    events = site.store.events(page.url.rsplit("/", 1)[-1])
    assert events[-1] == ev.Concluded("cured", None, "")


@pytest.mark.parametrize(
    "page", [{"java_script_enabled": True}, {"java_script_enabled": False}], indirect=True, ids=["script", "no script"]
)
def test_a_voice_note_is_dropped_and_becomes_a_case(page: Any, site: Site, tmp_path: Path) -> None:
    sound = tmp_path / "note from a phone.wav"
    sound.write_bytes(ticking())
    page.goto(site.address)
    page.get_by_label("Recording").set_input_files(str(sound))
    page.get_by_label("Bob was drawn to this side").first.select_option("left")
    page.get_by_role("button", name="Hear it").click()
    page.wait_for_url("**/note/*")
    assert "56.0 : 44.0" in page.locator("main").inner_text()

    page.get_by_role("button", name="Open a case with this recording").click()
    page.wait_for_url("**/case/*")

    events = site.store.events(page.url.rsplit("/", 1)[-1])
    assert any(isinstance(event, ev.Heard) and event.beats["early_side"] == "right" for event in events)


# ---- what the script adds --------------------------------------------------------------------------------


def test_taps_on_a_key_are_written_where_they_could_be_typed(page: Any, site: Site) -> None:
    page.goto(site.address + site.pages["look"])
    page.get_by_text("Tap in time with the tick").click()
    button = page.locator("[data-tap]")
    button.focus()
    for _ in range(3):
        page.keyboard.press("Space")
        page.wait_for_timeout(60)

    times = [float(line) for line in page.locator("#times").input_value().split()]
    assert len(times) == 3 and times[0] == 0 and times == sorted(times)
    assert page.locator("[data-count]").inner_text() == "3"


def test_while_a_recording_is_heard_the_page_says_so(page: Any, site: Site, tmp_path: Path) -> None:
    sound = tmp_path / "note.wav"
    sound.write_bytes(ticking())
    page.goto(site.address)
    page.get_by_label("Recording").set_input_files(str(sound))
    page.evaluate("document.querySelector('form[data-hear]').addEventListener('submit', (e) => e.preventDefault())")
    page.get_by_role("button", name="Hear it").click()

    assert page.get_by_text("Listening.").first.is_visible()


def test_a_file_may_be_dropped(page: Any, site: Site) -> None:
    page.goto(site.address)
    page.evaluate(
        """() => {
            const data = new DataTransfer();
            data.items.add(new File(["x"], "dropped.wav"));
            document.querySelector("[data-drop]").dispatchEvent(
                new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true}));
        }"""
    )

    assert page.evaluate("document.querySelector('#recording').files[0].name") == "dropped.wav"


def test_a_mark_is_taken_away_by_a_second_click(page: Any, site: Site) -> None:
    page.goto(site.address + site.pages["first look"])
    option = page.locator(".finding label.option").first
    option.click()
    assert page.locator(".finding input:checked").count() == 1

    option.click()

    assert page.locator(".finding input:checked").count() == 0


# ---- on each page ------------------------------------------------------------------------------------------


def on_each_page(page: Any, site: Site, reader: str, script: str) -> dict[str, Any]:
    """Return what a script finds on each kind of page, where it finds anything."""
    page.context.add_cookies([{"name": "reader", "value": reader, "url": site.address}])
    found: dict[str, Any] = {}
    for kind in KINDS:
        page.goto(site.address + site.pages[kind])
        page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
        found[kind] = page.evaluate(script)
    return {kind: what for kind, what in found.items() if what}


@pytest.mark.parametrize("page", [{"viewport": PHONE}], indirect=True, ids=["phone"])
@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_no_page_is_wider_than_a_phone(page: Any, site: Site, reader: str) -> None:
    too_wide = f"Math.max(0, document.documentElement.scrollWidth - {PHONE['width']})"

    assert on_each_page(page, site, reader, too_wide) == {}


@pytest.mark.parametrize("page", [{"viewport": PHONE}], indirect=True, ids=["phone"])
@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_the_letters_in_the_pictures_of_a_beat_are_high_enough_on_a_phone(
    page: Any, site: Site, knowledge: Knowledge, reader: str
) -> None:
    page.context.add_cookies([{"name": "reader", "value": reader, "url": site.address}])
    page.goto(site.address + site.pages["heard"])
    words = Wording(knowledge, reader)  # type: ignore[arg-type]
    page.get_by_text(words.say("page-pictures")).click()
    heights = page.evaluate(
        "[...document.querySelectorAll('.pictures text')]"
        ".map((text) => Number(text.getAttribute('font-size')) * text.ownerSVGElement.getScreenCTM().a)"
    )

    assert len(heights) > 5
    assert min(heights) >= 11


FAULTS = """() => {
    const faults = [];
    const seen = (element) => element.getClientRects().length > 0;
    for (const field of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
        if (!field.labels.length && !field.getAttribute("aria-label")) faults.push("no label: " + field.outerHTML);
    }
    for (const button of document.querySelectorAll("button, a[href], summary")) {
        const image = button.querySelector("img");
        const name = button.getAttribute("aria-label") || button.textContent.trim() || (image && image.alt);
        if (seen(button) && !name) {
            faults.push("no name: " + button.outerHTML);
        }
    }
    for (const image of document.querySelectorAll("img")) {
        if (!image.hasAttribute("alt")) faults.push("no words for: " + image.outerHTML);
    }
    const levels = [...document.querySelectorAll("h1, h2, h3, h4")].map((heading) => Number(heading.tagName[1]));
    if (levels.filter((level) => level === 1).length !== 1) faults.push("not one main heading: " + levels);
    const ids = [...document.querySelectorAll("[id]")].map((element) => element.id);
    ids.filter((id, place) => ids.indexOf(id) !== place).forEach((id) => faults.push("id twice: " + id));
    for (const name of ["for", "aria-labelledby", "aria-describedby"]) {
        for (const element of document.querySelectorAll(`[${name}]`)) {
            for (const id of element.getAttribute(name).split(" ")) {
                if (!document.getElementById(id)) faults.push(name + " leads nowhere: " + element.outerHTML);
            }
        }
    }
    for (const group of document.querySelectorAll("fieldset")) {
        if (!group.querySelector("legend")) faults.push("group without a legend: " + group.className);
    }
    if (document.querySelectorAll("main").length !== 1) faults.push("not one main part");
    if (!document.documentElement.lang || !document.title.trim()) faults.push("no language or title");
    return faults;
}"""
PALE = """() => {
    const rgb = (text) => { const [r, g, b, a = 1] = text.match(/[\\d.]+/g).map(Number); return {r, g, b, a}; };
    const light = ({r, g, b}) => {
        const linear = (c) => c <= .03928 ? c / 12.92 : ((c + .055) / 1.055) ** 2.4;
        const [x, y, z] = [r, g, b].map((c) => linear(c / 255));
        return .2126 * x + .7152 * y + .0722 * z;
    };
    const behind = (element) => {
        for (let at = element; at; at = at.parentElement) {
            const color = rgb(getComputedStyle(at).backgroundColor);
            if (color.a > .99) return color;
        }
        return {r: 255, g: 255, b: 255, a: 1};
    };
    const pale = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
        const element = walker.currentNode.parentElement;
        if (!walker.currentNode.data.trim() || !element.getClientRects().length) continue;
        if (element.tagName === "OPTION") continue;
        const [one, two] = [light(rgb(getComputedStyle(element).color)), light(behind(element))];
        const contrast = (Math.max(one, two) + .05) / (Math.min(one, two) + .05);
        if (contrast < 4.5) pale.push(contrast.toFixed(2) + " " + walker.currentNode.data.trim().slice(0, 40));
    }
    return pale;
}"""


@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_every_field_is_labeled_and_every_heading_in_its_place(page: Any, site: Site, reader: str) -> None:
    assert on_each_page(page, site, reader, FAULTS) == {}


@pytest.mark.parametrize("reader", ["staff", "customer"])
def test_text_stands_out_from_its_ground(page: Any, site: Site, reader: str) -> None:
    # 4.5 : 1 is success criterion 1.4.3 (level AA) of the Web Content Accessibility Guidelines 2.2.
    assert on_each_page(page, site, reader, PALE) == {}


@pytest.mark.parametrize("kind", ["start", "first look", "step", "alarm"])
def test_the_keyboard_reaches_what_is_pressed_and_shows_where_it_is(page: Any, site: Site, kind: str) -> None:
    page.goto(site.address + site.pages[kind])
    page.evaluate("document.querySelectorAll('*').forEach((part, place) => { part.dataset.place = place; })")
    reached: set[str] = set()
    for _ in range(200):
        page.keyboard.press("Tab")
        here = page.evaluate(
            """() => {
                const at = document.activeElement;
                if (at === document.body) return null;
                const shown = [at, at.closest("label")].filter(Boolean).some(
                    (part) => getComputedStyle(part).outlineStyle !== "none");
                return [at.dataset.place, shown];
            }"""
        )
        if here is None or here[0] in reached:
            break
        assert here[1], here[0]
        reached.add(here[0])

    buttons = page.locator("main button.main:visible, main .doors button, main .send button:visible")
    assert all(button.evaluate("element => element.dataset.place") in reached for button in buttons.all())


@pytest.mark.parametrize("page", [{"viewport": DESK}, {"viewport": PHONE}], indirect=True, ids=["desk", "phone"])
def test_the_moment_stands_left_of_what_is_known_on_a_desk_and_above_it_on_a_phone(page: Any, site: Site) -> None:
    page.goto(site.address + site.pages["look"])
    now, beside = page.locator("main").bounding_box(), page.locator("aside").bounding_box()

    if page.viewport_size["width"] == DESK["width"]:
        assert now["x"] + now["width"] <= beside["x"] + 1 and now["y"] == beside["y"]
    else:
        assert now["y"] + now["height"] <= beside["y"] + 1


def test_printing_leaves_out_what_is_pressed(page: Any, site: Site) -> None:
    page.goto(site.address + site.pages["step"])
    page.emulate_media(media="print")

    assert page.locator("button:visible").count() == 0
    assert page.locator(".stop-if").is_visible()
