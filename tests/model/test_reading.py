"""Faults in knowledge files are all told at once, each with its place and a way out."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.errors import KnowledgeError
from diagnose.model.reading import read_knowledge
from diagnose.settings import knowledge_folder

FINDING = """findings:
  tick:
    kind: choice
    subsystem: escapement
    question: {staff: Does it tick?, customer: Does it tick?}
    values:
      present: {staff: it ticks, normal: true}
      silent: {staff: silence}
    look: Listen.
    place: sound
    minutes: 1
    opened: outside
    who: owner
    sources: [practice]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small folder of knowledge: the words and lists of the real one, and one finding."""
    real = knowledge_folder()
    target = tmp_path / "knowledge"
    target.mkdir()
    for name in ("edition.yaml", "shop.yaml", "sources.yaml"):
        shutil.copy(real / name, target / name)
    words = target / "words"
    words.mkdir()
    shutil.copy(real / "words" / "probability.yaml", words / "probability.yaml")
    places = (real / "words" / "places.yaml").read_text()
    (words / "places.yaml").write_text("\n".join(line for line in places.splitlines() if "drawing:" not in line))
    (target / "findings.yaml").write_text(FINDING)
    return target


def faults_of(folder: Path) -> str:
    with pytest.raises(KnowledgeError) as caught:
        read_knowledge(folder)
    return str(caught.value)


def test_a_sound_folder_is_read(folder: Path) -> None:
    assert list(read_knowledge(folder).findings) == ["tick"]


def test_an_unknown_field_is_named_with_its_place_and_a_near_name(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("minutes: 1", "minuts: 1"))
    text = faults_of(folder)
    assert "knowledge/findings.yaml:11:5: unknown field 'minuts'; did you mean minutes?" in text
    assert "'minutes' is missing" in text


def test_a_doubled_key_is_a_fault_and_not_an_overwrite(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING + "    minutes: 2\n")
    told = "knowledge/findings.yaml:15:5: key 'minutes' stands twice (first in line 11): remove one"
    assert told in faults_of(folder)


def test_a_bare_no_is_not_taken_for_a_text(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("look: Listen.", "look: no"))
    assert "knowledge/findings.yaml:9:5: 'look': 'no' is not a text" in faults_of(folder)


def test_a_wrong_word_is_shown_with_the_words_that_are_allowed(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("opened: outside", "opened: outsid"))
    text = faults_of(folder)
    assert "knowledge/findings.yaml:12:5: 'opened' is 'outsid': must be one of outside, door" in text
    assert "did you mean outside?" in text


def test_an_unknown_id_between_entries_offers_near_names(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("place: sound", "place: sounds"))
    assert "unknown places id 'sounds'; did you mean sound?" in faults_of(folder)


def test_an_unknown_source_is_refused(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("[practice]", "[hearsay]"))
    assert "unknown source 'hearsay'" in faults_of(folder)


def test_an_empty_file_is_named(folder: Path) -> None:
    (folder / "more.yaml").write_text("")
    assert "knowledge/more.yaml: is empty" in faults_of(folder)


def test_a_binary_file_named_yaml_is_named(folder: Path) -> None:
    (folder / "more.yaml").write_bytes(bytes(range(256)))
    assert "knowledge/more.yaml: is not a text file" in faults_of(folder)


def test_broken_yaml_is_told_with_line_and_column(folder: Path) -> None:
    (folder / "more.yaml").write_text("causes:\n  a: [1, 2\n  b: 3\n")
    assert "knowledge/more.yaml:3:" in faults_of(folder)


def test_an_id_used_in_two_files_is_told_with_both_places(folder: Path) -> None:
    (folder / "more.yaml").write_text(FINDING)
    assert "id 'tick' is already used in knowledge/findings.yaml:2" in faults_of(folder)


def test_all_faults_of_all_files_come_together(folder: Path) -> None:
    (folder / "a.yaml").write_text("")
    wrong = FINDING.replace("minutes: 1", "minutes: many").replace("kind: choice", "kind: x")
    (folder / "findings.yaml").write_text(wrong)
    assert len(faults_of(folder).splitlines()) == 3


def test_two_normal_values_are_refused(folder: Path) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("{staff: silence}", "{staff: silence, normal: true}"))
    assert "2 values are marked normal: exactly one must be" in faults_of(folder)


def test_an_empty_folder_says_what_is_wanted(tmp_path: Path) -> None:
    assert "holds no knowledge files" in faults_of(tmp_path)


@pytest.mark.parametrize("word", ["yes", "no", "on", "off", "12:45", "2031-03-12"])
def test_words_that_other_readers_change_stay_what_they_are(folder: Path, word: str) -> None:
    (folder / "findings.yaml").write_text(FINDING.replace("silence}", f"silence, said_like: [so {word}]}}"))
    assert read_knowledge(folder).findings["tick"].values["silent"].said_like == (f"so {word}",)


def test_rules_that_count_an_answer_twice_are_refused(folder: Path) -> None:
    (folder / "causes.yaml").write_text(CAUSE_AND_RULE)
    text = faults_of(folder)
    assert "counts 'tick' for 'dead' a second time" in text


def test_a_rule_whose_example_does_not_fire_is_refused(folder: Path) -> None:
    wrong = CAUSE_AND_RULE.replace("fires_on: [{tick: silent}]", "fires_on: [{tick: present}]")
    (folder / "causes.yaml").write_text(wrong)
    assert "does not fire on its own example" in faults_of(folder)


CAUSE_AND_RULE = """causes:
  dead:
    title: {staff: a dead clock, customer: a dead clock}
    subsystem: power
    how_common: {default: common}
    shows: [{finding: tick, value: silent, often: certain, why: Nothing moves.}]
    remedies: [wind]
    sources: [practice]
remedies:
  wind:
    title: {staff: Wind it, customer: Wind it}
    who: owner
    opened: outside
    minutes: 1
    proof: [{finding: tick, value: present}]
    sources: [practice]
    steps:
      - do: {staff: Wind it., customer: Wind it.}
        right_when: {text: {staff: It ticks., customer: It ticks.}}
        stop_if: {text: {staff: It is stiff., customer: It is stiff.}}
rules:
  twice:
    kind: support
    when: [{finding: tick, is: [silent]}]
    cause: dead
    factor: little
    because: {staff: Because., customer: Because.}
    sources: [practice]
    fires_on: [{tick: silent}]
    silent_on: [{tick: present}]
"""
