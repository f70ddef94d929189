"""Entering: every act on what is being entered, and keeping it."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from halfsplit import jobs
from halfsplit.errors import HalfsplitError, InputError, Mistake
from halfsplit.hookup.typed import FIELDS
from halfsplit.page.answers import desk_of, partials, trouble
from halfsplit.page.drafts import Draft, Drafts
from halfsplit.page.entering import (
    MORE_ROWS,
    Fields,
    Incomings,
    entry,
    fields_for,
    fields_of,
    form_of,
    maker,
    rows_in,
    tied,
    typed_maker,
)
from halfsplit.page.sheet import LIVING, view_of
from halfsplit.reading import LIMIT_BYTES

MOST_FILES, MOST_FIELDS = 50, 600
HOOK = "h."
"""Start of the names of hook-up fields: they come along with every act, so that the latest always counts."""
KEPT = (*LIVING, "enter!", "pulse")
TIED = ("hookup!", "enter_said", "cards", "typed_said", "path")


@dataclass(frozen=True, slots=True)
class Act:
    """One act on what is being entered. name, path : of the job; form : fields as typed; files : (name, bytes)"""

    request: Request
    name: str
    path: Path
    form: Mapping[str, str]
    files: tuple[tuple[str, bytes], ...]

    @property
    def drafts(self) -> Drafts:
        """The drafts of the desk."""
        found: Drafts = self.request.app.state.drafts
        return found

    @property
    def number(self) -> int:
        """The file that is meant, by the address."""
        return int(self.request.path_params["number"])

    @property
    def hookup(self) -> dict[str, str]:
        """The hook-up as it is held."""
        return self.drafts.form(self.name, "hookup")

    def draft(self) -> Draft:
        """The file that is meant. raises InputError where it is gone"""
        found = self.drafts.get(self.name, f"file:{self.number}")
        if found is None:
            raise InputError(Mistake("file", "no longer waiting", "one that waits; this one was kept or put aside"))
        return found

    def answer(self, *sections: str, problem: object = None, kept: str = "") -> Response:
        """The sections that the act changed, or the whole sheet where no script runs."""
        view = view_of(self.request)
        if not self.request.headers.get("hx-request") and problem is None:
            return RedirectResponse(f"{view.base()}#enter", 303)
        shown = entry(self.drafts, self.name, view.loaded, problem=problem, kept=kept)
        return partials(view, sections, enter=shown)


async def act_of(request: Request) -> Act:
    """An act, with its form read and the hook-up that came along held. raises JobFileError"""
    name = request.path_params["name"]
    path = desk_of(request).job(name)
    form: dict[str, str] = {}
    files: list[tuple[str, bytes]] = []
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS) as posted:
        for key, value in posted.multi_items():
            if isinstance(value, UploadFile):
                if value.filename:
                    files.append((value.filename[-200:], await value.read(LIMIT_BYTES + 1)))
            else:
                form[key] = value
    act = Act(request, name, path, form, tuple(files))
    tied_on = {k[len(HOOK) :]: v for k, v in form.items() if k.startswith(HOOK) and k[len(HOOK) :] in FIELDS}
    if tied_on:
        await run_in_threadpool(act.drafts.save, name, "hookup", tied_on)
    return act


def refused(act: Act, problem: object) -> Response:
    """What went wrong, said where readings are entered."""
    return act.answer("enter_said", problem=problem)


def acting(
    act: Callable[[Act], Response], troubled: Callable[[Act, object], Response] = refused
) -> Callable[[Request], Awaitable[Response]]:
    """A route of an act; what goes wrong in it is shown in the section where it was asked for."""

    async def route(request: Request) -> Response:
        done = await act_of(request)
        try:
            return await run_in_threadpool(act, done)
        except HalfsplitError as error:
            return await run_in_threadpool(troubled, done, trouble(error))

    return route


def hold_hookup(act: Act) -> Response:
    """POST .../enter/hookup: hold the hook-up, say it in words."""
    return act.answer("hookup_said", "tie", "cards", "typed_said")


def tie(act: Act) -> Response:
    """POST .../enter/tie: one press on a point."""
    tied(act.drafts, act.name, view_of(act.request).unit, act.request.query_params.get("point", ""))
    return act.answer(*TIED)


def take_test(act: Act) -> Response:
    """POST .../tie: take the hook-up of a next test."""
    view = view_of(act.request)
    number = act.form.get("test", "")
    advice = view.data.advice if view.data else ()
    if not number.isdecimal() or int(number[:3]) >= len(advice) or advice[int(number)].hookup is None:
        raise InputError(Mistake("next test", "no longer among the best three", "one of those that are shown now"))
    hookup = advice[int(number)].hookup
    assert hookup is not None
    act.drafts.save(act.name, "hookup", form_of(hookup))
    return act.answer(*TIED)


def take_files(act: Act) -> Response:
    """POST .../enter/files: files come in; they wait, understood, until they are kept."""
    if not act.files:
        raise InputError(Mistake("files", "none were sent", "one or more files of an instrument"))
    act.drafts.take_in(act.name, "file", [(name, data, {}) for name, data in act.files])
    return act.answer("enter_said", "cards")


def correct(act: Act) -> Response:
    """POST .../enter/file/N: what was understood is corrected."""
    found = act.draft()
    fields = {k: v for k, v in act.form.items() if not k.startswith(HOOK) and k.isidentifier()}
    act.drafts.change(act.name, found.key, fields)
    return act.answer("cards")


def put_aside(act: Act) -> Response:
    """POST .../enter/file/N/drop: the file is not wanted."""
    act.drafts.drop(act.name, act.draft().key)
    return act.answer("enter_said", "cards")


def keep_one(act: Act) -> Response:
    """POST .../enter/file/N/keep: the file becomes a reading of the job."""
    found = act.draft()
    done = kept(act, [found])
    return act.answer(*KEPT, kept=done)


def keep_all(act: Act) -> Response:
    """POST .../enter/keep: every file that can be kept as it is becomes a reading; the others go on waiting."""
    view = view_of(act.request)
    shown = entry(act.drafts, act.name, view.loaded)
    ready = {f"file:{c.number}" for c in shown.cards if c.preview.good and not c.preview.same_as}
    if not ready:
        raise InputError(Mistake("files", "none that can be kept as it is", "what each of them asks for"))
    done = kept(act, [d for d in act.drafts.all(act.name, "file:") if d.key in ready])
    return act.answer(*KEPT, kept=done)


def kept(act: Act, drafts: list[Draft]) -> str:
    """Files into the job, those of one hook-up together. returns the keys; raises HalfsplitError"""
    unit, hookup, keys = view_of(act.request).unit, act.hookup, []
    by_hookup: dict[str, list[Draft]] = {}
    for draft in drafts:
        by_hookup.setdefault(repr(fields_for(draft, hookup, unit)), []).append(draft)
    for together in by_hookup.values():
        fields = fields_for(together[0], hookup, unit)
        added = jobs.add(act.path, [maker(d) for d in together], fields, desk_of(act.request).clock)
        for draft in together:
            act.drafts.drop(act.name, draft.key)
        keys += [a.key for a in added]
    return ", ".join(keys)


def add(act: Act, make: Incomings, fields: Fields) -> str:
    """One reading into the job. returns its key"""
    return jobs.add(act.path, [make], fields, desk_of(act.request).clock)[0].key


def hold_typed(act: Act) -> Response:
    """POST .../enter/typed: hold the figures, say what is understood."""
    hold_figures(act)
    return act.answer("typed_said")


def more_rows(act: Act) -> Response:
    """POST .../enter/rows: more rows for figures."""
    hold_figures(act)
    form = act.drafts.form(act.name, "typed")
    act.drafts.save(act.name, "typed", form | {"rows": str(rows_in(form) + MORE_ROWS)})
    return act.answer("typed!")


def hold_figures(act: Act) -> None:
    """Hold the table of figures as it was sent."""
    form = {k: v for k, v in act.form.items() if not k.startswith(HOOK) and v}
    act.drafts.save(act.name, "typed", form)


def keep_typed(act: Act) -> Response:
    """POST .../enter/typed/keep: the figures become a reading of the job."""
    hold_figures(act)
    key = add(act, typed_maker(act.drafts.form(act.name, "typed")), fields_of(act.hookup))
    usual = {k: v for k, v in act.drafts.form(act.name, "typed").items() if k in ("unit", "kind", "resolution")}
    act.drafts.save(act.name, "typed", usual)
    return act.answer(*KEPT, kept=key)


def hold_found(act: Act) -> Response:
    """POST .../enter/found: hold the line."""
    act.drafts.save(act.name, "found", {"line": act.form.get("line", "")})
    return Response(status_code=204)


def keep_found(act: Act) -> Response:
    """POST .../enter/found/keep: what a meter, a bridge or a jumper found becomes part of the job."""
    line = act.form.get("line", "")
    act.drafts.save(act.name, "found", {"line": line})
    (key, _), *_ = jobs.add_found(act.path, [line], desk_of(act.request).clock)
    act.drafts.drop(act.name, "found")
    return act.answer(*KEPT, kept=key)


BASE = "/job/{name}"
ROUTES = [
    Route(f"{BASE}/tie", acting(take_test), methods=["POST"]),
    Route(f"{BASE}/enter/hookup", acting(hold_hookup), methods=["POST"]),
    Route(f"{BASE}/enter/tie", acting(tie), methods=["POST"]),
    Route(f"{BASE}/enter/files", acting(take_files), methods=["POST"]),
    Route(f"{BASE}/enter/keep", acting(keep_all), methods=["POST"]),
    Route(f"{BASE}/enter/file/{{number:int}}", acting(correct), methods=["POST"]),
    Route(f"{BASE}/enter/file/{{number:int}}/keep", acting(keep_one), methods=["POST"]),
    Route(f"{BASE}/enter/file/{{number:int}}/drop", acting(put_aside), methods=["POST"]),
    Route(f"{BASE}/enter/typed", acting(hold_typed), methods=["POST"]),
    Route(f"{BASE}/enter/rows", acting(more_rows), methods=["POST"]),
    Route(f"{BASE}/enter/typed/keep", acting(keep_typed), methods=["POST"]),
    Route(f"{BASE}/enter/found", acting(hold_found), methods=["POST"]),
    Route(f"{BASE}/enter/found/keep", acting(keep_found), methods=["POST"]),
]
