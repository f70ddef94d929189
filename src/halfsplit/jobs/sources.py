"""A unit from wherever the user keeps it: a job or a unit file."""

from __future__ import annotations

from pathlib import Path

from halfsplit.jobs.drawing import load_unit
from halfsplit.jobs.work import unit_of
from halfsplit.journal import open_job
from halfsplit.unit import Unit


def unit_in(source: Path) -> Unit:
    """The unit of a job or of a unit file. raises UnitError, JobFileError"""
    if is_job(source):
        with open_job(source) as file:
            return unit_of(file)
    return load_unit(source)[0]


def is_job(path: Path) -> bool:
    """True for an SQLite file, by its first bytes."""
    try:
        with path.open("rb") as stream:
            return stream.read(15) == b"SQLite format 3"
    except OSError:
        return False
