"""The sheet onto the disk: all of it or nothing."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from halfsplit.errors import JobFileError
from halfsplit.report.records import SheetData
from halfsplit.report.sheet import bench_sheet


def written(data: SheetData, target: Path) -> None:
    """Write the bench sheet. A sheet that was there before stays whole until the new one is complete.

    raises JobFileError where the file or its folder cannot be written
    """
    text = bench_sheet(data).encode("utf-8", "replace")
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
