"""The papers of a job: the reports and the bench sheet as HTML and as PDF, from the last good result."""

from __future__ import annotations

from dataclasses import replace

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from halfsplit.jobs import JobData
from halfsplit.page.sheet import view_of
from halfsplit.report import paper, reader_named
from halfsplit.report.style import policy

MEDIA = {"html": "text/html; charset=utf-8", "pdf": "application/pdf"}


def one_paper(request: Request) -> Response:
    """GET /job/NAME/report/READER.html or .pdf: a report with what is known by now.

    raises InputError where the extra `pdf` is missing
    """
    reader, ending = request.path_params["reader"], request.path_params["ending"]
    if reader not in ("bench", "owner", "technician") or ending not in MEDIA:
        return PlainTextResponse("no such paper; there are bench, owner and technician, as .html and .pdf", 404)
    view = view_of(request)
    known = view.data or JobData(view.loaded, view.book, (), (), None, ())
    data = replace(known, job=view.loaded, notebook=view.book)
    headers = {"content-disposition": f'inline; filename="{reader}.{ending}"'}
    if ending == "html":
        headers["content-security-policy"] = policy() + "; frame-ancestors 'none'"
    return Response(paper(data, reader_named(reader), pdf=ending == "pdf"), 200, headers, MEDIA[ending])


ROUTES = [Route("/job/{name}/report/{reader}.{ending}", one_paper)]
