"""`diagnose reckon`: each question a command, its answer in sentences or JSON, its exit code."""

from __future__ import annotations

import io
import json
import sys

import pytest
from rich.console import Console

from diagnose.cases.events import Contact, Heard
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reckoning.questions import QUESTIONS
from diagnose.terminal import commands
from diagnose.terminal.talk import Talk


@pytest.fixture
def call(capsys, monkeypatch):
    """Run a command in this process; what it printed, what it said of a fault, its exit code."""
    monkeypatch.setattr(sys, "argv", ["diagnose"])

    def run(*arguments):
        with pytest.raises(SystemExit) as ended:
            commands.main(["reckon", *arguments])
            sys.exit(0)
        printed = capsys.readouterr()
        return printed.out.replace("\N{NO-BREAK SPACE}", " "), printed.err, ended.value.code

    return run


def test_the_questions_are_listed_in_plain_words(call):
    out, _, code = call("--help")
    assert code == 0
    assert all(name in out for name in QUESTIONS)
    assert "How long is the pendulum for this beat?" in out


@pytest.mark.parametrize("question", QUESTIONS)
def test_each_question_says_what_it_asks_for(call, question):
    out, _, code = call(question, "--help")
    assert code == 0
    for field in QUESTIONS[question].fields:
        assert f"--{field.name} " in out


def test_an_answer_comes_in_sentences_with_its_limits(call):
    out, err, code = call("length", "--beats", "3600")
    assert (err, code) == ("", 0)
    assert out.startswith("For 3600 beats an hour the pendulum is 993.6 mm (39.12 in) long.")
    assert "Ideal formula" in out


def test_json_holds_figures_with_their_units_and_the_sentences(call):
    out, _, code = call("nut", "--out", "4 min fast", "--pendulum", "39.14 in", "--threads", "18", "--json")
    body = json.loads(out)
    assert code == 0
    assert body["question"] == "nut"
    assert body["figures"]["turns_up"] == pytest.approx(-3.9, abs=0.05)  # derived; 18 threads, Beckett p. 50
    assert any("turns" in text for text in body["text"])


def test_a_negative_number_is_taken(call):
    out, _, code = call("warmth", "--warmer", "-10 C", "--rod", "brass")
    assert code == 0
    assert "gains 7.78 s a day" in out  # Beckett: 0.778 s a day and degree


def test_an_answer_of_no_is_exit_code_1(call):
    assert call("hands", "--wheels", "30/90, 10/41")[2] == 1
    assert call("trains", "--beats", "3600", "--wheels", "64/8, 63/8", "--escape", "30")[2] == 1


def test_a_danger_is_said_before_the_size(call):
    out, _, _ = call("shim", "--error", "10", "--family", "floor", "--early", "left")
    assert out.index("DANGER") < out.index("raise the left side")


def test_an_owner_is_answered_in_their_words(call):
    out, _, _ = call("warmth", "--warmer", "10 C", "--customer")
    assert "your clock loses about" in out


@pytest.mark.parametrize(
    ("arguments", "code", "complaint"),
    [
        (("lenght",), 2, "did you mean length"),
        (("length",), 2, "beats: is missing"),
        (("length", "--beats", "soon"), 3, "beats: 'soon' is not a number"),
        (("beats", "--length", "250"), 2, "length: '250' has no unit"),
        (("nut", "--out", "3 min fast"), 2, "beats or pendulum: is missing"),
        (("warmth", "--warmer", "10 C", "--rod", "glass"), 2, "rod: no 'glass'"),
    ],
)
def test_what_is_wrong_is_one_sentence_with_place_and_way_out(call, arguments, code, complaint):
    out, err, ended = call(*arguments)
    assert (out, ended) == ("", code)
    assert complaint in err
    assert len(err.strip().splitlines()) == 1


# ---- in a consultation --------------------------------------------------------------------------------------


def talked(*lines, reader="staff", remedy="find-the-right-pendulum"):
    """Play lines in a talk at the first step of a remedy after a recording; return what was shown."""
    knowledge = read_knowledge(check=False)
    consultation = Consultation.begin(knowledge, "stops", Contact("c1", "workshop"))
    consultation.say("it loses")
    for field, value in (("family", "floor"), ("drive", "weight-cable"), ("sounds", "nothing")):
        consultation.set_fact("clock", field, value)
    heard = {"beats_per_hour": 3590.0, "uncertainty": {"beats_per_hour": 0.5}, "beat_error_percent": 1.0}
    consultation.take_heard(Heard("a.flac", heard))
    consultation.begin_walk(remedy)
    console, rows = Console(record=True, width=200, file=io.StringIO()), iter(lines)
    Talk(consultation, Wording(knowledge, reader), console, lambda prompt: next(rows, None)).run()
    return " ".join(console.export_text().replace("\N{NO-BREAK SPACE}", " ").split())


def test_a_step_tells_the_pendulum_that_the_heard_beat_implies():
    shown = talked()
    # derived: 993.62 mm times the square of 3600 / 3590
    assert "For 3590 beats an hour the pendulum is 999.2 mm (39.34 in) long, +- 0.28 mm." in shown
    assert "for 3600 the pendulum is 5.54 mm (0.218 in) shorter" in shown
    assert "type reckon length, with" in shown


def test_a_customer_is_shown_no_numbers_at_a_step():
    assert "999.2 mm" not in talked(reader="customer")


def test_a_question_can_be_typed_in_a_consultation():
    shown = talked("reckon arc travel='104.8 mm' radius='1000 mm'")
    assert "3.00 degrees from rest to one end" in shown  # tangent of 3 degrees is 0.0524


def test_reckon_alone_says_what_to_type():
    shown = talked("reckon", "reckon lenght")
    assert "Type reckon, a question and its sizes" in shown
    assert "did you mean length" in shown


@pytest.mark.parametrize(
    "asked",
    [
        ["shim", "--error", "12.8", "--early", "right", "--family", "floor"],
        ["shim", "--error", "12.8", "--early", "right", "--family", "wall", "--hook", "700mm"],
        ["nut", "--out", "3 min fast", "--beats", "3600", "--threads", "36"],
        ["nut", "--out", "3 min fast", "--beats", "3600"],
    ],
)
def test_a_customer_reads_no_word_of_the_trade_in_the_acts(call, asked):
    out, _, code = call(*asked, "--customer")
    assert code == 0
    assert not [word for word in ("crutch", "fork", "leader", "bob", "thread", "play in", "degrees") if word in out]
