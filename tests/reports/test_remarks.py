"""Tests of the remarks on a recording and of what is told where it gives no number."""

from pathlib import Path

import pytest

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.beats import refused, to_dict
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.remarks import phrase_of, remarks
from diagnose.reports.summary import beats_text

STAFF, CUSTOMER = Wording(read_knowledge()), Wording(read_knowledge(), "customer")
MEASUREMENT = Path(__file__).parents[2] / "diagnose" / "measurement"
# Words of the trade that the owner of a clock does not know.
TRADE_WORDS = ("train", "beats", "movement", "balance wheel", "impact", "drop of", "dB", "pallet", "nominal", "clipped")


@pytest.mark.parametrize("name", named_results.NAMES)
def test_each_refusal_has_a_phrase(name: str) -> None:
    assert phrase_of(name) in STAFF.knowledge.screen


@pytest.mark.parametrize("name", named_results.NAMES)
def test_staff_are_told_name_reason_and_way_out(name: str) -> None:
    body = to_dict(refused(named_results.Refusal(name, "What was heard.", "What to do.")))
    first, *rest = beats_text(body, STAFF)
    assert name.split(":")[0].split(",")[0] in first
    assert rest == ["What was heard.", "What to do."]


@pytest.mark.parametrize("name", named_results.NAMES)
def test_a_customer_is_told_one_thing_in_plain_words(name: str) -> None:
    body = to_dict(refused(named_results.Refusal(name, "The drop of the train.", "Say the beats of its train.")))
    (told,) = beats_text(body, CUSTOMER)
    assert told != STAFF.say(phrase_of(name))
    assert not [word for word in TRADE_WORDS if word in told]


@pytest.mark.parametrize(("words", "name"), named_results.REMARKS)
def test_each_remark_for_a_customer_is_one_that_is_made(words: str, name: str) -> None:
    made = "\n".join(path.read_text(encoding="utf-8") for path in MEASUREMENT.rglob("*.py"))
    assert words in made
    assert not [word for word in TRADE_WORDS if word in CUSTOMER.say(f"remark-{name}")]


def test_a_remark_that_is_not_for_a_customer_is_told_to_staff_alone() -> None:
    body = {"warnings": ["7 of 60 beats could not be heard."]}
    assert remarks(body, STAFF) == body["warnings"]
    assert remarks(body, CUSTOMER) == []


def test_a_remark_is_made_to_a_customer_once() -> None:
    body = {"warnings": ["The recording jumps: it was cut.", "The recording was interrupted after 3 s"]}
    assert remarks(body, CUSTOMER) == [CUSTOMER.say("remark-gap")]


def test_a_name_from_an_older_case_is_still_told() -> None:
    assert beats_text({"refused": "not a clock", "way_out": "Record again."}, STAFF) == [
        "Not measured: not a clock.",
        "Record again.",
    ]


def test_a_customer_hears_how_sure_the_rate_is() -> None:
    body = {
        "beats_per_hour": 3599.0,
        "rate_s_per_day": -21.0,
        "nominal_beats_per_hour": 3600.0,
        "uncertainty": {"rate_s_per_day": 5.0},
    }
    # 21 s/day is 2.45 min a week, 5 s/day is 0.58, rounded up.
    assert "It loses about 2.5 minutes a week, give or take 0.6." in beats_text(body, CUSTOMER)


def test_a_customer_is_told_no_rate_that_is_smaller_than_its_doubt() -> None:
    body = {
        "beats_per_hour": 3600.0,
        "rate_s_per_day": 1.0,
        "nominal_beats_per_hour": 3600.0,
        "uncertainty": {"rate_s_per_day": 5.0},
    }
    # Twice 5 s/day is 1.17 min a week, rounded up.
    assert "It keeps time within 1.2 minutes a week, as far as we can hear." in beats_text(body, CUSTOMER)
    assert "+1 s/day +- 5 (0.1 minutes a week)" in beats_text(body, STAFF)
