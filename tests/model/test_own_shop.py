"""A shop keeps its own prices and days beside the shipped ones."""

from pathlib import Path

import pytest

from diagnose.errors import KnowledgeError
from diagnose.model.reading import read_knowledge

SMALL = Path(__file__).parents[1] / "reasoning" / "small_knowledge"


@pytest.fixture
def own(tmp_path, monkeypatch):
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path))
    monkeypatch.setenv("STOPPED_CLOCK_KNOWLEDGE", str(SMALL))
    monkeypatch.delenv("STOPPED_CLOCK_SHOP", raising=False)
    return tmp_path / "shop.yaml"


def test_what_the_own_file_says_counts_and_all_else_stays(own):
    shipped = read_knowledge(check=False).shop
    assert shipped.money.hour != 75
    own.write_text("shop: {money: {hour: 75, parts: {cable: 19}}, days: {visit: 2}}")
    shop = read_knowledge(check=False).shop
    assert (shop.money.hour, shop.money.parts["cable"], shop.days.visit) == (75, 19, 2)
    assert shop.money.travel == shipped.money.travel
    assert shop.days.post == shipped.days.post
    assert shop.refer_minutes == shipped.refer_minutes


def test_the_own_file_may_lie_elsewhere(own, tmp_path, monkeypatch):
    elsewhere = tmp_path / "hazel-row.yaml"
    elsewhere.write_text("shop: {money: {currency: crowns}}")
    monkeypatch.setenv("STOPPED_CLOCK_SHOP", str(elsewhere))
    assert read_knowledge(check=False).shop.money.currency == "crowns"


def test_an_own_file_that_is_not_there_is_named(own, monkeypatch):
    monkeypatch.setenv("STOPPED_CLOCK_SHOP", "/nowhere/shop.yaml")
    with pytest.raises(KnowledgeError, match=r"/nowhere/shop\.yaml: is no file"):
        read_knowledge(check=False)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("shop: {money: {hour: -1}}", "money.hour"),
        ("shop: {mony: {hour: 75}}", "unknown field 'mony'; did you mean money"),
        ("parts: {}", "must hold `shop:`"),
        ("shop: {part_sent: {look_from: 0.9}}", "look_from 0.9 is above send_from 0.7"),
    ],
)
def test_a_fault_in_the_own_file_is_named_with_the_file(own, text, said):
    own.write_text(text)
    with pytest.raises(KnowledgeError, match=r"shop\.yaml") as caught:
        read_knowledge(check=False)
    assert said in str(caught.value)


def test_a_folder_that_is_named_stays_as_it_is(own):
    own.write_text("shop: {money: {hour: 75}}")
    assert read_knowledge(SMALL, check=False).shop.money.hour != 75
