"""The alarm list: what callers say in danger raises the alarm, and harmless talk does not."""

from __future__ import annotations

from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
import yaml

from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.alarms import find_alarms

# How people say it: common practice, no source.
SAID_IN_DANGER = (
    ("bang", "There was a loud bang in the night and now it is dead"),
    ("bang", "I was winding and something snapped inside"),
    ("bang", "It went off like a gunshot"),
    ("bang", "bang on Tuesday when I wound it"),
    ("spinning-key", "the key whipped round and I let go"),
    ("spinning-key", "the crank suddenly spun backwards"),
    ("spinning-key", "the handle flew round in my hand"),
    ("key-kicked-back", "When I let go the key kicked back"),
    ("key-kicked-back", "It won't hold when I wind it"),
    ("key-kicked-back", "the key jumped out of my hand"),
    ("frayed-cable", "The cable is fraying near the top"),
    ("frayed-cable", "there are little wires sticking out of it"),
    ("frayed-cable", "one rope snapped"),
    ("frayed-cable", "the weight is hanging by a thread"),
    ("leaning-case", "the clock is leaning forward"),
    ("leaning-case", "it almost toppled when I opened the door"),
    ("leaning-case", "it has come away from the wall at the top"),
    ("grey-beads", "there are silver beads on the carpet"),
    ("grey-beads", "some shiny drops came out of the glass jar on the pendulum"),
    ("flaking-glow-paint", "the glow paint is flaking off the hands"),
    ("flaking-glow-paint", "the numbers glow in the dark"),
    ("mains-cord", "it has a lead with a plug"),
    ("mains-cord", "I got a shock from it"),
    ("burning-smell", "it smells of burning"),
    ("burning-smell", "there is a strong smell of solvent in the hall"),
    ("fallen-weight", "a weight fell and went through the bottom"),
    ("fallen-weight", "the pendulum came off"),
    ("someone-hurt", "it hit my hand"),
    ("someone-hurt", "my finger is bleeding"),
    ("someone-hurt", "the weight dropped on his foot"),
)
SAID_OF_ORDINARY_TROUBLE = (
    "put the new spring in and it stops after two minutes",
    "it limps: tick tock, pause, tick tock",
    "we moved house last month and it has never run since",
    "I wound it up on Sunday and it stopped on Friday",
    "the minute hand hangs loose and falls down by itself",
    "it strikes on and on until it runs down",
    "the pendulum swings but there is no tick",
    "it loses five minutes a day",
    "there was no bang and nothing fell",
    "the bob hits the side of the case",
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    # What entries say of each other is checked for all files at once elsewhere.
    return read_knowledge(check=False)


@pytest.mark.parametrize(("alarm", "words"), SAID_IN_DANGER)
def test_words_of_danger_raise_their_alarm(alarm: str, words: str, knowledge: Knowledge) -> None:
    assert alarm in find_alarms(words, knowledge)


@pytest.mark.parametrize("words", SAID_OF_ORDINARY_TROUBLE)
def test_ordinary_trouble_raises_no_alarm(words: str, knowledge: Knowledge) -> None:
    assert find_alarms(words, knowledge) == ()


def test_harmless_sentences_of_each_alarm_raise_none(knowledge: Knowledge) -> None:
    for key, alarm in knowledge.alarms.items():
        for sentence in alarm.harmless:
            assert find_alarms(sentence, knowledge) == (), (key, sentence)


def test_ways_of_saying_findings_raise_an_alarm_only_where_the_value_is_one(knowledge: Knowledge) -> None:
    dangers = {
        ("works-by", "mains-cord"),
        ("winding-feel", "kicked-back"),
        ("winding-feel", "bang"),
        ("cable-lay", "off-or-frayed"),
        ("line-ends", "worn"),
        ("fusee-line", "off-or-slack"),
        ("weight-descent", "slipped"),
        ("leaf-cracked", "broken"),
        ("hook-seat", "off"),
        ("jars", "beads"),
    }
    rung = {
        (name, value)
        for name, finding in knowledge.findings.items()
        for value, meaning in finding.values.items()
        for words in meaning.said_like
        if find_alarms(words, knowledge)
    }
    assert rung == dangers


def test_every_word_of_an_alarm_is_found_when_it_is_said(knowledge: Knowledge) -> None:
    for key, alarm in knowledge.alarms.items():
        for words in alarm.words:
            said = " ".join(part.split("|")[0] for part in words.split() if part not in {"...", "&"})
            assert key in find_alarms(said.replace("*", ""), knowledge), (key, words)


def test_a_negation_before_the_words_keeps_the_alarm_quiet(knowledge: Knowledge) -> None:
    assert "frayed-cable" not in find_alarms("the cable is not frayed", knowledge)


def test_each_alarm_has_a_sentence_to_say_for_a_customer(knowledge: Knowledge) -> None:
    assert all(alarm.say.customer for alarm in knowledge.alarms.values())


def test_the_list_is_the_agreed_one(knowledge: Knowledge) -> None:
    assert set(knowledge.alarms) == {
        "bang", "spinning-key", "key-kicked-back", "frayed-cable", "leaning-case", "grey-beads",
        "flaking-glow-paint", "mains-cord", "burning-smell", "fallen-weight", "someone-hurt",
    }  # fmt: skip


@pytest.mark.parametrize("key", ["bang", "spinning-key", "key-kicked-back"])
def test_after_a_kick_or_a_bang_nobody_is_told_to_wind(key: str, knowledge: Knowledge) -> None:
    say = knowledge.alarms[key].say
    assert "not wind" in say.staff
    assert say.customer is not None and "not wind" in say.customer


TABLE: dict[str, Any] = yaml.safe_load((Path(__file__).parent / "alarm_sentences.yaml").read_text(encoding="utf-8"))
LEAST_RECALL, MOST_FALSE, MOST_SECONDS = 0.95, 0.05, 1.0
NEVER_MISSED = ("fallen-weight", "spinning-key", "mains-cord", "grey-beads")


def _missed(knowledge: Knowledge) -> list[dict[str, Any]]:
    return [row for row in TABLE["dangerous"] if not set(row["alarm"]) & set(find_alarms(row["said"], knowledge))]


def test_of_the_dangerous_sentences_hardly_one_is_missed(knowledge: Knowledge) -> None:
    assert len(_missed(knowledge)) <= (1 - LEAST_RECALL) * len(TABLE["dangerous"]), _missed(knowledge)


@pytest.mark.parametrize("alarm", NEVER_MISSED)
def test_no_sentence_of_the_gravest_dangers_is_missed(alarm: str, knowledge: Knowledge) -> None:
    assert [row["said"] for row in _missed(knowledge) if alarm in row["alarm"]] == []


def test_of_the_harmless_sentences_hardly_one_raises_an_alarm(knowledge: Knowledge) -> None:
    false = [said for said in TABLE["harmless"] if find_alarms(said, knowledge)]
    assert len(false) <= MOST_FALSE * len(TABLE["harmless"]), false


def test_a_phrase_that_excuses_takes_only_its_own_words_out(knowledge: Knowledge) -> None:
    assert find_alarms("the door banged shut", knowledge) == ()
    assert "bang" in find_alarms("the door banged shut, later a loud bang from inside", knowledge)


def test_a_phrase_with_and_is_found_whole(knowledge: Knowledge) -> None:
    assert "spinning-key" in find_alarms("I let go, it whirred and ran down", knowledge)


@pytest.mark.parametrize(
    ("words", "rings"),
    [
        ("there was no bang", False),
        ("there was no crash or bang", False),
        ("it never fell and the weight did not drop, but there was a bang", True),
        ("no idea why the weight fell", True),
        ("it was not running when the weight fell", True),
        ("the weight has not fallen", False),
        ("I never heard such a bang", True),
        ("not only did the weight fall off, it fell on the cat: the weight fell", True),
    ],
)
def test_a_negation_reaches_to_the_end_of_its_clause_only(words: str, rings: bool, knowledge: Knowledge) -> None:
    assert bool(find_alarms(words, knowledge)) is rings


def test_words_of_a_phrase_are_not_joined_over_the_end_of_a_sentence(knowledge: Knowledge) -> None:
    assert find_alarms("I oiled the weight. Then night fell", knowledge) == ()


def test_a_slip_of_the_pen_does_not_silence_an_alarm(knowledge: Knowledge) -> None:
    assert "fallen-weight" in find_alarms("the wieght fell", knowledge)
    assert "grey-beads" in find_alarms("I think it is mercurry", knowledge)


ALSO_WHEN = {
    ("bang", "winding-feel", "bang"),
    ("key-kicked-back", "winding-feel", "kicked-back"),
    ("frayed-cable", "cable-lay", "off-or-frayed"),
    ("frayed-cable", "line-ends", "worn"),
    ("fallen-weight", "weight-descent", "slipped"),
    ("mains-cord", "works-by", "mains-cord"),
    ("grey-beads", "jars", "beads"),
}


def test_answers_that_mean_danger_raise_their_alarm(knowledge: Knowledge) -> None:
    raised = {
        (alarm, finding, value)
        for alarm, entry in knowledge.alarms.items()
        for finding, values in entry.also_when.items()
        for value in values
    }
    assert raised == ALSO_WHEN


def test_a_text_of_ten_thousand_letters_is_searched_at_once(knowledge: Knowledge) -> None:
    text = "the pendulum swings and the weight of the old clock goes down slowly " * 150
    begun = perf_counter()
    find_alarms(text, knowledge)
    assert perf_counter() - begun < MOST_SECONDS
