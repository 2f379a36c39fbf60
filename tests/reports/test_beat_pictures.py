"""The pictures of a beat: which there are, the same every time, whole, readable, and each within its frame."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from syrupy.assertion import SnapshotAssertion
from syrupy.extensions.single_file import SingleFileSnapshotExtension, WriteMode

from diagnose.model.wording import Wording
from diagnose.reports import pen
from diagnose.reports.beat_pictures import pictures_of, write_pictures
from tests.reports.built import LIMPS, SVG, knowledge, texts_of
from tests.reports.drawn import extents, root_of, value, words_over_words
from tests.reports.heard import by_an_older_version, evenly, everything, tick, wheel

STAFF, CUSTOMER = Wording(knowledge()), Wording(knowledge(), "customer")
NAMES = ["swing", "intervals", "ticks", "wheel"]
# A phone of 390 pixels leaves 346 to a picture; WCAG 2.2, 1.4.3: letters stand out by 4.5 to 1.
PHONE_PIXELS, LEAST_PIXELS, LEAST_CONTRAST = 346, 11.0, 4.5
SHORT = evenly(count=9)
ONE_SIDED = {"beats_per_hour": 3600.0, "beat_error_percent": None, "mean_ticks": [tick("even", 1.0)], "refused": None}
RESULTS: dict[str, Callable[[], dict[str, Any]]] = {
    "everything": everything,
    "older": by_an_older_version,
    "plain": lambda: dict(LIMPS),
    "short": lambda: dict(SHORT),
    "long": lambda: evenly(count=3000, beat_s=0.4, missing=tuple(range(200, 260)), loud_s=[[500.0, 520.0]]),
    "side unknown": lambda: {**everything(), "early_side": "unknown"},
    "one-sided": lambda: dict(ONE_SIDED),
}


class Drawing(SingleFileSnapshotExtension):
    """Keeps a picture as the file it is, to look at."""

    _write_mode = WriteMode.TEXT
    file_extension = "svg"


@pytest.mark.parametrize("name", NAMES)
def test_a_picture_for_staff_is_as_it_was_looked_at(name: str, snapshot: SnapshotAssertion) -> None:
    svg = {picture.name: picture.svg for picture in pictures_of(everything(), STAFF)}[name]
    assert svg == snapshot(extension_class=Drawing)


def test_the_picture_for_a_customer_is_as_it_was_looked_at(snapshot: SnapshotAssertion) -> None:
    (picture,) = pictures_of(everything(), CUSTOMER)
    assert picture.svg == snapshot(extension_class=Drawing)


def test_a_result_with_everything_gives_all_four() -> None:
    assert [picture.name for picture in pictures_of(everything(), STAFF)] == NAMES


def test_a_result_kept_by_an_older_version_gives_the_split_and_the_intervals() -> None:
    assert [picture.name for picture in pictures_of(by_an_older_version(), STAFF)] == NAMES[:2]


def test_a_result_that_was_refused_gives_none() -> None:
    assert pictures_of({**everything(), "refused": "two clocks"}, STAFF) == ()


def test_a_beat_heard_on_one_side_only_gives_its_averaged_tick_alone() -> None:
    assert [picture.name for picture in pictures_of(ONE_SIDED, STAFF)] == ["ticks"]


def test_a_customer_reads_no_figure() -> None:
    (picture,) = pictures_of(everything(), CUSTOMER)
    words = texts_of(picture.svg) + (root_of(picture.svg)[1].text or "")
    assert not any(letter.isdigit() for letter in words)


@pytest.mark.parametrize("wording", [STAFF, CUSTOMER], ids=lambda wording: wording.reader)
@pytest.mark.parametrize("result", RESULTS.values(), ids=RESULTS)
class TestEveryPicture:
    def test_has_role_title_and_description_and_loads_and_runs_nothing(
        self, result: Callable[[], dict[str, Any]], wording: Wording
    ) -> None:
        for picture in pictures_of(result(), wording, "here"):
            root = root_of(picture.svg)
            assert root.get("role") == "img"
            assert root.get("aria-labelledby", "").split() == [child.get("id") for child in root[:2]]
            assert [child.tag for child in root[:2]] == [f"{SVG}title", f"{SVG}desc"]
            assert all((child.text or "").strip() for child in root[:2])
            assert picture.svg.count("http") == picture.svg.count('xmlns="http') == 1
            assert not {"script", "style", "image", "use", "a"} & {item.tag.removeprefix(SVG) for item in root.iter()}

    def test_stays_within_its_frame(self, result: Callable[[], dict[str, Any]], wording: Wording) -> None:
        for picture in pictures_of(result(), wording):
            assert outside(picture.svg) == []

    def test_has_no_words_over_words(self, result: Callable[[], dict[str, Any]], wording: Wording) -> None:
        for picture in pictures_of(result(), wording):
            assert words_over_words(picture.svg) == []

    def test_has_letters_that_can_be_read_on_a_phone(
        self, result: Callable[[], dict[str, Any]], wording: Wording
    ) -> None:
        for picture in pictures_of(result(), wording):
            sizes = [value(item, "font-size") for item in root_of(picture.svg).iter(f"{SVG}text")]
            assert min(sizes) * PHONE_PIXELS / pen.WIDTH >= LEAST_PIXELS

    def test_has_letters_that_stand_out_from_paper_and_shade(
        self, result: Callable[[], dict[str, Any]], wording: Wording
    ) -> None:
        for picture in pictures_of(result(), wording):
            for fill in {item.get("fill", "") for item in root_of(picture.svg).iter(f"{SVG}text")}:
                assert min(contrast(fill, ground) for ground in (pen.PAPER, pen.SHADE)) >= LEAST_CONTRAST

    def test_is_the_same_when_drawn_again(self, result: Callable[[], dict[str, Any]], wording: Wording) -> None:
        assert pictures_of(result(), wording) == pictures_of(result(), wording)


def outside(svg: str) -> list[tuple[str, float, float, float, float]]:
    """What of a picture leaves its frame, by more than the half of a thin stroke."""
    root = root_of(svg)
    _, _, wide, high = (float(part) for part in root.get("viewBox", "").split())
    return [
        place
        for place in extents(svg)
        if place[1] < -0.5 or place[2] < -0.5 or place[3] > wide + 0.5 or place[4] > high + 0.5
    ]


def contrast(one: str, other: str) -> float:
    """Contrast of two colors (WCAG 2.2, relative luminance)."""
    lights = sorted((_light(one), _light(other)), reverse=True)
    return (lights[0] + 0.05) / (lights[1] + 0.05)


def _light(color: str) -> float:
    parts = [int(color[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@settings(max_examples=60, deadline=None)
@given(
    percent=st.floats(-99.0, 99.0),
    unsure=st.floats(0.001, 20.0),
    per_hour=st.floats(1200.0, 12_000.0),
    early=st.sampled_from(["left", "right", "unknown"]),
    longer=st.sampled_from(["even", "odd"]),
    rivals=st.lists(st.tuples(st.floats(0.0, 99.0), st.booleans()), max_size=4),
)
def test_no_beat_error_is_drawn_outside_the_frame(
    percent: float, unsure: float, per_hour: float, early: str, longer: str, rivals: list[tuple[float, bool]]
) -> None:
    beats = {
        "beats_per_hour": per_hour,
        "beat_error_percent": percent,
        "early_side": early,
        "longer": longer,
        "uncertainty": {"beat_error_percent": unsure},
        "rivals_percent": [size for size, _ in rivals],
        "rivals_turned": [turned for _, turned in rivals],
    }
    for wording in (STAFF, CUSTOMER):
        (picture,) = pictures_of(beats, wording)
        assert outside(picture.svg) == []
        assert words_over_words(picture.svg) == []


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(9, 400),
    scatter_s=st.sampled_from([0.0, 1e-5, 1e-3, 3e-2, 0.2]),
    lost=st.floats(0.0, 0.6),
)
def test_no_interval_is_drawn_outside_the_frame(seed: int, count: int, scatter_s: float, lost: float) -> None:
    chance = random.Random(seed)
    numbers = [number for number in range(count) if chance.random() >= lost]
    beats = evenly(count=count)
    beats["times_s"] = sorted(0.3 + number + chance.gauss(0.0, scatter_s) for number in numbers)
    beats["numbers"] = numbers
    for picture in pictures_of(beats, STAFF):
        assert outside(picture.svg) == []
        assert words_over_words(picture.svg) == []


@settings(max_examples=40, deadline=None)
@given(
    heights=st.tuples(st.floats(0.001, 1.0), st.floats(0.001, 1.0)),
    rivals=st.lists(st.floats(-30.0, 50.0), max_size=3),
    noise=st.floats(0.0, 1.0),
)
def test_no_tick_is_drawn_outside_the_frame(heights: tuple[float, float], rivals: list[float], noise: float) -> None:
    ticks = [tick("even", heights[0], rivals_ms=tuple(rivals)), tick("odd", heights[1])]
    (picture,) = pictures_of({"mean_ticks": [{**item, "noise_level": noise} for item in ticks]}, STAFF)
    assert outside(picture.svg) == []
    assert words_over_words(picture.svg) == []


@pytest.mark.parametrize("teeth", [20, 24, 30, 42, 45])
@pytest.mark.parametrize("late_ms", [-30.0, -0.4, 1e-3, 0.4, 30.0])
def test_no_wheel_is_drawn_outside_the_frame(teeth: int, late_ms: float) -> None:
    for bad in (None, 1, 2, teeth // 2, teeth):
        (picture,) = pictures_of({"wheel": wheel(teeth, bad, late_ms)}, STAFF)
        assert outside(picture.svg) == []
        assert words_over_words(picture.svg) == []


def test_several_pictures_on_one_page_keep_their_ids_apart() -> None:
    drawn = [picture for place in ("beat-1", "beat-2") for picture in pictures_of(everything(), STAFF, place)]
    ids = [item.get("id") for picture in drawn for item in root_of(picture.svg).iter() if item.get("id")]
    assert len(ids) == len(set(ids)) == 2 * len(drawn)


def test_each_picture_is_written_as_a_file_of_its_own(tmp_path: Path) -> None:
    paths = write_pictures(everything(), STAFF, tmp_path / "new", "a voice note")
    assert [path.name for path in paths] == [f"a-voice-note-{name}.svg" for name in NAMES]
    assert all(root_of(path.read_text(encoding="utf-8")).tag == f"{SVG}svg" for path in paths)
