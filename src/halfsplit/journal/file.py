"""The job file: write-ahead log, one transaction per act, safe for two processes at once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from halfsplit.errors import JobFileError
from halfsplit.journal.records import Act, Head, NewReading, StoredReading
from halfsplit.journal.trouble import translated

Clock = Callable[[], datetime]


class JobFile:
    """An open job. Every method that writes is one transaction: all of it is kept, or none."""

    def __init__(self, connection: sqlite3.Connection, path: Path, clock: Clock) -> None:
        self._db = connection
        self.path = path
        self._clock = clock

    def close(self) -> None:
        """Close the file; what was written stays."""
        self._db.close()

    def __enter__(self) -> JobFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """All of it or nothing. raises JobFileError"""
        with translated(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def head(self) -> Head:
        """What the job started with."""
        with translated(self.path):
            row = self._db.execute("SELECT name, complaint, unit_source, unit_text, made_by FROM job").fetchone()
            files = self._db.execute("SELECT name, data FROM attachment ORDER BY name").fetchall()
        if row is None:
            raise JobFileError(f"{self.path}: the file is damaged (no head); go on with the last good copy")
        name, complaint, source, text, made_by = row
        return Head(name, complaint, source, text, made_by, tuple((n, bytes(data)) for n, data in files))

    def add(self, readings: Sequence[NewReading]) -> tuple[str, ...]:
        """Keep readings, each as an act of its own, all of them or none. returns their keys"""
        keys = []
        with self._transaction():
            for r in readings:
                act = write_act(self._db, self._clock, "reading", r.understood)
                number = int(self._db.execute("SELECT coalesce(max(number), 0) + 1 FROM reading").fetchone()[0])
                self._db.execute(
                    "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (number, act, r.name, r.original, dumped(r.hookup), dumped(r.how), r.understood, int(r.baseline)),
                )
                keys.append(f"R{number}")
        return tuple(keys)

    def withdraw(self, key: str, reason: str) -> None:
        """Withdraw a reading: it stays in the file and no longer counts.

        raises JobFileError for an unknown key, and for one that is withdrawn already
        """
        with self._transaction():
            known = {r.key: r for r in self.readings()}
            if key not in known:
                listed = ", ".join(known) or "none"
                raise JobFileError(f"{self.path}: no reading {key!r}; the job has: {listed}")
            if known[key].withdrawn is not None:
                raise JobFileError(f"{self.path}: {key} is withdrawn already ({known[key].withdrawn})")
            act = write_act(self._db, self._clock, "withdraw", f"{key}: {reason}")
            self._db.execute("INSERT INTO withdrawal VALUES (?, ?, ?)", (int(key[1:]), act, reason))

    def note(self, text: str) -> None:
        """Write a line into the journal."""
        with self._transaction():
            write_act(self._db, self._clock, "note", text)

    def readings(self) -> tuple[StoredReading, ...]:
        """All readings in order, the withdrawn ones among them."""
        with translated(self.path):
            rows = self._db.execute(
                "SELECT r.number, a.at, r.name, r.original, r.hookup, r.how, r.understood, w.reason, r.baseline "
                "FROM reading r JOIN act a ON a.number = r.act LEFT JOIN withdrawal w ON w.reading = r.number "
                "ORDER BY r.number"
            ).fetchall()
        return tuple(
            StoredReading(f"R{n}", at, name, bytes(b), self._loaded(h), self._loaded(how), said, gone, bool(base))
            for n, at, name, b, h, how, said, gone, base in rows
        )

    def _loaded(self, text: str) -> dict[str, Any]:
        """An object from its text. raises JobFileError where the text is none."""
        try:
            value = json.loads(text)
        except ValueError as error:
            raise JobFileError(f"{self.path}: the file is damaged; go on with the last good copy") from error
        return dict(value)

    def acts(self) -> tuple[Act, ...]:
        """The journal in order."""
        with translated(self.path):
            rows = self._db.execute("SELECT number, at, kind, text FROM act ORDER BY number").fetchall()
        return tuple(Act(*row) for row in rows)


def write_act(db: sqlite3.Connection, clock: Clock, kind: str, text: str) -> int:
    """A line of the journal, inside a transaction. returns its number"""
    at = clock().astimezone(UTC).isoformat(timespec="seconds")
    row = db.execute("INSERT INTO act (at, kind, text) VALUES (?, ?, ?)", (at, kind, text))
    return int(row.lastrowid or 0)


def write_head(db: sqlite3.Connection, head: Head, clock: Clock) -> None:
    """What a job starts with, inside a transaction."""
    write_act(db, clock, "start", f"job {head.name}: {head.complaint or 'no complaint stated'}")
    db.execute(
        "INSERT INTO job VALUES (1, ?, ?, ?, ?, ?)",
        (head.name, head.complaint, head.unit_source, head.unit_text, head.made_by),
    )
    db.executemany("INSERT INTO attachment VALUES (?, ?)", head.attachments)


def dumped(value: Mapping[str, Any]) -> str:
    """JSON with a stable order of keys."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False)
