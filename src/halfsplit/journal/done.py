"""Work on the unit, and photos, in the job file; and what is withdrawn from it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from halfsplit.errors import JobFileError
from halfsplit.journal.file import JobFile, bring_up, write_act
from halfsplit.journal.records import NewPhoto, NewWork, StoredPhoto, StoredWork


def keep_work(file: JobFile, works: Sequence[NewWork]) -> tuple[str, ...]:
    """Keep what was done to the unit, each as an act of its own, all of them or none. returns their keys

    A job of an older version is brought up to this version by it.
    raises JobFileError where the reading that a work came after is not in the job
    """
    keys = []
    with file.transaction() as db:
        bring_up(db)
        for w in works:
            since = None if w.after is None else act_of(file, w.after)
            told = f"{w.word} {w.place}{f' with {w.value}' if w.value else ''}"
            late = f" (after {w.after})" if w.after else ""
            act = write_act(db, file.clock, "did", told + late + (f": {w.note}" if w.note else ""))
            row = db.execute(
                "INSERT INTO done (act, since, kind, word, place, value, note) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (act, since or act, w.kind, w.word, w.place, w.value, w.note),
            )
            keys.append(f"D{row.lastrowid}")
    return tuple(keys)


def act_of(file: JobFile, key: str) -> int:
    """Number of the act that brought a reading. raises JobFileError"""
    known = {r.key: r.act for r in file.readings()}
    if key not in known:
        raise JobFileError(f"{file.path}: no reading {key!r}; the job has: {', '.join(known) or 'none'}")
    return known[key]


def work_of(file: JobFile) -> tuple[StoredWork, ...]:
    """All work on the unit in the order in which it was done, the withdrawn among it."""
    rows = file.rows(
        "done",
        "SELECT d.number, a.at, d.since, d.kind, d.word, d.place, d.value, d.note, s.reason FROM done d "
        "JOIN act a ON a.number = d.act LEFT JOIN struck s ON s.key = 'D' || d.number ORDER BY d.since, d.number",
    )
    return tuple(StoredWork(f"D{n}", *rest) for n, *rest in rows)


def keep_photo(file: JobFile, photo: NewPhoto) -> str:
    """Keep a photo as an act of its own. returns its key

    raises JobFileError where the reading or the work that it belongs to is not in the job
    """
    with file.transaction() as db:
        bring_up(db)
        known = [r.key for r in file.readings()] + [w.key for w in work_of(file)]
        if photo.belongs and photo.belongs not in known:
            listed = ", ".join(known) or "none"
            raise JobFileError(f"{file.path}: no reading or work {photo.belongs!r}; the job has: {listed}")
        of = f" of {photo.belongs}" if photo.belongs else ""
        said = f": {photo.caption}" if photo.caption else ""
        act = write_act(db, file.clock, "photo", f"{photo.name}{of}{said}")
        row = db.execute(
            "INSERT INTO photo (act, belongs, name, media, caption, data) VALUES (?, ?, ?, ?, ?, ?)",
            (act, photo.belongs, photo.name, photo.media, photo.caption, photo.data),
        )
        return f"P{row.lastrowid}"


def photos_of(file: JobFile) -> tuple[StoredPhoto, ...]:
    """All photos in order, without their bytes, the withdrawn ones among them."""
    rows = file.rows(
        "photo",
        "SELECT p.number, a.at, p.belongs, p.name, p.media, p.caption, length(p.data), s.reason FROM photo p "
        "JOIN act a ON a.number = p.act LEFT JOIN struck s ON s.key = 'P' || p.number ORDER BY p.number",
    )
    return tuple(StoredPhoto(f"P{n}", *rest) for n, *rest in rows)


def photo_bytes(file: JobFile, key: str) -> bytes:
    """The bytes of a photo as they came. raises JobFileError where there is no such photo"""
    known = [p.key for p in photos_of(file)]
    if key not in known:
        raise JobFileError(f"{file.path}: no photo {key!r}; the job has: {', '.join(known) or 'none'}")
    return bytes(file.rows("photo", f"SELECT data FROM photo WHERE number = {int(key[1:])}")[0][0])


NOUNS = {"A": "answer", "D": "work", "P": "photo"}


def withdraw(file: JobFile, key: str, reason: str) -> None:
    """Withdraw a reading (R1), an answer (A1), work (D1) or a photo (P1): it stays and no longer counts.

    raises JobFileError for an unknown key, and for one that is withdrawn already
    """
    with file.transaction() as db:
        noun = NOUNS.get(key[:1], "reading")
        known = standing_in(file, noun)
        if key not in known:
            raise JobFileError(f"{file.path}: no {noun} {key!r}; the job has: {', '.join(known) or 'none'}")
        if known[key] is not None:
            raise JobFileError(f"{file.path}: {key} is withdrawn already ({known[key]})")
        act = write_act(db, file.clock, "withdraw", f"{key}: {reason}")
        strike(db, noun, key, act, reason)


def standing_in(file: JobFile, noun: str) -> dict[str, str | None]:
    """Key -> reason of withdrawal, or None, of all readings, answers, works or photos."""
    if noun == "answer":
        return {a.key: a.withdrawn for a in file.answers()}
    if noun == "work":
        return {w.key: w.withdrawn for w in work_of(file)}
    if noun == "photo":
        return {p.key: p.withdrawn for p in photos_of(file)}
    return {r.key: r.withdrawn for r in file.readings()}


def strike(db: sqlite3.Connection, noun: str, key: str, act: int, reason: str) -> None:
    """The row that says why something no longer counts, inside a transaction."""
    if noun in ("work", "photo"):
        db.execute("INSERT INTO struck VALUES (?, ?, ?)", (key, act, reason))
    else:
        into = "retraction" if noun == "answer" else "withdrawal"
        db.execute(f"INSERT INTO {into} VALUES (?, ?, ?)", (int(key[1:]), act, reason))
