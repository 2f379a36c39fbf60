"""Keeps consultations on disk after every answer; all SQL of the project is here.

One row for each event, only ever added. SQLite by default, any SQLAlchemy address by setting.
"""

from __future__ import annotations

import dataclasses
import json
import re
import secrets
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from diagnose.cases import events as ev
from diagnose.cases.events import Event, event_from_dict, event_to_dict
from diagnose.errors import InputError, UsageError
from diagnose.settings import data_folder


@dataclass(frozen=True, slots=True)
class Kept:
    """A consultation in the list of those kept.

    Parameters
    ----------
    id : str
        Its name.
    clock : str
        The clock it is about.
    edition : str
        Edition of the knowledge it began with.
    events : int
        How many events it has.
    changed : str
        When the last was added, ISO 8601.
    state : str
        "open", "waiting" (a contact was closed until a date) or "closed".
    again : str
        While it waits: the date of the next contact, ISO 8601, or "".
    homework : tuple of str
        While it waits: the findings the owner watches.
    outcome : str
        Once it is closed: what it came to.
    cause : str, optional
        Once it is closed: the cause that a person entered.
    """

    id: str
    clock: str
    edition: str
    events: int
    changed: str
    state: Literal["open", "waiting", "closed"] = "open"
    again: str = ""
    homework: tuple[str, ...] = ()
    outcome: str = ""
    cause: str | None = None

    def due(self, today: str) -> bool:
        """Return whether its homework is to be asked for on a day (ISO 8601) or before it."""
        return self.state == "waiting" and self.again != "" and self.again <= today


# Clocks nobody gave a name to are kept under this one; two of them need not be the same clock.
NO_NAME = "clock"
# Kinds of events that say whether a case is open, as they stand at the beginning of a row.
_MARKS = ("contact", "closed", "concluded")


