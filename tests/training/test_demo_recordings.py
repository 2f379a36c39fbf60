"""Checks of the demo recordings: what is true of each clock, and files that are small and always the same."""

from __future__ import annotations

import hashlib

import pytest

from diagnose.errors import UsageError
from diagnose.mechanics.escapement import split_percent
from diagnose.training.demo_recordings import DEMO_RECORDINGS, demo_recording, main, write_demo_recordings

MOST_BYTES = 300_000


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("recordings")
    return folder, write_demo_recordings(folder)


def test_all_are_written(written):
    folder, truths = written
    assert sorted(file.stem for file in folder.iterdir()) == sorted(DEMO_RECORDINGS) == sorted(truths)


@pytest.mark.parametrize("name", DEMO_RECORDINGS)
def test_each_is_small_and_long_enough(written, name):
    folder, truths = written
    assert (folder / f"{name}.flac").stat().st_size < MOST_BYTES
    assert 20 <= truths[name].seconds <= 40


def test_they_come_out_the_same_each_time(written, tmp_path):
    folder, _ = written
    write_demo_recordings(tmp_path)
    for file in folder.iterdir():
        again = (tmp_path / file.name).read_bytes()
        assert hashlib.sha256(again).digest() == hashlib.sha256(file.read_bytes()).digest()


def test_larch_lane_is_split_as_the_case_says(written):
    # the moment of the design: 56.4 : 43.6, out of beat 12.8 %, right side early
    percent = written[1]["larch-lane-before"].beat_error_percent
    assert percent == pytest.approx(12.8, abs=0.05)
    assert split_percent(percent) == pytest.approx((56.4, 43.6), abs=0.05)
    assert written[1]["larch-lane-before"].released_from == "left"


def test_larch_lane_is_even_afterward(written):
    assert written[1]["larch-lane-after"].beat_error_percent == pytest.approx(1.1, abs=0.1)


def test_weak_wall_clock_is_in_beat_with_little_overswing(written):
    ticking = written[1]["ferry-road-weak"]
    assert abs(ticking.beat_error_percent) < 1
    assert ticking.swing_deg.max() - demo_recording("ferry-road-weak").clock.drop < 0.4


def test_mill_row_is_uneven_with_its_side_unknown(written):
    assert abs(written[1]["mill-row-uneven"].beat_error_percent) == pytest.approx(8, abs=0.1)
    assert written[1]["mill-row-uneven"].released_from is None


def test_orchard_close_dies_while_it_is_heard(written):
    ticking = written[1]["orchard-close-dying"]
    assert 25 < ticking.stopped_at_s < 39
    assert ticking.swing_deg[0] > 1.5 * ticking.swing_deg[-1]


def test_quarry_hill_is_even_at_nine_thousand(written):
    ticking = written[1]["quarry-hill-even"]
    assert abs(ticking.beat_error_percent) < 0.6
    assert ticking.times_s.size == pytest.approx(50, abs=1)


def test_an_unknown_recording_is_refused():
    with pytest.raises(UsageError, match="Use one of larch-lane-before"):
        demo_recording("elm-street")


def test_the_command_says_what_is_true(tmp_path, capsys):
    assert main([str(tmp_path)]) == 0
    assert "larch-lane-before: 30 ticks, beat error +12.80 %" in capsys.readouterr().out


def test_the_command_without_folder_says_its_usage(capsys):
    assert main([]) == 2
    assert "FOLDER" in capsys.readouterr().err
