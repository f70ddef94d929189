"""The sheet: a job as one page."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from halfsplit import jobs
from halfsplit.page.desk import Desk
from halfsplit.page.render import rendered


def desk_of(request: Request) -> Desk:
    """The desk that this server serves."""
    desk: Desk = request.app.state.desk
    return desk


def home(request: Request) -> Response:
    """The job that the server was started for."""
    desk = desk_of(request)
    return RedirectResponse(f"/job/{desk.first or desk.jobs()[0]}", 303)


def sheet(request: Request) -> Response:
    """GET /job/NAME: the whole sheet."""
    desk, name = desk_of(request), request.path_params["name"]
    book = jobs.notebook(desk.job(name))
    return HTMLResponse(rendered("sheet.html", name=name, book=book, data=None))
