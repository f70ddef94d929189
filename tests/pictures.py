"""Small whole pictures, made here byte by byte: ISO/IEC 15948 (PNG) and ITU-T T.81 (JPEG)."""

from __future__ import annotations

import struct
import zlib


def chunk(kind: bytes, data: bytes) -> bytes:
    """One chunk of a PNG."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(wide: int = 1, high: int = 1) -> bytes:
    """A black picture."""
    rows = zlib.compress(b"".join(b"\0" * (wide + 1) for _ in range(high))) if wide * high < 10**6 else b"x"
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def jpeg(wide: int = 8, high: int = 8) -> bytes:
    """The segments of a picture, with a scan of nothing."""
    app = b"\xff\xe0" + struct.pack(">H", 16) + b"JFIF\0\1\1\0\0\1\0\1\0\0"
    frame = b"\xff\xc0" + struct.pack(">HBHHB", 11, 8, high, wide, 1) + b"\1\x11\0"
    scan = b"\xff\xda" + struct.pack(">HB", 8, 1) + b"\1\0\0\x3f\0"
    return b"\xff\xd8" + app + frame + scan + b"\0" * 8 + b"\xff\xd9"
