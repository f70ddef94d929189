"""Jobs and unit files of the desk: the list, a new job, the unit editor."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from halfsplit import jobs
from halfsplit.errors import HalfsplitError, InputError, Mistake, UnitError
from halfsplit.page.answers import desk_of, part, trouble
from halfsplit.page.desk import JOB, UNIT, plain
from halfsplit.page.drafts import Drafts
from halfsplit.page.editor import STARTER, edit, hold, loader, on_disk, owner, save, unit_file
from halfsplit.page.render import rendered
from halfsplit.page.unit_form import path_of
from halfsplit.unit.edited import with_filter, with_rung, with_value, without_rung

MOST_TEXT = 2**20


def drafts_of(request: Request) -> Drafts:
    """The drafts of the desk."""
    found: Drafts = request.app.state.drafts
    return found


def shelf(request: Request) -> Response:
    """GET /jobs: the jobs and unit files of the desk."""
    return shelf_with(request)


def shelf_with(request: Request, problem: object = None, form: FormData | None = None, status: int = 200) -> Response:
    """The list, with what went wrong and what was typed."""
    desk = desk_of(request)
    heads = []
    for name in desk.jobs():
        try:
            loaded, book = request.app.state.open_jobs.read(desk.job(name))
            counting = sum(r.withdrawn is None for r in book.readings)
            heads.append((name, loaded.unit.name, book.complaint, counting, ""))
        except HalfsplitError as error:
            heads.append((name, "", "", 0, str(error)))
    typed = {k: v for k, v in (form.multi_items() if form else ()) if isinstance(v, str)}
    typed.setdefault("unit", request.query_params.get("unit", ""))
    shown = rendered("jobs.html", desk=desk, heads=heads, problem=problem, typed=typed)
    return HTMLResponse(shown, status)


async def new_job(request: Request) -> Response:
    """POST /jobs: a new job, from a unit file of the desk or one that is sent along."""
    async with request.form(max_files=1, max_fields=20) as form:
        sent = form.get("file")
        data = await sent.read(MOST_TEXT + 1) if isinstance(sent, UploadFile) and sent.filename else None
        name = sent.filename if isinstance(sent, UploadFile) and sent.filename else ""
        try:
            made = await run_in_threadpool(start, request, form, name, data)
        except HalfsplitError as error:
            return await run_in_threadpool(shelf_with, request, trouble(error), form, 422)
    return RedirectResponse(f"/job/{quote(made, safe='')}", 303)


def start(request: Request, form: FormData, sent: str, data: bytes | None) -> str:
    """Start a job. sent, data : a unit file that came along. returns its name; raises HalfsplitError"""
    desk = desk_of(request)
    name, unit, complaint = (" ".join(str(form.get(k, "")).split()) for k in ("name", "unit", "complaint"))
    if not plain(name):
        raise InputError(Mistake("name of the job", repr(name), "a plain name, such as: Tarn of J. Smith"))
    if data is not None:
        unit = taken_in(request, sent, data)
    if not unit:
        raise InputError(Mistake("unit file", "none was chosen", "one of this desk, or one that you send along"))
    jobs.start(desk.folder / (name + JOB), unit_file(desk, unit), name, complaint, desk.clock)
    return name


def taken_in(request: Request, sent: str, data: bytes) -> str:
    """A unit file that was sent along, laid onto the desk under its own name. returns that name; raises InputError"""
    desk, name = desk_of(request), sent.replace("\\", "/").rsplit("/", 1)[-1].removesuffix(UNIT)
    if not plain(name):
        raise InputError(Mistake("unit file", repr(sent), "a file with a plain name"))
    if len(data) > MOST_TEXT:
        raise InputError(Mistake(name, "more than 1 MiB", "a unit file"))
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise UnitError(Mistake(name, "not UTF-8 text", "a unit file saved as UTF-8")) from error
    there = on_disk(desk, name)
    if there is not None and there != text:
        raise InputError(Mistake(name + UNIT, "there is another file of this name on the desk", "another name"))
    if there is None:
        unit, mistakes, _ = jobs.checked_unit(text, name + UNIT, loader(desk))
        if unit is None:
            raise UnitError(*mistakes)
        hold(desk, drafts_of(request), name, text)
        save(desk, drafts_of(request), name, over=False)
    return name


async def new_unit(request: Request) -> Response:
    """POST /units: a unit file to begin with; it is written when it is saved."""
    async with request.form(max_files=0, max_fields=5) as form:
        name = " ".join(str(form.get("name", "")).split()).removesuffix(UNIT)
    if not plain(name):
        problem = trouble(InputError(Mistake("name of the unit file", repr(name), "a plain name")))
        return await run_in_threadpool(shelf_with, request, problem, None, 422)

    def begin() -> None:
        desk, drafts = desk_of(request), drafts_of(request)
        if on_disk(desk, name) is None and drafts.get(owner(name), "text") is None:
            hold(desk, drafts, name, STARTER)

    await run_in_threadpool(begin)
    return RedirectResponse(f"/unit/{quote(name, safe='')}", 303)


def editor(request: Request) -> Response:
    """GET /unit/NAME: the editor."""
    return HTMLResponse(rendered("unit.html", edit=edit_of(request)))


def edit_of(request: Request, problem: object = None, said: str = "") -> object:
    """The unit file of the address as it is being edited."""
    name, wanted = request.path_params["name"], request.query_params.get("filter", "")
    return edit(desk_of(request), drafts_of(request), name, wanted, problem=problem, said=said)


def changing(change: Callable[[Request, FormData], str], *pieces: str) -> Callable[..., object]:
    """A route that changes the text. change : gives what to say; pieces : of the page that follow"""

    async def route(request: Request) -> Response:
        async with request.form(max_files=0, max_fields=20) as form:
            try:
                said, problem = await run_in_threadpool(change, request, form), None
            except HalfsplitError as error:
                said, problem = "", trouble(error)
        found = await run_in_threadpool(partial(edit_of, request, problem, said))
        if not request.headers.get("hx-request"):
            return HTMLResponse(rendered("unit.html", edit=found))
        return HTMLResponse("".join(part(piece, edit=found) for piece in pieces))

    return route


def text_now(request: Request) -> str:
    """The text as it is being edited."""
    name = request.path_params["name"]
    return edit(desk_of(request), drafts_of(request), name).text


def held(request: Request, text: str) -> str:
    """Hold a changed text."""
    hold(desk_of(request), drafts_of(request), request.path_params["name"], text)
    return ""


def typed(request: Request, form: FormData) -> str:
    """POST /unit/NAME/text: the text as it is typed."""
    text = str(form.get("text", ""))
    if len(text) > MOST_TEXT:
        raise InputError(Mistake("unit file", "more than 1 MiB", "a unit file of at most 1 MiB"))
    return held(request, text)


def set_value(request: Request, form: FormData) -> str:
    """POST /unit/NAME/set?path=...: one value, from the form."""
    path = path_of(request.query_params.get("path", ""))
    return held(request, with_value(text_now(request), path, str(form.get("value", ""))[:1000]))


def add_step(request: Request, form: FormData) -> str:
    """POST /unit/NAME/step?filter=...: one more step of a ladder."""
    kind = "series" if form.get("kind") == "series" else "shunt"
    usual = ("L?", "1 uH") if kind == "series" else ("C?", "100 pF")
    return held(request, with_rung(text_now(request), request.query_params.get("filter", ""), kind, *usual))


def drop_step(request: Request, form: FormData) -> str:
    """POST /unit/NAME/unstep?filter=...&index=...: one step less."""
    del form
    index = request.query_params.get("index", "")
    if not index.isdecimal():
        raise InputError(Mistake("step", repr(index), "the number of a step"))
    return held(request, without_rung(text_now(request), request.query_params.get("filter", ""), int(index[:6])))


def add_filter(request: Request, form: FormData) -> str:
    """POST /unit/NAME/filter: one more band with a filter of its own."""
    name, band, low, high = (str(form.get(k, "")).strip()[:60] for k in ("filter", "band", "low", "high"))
    if not (name and band and low and high):
        raise InputError(Mistake("band", "something is left out", "name, filter, lower and upper end"))
    return held(request, with_filter(text_now(request), name, band, low, high))


def keep(request: Request, form: FormData) -> str:
    """POST /unit/NAME/save: write the file."""
    save(desk_of(request), drafts_of(request), request.path_params["name"], over=form.get("over") == "yes")
    return "Saved."


def let_go(request: Request, form: FormData) -> str:
    """POST /unit/NAME/undo: back to the file as it is on the disk."""
    del form
    if on_disk(desk_of(request), request.path_params["name"]) is None:
        raise InputError(Mistake("unit file", "not saved yet", "something to go back to"))
    drafts_of(request).drop(owner(request.path_params["name"]), "text")
    return "Back to the file as it was saved."


def response(request: Request) -> Response:
    """GET /unit/NAME/response/FILTER.json: the response of a filter as drawn."""
    found = edit(desk_of(request), drafts_of(request), request.path_params["name"], request.path_params["filter"])
    drawn = None if found.unit is None or found.chosen is None else jobs.drawn_response(found.unit, found.chosen)
    if drawn is None or found.chosen is None:
        return JSONResponse({"trouble": "nothing to draw yet"}, 404)
    return JSONResponse({
        "key": found.chosen.name, "label": f"{found.chosen.name} as drawn", "band": drawn.bands[0].name, "word": "",
        "headline": "", "quantity": "level, dB", "served": [drawn.bands[0].low, drawn.bands[0].high],
        "f": drawn.f.tolist(), "read": drawn.db.tolist(), "at_least": [False] * len(drawn.f),
        **dict.fromkeys(("expected", "low", "high", "off", "off_low", "off_high", "sigma")),
    })  # fmt: skip


BASE = "/unit/{name}"
ALL = ("unit_text!", "unit_said", "unit_form", "unit_drawing")
ROUTES = [
    Route("/jobs", shelf),
    Route("/jobs", new_job, methods=["POST"]),
    Route("/units", new_unit, methods=["POST"]),
    Route(BASE, editor),
    Route(f"{BASE}/text", changing(typed, "unit_lines", *ALL[1:]), methods=["POST"]),
    Route(f"{BASE}/set", changing(set_value, *ALL), methods=["POST"]),
    Route(f"{BASE}/step", changing(add_step, *ALL), methods=["POST"]),
    Route(f"{BASE}/unstep", changing(drop_step, *ALL), methods=["POST"]),
    Route(f"{BASE}/filter", changing(add_filter, *ALL), methods=["POST"]),
    Route(f"{BASE}/save", changing(keep, *ALL), methods=["POST"]),
    Route(f"{BASE}/undo", changing(let_go, *ALL), methods=["POST"]),
    Route(f"{BASE}/response/{{filter}}.json", response),
]
