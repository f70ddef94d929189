"""What comes in from the bench: a file of an instrument, or figures typed by hand, understood but not yet kept."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfsplit.errors import Mistake, ReadingError
from halfsplit.reading import LIMIT_BYTES, Reading, What, answers_from, read_bytes, read_typed
from halfsplit.unit import read_unit


@dataclass(frozen=True, slots=True)
class Incoming:
    """A reading that was understood, and how."""

    reading: Reading
    how: Mapping[str, Any]
    baseline: bool = False


def sound_of(drawing: Path | None, *, twin: bool) -> dict[str, Any]:
    """What is kept with a reading of a sound unit: whose it is, and the drawing of then.

    raises UnitError for a drawing that cannot be understood, ReadingError for a file that cannot be read
    """
    kept: dict[str, Any] = {"twin": True} if twin else {}
    if drawing is not None:
        text = taken(drawing).decode("utf-8", "replace")
        read_unit(text, drawing.name)
        kept["drawing"] = text
    return kept


def taken(path: Path) -> bytes:
    """The bytes of a reading, at most what a reading may hold. raises ReadingError."""
    try:
        with path.open("rb") as stream:
            data = stream.read(LIMIT_BYTES + 1)
    except OSError as error:
        raise ReadingError(Mistake(str(path), error.strerror or "cannot be read", "a file with a reading")) from error
    if len(data) > LIMIT_BYTES:
        found = f"more than {LIMIT_BYTES // 2**20} MiB"
        raise ReadingError(Mistake(str(path), found, "the export of one sweep; cut the file down to it"))
    return data


def readable(text: str) -> str:
    """Text that can be stored and shown: bytes that are no text, as in odd file names, become escapes."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def from_file(
    path: Path, answers: Mapping[str, str], *, baseline: bool = False, sound: Mapping[str, Any] | None = None
) -> Incoming:
    """A reading from a file. answers : to questions of the reader; sound : from `sound_of`. raises ReadingError"""
    return from_bytes(path.name, taken(path), answers, baseline=baseline, sound=sound)


def from_bytes(
    name: str,
    data: bytes,
    answers: Mapping[str, str],
    *,
    baseline: bool = False,
    sound: Mapping[str, Any] | None = None,
) -> Incoming:
    """A reading from the bytes of a file, as `from_file`. name : of the file; its ending counts. raises ReadingError"""
    reading = read_bytes(readable(name), data, answers_from(answers))
    return Incoming(reading, {"answers": dict(answers), **(sound or {})}, baseline)


def from_typed(
    lines: Sequence[str], what: What | None, resolution_db: float | None, answers: Mapping[str, str], *,
    baseline: bool = False, sound: Mapping[str, Any] | None = None,
) -> Incoming:  # fmt: skip
    """A reading from figures typed by hand.

    what : None to take it from the words; resolution_db : step of the read-out, dB; sound : from `sound_of`
    raises ReadingError
    """
    what = told(lines) if what is None else what
    reading = read_typed(lines, what, resolution_db, answers_from(answers))
    how = {"typed": True, "what": what.value, "resolution_db": resolution_db, "answers": dict(answers), **(sound or {})}
    return Incoming(reading, how, baseline)


REFLECTED = re.compile(r"\bv?swr\b|\breturn loss\b|\brl\b|\d\s*:\s*1\b|\b1\s*:\s*\d", re.I)


def told(lines: Sequence[str]) -> What:
    """What typed figures are, by their words: looking into the driven point where they say SWR or return loss.

    raises ReadingError where some say so and some do not
    """
    figures = [part for line in lines for part in line.split(";") if part.strip()]
    reflected = [bool(REFLECTED.search(part)) for part in figures]
    if any(reflected) and not all(reflected):
        found = f"{sum(reflected)} of {len(figures)} figures are a return loss or an SWR"
        raise ReadingError(
            Mistake("typed", found, "one kind in one reading: add them one after the other, or say --what")
        )
    return What.S11 if any(reflected) else What.S21
