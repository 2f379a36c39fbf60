"""An expert reaches the remedy in three entries: the facts in one line, one key to confirm them, see what to do."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from diagnose import moments
from diagnose.cases.events import Contact
from diagnose.consultation import Consultation
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.terminal.talk import Talk

KNOWLEDGE = read_knowledge(check=False)
# What an expert types, the cause it must put first, and what it must offer to do. Common practice, no source.
FAULTS = (
    ("hands catch each other, stops when hands cross, tick even", "hands-touch", "bend-the-hands-clear"),
    ("pin missing, top block rocks, runs 20 min", "pin-missing", "replace-the-pin"),
    ("leaf creased at top block, bob wags in and out, new suspension fitted, runs 3 min",
     "leaf-creased", "fit-new-suspension-spring"),
    ("paper-in-fork=none, swing dies, stops after 5 min, tick even", "fork-tight", "free-the-fork"),
    ("strike silent, silence lever half way, clock keeps time", "silence-lever-halfway", "push-the-silence-lever-over"),
)  # fmt: skip


def begun(where: str = "workshop") -> Consultation:
    return Consultation.begin(KNOWLEDGE, "stops", Contact("c1", where, "2031-03-01T10:00", "MB"))  # type: ignore[arg-type]


def played(consultation: Consultation, *lines: str) -> str:
    shown, left = io.StringIO(), list(lines)
    console = Console(file=shown, width=100)
    Talk(consultation, Wording(KNOWLEDGE), console, lambda prompt: left.pop(0) if left else None).run()
    return shown.getvalue()


@pytest.mark.parametrize(("line", "cause", "remedy"), FAULTS)
def test_three_entries_lead_to_the_remedy(line: str, cause: str, remedy: str) -> None:
    consultation = begun()
    shown = played(consultation, line, "y", "do")
    assert consultation.assessment.ranking.causes[0].cause == cause
    assert Wording(KNOWLEDGE).text(KNOWLEDGE.remedies[remedy].title) in shown


@pytest.mark.parametrize(("line", "cause", "remedy"), FAULTS)
def test_nothing_is_asked_that_is_known(line: str, cause: str, remedy: str) -> None:
    consultation = begun()
    played(consultation, line, "y")
    known = set(consultation.answers)
    moment = consultation.moment
    assert known
    if isinstance(moment, moments.LookMoment):
        assert not known & set(moment.findings)


def test_one_key_confirms_all_and_a_letter_after_a_stroke_unpicks_one() -> None:
    line = "new suspension fitted, stops after two minutes, tick even, swing dies"
    everything, but_one = begun(), begun()
    played(everything, line, "y")
    played(but_one, line, "-a")
    first = next(item.finding for item in begun().say(line))
    assert set(everything.answers) - set(but_one.answers) == {first}


def test_sizes_that_leave_it_open_count_with_their_chances() -> None:
    consultation = begun()
    played(consultation, "block 2.0 slot 2.1", "y")
    assert consultation.suggestions == ()
    assert "block-against-slot" in {finding.finding for finding in consultation.assessment.findings}


def test_a_customer_on_the_phone_who_lists_facts_is_still_asked_which_clock_it_is() -> None:
    consultation = begun("call")
    consultation.say("it limps, it stops, we moved it")
    assert isinstance(consultation.moment, moments.FactsMoment)


@pytest.mark.parametrize("before", [(), ("paper-in-fork=none, swing dies, stops after 5 min, tick even", "y")])
def test_a_cause_is_suspected_in_own_words_at_any_time(before: tuple[str, ...]) -> None:
    shown = played(begun(), *before, "suspect crutch gripping the leader")
    wording = Wording(KNOWLEDGE)
    assert wording.cause("fork-tight") in shown
    assert wording.say("speaks-for") in shown and wording.say("speaks-against") in shown
