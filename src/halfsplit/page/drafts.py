"""Drafts: what is being entered and not kept yet, on the disk at once: a killed browser or server loses nothing.

They stand in a file of their own beside the jobs: pencil, not ink. What is kept goes into the job file and leaves here.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from halfsplit.errors import JobFileError

NAME = ".halfsplit-drafts"
MOST_FILES = 200
TABLE = """CREATE TABLE IF NOT EXISTS draft (
    owner TEXT NOT NULL, key TEXT NOT NULL, form TEXT NOT NULL, name TEXT NOT NULL, data BLOB,
    PRIMARY KEY (owner, key)
) STRICT"""
Form = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Draft:
    """One thing that is being entered. form : fields as typed; name, data : of a file, else "" and None"""

    key: str
    form: dict[str, str]
    name: str = ""
    data: bytes | None = None


class Drafts:
    """The drafts of a desk. Every call is one transaction of its own, so it is safe from any thread or process."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            db = sqlite3.connect(self.path, timeout=5.0, isolation_level=None)
            try:
                db.execute("PRAGMA journal_mode = WAL")
                db.execute(TABLE)
                db.execute("BEGIN IMMEDIATE")
                yield db
                db.execute("COMMIT")
            finally:
                db.close()
        except sqlite3.Error as error:
            raise JobFileError(f"{self.path}: {error}; what is typed cannot be held until this works again") from error

    def save(self, owner: str, key: str, form: Form, name: str = "", data: bytes | None = None) -> None:
        """Hold a draft, in the place of an earlier one of this key. owner : name of the job. raises JobFileError"""
        with self._open() as db:
            put(db, owner, key, form, name, data)

    def change(self, owner: str, key: str, form: Form) -> bool:
        """Change the fields of a draft and leave its file. returns False where it is gone by now"""
        with self._open() as db:
            text = json.dumps(dict(form), ensure_ascii=False)
            done = db.execute("UPDATE draft SET form = ? WHERE owner = ? AND key = ?", (text, owner, key))
            return done.rowcount == 1

    def take_in(self, owner: str, kind: str, files: list[tuple[str, bytes, Form]]) -> list[str]:
        """Hold files, all of them or none. returns their keys; raises JobFileError where there are too many already"""
        with self._open() as db:
            there = [int(k.split(":")[1]) for (k,) in db.execute(
                "SELECT key FROM draft WHERE owner = ? AND key LIKE ?", (owner, f"{kind}:%"))]  # fmt: skip
            if len(there) + len(files) > MOST_FILES:
                raise JobFileError(f"more than {MOST_FILES} files wait to be looked at; keep or put aside some first")
            first = max(there, default=0) + 1
            keys = [f"{kind}:{first + n}" for n in range(len(files))]
            for key, (name, data, form) in zip(keys, files, strict=True):
                put(db, owner, key, form, name, data)
            return keys

    def get(self, owner: str, key: str) -> Draft | None:
        """A draft, or None."""
        found = self.all(owner, key)
        return found[0] if found and found[0].key == key else None

    def form(self, owner: str, key: str) -> dict[str, str]:
        """The fields of a draft; none where there is no such draft."""
        found = self.get(owner, key)
        return {} if found is None else found.form

    def all(self, owner: str, start: str) -> list[Draft]:
        """The drafts of an owner whose key begins so, in the order in which they came."""
        with self._open() as db:
            rows = db.execute(
                "SELECT key, form, name, data FROM draft WHERE owner = ? AND substr(key, 1, ?) = ? ORDER BY rowid",
                (owner, len(start), start),
            ).fetchall()
        return [Draft(key, json.loads(form), name, data) for key, form, name, data in rows]

    def drop(self, owner: str, key: str) -> None:
        """Let a draft go."""
        with self._open() as db:
            db.execute("DELETE FROM draft WHERE owner = ? AND key = ?", (owner, key))


def put(db: sqlite3.Connection, owner: str, key: str, form: Form, name: str, data: bytes | None) -> None:
    """Write one draft, inside a transaction."""
    row = (owner, key, json.dumps(dict(form), ensure_ascii=False), name, data)
    db.execute(
        "INSERT INTO draft (owner, key, form, name, data) VALUES (?, ?, ?, ?, ?) "
        "ON CONFLICT (owner, key) DO UPDATE SET form = excluded.form, name = excluded.name, data = excluded.data",
        row,
    )
