"""`diagnose part`, and the route and a part on `diagnose rank`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.cases.events import Contact
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.moments import AdviceMoment
from diagnose.reports.which_part import columns_of
from diagnose.settings import demo_folder
from diagnose.terminal import doing, screens
from diagnose.terminal.commands import main

LIST = str(demo_folder() / "hazel-row-springs.csv")
COLUMNS = (
    "block=Block (mm),thickness=Dicke (mm),width=Breite (mm),free-length=Freie Länge (mm),"
    "block-width=Blockbreite (mm),hole=Loch (mm),item=Artikel"
)
FINE = (
    "thickness=0.10 mm by micrometer", "width=10 mm", "free-length=25 mm", "block=2.0 mm by steel caliper",
    "hole=1.5 mm", "block-width=11 mm",
)  # fmt: skip


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as end:
        main([*arguments])
        raise SystemExit(0)
    told = capsys.readouterr()
    return int(end.value.code or 0), " ".join(told.out.split()), told.err


def sizes(*given: str) -> list[str]:
    return [word for size in given for word in ("--size", size)]


def test_fine_measurements_find_the_spring_and_the_list_is_remembered(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "part", "suspension spring", "--stock", LIST, "--columns", COLUMNS, *sizes(*FINE))
    assert code == 0
    assert "HR-S 10 is the same within what the clock tolerates." in out
    assert "hazel-row-springs.csv:11" in err
    code, out, _ = run(capsys, "part", "suspension-spring", "--json", *sizes(*FINE))
    body = json.loads(out)
    assert (code, body["answer"], body["candidates"][0]["item"]) == (0, "found", "HR-S 10")
    assert body["columns"]["thickness"] == "Dicke (mm)"


def test_a_coarse_tool_cannot_tell_and_exits_with_no(capsys: pytest.CaptureFixture[str]) -> None:
    given = sizes("thickness=0.1 mm", "width=10 mm", "free-length=25 mm")
    code, out, _ = run(capsys, "part", "suspension-spring", "--stock", LIST, "--columns", COLUMNS, *given)
    assert code == 1
    assert "These measurements cannot tell. To settle most: measure leaf thickness with a micrometer." in out


def test_what_another_spring_would_do_is_told_with_the_pendulum(capsys: pytest.CaptureFixture[str]) -> None:
    given = sizes("thickness=0.10 mm by micrometer", "width=10 mm", "free-length=25 mm")
    pendulum = ("--mass", "6", "--pendulum", "994")
    _, out, _ = run(capsys, "part", "suspension-spring", "--stock", LIST, "--columns", COLUMNS, *given, *pendulum)
    # published_values.md section 6: 0.10 x 10 mm gains 73 s/day over a hinge, 0.15 x 12 mm 148.
    assert "As measured the clock would gain 74 s a day" in out or "would gain 75 s a day" in out


def test_without_sizes_it_says_what_was_read_and_what_to_measure(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "part", "suspension-spring", "--stock", LIST, "--columns", COLUMNS)
    assert code == 0
    assert "8 read from" in out
    assert "thickness (leaf thickness)" in out


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["part", "suspension-spring"], 2, "Give --stock FILE.csv once"),
        (["part", "xyzzy"], 2, "unknown part 'xyzzy'"),
        (["part", "cable", "--stock", LIST, "--size", "thickness"], 2, "'thickness' is no size"),
        (["part", "cable", "--stock", LIST, "--size", "thicknes=1 mm"], 2, "did you mean thickness"),
        (["part", "cable", "--stock", "/nowhere.csv"], 3, "/nowhere.csv"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(
    capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, said: str
) -> None:
    found, _, err = run(capsys, *arguments)
    assert found == code
    assert said in err


def test_a_mapping_is_read_with_blanks_and_refused_without_a_heading() -> None:
    assert columns_of("thickness=Dicke (mm), width = Breite") == {"thickness": "Dicke (mm)", "width": "Breite"}
    with pytest.raises(UsageError, match="'width' names no heading"):
        columns_of("thickness=Dicke,width")


def test_rank_tells_a_part_and_the_route(capsys: pytest.CaptureFixture[str]) -> None:
    case = str(demo_folder() / "larch-lane-007.yaml")
    _, out, _ = run(capsys, "rank", case, "--part", "suspension spring")
    assert "in 100 that the clock needs it" in out
    _, out, _ = run(capsys, "rank", case, "--part", "rating-nut", "--json")
    assert json.loads(out)["part"] == "rating-nut"
    _, out, _ = run(capsys, "rank", case, "--route")
    assert "Where to do it" in out
    assert "What to put in the van" in out


def test_the_advice_says_of_each_part_how_likely_it_is_before_it_is_brought(
    capsys: pytest.CaptureFixture[str],
) -> None:
    knowledge = read_knowledge(check=False)
    contact = Contact("c1", "visit", "2031-03-12T09:30", "MB")
    consultation = Consultation.begin(knowledge, "stops", contact, "larch-lane")
    consultation.answer("leaf-shape", "creased-at-block")
    moment = AdviceMoment("fit-the-right-spring", consultation.plan)
    for reader, told in (("staff", True), ("customer", False)):
        wording = Wording(knowledge, reader)  # type: ignore[arg-type]
        doing.console().print(screens.screen(consultation, wording, moment))
        out = " ".join(capsys.readouterr().out.split())
        assert ("in 100 that the clock needs it" in out) is told
