"""From a file, a stream or bytes to text, with bounded memory."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import IO

from halfsplit.errors import Mistake, ReadingError

LIMIT_BYTES = 32 * 2**20
_CHUNK = 2**18
_LONGEST_LINE = 20_000
_SIGNATURES = (
    (b"PK\x03\x04", "a zip archive or a spreadsheet file"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"\x1f\x8b", "a compressed file"),
)
_WANTED = "a text file: Touchstone, or columns of frequency and value"


def take_bytes(name: str, data: bytes | bytearray | memoryview | str | os.PathLike[str] | IO[bytes]) -> bytes:
    """The bytes of a reading, at most LIMIT_BYTES of them are ever held.

    raises ReadingError that names the file and the limit for more, and for a file that cannot be opened
    """
    if isinstance(data, bytes | bytearray | memoryview):
        if len(data) > LIMIT_BYTES:
            raise _too_large(name)
        return bytes(data)
    if not isinstance(data, str | os.PathLike):
        return _take_stream(name, data)
    try:
        path = Path(data)
        if path.is_dir():
            raise ReadingError(Mistake(name, "a folder", "a file"))
        if path.stat().st_size > LIMIT_BYTES:
            raise _too_large(name)
        with path.open("rb") as stream:
            return _take_stream(name, stream)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadingError(Mistake(name, f"cannot be read ({reason})", "a file that exists and may be read")) from None


def _take_stream(name: str, stream: IO[bytes]) -> bytes:
    chunks: list[bytes] = []
    size = 0
    while chunk := stream.read(min(_CHUNK, LIMIT_BYTES + 1 - size)):
        if isinstance(chunk, str):
            raise ReadingError(Mistake(name, "a stream opened as text", "a stream of bytes"))
        chunks.append(chunk)
        size += len(chunk)
        if size > LIMIT_BYTES:
            raise _too_large(name)
    return b"".join(chunks)


def _too_large(name: str) -> ReadingError:
    limit = f"at most {LIMIT_BYTES // 2**20} MiB ({LIMIT_BYTES} bytes); export fewer points"
    return ReadingError(Mistake(name, "the file is too large for a reading", limit))


def to_text(name: str, raw: bytes) -> str:
    """The text in UTF-8, UTF-16 or, failing these, Latin-1.

    raises ReadingError for nothing at all and for binary data
    """
    if not raw.strip(b" \t\r\n\x00\x1a"):
        raise ReadingError(Mistake(name, "the file is empty", _WANTED))
    for signature, what in _SIGNATURES:
        if raw.startswith(signature):
            raise ReadingError(Mistake(name, f"{what}, not text", f"{_WANTED}; export the numbers as text"))
    text = _decoded(name, raw)
    odd = len(re.findall(r"[\x00-\x08\x0b\x0e-\x19\x1b-\x1f\x7f\ufffd]", text[:100_000]))
    if odd > 0.01 * min(len(text), 100_000):
        raise ReadingError(Mistake(name, "binary data, not text", _WANTED))
    text = text.lstrip("\ufeff").rstrip("\x1a\x00")
    for count, line in enumerate(to_lines(text), 1):
        if len(line) > _LONGEST_LINE:
            expected = f"at most {_LONGEST_LINE} characters in a line"
            raise ReadingError(Mistake(name, f"a line of {len(line)} characters", expected, count))
    return text


def _decoded(name: str, raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    head = raw[:4000]
    if b"\x00" in head:  # UTF-16 without its mark: every other byte of plain text is zero
        for codec, zeros in (("utf-16-le", head[1::2]), ("utf-16-be", head[0::2])):
            if zeros.count(0) > 0.8 * len(zeros):
                return raw.decode(codec, errors="replace")
        raise ReadingError(Mistake(name, "binary data, not text", _WANTED))
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def to_lines(text: str) -> list[str]:
    """Lines without their ends; CR, LF and CR LF all end a line."""
    return re.split(r"\r\n|\r|\n", text)
