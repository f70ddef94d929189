"""The journal as the page shows it: every act with what it brought, its hook-up, photos and notes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from halfsplit.history import LIVE, QUESTIONS, Question
from halfsplit.jobs import Notebook
from halfsplit.jobs.work_done import WORDS, places_of
from halfsplit.journal import Act, StoredPhoto
from halfsplit.unit import Unit


@dataclass(frozen=True, slots=True)
class Line:
    """One act of the journal.

    key : of what it brought ("R1", "D1", "A1", "P1"), or ""; withdrawn : the reason, or None
    hookup : in words, of a reading; photos : that belong to it; notes : that were written to it
    """

    act: Act
    key: str = ""
    withdrawn: str | None = None
    hookup: str = ""
    detail: tuple[str, ...] = ()
    photos: tuple[StoredPhoto, ...] = ()
    notes: tuple[str, ...] = ()


def brought(book: Notebook) -> dict[str, Iterator[tuple[str, str | None, tuple[str, ...]]]]:
    """By kind of act, what each brought in order: (key, reason of withdrawal, what to know of it)."""
    work = sorted(book.work, key=lambda w: int(w.key[1:]))
    return {
        "reading": iter([(r.key, r.withdrawn, (r.name,) if not r.how.get("found") else ()) for r in book.readings]),
        "told": iter([(a.key, a.withdrawn, ()) for a in book.answers]),
        "did": iter([(w.key, w.withdrawn, ()) for w in work]),
        "photo": iter([(p.key, p.withdrawn, ()) for p in book.photos]),
    }


def lines(book: Notebook) -> tuple[Line, ...]:
    """Every act in order."""
    coming, hookups, out = brought(book), dict(book.hookups), []
    said: dict[str, list[str]] = {}
    for act in book.acts:
        key, _, text = act.text.partition(": ")
        if act.kind == "note" and text and key[:1] in "RADP" and key[1:].isdecimal():
            said.setdefault(key, []).append(text)
    for act in book.acts:
        found = next(coming[act.kind], None) if act.kind in coming else None
        if found is None:
            out.append(Line(act))
            continue
        key, withdrawn, detail = found
        photos = tuple(p for p in book.photos if p.belongs == key or p.key == key)
        out.append(Line(act, key, withdrawn, hookups.get(key, ""), detail, photos, tuple(said.get(key, ()))))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Forms:
    """What may be written into the journal. typed : drafts by form; words, places : of work on the unit"""

    typed: dict[str, dict[str, str]]
    words: tuple[str, ...]
    places: tuple[str, ...]
    questions: tuple[Question, ...]
    known: dict[str, str]
    live: str


def forms(unit: Unit, book: Notebook, typed: dict[str, dict[str, str]]) -> Forms:
    """The forms of the journal, as far as they are filled in."""
    answers = [a for a in book.answers if a.withdrawn is None]
    known = {q.key: ", ".join(a.answer for a in answers if a.question == q.key) for q in QUESTIONS}
    words = tuple(dict.fromkeys(w for kinds in WORDS.values() for w in kinds))
    return Forms(typed, words, places_of(unit), QUESTIONS, known, LIVE)
