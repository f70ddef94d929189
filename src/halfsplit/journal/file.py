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
from halfsplit.journal.records import Act, Head, NewReading, StoredAnswer, StoredReading
from halfsplit.journal.schema import KEPT, statements
from halfsplit.journal.trouble import translated

Clock = Callable[[], datetime]


class JobFile:
    """An open job. Every method that writes is one transaction: all of it is kept, or none."""

    def __init__(self, connection: sqlite3.Connection, path: Path, clock: Clock) -> None:
        self._db = connection
        self.path = path
        self.clock = clock

    def close(self) -> None:
        """Close the file; what was written stays."""
        self._db.close()

    def __enter__(self) -> JobFile:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """All of it or nothing. raises JobFileError"""
        with translated(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield self._db
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def rows(self, table: str, statement: str) -> list[tuple[Any, ...]]:
        """Rows of a statement; none in a job of a version that had no such table. raises JobFileError"""
        with translated(self.path):
            if table not in tables_of(self._db):
                return []
            return list(self._db.execute(statement))

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
        with self.transaction():
            for r in readings:
                act = write_act(self._db, self.clock, "reading", r.understood)
                number = int(self._db.execute("SELECT coalesce(max(number), 0) + 1 FROM reading").fetchone()[0])
                self._db.execute(
                    "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    (number, act, r.name, r.original, dumped(r.hookup), dumped(r.how), r.understood, int(r.baseline)),
                )
                keys.append(f"R{number}")
        return tuple(keys)

    def tell(self, answers: Sequence[tuple[str, str]]) -> tuple[str, ...]:
        """Keep answers (question, answer), each as an act of its own, all of them or none. returns their keys

        A job of a version without answers is brought up to this version by it.
        """
        with self.transaction():
            bring_up(self._db)
            return write_answers(self._db, self.clock, answers)

    def answers(self) -> tuple[StoredAnswer, ...]:
        """All answers in order, the withdrawn ones among them."""
        rows = self.rows(
            "answer",
            "SELECT n.number, a.at, n.question, n.answer, r.reason FROM answer n JOIN act a ON a.number = n.act "
            "LEFT JOIN retraction r ON r.answer = n.number ORDER BY n.number",
        )
        return tuple(StoredAnswer(f"A{n}", *rest) for n, *rest in rows)

    def note(self, text: str) -> None:
        """Write a line into the journal."""
        with self.transaction():
            write_act(self._db, self.clock, "note", text)

    def readings(self) -> tuple[StoredReading, ...]:
        """All readings in order, the withdrawn ones among them."""
        with translated(self.path):
            rows = self._db.execute(
                "SELECT r.number, a.at, r.name, r.original, r.hookup, r.how, r.understood, w.reason, r.baseline, r.act "
                "FROM reading r JOIN act a ON a.number = r.act LEFT JOIN withdrawal w ON w.reading = r.number "
                "ORDER BY r.number"
            ).fetchall()
        return tuple(
            StoredReading(f"R{n}", at, name, bytes(b), self._loaded(h), self._loaded(how), said, gone, bool(base), act)
            for n, at, name, b, h, how, said, gone, base, act in rows
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


def tables_of(db: sqlite3.Connection) -> set[str]:
    """Names of the tables of a job file."""
    return {name for (name,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}


def bring_up(db: sqlite3.Connection) -> None:
    """Add the tables that an older version did not have yet, inside a transaction."""
    there = tables_of(db)
    if not there.issuperset(KEPT):
        for statement in statements(there):
            db.execute(statement)


def write_answers(db: sqlite3.Connection, clock: Clock, answers: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Answers about complaint and history, inside a transaction. returns their keys"""
    keys = []
    for question, answer in answers:
        act = write_act(db, clock, "told", f"{question} = {answer}")
        row = db.execute("INSERT INTO answer (act, question, answer) VALUES (?, ?, ?)", (act, question, answer))
        keys.append(f"A{row.lastrowid}")
    return tuple(keys)


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
