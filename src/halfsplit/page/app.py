"""The application: routes behind the guard."""

from __future__ import annotations

from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from halfsplit.page.desk import Desk
from halfsplit.page.guard import Guard
from halfsplit.page.sheet import home, sheet

STATIC = Path(__file__).parent / "static"


def create_app(desk: Desk) -> Starlette:
    """The page over one desk."""
    app = Starlette(
        routes=[
            Route("/", home),
            Route("/job/{name}", sheet),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[Middleware(Guard, desk=desk)],
    )
    app.state.desk = desk
    return app
