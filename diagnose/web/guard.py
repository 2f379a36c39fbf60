"""Keeps other pages out: who is asked, who asks, and what a page may load."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from diagnose.model.wording import Wording

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

# Names under which a browser on this machine reaches it. Any other name may lead here from elsewhere:
# a foreign page could let its own name point to this machine and then read what is kept.
OUR_HOSTS = frozenset({"127.0.0.1", "localhost"})
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    # Not "no-referrer": a browser would then send forms without saying where they come from.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
_WRONG_HOST, _WRONG_ORIGIN = 400, 403


class Guard:
    """Refuses what does not come from this machine's own page, and closes each answer against foreign content.

    Parameters
    ----------
    app : ASGI application
        What is guarded.
    wording : Wording
        Says why something is refused.
    """

    def __init__(self, app: ASGIApp, wording: Wording) -> None:
        self.app = app
        self.wording = wording

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may pass."""
        from starlette.datastructures import Headers

        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_closed(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _with_our_headers(message.get("headers", []))
            await send(message)

        refused = why_refused(scope["method"], Headers(scope=scope))
        if refused is None:
            await self.app(scope, receive, send_closed)
            return
        from starlette.responses import PlainTextResponse

        status = _WRONG_HOST if refused == "page-wrong-host" else _WRONG_ORIGIN
        await PlainTextResponse(self.wording.say(refused), status)(scope, receive, send_closed)


def why_refused(method: str, headers: Mapping[str, str]) -> str | None:
    """Return the phrase that says why a request is refused, or None.

    Parameters
    ----------
    method : str
        GET, POST and so on.
    headers : mapping
        With small-letter names.
    """
    host = headers.get("host", "")
    if _name_of(f"//{host}") not in OUR_HOSTS:
        return "page-wrong-host"
    if method in {"GET", "HEAD"}:
        return None
    came_from = headers.get("origin") or headers.get("referer")
    if came_from is not None and urlsplit(came_from).netloc != host:
        return "page-wrong-origin"
    return None


def _name_of(address: str) -> str | None:
    try:
        return urlsplit(address).hostname
    except ValueError:
        return None


def _with_our_headers(given: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Return headers with ours added where the page has not set its own."""
    names = {name.lower() for name, _ in given}
    ours = [(name.encode(), value.encode()) for name, value in HEADERS.items() if name.encode() not in names]
    return [*given, *ours]
