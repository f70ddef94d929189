"""The job file: the unit as read, readings and acts in order. Nothing is erased, only withdrawn."""

from halfsplit.journal.file import JobFile, create, open_job
from halfsplit.journal.records import Act, StoredReading

__all__ = ["Act", "JobFile", "StoredReading", "create", "open_job"]
