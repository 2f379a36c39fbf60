"""Times of taps and counts of beats that somebody wrote into a file."""

from __future__ import annotations

import pytest

from diagnose.errors import InputError
from diagnose.measurement.incoming.written_taps import beats_from_count_file, beats_from_file, count_of, read_taps
from tests.measurement.incoming.test_taps import taps


def test_a_file_of_seconds_is_read(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("time\n0.5\n1.0\n\n1.5\n", encoding="utf-8")
    assert (read_taps(path).times_s, read_taps(path).unit) == ((0.5, 1.0, 1.5), "s")


@pytest.mark.parametrize(
    "text", ["500\n1000\n1500\n", "tick (ms)\n500\n1000\n1500\n", "ms;note\n500;a\n1000;b\n1500;c\n"]
)
def test_a_file_of_milliseconds_is_told_by_its_heading_or_its_size(tmp_path, text):
    path = tmp_path / "taps.csv"
    path.write_text(text, encoding="utf-8")
    assert (read_taps(path).times_s, read_taps(path).unit) == ((0.5, 1.0, 1.5), "ms")


def test_decimal_commas_and_a_byte_order_mark_are_read(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("\ufeff0,5\n1,0\n1,5\n", encoding="utf-8")
    assert read_taps(path).times_s == (0.5, 1.0, 1.5)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"time\n0.5\nlater\n1.5\n", r"taps\.csv:3: 'later' is not a time"),
        (b"0.5\n1.5\n1.0\n", r"taps\.csv:3: 1 does not come after 1\.5"),
        (b"", "there are 0 times"),
        (b"only words\n", "there are 0 times"),
        (b"\xff\xfe\x00\x81garbage", "this is not a text file"),
        (b"9" * 6_000_000, "too large to be a list of times"),
    ],
)
def test_a_file_that_is_no_list_of_times_says_where(tmp_path, content, sentence):
    path = tmp_path / "taps.csv"
    path.write_bytes(content)
    with pytest.raises(InputError, match=sentence):
        read_taps(path)


def test_a_list_that_is_not_there_or_a_folder_says_so(tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_taps(tmp_path / "none.csv")
    with pytest.raises(InputError, match="this is a folder"):
        read_taps(tmp_path)


def test_a_file_of_times_gives_beats_and_its_faults_name_the_file(tmp_path):
    path = tmp_path / "taps.csv"
    path.write_text("\n".join(f"{time:.4f}" for time in taps(percent=12.0)), encoding="utf-8")
    assert beats_from_file(path, 7200).beat_error_percent == pytest.approx(12.0, abs=4.0)
    path.write_text("1\n2\n3\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"taps\.csv: there are 3 taps"):
        beats_from_file(path)


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("118/120", (118, 120)),
        ("118 in 120 s", (118, 120)),
        ("118 120", (118, 120)),
        ("59,5/60", (59.5, 60)),
        (" 60/30.5 seconds\n", (60, 30.5)),
    ],
)
def test_a_count_is_read_as_people_write_it(text, count):
    assert count_of(text) == count


@pytest.mark.parametrize("text", ["", "many/120", "1.2.3/4", "/", "118", "118/-120"])
def test_what_is_no_count_says_how_to_write_one(text):
    with pytest.raises(InputError, match="such as 118/120"):
        count_of(text)


def test_a_file_with_a_count_gives_beats_per_hour(tmp_path):
    path = tmp_path / "counted.count"
    path.write_text("120/60\n", encoding="utf-8")
    assert (beats_from_count_file(path).beats_per_hour, beats_from_count_file(path).tool) == (7200.0, "counted")
