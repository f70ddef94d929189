"""The tables of a job file, and what its header must say."""

from __future__ import annotations

from collections.abc import Collection, Iterator

APPLICATION_ID = 0x48534A46  # "HSJF"
VERSION = 3

TABLES = """
CREATE TABLE job (
    id INTEGER PRIMARY KEY CHECK (id = 1),
    name TEXT NOT NULL,
    complaint TEXT NOT NULL,
    unit_source TEXT NOT NULL,
    unit_text TEXT NOT NULL,
    made_by TEXT NOT NULL
) STRICT;
CREATE TABLE attachment (
    name TEXT PRIMARY KEY,
    data BLOB NOT NULL
) STRICT;
CREATE TABLE act (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    text TEXT NOT NULL
) STRICT;
CREATE TABLE reading (
    number INTEGER PRIMARY KEY,
    act INTEGER NOT NULL REFERENCES act (number),
    name TEXT NOT NULL,
    original BLOB NOT NULL,
    hookup TEXT NOT NULL,
    how TEXT NOT NULL,
    understood TEXT NOT NULL,
    baseline INTEGER NOT NULL DEFAULT 0
) STRICT;
CREATE TABLE withdrawal (
    reading INTEGER PRIMARY KEY REFERENCES reading (number),
    act INTEGER NOT NULL REFERENCES act (number),
    reason TEXT NOT NULL
) STRICT;
CREATE TABLE answer (
    number INTEGER PRIMARY KEY,
    act INTEGER NOT NULL REFERENCES act (number),
    question TEXT NOT NULL,
    answer TEXT NOT NULL
) STRICT;
CREATE TABLE retraction (
    answer INTEGER PRIMARY KEY REFERENCES answer (number),
    act INTEGER NOT NULL REFERENCES act (number),
    reason TEXT NOT NULL
) STRICT;
CREATE TABLE done (
    number INTEGER PRIMARY KEY,
    act INTEGER NOT NULL REFERENCES act (number),
    since INTEGER NOT NULL REFERENCES act (number),
    kind TEXT NOT NULL,
    word TEXT NOT NULL,
    place TEXT NOT NULL,
    value TEXT NOT NULL,
    note TEXT NOT NULL
) STRICT;
CREATE TABLE photo (
    number INTEGER PRIMARY KEY,
    act INTEGER NOT NULL REFERENCES act (number),
    belongs TEXT NOT NULL,
    name TEXT NOT NULL,
    media TEXT NOT NULL,
    caption TEXT NOT NULL,
    data BLOB NOT NULL
) STRICT;
CREATE TABLE struck (
    key TEXT PRIMARY KEY,
    act INTEGER NOT NULL REFERENCES act (number),
    reason TEXT NOT NULL
) STRICT;
"""

KEPT = ("job", "attachment", "act", "reading", "withdrawal", "answer", "retraction", "done", "photo", "struck")


def statements(there: Collection[str] = ()) -> Iterator[str]:
    """All statements that make a job file, one at a time, so that they share a transaction.

    there : tables that an older version made already; they are left alone
    """
    part = ""
    for line in TABLES.splitlines():
        part += line + "\n"
        if line.startswith(")"):
            if part.split()[2] not in there:
                yield part
            part = ""
    for table in (t for t in KEPT if t not in there):
        for verb in ("DELETE", "UPDATE"):
            yield (
                f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, 'nothing in a job is erased or changed'); END"
            )
    yield f"PRAGMA application_id = {APPLICATION_ID}"
    yield f"PRAGMA user_version = {VERSION}"
