"""The job file: the unit as read, readings and acts in order. Nothing is erased, only withdrawn."""

from halfsplit.journal.door import create, open_job, utc_now
from halfsplit.journal.file import Clock, JobFile
from halfsplit.journal.records import Act, Head, NewReading, StoredAnswer, StoredReading

__all__ = [
    "Act",
    "Clock",
    "Head",
    "JobFile",
    "NewReading",
    "StoredAnswer",
    "StoredReading",
    "create",
    "open_job",
    "utc_now",
]
