"""The commands stops and regulate, and the words times, compare and turned in a talk."""

from __future__ import annotations

import io
import json

from click.testing import CliRunner
from rich.console import Console

from diagnose.cases.events import Contact
from diagnose.coaching import noting
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal.commands import diagnose
from diagnose.terminal.talk import Talk

KNOWLEDGE = read_knowledge(check=False)


def run(*arguments):
    return CliRunner().invoke(diagnose, arguments, standalone_mode=False)


def talked(*lines):
    """Play lines in a talk that stands at the step that sets the time; return what was shown, and the case."""
    consultation = Consultation.begin(KNOWLEDGE, "stops", Contact("c1", "workshop"))
    consultation.say("it gains")
    for field, value in (("family", "floor"), ("drive", "weight-cable"), ("sounds", "nothing")):
        consultation.set_fact("clock", field, value)
    consultation.begin_walk("regulate-with-the-nut")
    console, rows = Console(record=True, width=100, file=io.StringIO()), iter(lines)
    Talk(consultation, Wording(KNOWLEDGE), console, lambda prompt: next(rows, None)).run()
    return " ".join(console.export_text().split()), consultation


def test_stops_names_the_meeting_of_the_hands_with_its_period():
    result = run("stops", "1:05, 2:11, 5:27, 9:50", "--json")
    body = json.loads(result.output)
    assert (body["verdict"], body["patterns"][0]["part"]) == ("pattern", "hands-meet")
    assert abs(body["patterns"][0]["period_min"] - 720 / 11) < 0.001


def test_stops_reads_a_file_with_one_time_a_line(tmp_path):
    path = tmp_path / "stops.txt"
    path.write_text("1:57  # in the hall\n4:58\n9:56\n11:58\n")
    body = json.loads(run("stops", "--file", str(path), "--json").output)
    assert body["patterns"][0]["part"] == "before-hour"


def test_a_train_of_ones_own_gives_its_period():
    body = json.loads(
        run("stops", "ran 20 min, 35 min, 50 min, 15 min", "--wheels", "96/8,80/8", "--read-to", "1", "--json").output
    )
    assert 5.0 in {row["period_min"] for row in body["patterns"] if row["part"] == "between-wheel"}


def test_regulate_sizes_the_turn():
    # 240 / 61.3 = 3.9 turns down for 18 threads an inch at 39.14 in (Beckett p. 50; derived)
    notes = ("2031-03-01 09:00 set right", "2031-03-02 09:00 +4:00")
    body = json.loads(run("regulate", *notes, "--beats", "3600", "--pitch", "1/18 in", "--json").output)
    assert body["kind"] == "turn"
    assert abs(body["turns"] + 3.9) < 0.2


def test_a_comparison_in_a_talk_leads_to_a_turn_and_the_next_one_takes_it_as_made():
    shown, consultation = talked(
        "compare 2031-03-01 09:00 set right", "compare 2031-03-02 09:00 +4:00", "compare 2031-03-02 10:00 right"
    )
    assert "front edge to the left" in shown
    assert "Taken as done" in shown
    assert [type(item).__name__ for item in noting.record_of(consultation)][-2:] == ["NutTurn", "Comparison"]


def test_a_comparison_marked_untouched_does_not_take_the_turn_as_made():
    _, consultation = talked(
        "compare 2031-03-01 09:00 set right",
        "compare 2031-03-02 09:00 +4:00",
        "compare 2031-03-03 09:00 +8:00 untouched",
    )
    assert {type(item).__name__ for item in noting.record_of(consultation)} == {"Comparison"}


def test_times_in_a_talk_answer_the_stop_pattern():
    shown, consultation = talked("times 1:05, 2:11, 5:27, 9:50")
    assert "65 min 27 s" in shown
    assert len(noting.stops_noted(consultation)) == 4
