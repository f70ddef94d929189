"""The tables of a job file, and what its header must say."""

from __future__ import annotations

APPLICATION_ID = 0x48534A46  # "HSJF"
VERSION = 1

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
CREATE TRIGGER act_stays BEFORE DELETE ON act BEGIN SELECT RAISE(ABORT, 'acts are not erased'); END;
CREATE TRIGGER reading_stays BEFORE DELETE ON reading BEGIN SELECT RAISE(ABORT, 'readings are not erased'); END;
CREATE TRIGGER act_fixed BEFORE UPDATE ON act BEGIN SELECT RAISE(ABORT, 'acts are not changed'); END;
CREATE TRIGGER reading_fixed BEFORE UPDATE ON reading BEGIN SELECT RAISE(ABORT, 'readings are not changed'); END;
"""
