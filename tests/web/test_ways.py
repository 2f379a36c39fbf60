"""The page says where to do it, what to bring, and how likely a part is before it is sent."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from tests.web.examples import begun


@pytest.fixture
def address(knowledge: Knowledge, store: Store) -> str:
    return f"/case/{begun(knowledge, store).kept_as}/route"


def test_each_way_stands_with_chance_money_and_days(client: TestClient, knowledge: Knowledge, address: str) -> None:
    page = client.get(address).text
    for key in ("where-phone", "where-visit", "where-workshop", "where-specialist"):
        assert knowledge.screen[key].staff in page
    assert f'<td class="figure">{knowledge.shop.days.bench_queue:.0f}</td>' in page
    assert knowledge.shop.money.currency in page
    assert knowledge.screen["van-title"].staff in page


def test_a_part_is_told_with_its_chance(client: TestClient, knowledge: Knowledge, address: str) -> None:
    page = client.get(address, params={"part": "rating-nut"}).text
    assert "Rating nut: " in page
    assert "in 100 that the clock needs it" in page
    assert '<option value="rating-nut" selected>' in page


def test_a_part_nobody_knows_is_said_to_be_unknown(client: TestClient, address: str) -> None:
    shown = client.get(address, params={"part": "<script>"})
    assert shown.status_code == 404
    assert "<script>" not in shown.text.replace('<script src="/static/page.js" defer></script>', "")


def test_a_customer_is_told_only_where_it_is_best_done(client: TestClient, knowledge: Knowledge, address: str) -> None:
    client.cookies.set("reader", "customer")
    page = client.get(address).text
    assert "This is best done " in page
    assert knowledge.shop.money.currency not in page
    assert " in 100" not in page