class Store:
    """The consultations kept on this machine.

    Parameters
    ----------
    address : str, optional
        SQLAlchemy address; a file `cases.sqlite` in the data folder by default.
    """

    def __init__(self, address: str | None = None) -> None:
        import sqlalchemy as sa

        self._address = address or f"sqlite:///{self._default_file()}"
        self._engine = sa.create_engine(self._address)
        meta = sa.MetaData()
        self._cases = sa.Table(
            "consultation",
            meta,
            sa.Column("id", sa.String(80), primary_key=True),
            sa.Column("clock", sa.String(120), nullable=False),
            sa.Column("door", sa.String(40), nullable=False),
            sa.Column("edition", sa.String(40), nullable=False),
            sa.Column("begun", sa.String(40), nullable=False),
        )
        self._events = sa.Table(
            "event",
            meta,
            sa.Column("consultation", sa.String(80), sa.ForeignKey("consultation.id"), primary_key=True),
            sa.Column("number", sa.Integer, primary_key=True),
            sa.Column("at", sa.String(40), nullable=False),
            sa.Column("body", sa.Text, nullable=False),
        )
        with self._at_work("could not be opened"):
            meta.create_all(self._engine)

    @staticmethod
    def _default_file() -> Path:
        folder = data_folder()
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            do = "Set STOPPED_CLOCK_DATA to a folder you may write to"
            raise InputError(f"the folder cannot be made: {error.strerror}", where=str(folder), do=do) from error
        return folder / "cases.sqlite"

    @contextmanager
    def _at_work(self, what: str) -> Iterator[None]:
        """Turn what the database says into one sentence."""
        import sqlalchemy as sa

        try:
            yield
        except sa.exc.SQLAlchemyError as error:
            reason = str(getattr(error, "orig", error)).splitlines()[0]
            do = (
                "Nothing given before is lost; free some space or choose another folder "
                "(STOPPED_CLOCK_DATA), then do it again"
            )
            raise InputError(f"{what}: {reason}", where=self._address.removeprefix("sqlite:///"), do=do) from error

    def begin(self, clock: str, door: str, edition: str) -> str:
        """Begin a consultation and return its id."""
        now = datetime.now().isoformat(timespec="seconds")
        # The name stands in addresses and file names: letters, digits and hyphens only.
        plain = re.sub(r"[^a-z0-9]+", "-", clock.lower()).strip("-") or "clock"
        name = f"{now[:10]}-{plain}-{secrets.token_hex(2)}"
        with self._at_work("could not be saved"), self._engine.begin() as link:
            row = {"id": name, "clock": clock, "door": door, "edition": edition, "begun": now}
            link.execute(self._cases.insert().values(**row))
        return name

    def add(self, consultation: str, number: int, event: Event) -> None:
        """Add the event with this number; on disk when the call returns.

        Raises
        ------
        InputError
            Where it could not be saved, as on a full disk; nothing saved before is touched.
        """
        row = {
            "consultation": consultation,
            "number": number,
            "at": datetime.now().isoformat(timespec="seconds"),
            "body": json.dumps(event_to_dict(event), ensure_ascii=False),
        }
        with self._at_work("this could not be saved"), self._engine.begin() as link:
            link.execute(self._events.insert().values(**row))

    def events(self, consultation: str) -> tuple[Event, ...]:
        """Return the events of a consultation, in order."""
        query = self._events.select().where(self._events.c.consultation == consultation).order_by("number")
        with self._at_work("could not be read"), self._engine.connect() as link:
            return tuple(event_from_dict(json.loads(row.body)) for row in link.execute(query))

    def door_and_edition(self, consultation: str) -> tuple[str, str]:
        """Return the door a consultation came in by, and the edition it began with.

        Raises
        ------
        UsageError
            If there is no such consultation.
        """
        query = self._cases.select().where(self._cases.c.id == consultation)
        with self._at_work("could not be read"), self._engine.connect() as link:
            row = link.execute(query).first()
        if row is None:
            raise UsageError(f"no consultation '{consultation}' is kept here", do="`diagnose cases` lists them")
        return row.door, row.edition

    def kept(self, clock: str | None = None) -> tuple[Kept, ...]:
        """Return the consultations kept, newest first; those of one clock only where it is named."""
        import sqlalchemy as sa

        latest, count = sa.func.max(self._events.c.at), sa.func.count(self._events.c.number)
        query: Any = (
            sa.select(
                self._cases,
                count.label("events"),
                sa.func.coalesce(latest, self._cases.c.begun).label("changed"),
            )
            .join(self._events, self._events.c.consultation == self._cases.c.id, isouter=True)
            .group_by(self._cases.c.id)
            .order_by(sa.text("changed DESC"), self._cases.c.id)
        )
        if clock is not None:
            query = query.where(self._cases.c.clock == clock)
        with self._at_work("could not be read"), self._engine.connect() as link:
            rows = [Kept(row.id, row.clock, row.edition, row.events, row.changed) for row in link.execute(query)]
        marks = self._rows_of(_MARKS, clock)
        return tuple(_with_state(row, marks.get(row.id, ())) for row in rows)

    def on_the_desk(self, today: str, clock: str | None = None) -> tuple[Kept, ...]:
        """Return the consultations kept: homework that is due first, then the others, newest first.

        Parameters
        ----------
        today : str
            The day, ISO 8601.
        clock : str, optional
            Those of one clock only.
        """
        rows = self.kept(clock)
        due = sorted((row for row in rows if row.due(today)), key=lambda row: row.again)
        return (*due, *(row for row in rows if not row.due(today)))

    def handed_before(self, clock: str) -> ev.HandedBefore | None:
        """Return how a clock was handed over last, or None; a clock without a name of its own has no history."""
        if clock == NO_NAME:
            return None
        ends = self._rows_of(("handed-over",), clock)
        for row in self.kept(clock):
            if row.id in ends:
                event, when = ends[row.id][-1], self._date_of_hand_over(row.id)
                if isinstance(event, ev.HandedOver) and event.values:
                    return ev.HandedBefore(row.id, when, event.values, row.outcome, row.cause)
        return None

    def clock_facts(self, clock: str) -> tuple[ev.FactSet, ...]:
        """Return what the newest case of a clock that says so tells of its kind; a clock without a name has none."""
        if clock == NO_NAME:
            return ()
        told = self._rows_of(("fact",), clock)
        newest = next((told[row.id] for row in self.kept(clock) if _kind_told(told.get(row.id, ()))), ())
        return tuple(
            event
            for event in newest
            if isinstance(event, ev.FactSet) and event.about == "clock" and event.field != "id"
        )

    def _date_of_hand_over(self, consultation: str) -> str:
        """Return the day of the contact in which a case was handed over, or the day it was written down."""
        contacts = [event for event in self.events(consultation) if isinstance(event, ev.Contact)]
        if contacts and contacts[-1].when:
            return contacts[-1].when
        return next(row.changed for row in self.kept() if row.id == consultation)

    def _rows_of(self, kinds: Iterable[str], clock: str | None) -> dict[str, tuple[Event, ...]]:
        """Return the events of some kinds, in order, of each consultation (of one clock, where it is named)."""
        import sqlalchemy as sa

        wanted = sa.or_(*(self._events.c.body.like(f'{{"event": "{kind}"%') for kind in kinds))
        query: Any = (
            sa.select(self._events).join(self._cases, self._events.c.consultation == self._cases.c.id).where(wanted)
        )
        query = query.order_by(self._events.c.consultation, self._events.c.number)
        if clock is not None:
            query = query.where(self._cases.c.clock == clock)
        found: dict[str, list[Event]] = {}
        with self._at_work("could not be read"), self._engine.connect() as link:
            for row in link.execute(query):
                found.setdefault(row.consultation, []).append(event_from_dict(json.loads(row.body)))
        return {name: tuple(events) for name, events in found.items()}

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()


def _kind_told(events: Iterable[Event]) -> bool:
    """Return whether the kind of the clock was said."""
    return any(isinstance(event, ev.FactSet) and event.field == "family" for event in events)


def _with_state(row: Kept, marks: Iterable[Event]) -> Kept:
    """Return a row with the state that its contacts and ends say."""
    for event in marks:
        if isinstance(event, ev.Concluded):
            row = dataclasses.replace(
                row, state="closed", outcome=event.outcome, cause=event.cause, again="", homework=()
            )
        elif isinstance(event, ev.Closed):
            row = dataclasses.replace(row, state="waiting", again=event.again, homework=event.homework)
        elif isinstance(event, ev.Contact):
            row = dataclasses.replace(row, state="open", again="", homework=())
    return row
