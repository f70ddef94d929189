"""A paper as PDF, by the extra `pdf`. The same text as the HTML; drawings carry their own ink, for a PDF needs it."""

from __future__ import annotations

import re

from halfsplit.errors import InputError, Mistake
from halfsplit.report.style import STROKES

INK = {
    "paper": "#fff", "ink": "#000", "soft": "#333", "form": "#333", "rule": "#777", "hair": "#bbb", "pencil": "#000",
    "field": "#d0d0d0", "served": "#f0f0f0", "on-ink": "#fff",
}  # fmt: skip
"""The inks of print, as the style sheet has them."""

POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>')


def inked(page: str) -> str:
    """A page whose every drawing holds its own style: a writer of PDF does not look for it outside the drawing."""
    style = re.sub(r"var\(--([a-z-]+)\)", lambda m: INK[m[1]], STROKES)
    fonts = "text{font-family:'Liberation Sans',Arial,sans-serif}"
    own = f"<style>{fonts}{style}</style>"
    return re.sub(r"(<svg (?!class=\"window\")[^>]*>)", lambda m: m[1] + own, POLICY.sub("", page))


def as_pdf(page: str) -> bytes:
    """A page of this room as PDF.

    page : HTML as `document` makes it; nothing is fetched for it
    raises InputError where the extra `pdf` is not installed
    """
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetchingError
    except (ImportError, OSError) as error:
        found = str(error).splitlines()[0]
        raise InputError(
            Mistake("PDF", found, "the extra [pdf]: pip install 'halfsplit[pdf]'; or a name that ends in .html")
        ) from error

    def nothing(url: str, *_: object, **__: object) -> object:
        raise URLFetchingError(f"nothing is fetched: {url}")

    written: bytes = HTML(string=inked(page), url_fetcher=nothing).write_pdf()
    return written
