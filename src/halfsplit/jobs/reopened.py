"""A job file opened again and again, as a page does: read only where it changed."""

from __future__ import annotations

import threading
import time
from pathlib import Path

from halfsplit.jobs.bench import notebook_of
from halfsplit.jobs.records import Job, Notebook
from halfsplit.jobs.work import load_job
from halfsplit.journal import open_job

Stamp = tuple[tuple[int, int], ...]
SETTLED_NS = 100_000_000
"""A file that changed so short a time ago may change again without another stamp, so it is read again."""


def reopened(job: Path) -> tuple[Job, Notebook]:
    """The job and its journal as they are now. raises JobFileError"""
    with open_job(job) as file:
        return load_job(file), notebook_of(file)


def stamp(job: Path) -> Stamp:
    """When the file and its write-ahead log were changed last, ns, and their sizes, bytes."""
    found = []
    for path in (job, job.with_name(job.name + "-wal")):
        try:
            stat = path.stat()
            found.append((stat.st_mtime_ns, stat.st_size))
        except OSError:
            found.append((0, 0))
    return tuple(found)


class OpenJobs:
    """Jobs as they were read last. Safe to be called from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._known: dict[Path, tuple[Stamp, tuple[Job, Notebook]]] = {}

    def read(self, job: Path) -> tuple[Job, Notebook]:
        """The job and its journal, read again only where the file changed. raises JobFileError"""
        now, settled = stamp(job), time.time_ns() - SETTLED_NS
        with self._lock:
            known = self._known.get(job)
        if known is not None and known[0] == now and all(at < settled for at, _ in now):
            return known[1]
        found = reopened(job)
        with self._lock:
            self._known[job] = (now, found)
        return found
