"""The sentences about the route and about a part before it is sent."""

from __future__ import annotations

import pytest

from diagnose.cases.events import Contact
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports import way

KNOWLEDGE = read_knowledge(check=False)
STAFF = Wording(KNOWLEDGE)


def creased(where: str = "visit") -> Consultation:
    consultation = Consultation.begin(KNOWLEDGE, "stops", Contact("c1", where, "2031-03-12T09:30", "MB"), "larch-lane")  # type: ignore[arg-type]
    consultation.set_fact("clock", "family", "floor")
    consultation.answer("leaf-shape", "creased-at-block")
    return consultation


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.0, "under 1 in 100"), (0.08, "8 in 100"), (0.0799, "8 in 100"), (0.99, "99 in 100"), (1.0, "over 99 in 100")],
)
def test_a_chance_is_told_in_a_hundred_and_never_as_none_or_all(chance: float, words: str) -> None:
    assert way.in_hundred(chance, STAFF) == words


def test_the_line_before_a_part_says_chance_and_what_to_do() -> None:
    found = creased().part_needed("suspension-spring")
    ends = {"send": "Likely enough to send.", "look-first": "Look first.", "do-not-sell": "Do not sell it."}
    assert way.part_line(found, STAFF) == (
        f"Suspension spring: {way.in_hundred(found.chance, STAFF)} that the clock needs it. {ends[found.verdict]}"
    )
    assert found.chance > KNOWLEDGE.shop.part_sent.look_from
    assert way.part_line(creased().part_needed("rating-nut"), STAFF).endswith("Do not sell it.")


def test_a_customer_is_not_told_the_chance_of_a_part() -> None:
    remedy = "fit-the-right-spring"
    assert way.advice_part_lines(creased(), Wording(KNOWLEDGE, "customer"), remedy) == []
    assert len(way.advice_part_lines(creased(), STAFF, remedy)) == len(KNOWLEDGE.remedies[remedy].parts)


def test_a_part_is_found_by_words_near_its_title() -> None:
    assert way.part_called("Suspension spring", STAFF) == "suspension-spring"
    with pytest.raises(UsageError, match="unknown part 'xyzzy'"):
        way.part_called("xyzzy", STAFF)


def test_the_route_is_json_with_money_days_and_the_van() -> None:
    values = way.route_values(creased("call"))
    assert {option["where"] for option in values["options"]} >= {"phone", "visit", "workshop", "specialist"}
    assert all({"cures", "minutes", "hands_minutes", "money", "days"} <= set(option) for option in values["options"])
    assert values["van"]["parts"][0]["part"] == "suspension-spring"
    assert values["parts"][0]["verdict"] in {"send", "look-first", "do-not-sell"}
    assert way.route_values(creased("workshop"))["van"] is None


def test_the_van_list_names_parts_tools_and_what_it_leaves() -> None:
    lines = way.van_lines(creased("call").van, STAFF)
    assert lines[0].startswith("Parts: suspension spring (")
    assert any(line.startswith("Tools: ") for line in lines)
    assert any(line.startswith("No visit cures it") for line in lines)
