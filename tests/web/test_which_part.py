"""The page that compares a part in hand with a stock list."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.cases import stock
from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from tests.web.examples import begun

KIND = {"part": "cable"}
ROPES = "item;thickness;length\nC 1;1,2;3000\nC 2;1,5;3000\nbad;thick;3000\n"


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("STOPPED_CLOCK_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def keep(client: TestClient, token: str, text: str = ROPES, **more: str) -> object:
    return client.post("/part/list", data={"token": token, **KIND, "list": text, **more}, follow_redirects=False)


def test_the_sizes_of_a_kind_stand_each_with_its_tool(client: TestClient, knowledge: Knowledge) -> None:
    page = client.get("/part").text
    for dimension in knowledge.parts["suspension-spring"].dimensions:
        assert f'name="size.{dimension.short}"' in page
        assert f'name="tool.{dimension.short}"' in page
    assert 'name="tool.mass"' not in client.get("/part", params={"part": "weight"}).text


def test_a_pasted_list_is_kept_and_its_bad_row_named(client: TestClient, token: str, data: Path) -> None:
    answer = keep(client, token)
    assert answer.status_code == 303  # type: ignore[attr-defined]
    known = stock.remembered("cable")
    assert known is not None
    assert Path(known.file) == (data / "stock-cable.csv").resolve()
    sizes = {**KIND, "size.thickness": "1.2 mm", "tool.thickness": "steel-caliper", "size.length": "3000 mm"}
    page = client.get("/part", params=sizes).text
    assert "C 1 is the same within what the clock tolerates." in page
    assert "stock-cable.csv:4: thickness: &#39;thick&#39; is no size" in page


def test_coarse_sizes_cannot_tell_and_say_what_to_measure(client: TestClient, token: str) -> None:
    keep(client, token)
    sizes = {**KIND, "size.thickness": "1.3 mm", "tool.thickness": "ruler", "size.length": "3000 mm"}
    page = client.get("/part", params=sizes).text
    assert "These measurements cannot tell." in page
    assert "To settle most: measure thickness with a" in page


def test_a_list_that_cannot_be_read_does_not_replace_the_one_that_is_kept(client: TestClient, token: str) -> None:
    keep(client, token)
    answer = keep(client, token, "nothing;here\n1;2\n")
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert "nothing;here" in answer.text  # type: ignore[attr-defined]
    known = stock.remembered("cable")
    assert known is not None
    assert Path(known.file).read_text().startswith("item;thickness")


@pytest.mark.parametrize(
    ("sizes", "said"),
    [
        ({"size.thickness": "1.2 mm"}, "Paste your stock list first."),
        ({"size.thickness": "much"}, "is not a length"),
        ({"size.thickness": "1.2"}, "has no unit"),
        ({"size.thickness": "120 mm"}, "far from the usual"),
        ({"size.thickness": "1.2 mm", "tool.thickness": "eye"}, "unknown tool"),
    ],
)
def test_what_cannot_be_taken_is_said_and_what_was_typed_stays(
    client: TestClient, token: str, sizes: dict[str, str], said: str
) -> None:
    if said != "Paste your stock list first.":
        keep(client, token)
    shown = client.get("/part", params={**KIND, **sizes})
    assert shown.status_code == 422
    assert said.lower() in shown.text.lower()
    assert f'value="{sizes["size.thickness"]}"' in shown.text


def test_a_list_without_the_token_is_not_kept(client: TestClient) -> None:
    assert client.post("/part/list", data={**KIND, "list": ROPES, "token": "x"}).status_code in {403, 422}
    assert stock.remembered("cable") is None


def test_the_door_leads_to_it(client: TestClient, knowledge: Knowledge, store: Store) -> None:
    page = client.get(f"/case/{begun(knowledge, store, 'part', 'visit').kept_as}").text
    assert knowledge.screen["fit-title"].staff in page
    assert 'href="/part"' in page
    client.cookies.set("reader", "customer")
    assert 'href="/part"' not in client.get(f"/case/{begun(knowledge, store, 'part', 'visit').kept_as}").text
