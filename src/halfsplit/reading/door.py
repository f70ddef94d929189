"""The one way in for files: bytes, path or stream to a reading."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import IO

from halfsplit.reading.answers import Answers
from halfsplit.reading.from_touchstone import touchstone_reading
from halfsplit.reading.records import Reading
from halfsplit.reading.source import take_bytes, to_text
from halfsplit.reading.table import table_reading
from halfsplit.reading.touchstone_text import looks_like_touchstone


def read_bytes(
    name: str,
    data: bytes | bytearray | memoryview | str | os.PathLike[str] | IO[bytes],
    answers: Answers | None = None,
) -> Reading:
    """The reading in a file, Touchstone or table.

    name : shown in messages; an ending .s1p or .s2p makes it a Touchstone file
    data : bytes, a path, or a stream opened as bytes (at most 32 MiB are ever held)
    answers : what the user settled about a table that does not say it itself
    raises ReadingError for all that cannot be understood, with file, line, found and expected
    """
    raw = take_bytes(name, data)
    if re.search(r"\.(?:s[0-9]{1,3}p|ts)\Z", name.strip(), re.I) or looks_like_touchstone(to_text(name, raw)):
        return touchstone_reading(name, raw)
    return table_reading(name, raw, answers or Answers())


def read_file(path: str | os.PathLike[str], answers: Answers | None = None) -> Reading:
    """The reading in the file at `path`; see `read_bytes`."""
    return read_bytes(Path(path).name, path, answers)
