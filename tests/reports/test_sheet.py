"""The customer's sheet and the messages: nothing that is not for him, and STOP IF wherever there is one."""

from __future__ import annotations

import dataclasses
import html
import re
from pathlib import Path

import pytest
from syrupy.assertion import SnapshotAssertion

from diagnose.errors import UsageError
from diagnose.model.entries import RemedyEntry
from diagnose.model.wording import Wording
from diagnose.reasoning.gates import OWNERS
from diagnose.reports import showing
from diagnose.reports.sheet import html_sheet, messages, write_sheet
from tests.reports.built import knowledge

REMEDIES = sorted(knowledge().remedies)
OWNER_REMEDIES = [name for name in REMEDIES if knowledge().remedies[name].who in OWNERS]
CUSTOMER = Wording(knowledge(), "customer")
LEAST_POINTS = 14


def shown_steps(remedy: str) -> list[str]:
    entry = knowledge().remedies[remedy]
    return [step.do.customer or "" for step in entry.steps if showing.may_show(entry, step, CUSTOMER)]


def stops(remedy: str) -> int:
    entry = knowledge().remedies[remedy]
    return sum(step.stop_if is not None and showing.may_show(entry, step, CUSTOMER) for step in entry.steps)


@pytest.mark.parametrize("remedy", OWNER_REMEDIES)
def test_every_owner_remedy_has_a_sheet_with_its_steps_and_stops(remedy: str) -> None:
    page = html_sheet(knowledge(), remedy)
    words = html.unescape(page)
    assert shown_steps(remedy)
    assert all(step in words for step in shown_steps(remedy))
    assert page.count('class="stop"') == stops(remedy)


@pytest.mark.parametrize("remedy", REMEDIES)
def test_no_sheet_or_message_holds_a_step_that_is_not_for_a_customer(remedy: str) -> None:
    entry = knowledge().remedies[remedy]
    text = html.unescape(html_sheet(knowledge(), remedy)) + "\n".join(messages(knowledge(), remedy))
    hidden = [step for step in entry.steps if not showing.may_show(entry, step, CUSTOMER)]
    assert not any(step.do.staff in text for step in hidden)
    runs = sum(
        not showing.may_show(entry, step, CUSTOMER)
        and (number == 0 or showing.may_show(entry, entry.steps[number - 1], CUSTOMER))
        for number, step in enumerate(entry.steps)
    )
    assert html_sheet(knowledge(), remedy).count(CUSTOMER.say("leave-to-us")) >= runs
    assert sum(message.endswith(CUSTOMER.say("leave-to-us")) for message in messages(knowledge(), remedy)) == runs


@pytest.mark.parametrize("remedy", REMEDIES)
def test_messages_are_short_and_numbered(remedy: str) -> None:
    texts = messages(knowledge(), remedy)
    assert max(map(len, texts)) < 600
    assert [text.split(" ", 1)[0] for text in texts] == [f"{n}/{len(texts)}" for n in range(1, len(texts) + 1)]


@pytest.mark.parametrize("remedy", REMEDIES)
def test_every_step_message_whose_step_has_a_stop_says_so(remedy: str) -> None:
    texts = messages(knowledge(), remedy)
    entry = knowledge().remedies[remedy]
    for step in entry.steps:
        if step.stop_if is None or not showing.may_show(entry, step, CUSTOMER):
            continue
        first = re.split(r"(?<=[.?!]) +", step.do.customer or "")[0]
        holding = [text for text in texts if f": {first}" in text and CUSTOMER.say("right-when") in text]
        assert any(f"{CUSTOMER.say('stop-if')}: {step.stop_if.text.customer}" in text for text in holding)


def test_a_step_too_long_for_one_message_says_stop_in_both(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.reports.sheet.LONGEST_MESSAGE", 260)
    texts = messages(knowledge(), "set-the-beat-at-the-case")
    entry = knowledge().remedies["set-the-beat-at-the-case"]
    stop = f"{CUSTOMER.say('stop-if')}: {entry.steps[3].stop_if.text.customer}"  # type: ignore[union-attr]
    assert sum(text.endswith(stop) for text in texts) >= 2


def test_cautions_come_before_the_first_step() -> None:
    texts = "\n".join(messages(knowledge(), "set-the-beat-at-the-case"))
    page = html_sheet(knowledge(), "set-the-beat-at-the-case")
    assert texts.index(CUSTOMER.say("level-danger")) < texts.index(CUSTOMER.say("report-step", number=1))
    assert page.index('class="frame danger"') < page.index('class="step"')


def test_the_side_that_is_meant_stands_with_left_and_right() -> None:
    page = html_sheet(knowledge(), "set-the-beat-at-the-case")
    assert page.count(CUSTOMER.say("facing-dial")) == sum(
        step.viewed_from == "dial" for step in knowledge().remedies["set-the-beat-at-the-case"].steps
    )


def test_type_on_the_sheet_is_large() -> None:
    page = html_sheet(knowledge(), "wind-it")
    rules = re.findall(r"(?:body\.sheet|\.sheet [^{}]*)\{[^}]*font-size: ([\d.]+)pt", page)
    assert rules
    assert min(map(float, rules)) >= LEAST_POINTS


def test_the_sheet_loads_nothing_from_elsewhere() -> None:
    for remedy in OWNER_REMEDIES:
        page = html_sheet(knowledge(), remedy).replace('xmlns="http://www.w3.org/2000/svg"', "")
        assert not re.search(r"https?://|<(script|link|iframe|img)\b|@import|url\((?!#)", page)


def test_ids_on_a_page_are_used_once() -> None:
    for remedy in OWNER_REMEDIES:
        ids = re.findall(r'\bid="([^"]+)"', html_sheet(knowledge(), remedy))
        assert len(ids) == len(set(ids))


def test_an_unknown_remedy_is_named_with_its_neighbor() -> None:
    with pytest.raises(UsageError, match="wind-it"):
        html_sheet(knowledge(), "wind-itt")
    with pytest.raises(UsageError, match="wind-it"):
        messages(knowledge(), "wind-itt")


def test_sheet_and_messages_are_written(tmp_path: Path) -> None:
    page, text = write_sheet(knowledge(), "wind-it", tmp_path)
    assert (page.name, text.name) == ("wind-it.html", "wind-it.txt")
    assert text.read_text(encoding="utf-8").startswith("1/")


def test_messages_read_as_they_did(snapshot: SnapshotAssertion) -> None:
    own = {"do": {"staff": "Wind it.", "customer": "Turn the key to the right until it stops."}}
    ours = {"do": "Let the spring down.", "right_when": {"text": "It is down."}}
    right = {"text": {"staff": "It stops.", "customer": "It stops by itself."}}
    stop = {"text": {"staff": "It kicks.", "customer": "The key pulls at your hand."}, "then": "workshop"}
    entry = RemedyEntry.model_validate(
        {
            "title": {"staff": "Wind it", "customer": "Wind the clock"},
            "who": "owner",
            "opened": "door",
            "minutes": 3,
            "steps": [{**own, "right_when": right, "stop_if": stop, "viewed_from": "dial"}, ours],
            "proof": [{"finding": "tick", "value": "present"}],
            "sources": ["practice"],
        }
    )
    texts = messages(dataclasses.replace(knowledge(), remedies={"wind": entry}), "wind")
    assert texts[:-1] == snapshot
