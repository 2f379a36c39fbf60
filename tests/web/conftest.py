"""A page of its own for each test: its own cases, its own recordings."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.web.app import make_app

ADDRESS = "http://127.0.0.1"


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store(f"sqlite:///{tmp_path / 'cases.sqlite'}")
    yield store
    store.close()


@pytest.fixture
def recordings(tmp_path: Path) -> Path:
    return tmp_path / "recordings"


@pytest.fixture
def client(store: Store, knowledge: Knowledge, recordings: Path) -> Iterator[TestClient]:
    with TestClient(make_app(store, knowledge, recordings), base_url=ADDRESS) as client:
        yield client


@pytest.fixture
def token(client: TestClient) -> str:
    return str(client.app.state.desk.token)  # type: ignore[attr-defined]
