"""Answers that the routes share: sections by name, and errors that say what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from halfsplit.errors import HalfsplitError, InputError, JobFileError, Mistake
from halfsplit.page.desk import Desk
from halfsplit.page.opinions import Opinions
from halfsplit.page.render import rendered


@dataclass(frozen=True, slots=True)
class Trouble:
    """An error as the page shows it. mistakes : all of them; text : where there are none"""

    text: str
    mistakes: tuple[Mistake, ...] = ()


def trouble(error: HalfsplitError) -> Trouble:
    """An error for a person."""
    return Trouble(str(error), error.mistakes if isinstance(error, InputError) else ())


def desk_of(request: Request) -> Desk:
    """The desk that this server serves."""
    desk: Desk = request.app.state.desk
    return desk


def opinions_of(request: Request) -> Opinions:
    """What this server thinks of its jobs."""
    opinions: Opinions = request.app.state.opinions
    return opinions


def partials(view: Any, sections: Iterable[str], **more: Any) -> Response:
    """Sections of the sheet, each put in the place of the one that is shown; focus and scroll stay.

    sections : names; with a "!" behind, what is typed in them is replaced too
    """
    return HTMLResponse("".join(part(name, view=view, **more) for name in sections))


def part(name: str, **values: Any) -> str:
    """One section, with the word for the browser where it goes. name : as of `partials`"""
    plain, way = name.removesuffix("!"), "outerHTML" if name.endswith("!") else "outerMorph"
    body = rendered(f"_{plain}.html", **values)
    return f'<hx-partial hx-target="#{plain}" hx-swap="{way}">{body}</hx-partial>'


async def refused(request: Request, error: Exception) -> Response:
    """An error as an answer: a part of the page for a request from within it, else a page of its own."""
    assert isinstance(error, HalfsplitError)
    status = 404 if isinstance(error, JobFileError) else 422
    template = "_trouble.html" if request.headers.get("hx-request") else "trouble.html"
    headers = {"HX-Retarget": "#trouble", "HX-Reswap": "innerHTML"}
    return HTMLResponse(rendered(template, problem=trouble(error)), status, headers)
