"""The page served to a real browser, and the browser that looks at it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording

CHROMIUM = Path("/usr/bin/chromium")
IN_BROWSER = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason=f"no Chromium at {CHROMIUM}"),
]
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


@contextmanager
def served(knowledge: Knowledge, folder: Path) -> Iterator[tuple[str, Store]]:
    """Serve the page from a folder; give its address and the store it keeps cases in."""
    import uvicorn

    from diagnose.web.app import make_app
    from diagnose.web.serving import free_port

    store = Store(f"sqlite:///{folder / 'cases.sqlite'}")
    listening = free_port(0, Wording(knowledge))
    config = uvicorn.Config(make_app(store, knowledge, folder / "recordings"), log_level="error", lifespan="off")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{listening.getsockname()[1]}", store
    server.should_exit = True
    thread.join(10)
    listening.close()
    store.close()


@contextmanager
def chromium(sync_api: Any, *more: str) -> Iterator[Any]:
    """Run Chromium without a window, with further arguments."""
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=[*ARGUMENTS, *more])
        yield browser
        browser.close()


@contextmanager
def looked_at(browser: Any, seconds: float, expected: str, **options: Any) -> Iterator[Any]:
    """Open an empty page; afterward no script has failed, and nothing was complained of but what holds `expected`."""
    context = browser.new_context(**options)
    page = context.new_page()
    page.set_default_timeout(1000.0 * seconds)
    problems: list[str] = []
    page.on("console", lambda message: problems.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: problems.append(str(error)))
    yield page
    context.close()
    assert [text for text in problems if expected not in text] == []
