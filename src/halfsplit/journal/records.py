"""What the job file takes in and hands out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Head:
    """What a job starts with.

    unit_text : the unit file as read; attachments : (name, bytes) of the measured files that it refers to
    made_by : program and version
    """

    name: str
    complaint: str
    unit_source: str
    unit_text: str
    made_by: str
    attachments: tuple[tuple[str, bytes], ...] = ()


@dataclass(frozen=True, slots=True)
class NewReading:
    """A reading on its way into the file.

    original : the bytes as they came; hookup, how : JSON objects (how the instruments were tied on, how it was read)
    """

    name: str
    original: bytes
    hookup: Mapping[str, Any]
    how: Mapping[str, Any]
    understood: str
    baseline: bool = False


@dataclass(frozen=True, slots=True)
class Act:
    """One line of the journal. at : UTC, ISO 8601; kind : "start", "reading", "withdraw", "note", "told"."""

    number: int
    at: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class StoredReading:
    """One reading as it came in, with its hook-up.

    key : "R1", "R2"...; original : the bytes as they came; hookup, how : JSON objects (how the bytes were read)
    withdrawn : the reason, or None
    """

    key: str
    at: str
    name: str
    original: bytes
    hookup: dict[str, Any]
    how: dict[str, Any]
    understood: str
    withdrawn: str | None
    baseline: bool = field(default=False)


@dataclass(frozen=True, slots=True)
class StoredAnswer:
    """One answer about complaint and history, as told.

    key : "A1", "A2"...; withdrawn : the reason, or None
    """

    key: str
    at: str
    question: str
    answer: str
    withdrawn: str | None
