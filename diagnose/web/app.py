"""Puts the pages together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from diagnose.cases.store import Store
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.settings import data_folder

if TYPE_CHECKING:
    from starlette.applications import Starlette

RECORDINGS_FOLDER = "recordings"


def make_app(store: Store, knowledge: Knowledge, folder: Path | None = None) -> Starlette:
    """Return the application that serves the page.

    Parameters
    ----------
    store : Store
        Where cases are kept.
    knowledge : Knowledge
        The base.
    folder : Path, optional
        Where recordings are kept; below the data folder by default.
    """
    from starlette.applications import Starlette
    from starlette.middleware import Middleware
    from starlette.routing import Mount
    from starlette.staticfiles import StaticFiles

    from diagnose.web import pages
    from diagnose.web.desk import HERE, Desk
    from diagnose.web.guard import Guard

    app = Starlette(
        routes=[*pages.routes(), Mount("/static", StaticFiles(directory=HERE / "static"), name="static")],
        middleware=[Middleware(Guard, wording=Wording(knowledge))],
        exception_handlers={404: pages.no_such_page, 405: pages.no_such_page, 500: pages.failed},
    )
    app.state.desk = Desk(store, knowledge, folder or data_folder() / RECORDINGS_FOLDER)
    return app
