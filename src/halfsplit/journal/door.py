"""Making and opening a job file."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from halfsplit.errors import JobFileError
from halfsplit.journal.file import Clock, JobFile, write_answers, write_head
from halfsplit.journal.records import Head
from halfsplit.journal.schema import APPLICATION_ID, VERSION, statements
from halfsplit.journal.trouble import PATIENCE_S, translated


def utc_now() -> datetime:
    """The clock of the machine."""
    return datetime.now(UTC)


def connect(path: Path, query: str = "") -> sqlite3.Connection:
    """A connection with the settings that every job file has. query : of SQLite's file address"""
    db = sqlite3.connect(f"{path.absolute().as_uri()}{query}", timeout=PATIENCE_S, isolation_level=None, uri=True)
    try:
        db.execute("PRAGMA foreign_keys = ON")
        db.execute("PRAGMA synchronous = FULL")
    except BaseException:
        db.close()
        raise
    return db


def create(
    path: str | os.PathLike[str], head: Head, clock: Clock = utc_now, answers: Sequence[tuple[str, str]] = ()
) -> None:
    """A new job file. It appears under its name only when it is whole; an existing file is never touched.

    answers : (question, answer) about complaint and history, told at the start
    raises JobFileError where the name is taken, or the folder cannot be written to
    """
    where = Path(path)
    part = where.with_name(f".{where.name}.{os.getpid()}.part")
    with translated(where):
        try:
            refuse_taken(where)
            filled(part, head, clock, answers)
            placed(part, where)
        finally:
            for name in (part, *(part.with_name(part.name + tail) for tail in ("-wal", "-shm", "-journal"))):
                name.unlink(missing_ok=True)


def refuse_taken(where: Path) -> None:
    """raises JobFileError where the name is taken."""
    if os.path.lexists(where):
        raise JobFileError(f"{where}: exists already; choose another name (a job is never overwritten)")


def filled(part: Path, head: Head, clock: Clock, answers: Sequence[tuple[str, str]]) -> None:
    """A whole job under a name of its own."""
    db = connect(part)
    try:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("BEGIN IMMEDIATE")
        for statement in statements():
            db.execute(statement)
        write_head(db, head, clock)
        write_answers(db, clock, answers)
        db.execute("COMMIT")
    finally:
        db.close()


def placed(part: Path, where: Path) -> None:
    """Give a whole file its name, without replacing anything that took the name meanwhile."""
    try:
        os.link(part, where)
    except FileExistsError:
        refuse_taken(where)
    except OSError:  # a file system without second names, as on memory sticks
        refuse_taken(where)
        os.replace(part, where)


def open_job(path: str | os.PathLike[str], clock: Clock = utc_now) -> JobFile:
    """An existing job. Where its folder cannot be written to, or the disk is full, it can still be read.

    raises JobFileError where there is none, where it is something else or damaged, or where a newer version wrote it
    """
    where = Path(path)
    if not where.is_file():
        raise JobFileError(f"{where}: no such job; start one with: halfsplit start {where} --unit UNIT.toml")
    with translated(where):
        size = None if logged(where) else where.stat().st_size
        try:
            db = checked(where, "", size)
        except sqlite3.OperationalError:
            if logged(where) or not os.access(where, os.R_OK, effective_ids=os.access in os.supports_effective_ids):
                raise
            db = checked(where, "?immutable=1", size)
    return JobFile(db, where, clock)


def logged(where: Path) -> bool:
    """Whether a write-ahead log holds something: the job itself may then be behind it, even cut short."""
    log = where.with_name(where.name + "-wal")
    return log.exists() and log.stat().st_size > 0


def checked(where: Path, query: str, size: int | None) -> sqlite3.Connection:
    """A connection to a file that says that it is a job of a version we know, and is whole.

    size : bytes of the file before it was opened; None where a write-ahead log stood beside it
    """
    db = connect(where, query)
    try:
        application = int(db.execute("PRAGMA application_id").fetchone()[0])
        version = int(db.execute("PRAGMA user_version").fetchone()[0])
        if application != APPLICATION_ID:
            raise JobFileError(f"{where}: this is not a halfsplit job file; start one with: halfsplit start")
        if version > VERSION:
            raise JobFileError(
                f"{where}: written by a newer halfsplit (job version {version}, this one reads up to {VERSION}); "
                "update halfsplit; nothing was changed"
            )
        if size is not None and size % int(db.execute("PRAGMA page_size").fetchone()[0]):
            raise sqlite3.DatabaseError("malformed: cut within a page")
        if (said := db.execute("PRAGMA quick_check(1)").fetchone()[0]) != "ok":
            raise sqlite3.DatabaseError(f"malformed: {said}")
    except BaseException:
        db.close()
        raise
    return db
