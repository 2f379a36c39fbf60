"""Serves the page on this machine: finds a port, keeps a case file as a case, tells the address."""

from __future__ import annotations

import dataclasses
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from diagnose.cases import events as ev
from diagnose.cases.case import read_case
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.readiness import make_ready

LOOPBACK = "127.0.0.1"
TRIED_PORTS = 20
LARGEST_PORT = 65_535
WAITING_CONNECTIONS = 64


def serve(port: int, case: Path | None, browser: bool) -> None:
    """Serve the page until stopped.

    Parameters
    ----------
    port : int
        Port on this machine; where it is in use the next free one is taken, and told.
    case : Path, optional
        A case file; it is replayed into a new kept case, and its page is opened.
    browser : bool
        Open the page in the browser.
    """
    import uvicorn

    from diagnose.web.app import make_app

    knowledge = read_knowledge()
    make_ready(knowledge)
    wording, store = Wording(knowledge), Store()
    name = keep_case(case, knowledge, store) if case is not None else None
    listening = free_port(port, wording)
    taken = listening.getsockname()[1]
    if taken != port:
        print(wording.say("page-port-busy", port=port, taken=taken), file=sys.stderr)
    address = f"http://{LOOPBACK}:{taken}/" + (f"case/{name}" if name else "")
    print(address, flush=True)
    print(wording.say("page-serving"), file=sys.stderr, flush=True)
    if browser:
        threading.Thread(target=_open, args=(webbrowser.open, address), daemon=True).start()
    config = uvicorn.Config(
        make_app(store, knowledge), log_level="warning", access_log=False, server_header=False, proxy_headers=False
    )
    try:
        uvicorn.Server(config).run(sockets=[listening])
    finally:
        listening.close()
        store.close()


def _open(opener: Callable[[str], bool], address: str) -> None:
    """Open the page; a machine without a browser still has the address in print."""
    try:
        opener(address)
    except webbrowser.Error:
        return


def free_port(port: int, wording: Wording) -> socket.socket:
    """Return a socket that listens on this machine only, on the port or on the next one that is free.

    Raises
    ------
    UsageError
        If neither the port nor any of the next ones is free, or there is no such port.
    """
    if not 0 <= port <= LARGEST_PORT:
        raise UsageError(wording.say("page-no-such-port", port=port, most=LARGEST_PORT))
    for number in range(port, min(port + TRIED_PORTS, LARGEST_PORT + 1)):
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if sys.platform != "win32":
            # A port left a moment ago may be taken again; on Windows this would share a port in use.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((LOOPBACK, number))
            listening.listen(WAITING_CONNECTIONS)
        except OSError:
            listening.close()
            continue
        return listening
    raise UsageError(wording.say("page-no-port", port=port, last=port + TRIED_PORTS - 1))


def keep_case(path: Path, knowledge: Knowledge, store: Store) -> str:
    """Replay a case file into a new kept case and return its name.

    Parameters
    ----------
    path : Path
        The case file; its recordings are heard.
    knowledge : Knowledge
        The base.
    store : Store
        Where it is kept.
    """
    case = Consultation.replay(read_case(path, knowledge), knowledge).case
    clock = case.clock.id if case.clock.id != "clock" else case.id
    name = store.begin(clock, case.door, case.edition)
    for number, event in enumerate(case.events):
        store.add(name, number, _with_whole_path(event, path.resolve().parent))
    return name


def _with_whole_path(event: ev.Event, folder: Path) -> ev.Event:
    """Return an event whose recording can be found from anywhere."""
    if isinstance(event, ev.Heard):
        made = event.made | ({"beside": str(folder / event.made["beside"])} if event.made.get("beside") else {})
        return dataclasses.replace(event, file=str(folder / event.file), made=made)
    return event
