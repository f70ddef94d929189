"""Work on the unit and photos as text for a person."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from halfsplit.cli.show import wrapped
from halfsplit.jobs import Notebook
from halfsplit.journal import StoredPhoto, StoredWork


def did(job: Path, kept: Sequence[StoredWork]) -> str:
    """halfsplit did."""
    lines = [work_line(w) for w in kept]
    return "\n".join([*lines, wrapped(f"now measure again, and add it: halfsplit add {job} FILE")])


def work_line(w: StoredWork) -> str:
    """One piece of work."""
    gone = "" if w.withdrawn is None else f"  [WITHDRAWN: {w.withdrawn}]"
    return wrapped(f"{w.key}  {w.text}{f': {w.note}' if w.note else ''}{gone}", "", "    ")


def attached(p: StoredPhoto) -> str:
    """halfsplit attach."""
    return photo_line(p)


def photo_line(p: StoredPhoto) -> str:
    """One photo."""
    of = f" of {p.belongs}" if p.belongs else ""
    gone = "" if p.withdrawn is None else f"  [WITHDRAWN: {p.withdrawn}]"
    kind = p.media.partition("/")[2].upper()
    said = f": {p.caption}" if p.caption else ""
    return wrapped(f"{p.key}  photo{of}, {p.name}, {kind}, {p.size / 1000:.0f} kB{said}{gone}", "", "    ")


def book_lines(book: Notebook) -> list[str]:
    """Work and photos of a journal."""
    return [*(work_line(w) for w in book.work), *(photo_line(p) for p in book.photos)]
