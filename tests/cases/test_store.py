"""Consultations are on disk after every answer, and nothing kept is ever lost."""

from __future__ import annotations

import dataclasses
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.errors import InputError, UsageError
from diagnose.model.observations import Answer, Measurement

EXAMPLES: tuple[ev.Event, ...] = (
    ev.Contact("c1", "call", "2031-03-12T09:30", "MB"),
    ev.FactSet("clock", "family", "floor"),
    ev.Said("it limps"),
    ev.Dismissed("knock"),
    Answer("tick-evenness", "limping", "think-so", "told"),
    ev.TakenBack("tick-evenness"),
    ev.Heard("a.flac", {"beats": 40, "uncertainty": {"beat_error_percent": 0.5}}, "left"),
    ev.Measured(Measurement("beat-error", 12.8, 0.5, "%")),
    ev.Weighed("block-against-slot", {"fits": 0.2, "thinner": 0.8, "thicker": 0.0}, "by ruler"),
    ev.Acted("leader-adjuster", "left", 0.5),
    ev.WalkBegun("hang-the-pendulum"),
    ev.StepTaken("hang-the-pendulum", 0, "right"),
    ev.Tried("hang-the-pendulum", "done"),
    ev.AlarmSeen("bang", cleared=True),
    ev.HandedOver({"split": "50.4 : 49.6"}),
    ev.Closed("c1", "2031-03-20", ("stop-pattern", "runs-for")),
    ev.ToldChecked("c2"),
    ev.SameClock("b.flac", same=False),
    ev.HandedBefore("larch-lane-001", "2031-01-08", {"split": "50.4 : 49.6"}, "cured", "crutch-set-wrong"),
    ev.Noted("rate", "0 days 0 s; 3 days 45 s", None, (15.0, 2.0), "c2"),
    ev.Again("swing", 31.0, "c2"),
    ev.Concluded("cured", "crutch-set-wrong", "good"),
)


@pytest.fixture
def address(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'cases.sqlite'}"


def test_every_kind_of_event_comes_back_as_it_was(address: str) -> None:
    store = Store(address)
    name = store.begin("larch-lane", "stops", "2026.11")
    for number, event in enumerate(EXAMPLES):
        store.add(name, number, event)
    store.close()
    assert Store(address).events(name) == EXAMPLES


def test_the_examples_hold_every_kind_of_event() -> None:
    assert {type(event) for event in EXAMPLES} == set(ev.KINDS.values())


def test_the_list_of_kept_consultations_names_clock_and_count(address: str) -> None:
    store = Store(address)
    name = store.begin("larch-lane", "stops", "2026.11")
    store.begin("reed-close", "moved", "2026.11")
    store.add(name, 0, EXAMPLES[0])
    rows = {row.id: row for row in store.kept()}
    assert (rows[name].clock, rows[name].events) == ("larch-lane", 1)
    assert [row.clock for row in store.kept("reed-close")] == ["reed-close"]


def test_a_number_cannot_be_written_twice(address: str) -> None:
    store = Store(address)
    name = store.begin("larch-lane", "stops", "2026.11")
    store.add(name, 0, EXAMPLES[0])
    with pytest.raises(InputError, match="could not be saved"):
        store.add(name, 0, EXAMPLES[1])
    assert store.events(name) == EXAMPLES[:1]


def test_an_unknown_consultation_is_told(address: str) -> None:
    with pytest.raises(UsageError, match="no consultation 'x' is kept here"):
        Store(address).door_and_edition("x")


def test_a_full_disk_is_one_sentence_and_loses_nothing(tmp_path: Path) -> None:
    path = tmp_path / "cases.sqlite"
    store = Store(f"sqlite:///{path}")
    name = store.begin("larch-lane", "stops", "2026.11")
    store.add(name, 0, EXAMPLES[0])
    pages = sqlite3.connect(path).execute("PRAGMA page_count").fetchone()[0]
    import sqlalchemy as sa

    # SQLite answers a write beyond this many pages with "database or disk is full", as a full disk does.
    @sa.event.listens_for(store._engine, "connect")
    def _limit(link: sqlite3.Connection, _record: object) -> None:
        link.execute(f"PRAGMA max_page_count = {pages}")

    store._engine.dispose()
    with pytest.raises(InputError, match=r"could not be saved: .*full.*Nothing given before is lost") as caught:
        store.add(name, 1, ev.Said("x" * 200_000))
    assert len(str(caught.value).splitlines()) == 1
    assert store.events(name) == EXAMPLES[:1]


def test_an_event_of_a_later_edition_is_told(address: str) -> None:
    with pytest.raises(InputError, match="unknown event 'sung'"):
        ev.event_from_dict({"event": "sung"})
    with pytest.raises(InputError, match="fields that do not fit"):
        ev.event_from_dict({"event": "said", "tone": "high"})


def test_a_program_that_is_killed_has_lost_nothing(tmp_path: Path) -> None:
    script = """
import os, sys
from diagnose.cases.store import Store
from diagnose.cases.events import Said
store = Store(sys.argv[1])
name = store.begin("larch-lane", "stops", "2026.11")
print(name, flush=True)
for number in range(5):
    store.add(name, number, Said(str(number)))
os.kill(os.getpid(), 9)
"""
    address = f"sqlite:///{tmp_path / 'cases.sqlite'}"
    done = subprocess.run([sys.executable, "-c", script, address], capture_output=True, text=True, check=False)
    events = Store(address).events(done.stdout.strip())
    assert [dataclasses.astuple(event)[0] for event in events] == ["0", "1", "2", "3", "4"]
