"""What the job file hands out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Act:
    """One line of the journal. at : UTC, ISO 8601; kind : "start", "reading", "withdraw", "note"."""

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
    baseline: bool = False
