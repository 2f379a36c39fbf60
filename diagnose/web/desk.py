"""What all pages share: the kept cases, the knowledge, the templates and the reader's words."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from diagnose.cases.devices import Device, known_devices
from diagnose.cases.store import Store
from diagnose.coaching import words_of
from diagnose.consultation import Consultation
from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Reader, Wording
from diagnose.reports import showing, way
from diagnose.web.forms import LARGEST_UPLOAD_MB, Given

if TYPE_CHECKING:
    from jinja2 import Environment
    from starlette.requests import Request
    from starlette.responses import Response

HERE = Path(__file__).parent
READER_COOKIE, STAFF_COOKIE = "reader", "staff"
_YEAR_S = 365 * 24 * 3600
# A phone hides what it does not take for one of these; sound also comes in films and under its own endings.
SOUND_FILES = "audio/*,video/*,.opus,.amr,.m4a,.3gp,.caf"


@dataclass
class Desk:
    """What the pages work with.

    Parameters
    ----------
    store : Store
        The cases kept on this machine.
    knowledge : Knowledge
        The base.
    recordings : Path
        Folder of recordings that came in by the page.
    token : str
        Stands in every form of this run of the program; a form without it is not taken.
    how_far : dict
        Seconds heard and seconds promised of each recording that is being heard, by the ticket of its form.
    """

    store: Store
    knowledge: Knowledge
    recordings: Path
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    lock: threading.RLock = field(default_factory=threading.RLock)
    how_far: dict[str, tuple[float, float]] = field(default_factory=dict)

    @cached_property
    def templates(self) -> Environment:
        """The templates; whatever they print is escaped."""
        from jinja2 import Environment, FileSystemLoader, StrictUndefined

        environment = Environment(
            loader=FileSystemLoader(HERE / "templates"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        environment.globals["knowledge"] = self.knowledge
        environment.globals["showing"] = showing
        environment.globals["way"] = way
        environment.globals["most_mb"] = LARGEST_UPLOAD_MB
        environment.globals["sound_files"] = SOUND_FILES
        environment.globals["known_devices"] = _known_devices
        return environment

    def wording(self, request: Request) -> Wording:
        """Return the words of whoever reads this browser's pages."""
        return self.words_for(request.cookies.get(READER_COOKIE, ""))

    def words_for(self, reader: str) -> Wording:
        """Return the words for a kind of reader; staff's where it is none."""
        return Wording(self.knowledge, "customer" if reader == "customer" else "staff")

    def check_token(self, given: Given, wording: Wording) -> None:
        """Refuse a form that was not made by this run of the program."""
        if not secrets.compare_digest(given.text("token").encode(), self.token.encode()):
            raise UsageError(wording.say("page-old-token"))

    def resume(self, name: str) -> Consultation:
        """Return a kept case as it stands now."""
        return Consultation.resume(self.knowledge, self.store, name)

    def is_kept(self, name: str) -> bool:
        """Return whether a case of that name is kept."""
        try:
            self.store.door_and_edition(name)
        except UsageError:
            return False
        return True

    def told(self, fault: StoppedClockError, wording: Wording) -> str:
        """Return a fault as one sentence; of a file that is no recording a customer is told what to send instead."""
        # Only a recording is read from that folder, so what was wrong there is a matter of sound files.
        if wording.reader == "customer" and fault.where and Path(fault.where).parent == self.recordings:
            return wording.say("page-not-opened")
        return sentence_of(fault)

    def page(
        self,
        request: Request,
        template: str,
        values: Mapping[str, Any],
        given: Given | None = None,
        fault: StoppedClockError | None = None,
        status: int = 200,
    ) -> Response:
        """Return a page; where something was wrong it says so and holds all that was given.

        Parameters
        ----------
        request : Request
            Tells the reader.
        template : str
            File below `templates`.
        values : mapping
            What the template shows.
        given : Given, optional
            What was sent, to be filled in again.
        fault : StoppedClockError, optional
            What was wrong.
        status : int
            HTTP status.
        """
        from starlette.responses import HTMLResponse

        wording = self.wording(request)
        shown = {
            "wording": wording,
            "say": wording.say,
            "words_of": words_of,
            "customer": wording.reader == "customer",
            "token": self.token,
            "given": given or Given(),
            "fault": self.told(fault, wording) if fault is not None else None,
            "here": request.url.path,
            "initials": request.cookies.get(STAFF_COOKIE, ""),
            "case_name": None,
        }
        return HTMLResponse(self.templates.get_template(template).render({**shown, **values}), status)


def _known_devices() -> list[Device]:
    """Return the phones that were compared with a known source; none where the list is damaged."""
    try:
        return known_devices()
    except StoppedClockError:
        return []


def sentence_of(fault: StoppedClockError) -> str:
    """Return a fault as one sentence, without the path of a file the reader has never seen."""
    what = fault.what[:1].upper() + fault.what[1:]
    return StoppedClockError(what, do=fault.do).args[0] if isinstance(fault, InputError) else str(fault)


def remember(response: Response, name: str, value: str) -> None:
    """Keep a choice in this browser."""
    response.set_cookie(name, value, max_age=_YEAR_S, httponly=True, samesite="strict")


def reader_of(text: str) -> Reader:
    """Return the kind of reader a form chose."""
    return "customer" if text == "customer" else "staff"


def chosen(given: Given, name: str, allowed: Mapping[str, Any] | tuple[str, ...], wording: Wording) -> str:
    """Return a choice of a form, or raise where it is none of those shown."""
    text = given.text(name)
    if text not in allowed:
        raise UsageError(wording.say("page-choose-other", text=text[:40]))
    return text


def number_above_zero(given: Given, name: str, example: str, wording: Wording) -> float | None:
    """Return a number of a form, None where it was left empty."""
    text = given.text(name)
    if not text:
        return None
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = -1.0
    if not 0 < number < float("inf"):
        raise UsageError(wording.say("page-part-of-number", text=text[:40], example=example))
    return number


def literals(form: Any) -> tuple[str, ...]:
    """Return the words that a literal type allows."""
    return tuple(get_args(form))
