"""The sheet: a job as one page, and what a window asks for to stay up to date."""

from __future__ import annotations

from collections.abc import Iterable

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from halfsplit import jobs
from halfsplit.errors import HalfsplitError
from halfsplit.page.answers import desk_of, opinions_of, partials, trouble
from halfsplit.page.entering import entry
from halfsplit.page.render import rendered
from halfsplit.page.traces import bare_trace, trace
from halfsplit.page.view import View, chosen_band, revision_of
from halfsplit.reading import What

LIVING = ("head", "path", "trace", "bands", "suspects", "next", "journal", "report")
"""Sections that follow the job file; `enter` belongs to the person who is typing."""


def view_of(request: Request) -> View:
    """The job of the address as it is now; it is thought about where it was not yet. raises JobFileError"""
    desk, name = desk_of(request), request.path_params["name"]
    path = desk.job(name)
    loaded, book = request.app.state.open_jobs.read(path)
    opinion = opinions_of(request).want(name, path, revision_of(book))
    band = chosen_band(loaded.unit, request.query_params.get("band", ""), opinion.data, loaded)
    typed = {form: request.app.state.drafts.form(name, form) for form in ("did", "note", "told")}
    return View(name, path, loaded, book, opinion, band, request.query_params.get("at", "")[:100], typed)


def home(request: Request) -> Response:
    """GET /: the job that the server was started for, else the shelf."""
    desk = desk_of(request)
    if desk.first in desk.jobs():
        return RedirectResponse(f"/job/{desk.first}", 303)
    return RedirectResponse("/jobs", 303)


def sheet(request: Request) -> Response:
    """GET /job/NAME: the whole sheet, or for a press on the strip the sections that it changes."""
    view = view_of(request)
    if request.headers.get("hx-request"):
        return partials(view, ("path", "trace", "pulse"))
    entered = entry(request.app.state.drafts, view.name, view.loaded)
    return HTMLResponse(rendered("sheet.html", view=view, enter=entered))


def since(request: Request) -> Response:
    """GET /job/NAME/since?seen=...: nothing where the window shows all there is, else the sections that changed."""
    view = view_of(request)
    seen = request.query_params.get("seen", "").split(".")
    now = view.seen.split(".")
    if seen == now:
        return Response(status_code=204)
    return partials(view, ("pulse", "progress") if seen[:2] == now[:2] else (*LIVING, "pulse"))


def stop(request: Request) -> Response:
    """POST /job/NAME/stop: stop the work; what was there before stays."""
    opinions_of(request).stop(request.path_params["name"])
    return renewed(request)


def again(request: Request) -> Response:
    """POST /job/NAME/again: take up the work that was stopped."""
    view = view_of(request)
    opinions_of(request).want(view.name, view.path, view.revision, again=True)
    return renewed(request)


def renewed(request: Request, sections: Iterable[str] = (*LIVING, "pulse")) -> Response:
    """The answer to an act on the job: the sections that it changed, or the whole sheet where no script runs."""
    view = view_of(request)
    if request.headers.get("hx-request"):
        return partials(view, sections)
    return RedirectResponse(view.base(), 303)


def one_trace(request: Request) -> Response:
    """GET /job/NAME/trace/KEY/WHAT.json: the curves of one reading, bare where it is not judged yet."""
    view = view_of(request)
    key, what = request.path_params["key"], request.path_params["what"]
    if what not in {w.value for w in What}:
        return JSONResponse({"trouble": "no such quantity"}, 404)
    wanted = What(what)
    for v in view.data.verdicts if view.data else ():
        if (v.key, v.what) == (key, wanted):
            return JSONResponse(trace(v, view.unit, view.data.job.observations if view.data else ()))
    for o in view.loaded.observations:
        if (o.key, o.what) == (key, wanted):
            return JSONResponse(bare_trace(o, view.unit))
    return JSONResponse({"trouble": "no such reading"}, 404)


def at_point(request: Request) -> Response:
    """GET /job/NAME/point?band=...&at=...: what a sound unit shows at a point, and what was read there."""
    view = view_of(request)
    fields = {"band": view.band.name, "drive": view.unit.path.points[0], "read": view.at}
    try:
        found = jobs.expect(view.path, fields, What.S21, None)
    except HalfsplitError as error:
        return HTMLResponse(rendered("_trouble.html", problem=trouble(error)))
    read = [o for o in view.loaded.observations if o.hookup.band == view.band.name and view.at == o.hookup.read]
    return HTMLResponse(rendered("_point.html", view=view, found=found, read=read))


ROUTES = [
    Route("/", home),
    Route("/job/{name}", sheet),
    Route("/job/{name}/since", since),
    Route("/job/{name}/stop", stop, methods=["POST"]),
    Route("/job/{name}/again", again, methods=["POST"]),
    Route("/job/{name}/trace/{key}/{what}.json", one_trace),
    Route("/job/{name}/point", at_point),
]
