"""Photos of the unit, kept in the job: what is a picture, and what is not."""

from __future__ import annotations

import struct
from pathlib import Path

from halfsplit.errors import InputError, JobFileError, Mistake
from halfsplit.jobs.incoming import readable
from halfsplit.journal import Clock, NewPhoto, StoredPhoto, keep_photo, open_job, photo_bytes, photos_of, utc_now

PNG, JPEG = "image/png", "image/jpeg"
LARGEST = 16 * 2**20
MOST_PIXELS = 100_000_000
SIGNATURE = b"\x89PNG\r\n\x1a\n"
NO_SIZE = frozenset((0x01, *range(0xD0, 0xD9)))
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
SCAN, END = 0xDA, 0xD9


def attach(
    job: Path, name: str, data: bytes, belongs: str = "", caption: str = "", clock: Clock = utc_now
) -> StoredPhoto:
    """Keep a photo with a reading (R1), with work on the unit (D1), or with the job.

    name : of the file, for people; data : its bytes, kept as they came; belongs : key, or "" for the unit as a whole
    returns the photo without its bytes
    raises InputError for what is no whole PNG or JPEG, or too large; JobFileError
    """
    media = media_of(data, readable(name) or "photo")
    new = NewPhoto(belongs.strip().upper(), readable(name) or "photo", media, readable(" ".join(caption.split())), data)
    with open_job(job, clock) as file:
        key = keep_photo(file, new)
        return next(p for p in photos_of(file) if p.key == key)


def attach_file(job: Path, path: Path, belongs: str = "", caption: str = "", clock: Clock = utc_now) -> StoredPhoto:
    """Keep a photo from a file. raises as `attach`"""
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST + 1)
    except OSError as error:
        raise InputError(Mistake(str(path), error.strerror or "cannot be read", "a photo")) from error
    return attach(job, path.name, data, belongs, caption, clock)


def photos(job: Path) -> tuple[StoredPhoto, ...]:
    """All photos of a job, without their bytes, the withdrawn ones among them. raises JobFileError"""
    with open_job(job) as file:
        return photos_of(file)


def attachment(job: Path, key: str) -> tuple[StoredPhoto, bytes]:
    """A photo with its bytes. raises JobFileError where there is none of this key"""
    with open_job(job) as file:
        wanted = key.strip().upper()
        data = photo_bytes(file, wanted)
        return next(p for p in photos_of(file) if p.key == wanted), data


def write_photo(job: Path, key: str, target: Path) -> StoredPhoto:
    """Write a photo to a file as it came. raises JobFileError for an unknown key; InputError where a file is there"""
    photo, data = attachment(job, key)
    try:
        with target.open("xb") as stream:
            stream.write(data)
    except FileExistsError as error:
        raise InputError(Mistake(str(target), "exists already", "another name; no file is overwritten")) from error
    except OSError as error:
        raise JobFileError(f"{target}: {error.strerror or error}; nothing was written") from error
    return photo


def media_of(data: bytes, name: str) -> str:
    """What kind of picture the bytes are, by the bytes alone: whole, and of a size that can be shown.

    raises InputError; source of the layouts: ISO/IEC 15948 (PNG), ITU-T T.81 annex B (JPEG)
    """
    if len(data) > LARGEST:
        raise InputError(Mistake(name, f"more than {LARGEST // 2**20} MiB", "a smaller photo; halve its size"))
    if data.startswith(SIGNATURE):
        media, size = PNG, png_size(data)
    elif data.startswith(b"\xff\xd8\xff"):
        media, size = JPEG, jpeg_size(data)
    else:
        raise InputError(Mistake(name, "neither PNG nor JPEG", "a photo saved as JPEG or PNG"))
    if size is None:
        raise InputError(Mistake(name, "a picture that is damaged or cut short", "the whole file"))
    wide, high = size
    if not 0 < wide * high <= MOST_PIXELS:
        found = f"{wide} x {high} points"
        raise InputError(Mistake(name, found, f"a picture of at most {MOST_PIXELS // 10**6} million points"))
    return media


def png_size(data: bytes) -> tuple[int, int] | None:
    """(width, height) of a whole PNG by its chunks; None where it is not whole."""
    at, size, drawn = len(SIGNATURE), None, False
    while at + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        if at + 12 + length > len(data):
            return None
        if size is None:
            if kind != b"IHDR" or length != 13:
                return None
            size = struct.unpack_from(">II", data, at + 8)
        drawn = drawn or kind == b"IDAT"
        at += 12 + length
        if kind == b"IEND":
            return size if drawn and at == len(data) else None
    return None


def jpeg_size(data: bytes) -> tuple[int, int] | None:
    """(width, height) of a whole JPEG by its segments up to the first scan; None where it is not whole."""
    at, size = 2, None
    while at + 4 <= len(data) and data[at] == 0xFF:
        mark = data[at + 1]
        if mark == 0xFF or mark in NO_SIZE:
            at += 1 if mark == 0xFF else 2
            continue
        (length,) = struct.unpack_from(">H", data, at + 2)
        if length < 2 or at + 2 + length > len(data):
            return None
        if mark in FRAMES and length >= 8:
            high, wide = struct.unpack_from(">HH", data, at + 5)
            size = (wide, high)
        if mark == SCAN:
            return size if data.rfind(bytes((0xFF, END))) > at else None
        at += 2 + length
    return None
