"""Verbs that write: start, add, withdraw; and the journal that they leave."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import halfsplit
from halfsplit.circuit import build
from halfsplit.errors import JobFileError, Mistake, ReadingError
from halfsplit.expect import observe
from halfsplit.hookup import Hookup, describe, from_dict, parse_hookup, to_dict
from halfsplit.jobs.drawing import known_of, load_unit
from halfsplit.jobs.records import Added, Notebook
from halfsplit.jobs.work import unit_of
from halfsplit.journal import create, open_job
from halfsplit.reading import LIMIT_BYTES, Reading, What, answers_from, read_bytes, read_typed
from halfsplit.unit import Unit


def start(job: Path, unit_path: Path, name: str, complaint: str) -> tuple[Unit, tuple[str, ...]]:
    """Start a job with a unit file.

    returns the unit and the warnings of its reader
    raises UnitError, JobFileError; no file is left behind where the unit cannot be read
    """
    unit, warnings = load_unit(unit_path)
    files = {b.measured_source: (unit_path.parent / b.measured_source).read_bytes() for b in unit.blocks if b.measured}
    with create(job) as file:
        file.begin(name, complaint, unit.source, unit.text, files, f"halfsplit {halfsplit.__version__}")
    return unit, warnings


def hookup_for(unit: Unit, fields: Mapping[str, object]) -> Hookup:
    """The hook-up in words: by default from the first point of the path to the last, on the only band."""
    known = known_of(unit)
    full = dict(fields)
    if len(unit.bands) == 1:
        full.setdefault("band", unit.bands[0].name)
    full.setdefault("drive", unit.path.points[0])
    full.setdefault("read", unit.path.points[-1])
    hookup = parse_hookup(full, known)
    build(unit, hookup)
    return hookup


def taken(path: Path) -> bytes:
    """The bytes of a reading, at most what a reading may hold. raises ReadingError."""
    try:
        with path.open("rb") as stream:
            data = stream.read(LIMIT_BYTES + 1)
    except OSError as error:
        raise ReadingError(Mistake(str(path), error.strerror or "cannot be read", "a file with a reading")) from error
    if len(data) > LIMIT_BYTES:
        found = f"more than {LIMIT_BYTES // 2**20} MiB"
        raise ReadingError(Mistake(str(path), found, "the export of one sweep; cut the file down to it"))
    return data


def add_file(
    job: Path, path: Path, fields: Mapping[str, object], answers: Mapping[str, str] | None = None, *,
    baseline: bool = False,
) -> Added:  # fmt: skip
    """Add a reading from a file.

    fields : of the hook-up, in words; answers : to questions of the reader
    raises ReadingError, HookupError, JobFileError; nothing is kept then
    """
    data = taken(path)
    reading = read_bytes(path.name, data, answers_from(answers or {}))
    return keep(job, reading, fields, {"answers": dict(answers or {})}, baseline=baseline)


def add_typed(
    job: Path,
    lines: Sequence[str],
    what: What,
    fields: Mapping[str, object],
    resolution_db: float | None = None,
    answers: Mapping[str, str] | None = None,
) -> Added:
    """Add figures typed by hand. raises as `add_file`."""
    reading = read_typed(lines, what, resolution_db, answers_from(answers or {}))
    how = {"typed": True, "what": what.value, "resolution_db": resolution_db, "answers": dict(answers or {})}
    return keep(job, reading, fields, how)


def keep(
    job: Path, reading: Reading, fields: Mapping[str, object], how: Mapping[str, Any], *, baseline: bool = False
) -> Added:
    """Keep a reading that fits the unit; one that does not is refused whole."""
    with open_job(job) as file:
        unit = unit_of(file)
        hookup = hookup_for(unit, fields)
        observations = observe(unit, hookup, reading, "new")
        key = file.add(reading.name, reading.original, to_dict(hookup), how, reading.understood, baseline=baseline)
    return Added(key, reading, describe(hookup), tuple(o.label for o in observations))


def withdraw(job: Path, key: str, reason: str) -> None:
    """Withdraw a reading: it stays in the journal and no longer counts. raises JobFileError."""
    if not reason.strip():
        raise JobFileError(f"{job}: a reading is withdrawn with a reason")
    with open_job(job) as file:
        file.withdraw(key, reason.strip())


def notebook(job: Path) -> Notebook:
    """The journal of a job."""
    with open_job(job) as file:
        head, readings = file.head(), file.readings()
        digest = hashlib.sha256(head["unit_text"].encode()).hexdigest()
        hookups = tuple((r.key, describe(from_dict(r.hookup))) for r in readings)
        return Notebook(
            head["name"],
            head["complaint"],
            head["unit_source"],
            digest,
            head["made_by"],
            readings,
            hookups,
            file.acts(),
        )
