"""The alarm list: what callers say in danger raises the alarm, and harmless talk does not."""

from __future__ import annotations

import pytest

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
        ("leaf-cracked", "broken"),
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
            said = " ".join(part.split("|")[0] for part in words.split() if part != "...")
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
