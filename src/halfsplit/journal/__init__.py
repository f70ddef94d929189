"""The job file: the unit as read, readings and acts in order. Nothing is erased, only withdrawn."""

from halfsplit.journal.done import keep_photo, keep_work, photo_bytes, photos_of, withdraw, work_of
from halfsplit.journal.door import create, open_job, utc_now
from halfsplit.journal.file import Clock, JobFile
from halfsplit.journal.records import (
    Act,
    Head,
    NewPhoto,
    NewReading,
    NewWork,
    StoredAnswer,
    StoredPhoto,
    StoredReading,
    StoredWork,
)

__all__ = [
    "Act",
    "Clock",
    "Head",
    "JobFile",
    "NewPhoto",
    "NewReading",
    "NewWork",
    "StoredAnswer",
    "StoredPhoto",
    "StoredReading",
    "StoredWork",
    "create",
    "keep_photo",
    "keep_work",
    "open_job",
    "photo_bytes",
    "photos_of",
    "utc_now",
    "withdraw",
    "work_of",
]
