"""The page is served on this machine only; a case file becomes a kept case."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from diagnose.cases import events as ev
from diagnose.cases.store import Store
from diagnose.errors import InputError, UsageError
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.settings import demo_folder
from diagnose.web.serving import free_port, keep_case

CASE = demo_folder() / "larch-lane-007.yaml"


def test_the_socket_listens_on_this_machine_only(knowledge: Knowledge) -> None:
    with free_port(0, Wording(knowledge)) as listening:
        assert listening.getsockname()[0] == "127.0.0.1"


def test_a_port_in_use_gives_the_next_free_one(knowledge: Knowledge) -> None:
    with free_port(0, Wording(knowledge)) as taken:
        port = taken.getsockname()[1]
        with free_port(port, Wording(knowledge)) as listening:
            assert listening.getsockname()[1] > port


@pytest.mark.parametrize("port", [-1, 65_536])
def test_a_port_that_cannot_be_is_refused(knowledge: Knowledge, port: int) -> None:
    with pytest.raises(UsageError, match=f"no port {port}"):
        free_port(port, Wording(knowledge))


def test_with_all_ports_in_use_that_is_said(knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    def busy(*_: object) -> None:
        raise OSError

    monkeypatch.setattr(socket.socket, "bind", busy)

    with pytest.raises(UsageError, match="are all in use"):
        free_port(8765, Wording(knowledge))


def test_a_case_file_becomes_a_kept_case_with_its_recordings_heard(
    client: TestClient, store: Store, knowledge: Knowledge
) -> None:
    name = keep_case(CASE, knowledge, store)

    heard = [event for event in store.events(name) if isinstance(event, ev.Heard)]
    assert heard and all(Path(event.file).is_absolute() and event.beats["beats"] > 0 for event in heard)
    assert client.get(f"/case/{name}").status_code == 200


def test_a_case_file_that_is_none_is_refused(knowledge: Knowledge, store: Store, tmp_path: Path) -> None:
    path = tmp_path / "none.yaml"
    path.write_text("case: [", encoding="utf-8")

    with pytest.raises(InputError):
        keep_case(path, knowledge, store)

    assert store.kept() == ()


def test_the_command_prints_an_address_that_answers(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "diagnose", "serve", "--port", "0", "--case", str(CASE)]
    environment = {**os.environ, "STOPPED_CLOCK_DATA": str(tmp_path)}
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as run:
        try:
            assert run.stdout is not None
            address = run.stdout.readline().strip()
            with urllib.request.urlopen(address, timeout=20) as answer:
                page = answer.read().decode()
        finally:
            run.terminate()

    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/case/[a-z0-9-]+", address)
    assert "larch-lane-floor" in page
