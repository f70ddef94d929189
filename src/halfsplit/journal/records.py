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
    """One line of the journal.

    at : UTC, ISO 8601; kind : "start", "reading", "withdraw", "note", "told", "did", "photo"
    """

    number: int
    at: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class StoredReading:
    """One reading as it came in, with its hook-up.

    key : "R1", "R2"...; original : the bytes as they came; hookup, how : JSON objects (how the bytes were read)
    withdrawn : the reason, or None; act : number of the act that brought it
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
    act: int = 0


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


@dataclass(frozen=True, slots=True)
class NewWork:
    """Work on the unit on its way into the file.

    kind : "replaced", "resoldered", "adjusted", "swapped", "cleaned", "other"; word : as it was said ("squeezed")
    place : part, joint, contact, cable... of the unit; value : of what is there now, as written, or empty
    after : key of the last reading that was taken before it, where it is told late; None: after all that is in the job
    """

    kind: str
    word: str
    place: str
    value: str = ""
    note: str = ""
    after: str | None = None


@dataclass(frozen=True, slots=True)
class StoredWork:
    """Work on the unit as it was told; the fields as in `NewWork`.

    key : "D1", "D2"...; since : what came in by a later act than this number was seen after the work
    withdrawn : the reason, or None
    """

    key: str
    at: str
    since: int
    kind: str
    word: str
    place: str
    value: str
    note: str
    withdrawn: str | None

    @property
    def text(self) -> str:
        """The work in one line."""
        return f"{self.word} {self.place}{f' with {self.value}' if self.value else ''}"


@dataclass(frozen=True, slots=True)
class NewPhoto:
    """A photo on its way into the file.

    belongs : key of the reading or of the work that it shows, or empty: of the unit; media : "image/png", "image/jpeg"
    """

    belongs: str
    name: str
    media: str
    caption: str
    data: bytes


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo without its bytes. key : "P1", "P2"...; size : bytes; withdrawn : the reason, or None"""

    key: str
    at: str
    belongs: str
    name: str
    media: str
    caption: str
    size: int
    withdrawn: str | None
