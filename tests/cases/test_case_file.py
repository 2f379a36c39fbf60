"""A case file is read with every fault told, and written so that it reads back the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.case import read_case
from diagnose.cases.case_text import case_to_yaml
from diagnose.cases.events import Closed, Concluded, Contact, Heard, Said, Tried
from diagnose.errors import KnowledgeError
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge, read_knowledge

CASE = """case: reed-close-001
door: stops
clock: {family: floor, drive: weight-cable, beats_per_hour: 3600}
person: {reaches: yes, lifts: no}
said: it limps and stops
contacts:
  - {id: c1, where: call, when: 2031-03-12T09:30, staff: MB}
  - {id: c2, where: visit, when: 2031-03-14T10:00, staff: IT}
answers:
  tick-evenness: {value: limping, certainty: think-so}
  runs-for: minutes
  moved-lately: yes
  swing-course: cannot-tell
  overswing: later
  paper-in-fork: {value: none, source: seen, contact: c2}
recordings: [{file: reed.flac, drawn_to: left}]
tried:
  - {remedy: set-the-beat-at-the-case, outcome: no-change, contact: c2, answers: {tick-evenness: limping}}
outcome: {outcome: cured, cause: crutch-set-wrong}
"""


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return read_knowledge()


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "case.yaml"
    path.write_text(text)
    return path


def test_a_case_becomes_a_row_of_events(tmp_path: Path, knowledge: Knowledge) -> None:
    case = read_case(written(tmp_path, CASE), knowledge)
    answers = {event.finding: event for event in case.events if isinstance(event, Answer)}
    assert case.clock.beats_per_hour == 3600
    assert case.person.lifts == "no"
    assert answers["swing-course"].state == "cannot-tell"
    assert answers["overswing"].state == "later"
    assert answers["moved-lately"].value == "yes"
    assert [event.where for event in case.events if isinstance(event, Contact)] == ["call", "visit"]
    assert [event.first_side for event in case.events if isinstance(event, Heard)] == ["left"]
    assert isinstance(case.events[-1], Concluded)


def test_answers_after_a_remedy_come_after_it(tmp_path: Path, knowledge: Knowledge) -> None:
    events = read_case(written(tmp_path, CASE), knowledge).events
    tried = next(number for number, event in enumerate(events) if isinstance(event, Tried))
    assert any(isinstance(event, Answer) and event.finding == "tick-evenness" for event in events[tried:])


def test_a_written_case_reads_back_the_same(tmp_path: Path, knowledge: Knowledge) -> None:
    case = read_case(written(tmp_path, CASE), knowledge)
    again = read_case(written(tmp_path, case_to_yaml(case)), knowledge)
    kinds = (Answer, Heard, Tried, Said, Concluded)
    assert [e for e in again.events if isinstance(e, kinds)] == [e for e in case.events if isinstance(e, kinds)]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("tick-evenness:", "tick-eveness:", "unknown finding 'tick-eveness'; did you mean tick-evenness"),
        ("runs-for: minutes", "runs-for: minute", "unknown value of runs-for 'minute'; did you mean minutes"),
        ("family: floor", "family: flor", "unknown family 'flor'; did you mean floor"),
        ("set-the-beat-at-the-case", "set-the-beat-at-case", "unknown remedy 'set-the-beat-at-case'"),
        ("door: stops", "door: stop", "unknown door 'stop'; did you mean stops"),
        ("where: call", "where: phone", "'contacts.0.where' is 'phone': must be one of call, visit, workshop"),
        ("beats_per_hour: 3600", "beats_per_hour: -3", "greater than 0"),
        ("said: it limps", "sayd: it limps", "unknown field 'sayd'"),
    ],
)
def test_a_fault_is_told_with_its_place_and_a_way_out(
    tmp_path: Path, knowledge: Knowledge, old: str, new: str, told: str
) -> None:
    with pytest.raises(KnowledgeError) as caught:
        read_case(written(tmp_path, CASE.replace(old, new, 1)), knowledge)
    assert told in str(caught.value)
    assert "case.yaml:" in str(caught.value)


def test_a_case_of_an_older_edition_with_unknown_ids_says_so(tmp_path: Path, knowledge: Knowledge) -> None:
    text = CASE.replace("door: stops", 'door: stops\nedition: "2019.01"').replace("runs-for:", "ran-for:")
    with pytest.raises(KnowledgeError, match=r"made with edition 2019\.01 of the knowledge"):
        read_case(written(tmp_path, text), knowledge)


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"", "is empty"), (b"\x00\x01\x02", "is not a text file"), (b"- a\n- b\n", "is no case")],
)
def test_a_file_that_is_no_case_is_refused_in_one_sentence(
    tmp_path: Path, knowledge: Knowledge, content: bytes, told: str
) -> None:
    path = tmp_path / "case.yaml"
    path.write_bytes(content)
    with pytest.raises(KnowledgeError, match=told) as caught:
        read_case(path, knowledge)
    assert len(str(caught.value).splitlines()) == 1


def test_a_case_that_is_not_there_is_told(tmp_path: Path, knowledge: Knowledge) -> None:
    with pytest.raises(KnowledgeError, match="cannot be read: No such file"):
        read_case(tmp_path / "nothing.yaml", knowledge)


LATER = """case: reed-close-002
door: stops
clock: {id: reed-close, family: wall, sounds: hours}
again: {swing: 31.0}
noted: [{about: rate, text: "Mon 9:00 +4 s", rate: [12.0, 3.0]}]
before: {case: reed-close-001, when: 2031-01-08T16:00, values: {split: "50.4 : 49.6", rate: 12.0}, outcome: cured}
contacts:
  - {id: c1, where: call, when: 2031-03-12T09:30, staff: MB, until: 2031-03-15, homework: [stop-pattern, runs-for]}
  - {id: c2, where: visit, when: 2031-03-15T10:00, staff: IT, told_checked: true}
answers:
  tick-evenness: limping
  stop-pattern: {value: same-minute-each-hour, contact: c2}
recordings: [{file: reed.flac, contact: c2, same_clock: no}]
"""


def test_homework_hand_over_before_and_what_it_sounds_come_back_as_they_were(
    tmp_path: Path, knowledge: Knowledge
) -> None:
    case = read_case(written(tmp_path, LATER), knowledge)

    again = read_case(written(tmp_path, case_to_yaml(case)), knowledge)

    assert again.events == case.events


def test_the_first_contact_is_closed_with_its_homework_before_the_second_begins(
    tmp_path: Path, knowledge: Knowledge
) -> None:
    events = read_case(written(tmp_path, LATER), knowledge).events

    kinds = [type(event) for event in events]
    closed = events[kinds.index(Closed)]
    assert closed == Closed("c1", "2031-03-15", ("stop-pattern", "runs-for"))
    assert isinstance(events[kinds.index(Closed) + 1], Contact)


def test_a_clock_that_strikes_the_hours_has_no_chime_and_a_strike_of_unknown_kind(
    tmp_path: Path, knowledge: Knowledge
) -> None:
    clock = read_case(written(tmp_path, LATER), knowledge).clock

    assert (clock.strike, clock.chime) == ("unknown", "no-chime")


@pytest.mark.parametrize("made", ["{sigma_ppm: -3}", "{ppm: 5000}", "{microphone: mine}", "loud"])
def test_how_a_recording_was_made_is_checked(tmp_path: Path, made: str) -> None:
    path = tmp_path / "case.yaml"
    text = f"case: x\ndoor: stops\ncontacts: [{{id: c1}}]\nrecordings: [{{file: a.wav, made: {made}}}]\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError, match="made"):
        read_case(path, read_knowledge(check=False))
