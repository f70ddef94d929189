"""What SQLite and the system complain of, in one sentence with what to do next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from halfsplit.errors import JobFileError

PATIENCE_S = 15.0

# A word of SQLite's message -> what it means at the bench. The first that is found counts.
SAYINGS = (
    ("full", "the disk is full; nothing of this act was kept, all earlier acts are; make room and repeat it"),
    ("locked", f"another process holds the job for longer than {PATIENCE_S:.0f} s; close it and repeat"),
    ("busy", f"another process holds the job for longer than {PATIENCE_S:.0f} s; close it and repeat"),
    ("readonly", "the file or its folder cannot be written to; nothing was kept; check permissions, or copy the job"),
    ("not a database", "this is not a halfsplit job file"),
    ("malformed", "the file is damaged or cut short; keep it as it is and go on with the last good copy"),
    ("disk I/O", "the disk refused (full, failing or taken away); nothing of this act was kept, all earlier acts are"),
    ("unable to open", "the file cannot be opened; check the path, its folder and its permissions"),
    ("no such table", "this is not a halfsplit job file of a version that this program knows"),
)


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn errors of SQLite and of the system into JobFileError."""
    try:
        yield
    except sqlite3.Error as error:
        raise JobFileError(f"{path}: {saying(error)}") from error
    except OSError as error:
        why = error.strerror or str(error)
        raise JobFileError(f"{path}: {why}; nothing was kept; check the path and its folder") from error


def saying(error: sqlite3.Error) -> str:
    """What went wrong with a job file, and what to do."""
    text = str(error)
    for word, meaning in SAYINGS:
        if word in text:
            return meaning
    return f"{text}; nothing of this act was kept"
