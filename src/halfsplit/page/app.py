"""The application: routes behind the guard."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from halfsplit.errors import HalfsplitError
from halfsplit.jobs import OpenJobs
from halfsplit.page import book_routes, editor_routes, entry_routes, papers, sheet
from halfsplit.page.answers import refused
from halfsplit.page.desk import Desk
from halfsplit.page.drafts import Drafts
from halfsplit.page.guard import Guard
from halfsplit.page.opinions import Opinions
from halfsplit.page.worker import Worker

STATIC = Path(__file__).parent / "static"


def warmed(app: Starlette) -> None:
    """Read the first job once, behind the open port, so that the first window does not wait for what is loaded late."""
    desk: Desk = app.state.desk
    if desk.first in desk.jobs():
        with suppress(HalfsplitError):
            app.state.open_jobs.read(desk.job(desk.first))


def create_app(desk: Desk, worker: Callable[[], Worker] = Worker) -> Starlette:
    """The page over one desk. worker : makes what does the long work, in a process of its own"""

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        app.state.opinions = Opinions(worker)
        threading.Thread(target=warmed, args=(app,), daemon=True, name="warming").start()
        try:
            yield
        finally:
            app.state.opinions.close()

    app = Starlette(
        routes=[
            *sheet.ROUTES,
            *papers.ROUTES,
            *entry_routes.ROUTES,
            *editor_routes.ROUTES,
            *book_routes.ROUTES,
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        exception_handlers={HalfsplitError: refused},
        middleware=[Middleware(Guard, desk=desk)],
        lifespan=lifespan,
    )
    app.state.desk = desk
    app.state.open_jobs = OpenJobs()
    app.state.drafts = Drafts(desk.folder)
    return app
