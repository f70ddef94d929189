"""One SQLite file per job: write-ahead log, one transaction per act, safe for two processes at once."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from halfsplit.errors import JobFileError
from halfsplit.journal.records import Act, StoredReading
from halfsplit.journal.schema import APPLICATION_ID, TABLES, VERSION

Clock = Callable[[], datetime]

PATIENCE_MS = 15_000


def utc_now() -> datetime:
    """The clock that is used where none is passed in."""
    return datetime.now(UTC)


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
    def _act(self, kind: str, text: str) -> Iterator[int]:
        """One act: its line in the journal and all that belongs to it, in one transaction. yields the act's number."""
        with translated(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                at = self._clock().astimezone(UTC).isoformat(timespec="seconds")
                row = self._db.execute("INSERT INTO act (at, kind, text) VALUES (?, ?, ?)", (at, kind, text))
                yield int(row.lastrowid or 0)
                self._db.execute("COMMIT")
            except BaseException:
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def begin(
        self, name: str, complaint: str, unit_source: str, unit_text: str, files: Mapping[str, bytes], made_by: str
    ) -> None:
        """Write the head of a new job: the unit file as read and the measured files that it refers to."""
        with self._act("start", f"job {name}: {complaint or 'no complaint stated'}"):
            self._db.execute(
                "INSERT INTO job VALUES (1, ?, ?, ?, ?, ?)", (name, complaint, unit_source, unit_text, made_by)
            )
            self._db.executemany("INSERT INTO attachment VALUES (?, ?)", list(files.items()))

    def head(self) -> dict[str, str]:
        """name, complaint, unit_source, unit_text, made_by. raises JobFileError for a job without a head."""
        with translated(self.path):
            row = self._db.execute("SELECT name, complaint, unit_source, unit_text, made_by FROM job").fetchone()
        if row is None:
            raise JobFileError(f"{self.path}: the job was never started; make a new one with: halfsplit start")
        return dict(zip(("name", "complaint", "unit_source", "unit_text", "made_by"), row, strict=True))

    def attachment(self, name: str) -> bytes:
        """A file that the unit refers to, as it was when the job was started. raises KeyError."""
        with translated(self.path):
            row = self._db.execute("SELECT data FROM attachment WHERE name = ?", (name,)).fetchone()
        if row is None:
            raise KeyError(name)
        return bytes(row[0])

    def add(
        self, name: str, original: bytes, hookup: Mapping[str, Any], how: Mapping[str, Any], understood: str,
        *, baseline: bool = False,
    ) -> str:  # fmt: skip
        """Keep a reading. returns its key."""
        with self._act("reading", understood) as act:
            number = int(self._db.execute("SELECT coalesce(max(number), 0) + 1 FROM reading").fetchone()[0])
            self._db.execute(
                "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                (number, act, name, original, dumped(hookup), dumped(how), understood, int(baseline)),
            )
        return f"R{number}"

    def withdraw(self, key: str, reason: str) -> None:
        """Withdraw a reading: it stays in the file and no longer counts. raises JobFileError for an unknown key."""
        known = {r.key: r for r in self.readings()}
        if key not in known:
            listed = ", ".join(known) or "none"
            raise JobFileError(f"{self.path}: no reading {key!r}; the job has: {listed}")
        if known[key].withdrawn is not None:
            raise JobFileError(f"{self.path}: {key} is withdrawn already ({known[key].withdrawn})")
        with self._act("withdraw", f"{key}: {reason}") as act:
            self._db.execute("INSERT INTO withdrawal VALUES (?, ?, ?)", (int(key[1:]), act, reason))

    def note(self, text: str) -> None:
        """Write a line into the journal."""
        with self._act("note", text):
            pass

    def readings(self) -> tuple[StoredReading, ...]:
        """All readings in order, the withdrawn ones among them."""
        with translated(self.path):
            rows = self._db.execute(
                "SELECT r.number, a.at, r.name, r.original, r.hookup, r.how, r.understood, w.reason, r.baseline "
                "FROM reading r JOIN act a ON a.number = r.act LEFT JOIN withdrawal w ON w.reading = r.number "
                "ORDER BY r.number"
            ).fetchall()
        return tuple(
            StoredReading(f"R{n}", at, name, bytes(b), json.loads(h), json.loads(how), said, gone, bool(base))
            for n, at, name, b, h, how, said, gone, base in rows
        )

    def acts(self) -> tuple[Act, ...]:
        """The journal in order."""
        with translated(self.path):
            rows = self._db.execute("SELECT number, at, kind, text FROM act ORDER BY number").fetchall()
        return tuple(Act(*row) for row in rows)


def dumped(value: Mapping[str, Any]) -> str:
    """JSON with a stable order of keys."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False)


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """Turn what SQLite and the system say into one sentence with what to do next."""
    try:
        yield
    except sqlite3.Error as error:
        raise JobFileError(f"{path}: {advice(error)}") from error
    except OSError as error:
        raise JobFileError(f"{path}: {error.strerror or error}; nothing was written") from error


def advice(error: sqlite3.Error) -> str:
    """What went wrong with a job file, and what to do."""
    text = str(error)
    if "full" in text:
        return "the disk is full; nothing of this act was kept, all earlier acts are; make room and repeat it"
    if "locked" in text or "busy" in text:
        return "another process holds the job for longer than 15 s; close it and repeat"
    if "readonly" in text or "read-only" in text:
        return "the file or its folder cannot be written to; check its permissions"
    if "not a database" in text or "malformed" in text or "disk image" in text:
        return "this is not a job file, or it is damaged; take a copy before anything else, and use the last backup"
    if "disk I/O" in text:
        return "the disk refused to write (full, read-only or failing); nothing of this act was kept"
    if "unable to open" in text:
        return "the file cannot be opened; check the path and its permissions"
    return text


def connect(path: Path) -> sqlite3.Connection:
    """A connection with the settings that every job file has."""
    db = sqlite3.connect(path, timeout=PATIENCE_MS / 1000, isolation_level=None)
    try:
        db.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
        db.execute("PRAGMA foreign_keys = ON")
        db.execute("PRAGMA synchronous = FULL")
    except BaseException:
        db.close()
        raise
    return db


def create(path: str | os.PathLike[str], clock: Clock = utc_now) -> JobFile:
    """A new, empty job file.

    raises JobFileError where the file exists, or cannot be written
    """
    where = Path(path)
    if where.exists():
        raise JobFileError(f"{where}: exists already; choose another name (a job is never overwritten)")
    with translated(where):
        db = connect(where)
        try:
            db.execute("PRAGMA journal_mode = WAL")
            db.execute("BEGIN IMMEDIATE")
            for statement in statements(TABLES):
                db.execute(statement)
            db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {VERSION}")
            db.execute("COMMIT")
        except BaseException:
            db.close()
            raise
    return JobFile(db, where, clock)


def statements(script: str) -> Iterator[str]:
    """The statements of a script, one at a time, so that they share a transaction."""
    part = ""
    for line in script.splitlines():
        part += line + "\n"
        if sqlite3.complete_statement(part):
            yield part
            part = ""


def open_job(path: str | os.PathLike[str], clock: Clock = utc_now) -> JobFile:
    """An existing job.

    raises JobFileError where there is none, where it is something else, or where a newer version wrote it
    """
    where = Path(path)
    if not where.is_file():
        raise JobFileError(f"{where}: no such job; start one with: halfsplit start JOB --unit UNIT.toml")
    with translated(where):
        db = connect(where)
        try:
            application = int(db.execute("PRAGMA application_id").fetchone()[0])
            version = int(db.execute("PRAGMA user_version").fetchone()[0])
        except BaseException:
            db.close()
            raise
    if application != APPLICATION_ID:
        db.close()
        raise JobFileError(f"{where}: this is not a halfsplit job file")
    if version > VERSION:
        db.close()
        raise JobFileError(
            f"{where}: written by a newer halfsplit (job version {version}, this one reads up to {VERSION}); "
            "update halfsplit; nothing was changed"
        )
    return JobFile(db, where, clock)
