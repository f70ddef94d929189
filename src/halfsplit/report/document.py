"""The frame that every paper of this room has: one HTML text, self-contained, no script, no request."""

from __future__ import annotations

from collections.abc import Iterable

from halfsplit.report.markup import safe
from halfsplit.report.style import STYLE, policy


def document(title: str, parts: Iterable[str]) -> str:
    """The whole of a paper as HTML, to be written as UTF-8.

    title : as text; parts : markup, top to bottom, empty ones left out
    """
    body = "\n".join(part for part in parts if part)
    return (
        "<!DOCTYPE html>\n"
        f'<html lang="en"><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{policy()}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{safe(title)}</title><style>{STYLE}</style></head>\n"
        f"<body>\n{body}\n</body></html>\n"
    )
