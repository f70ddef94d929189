"""The sheet onto the disk: all of it or nothing."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from halfsplit.errors import JobFileError
from halfsplit.report.owner import owner_report
from halfsplit.report.pdf import as_pdf
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import bench_sheet
from halfsplit.report.technician import technician_report

Reader = Literal["bench", "owner", "technician"]
"""Whom a paper is for: the bench, the owner, the next technician."""


MAKERS: dict[Reader, Callable[[SheetData], str]] = {
    "bench": bench_sheet, "owner": owner_report, "technician": technician_report,
}  # fmt: skip


def reader_named(word: str) -> Reader:
    """A reader by its word. raises StopIteration for another"""
    return next(r for r in MAKERS if r == word)


def paper(data: SheetData, reader: Reader, *, pdf: bool) -> bytes:
    """A paper as the bytes of a file. raises InputError where a PDF is wanted and the extra is missing"""
    page = MAKERS[reader](data)
    return as_pdf(page) if pdf else page.encode("utf-8", "replace")


def written(data: SheetData, target: Path, reader: Reader = "bench") -> None:
    """Write a paper: as PDF where the name ends in .pdf, else as HTML. What was there before stays whole until then.

    reader : whom it is for
    raises JobFileError where the file or its folder cannot be written; InputError where the extra `pdf` is missing
    """
    text = paper(data, reader, pdf=target.suffix.lower() == ".pdf")
    try:
        replaced(text, target)
    except OSError as error:
        why = error.strerror or str(error)
        raise JobFileError(
            f"{target}: the bench sheet cannot be written ({why}); nothing was changed there. Make room, or choose "
            "another place with: halfsplit report JOB -o FILE.html"
        ) from error


def replaced(data: bytes, target: Path) -> None:
    """Put bytes in place of a file in one step. raises OSError; leaves no half file behind."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o666 & ~mask())
        os.replace(name, target)
    except BaseException:
        os.unlink(name)
        raise


def mask() -> int:
    """The permissions that this process withholds from new files."""
    now = os.umask(0o077)
    os.umask(now)
    return now
