"""Verbs that write: start, add, withdraw; and the journal that they leave."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TypeVar

import halfsplit
from halfsplit import journal
from halfsplit.circuit import build
from halfsplit.errors import InputError, Mistake
from halfsplit.expect import observe
from halfsplit.history import History, Told, taken_in
from halfsplit.hookup import Hookup, describe, parse_hookup, to_dict
from halfsplit.jobs.drawing import known_of, load_unit, named_of
from halfsplit.jobs.found import found, words_of
from halfsplit.jobs.incoming import Incoming, from_file, from_typed, readable
from halfsplit.jobs.levels import hookup_words
from halfsplit.jobs.records import Added, Notebook
from halfsplit.jobs.work import history_in, unit_of
from halfsplit.journal import Clock, Head, JobFile, NewReading, StoredAnswer, StoredReading, create, open_job, utc_now
from halfsplit.reading import Reading, What
from halfsplit.unit import Unit

T = TypeVar("T")

NOTHING = "nothing"


def start(
    job: Path, unit_path: Path, name: str, complaint: str, clock: Clock = utc_now, told: Sequence[Told] = ()
) -> tuple[Unit, tuple[str, ...]]:
    """Start a job with a unit file.

    told : answers about complaint and history
    returns the unit and the warnings of its reader
    raises UnitError, JobFileError, InputError with every answer that is none; no file is left behind then
    """
    unit, warnings = load_unit(unit_path)
    answers = taken_in(told, named_of(unit), History()) if told else ()
    named = {b.measured_source for b in unit.blocks if b.measured}
    files = tuple((source, (unit_path.parent / source).read_bytes()) for source in sorted(named))
    made_by = f"halfsplit {halfsplit.__version__}"
    create(
        job, Head(readable(name), readable(complaint), readable(unit.source), unit.text, made_by, files), clock, answers
    )
    return unit, warnings


def hookup_for(unit: Unit, fields: Mapping[str, object]) -> Hookup:
    """The hook-up in words: by default from the first point of the path to the last, on the only band.

    fields : `read` may be "nothing": no detector is tied on
    raises HookupError with every mistake, ModelError
    """
    known = known_of(unit)
    full = dict(fields)
    if len(unit.bands) == 1:
        full.setdefault("band", unit.bands[0].name)
    full.setdefault("drive", unit.path.points[0])
    full.setdefault("read", unit.path.points[-1])
    if full["read"] == NOTHING and NOTHING not in known.points:
        del full["read"]
    hookup = parse_hookup(full, known)
    build(unit, hookup)
    return hookup


def add(
    job: Path, makers: Sequence[Callable[[], Incoming]], fields: Mapping[str, object], clock: Clock = utc_now
) -> tuple[Added, ...]:
    """Add readings of one hook-up: all of them, or none.

    makers : give the readings; fields : of the hook-up, in words
    raises ReadingError, HookupError with every mistake of every reading; JobFileError; nothing is kept then
    """
    with open_job(job, clock) as file:
        unit = unit_of(file)
        errors: list[InputError] = []
        hookup = gathered(lambda: hookup_for(unit, fields), errors)
        incoming = [x for x in (gathered(make, errors) for make in makers) if x is not None]
        if hookup is not None:
            labels = [gathered(partial(labels_of, unit, hookup, x.reading), errors) for x in incoming]
        if errors or hookup is None:
            raise joined(errors)
        before = file.readings()
        keys = file.add([new_reading(x, hookup) for x in incoming])
    told = describe(hookup)
    return tuple(
        Added(key, x.reading, told, label or (), twins(before, x, hookup))
        for key, x, label in zip(keys, incoming, labels, strict=True)
    )


def gathered(act: Callable[[], T], errors: list[InputError]) -> T | None:
    """The result of an act, or None with its error added to the list."""
    try:
        return act()
    except InputError as error:
        errors.append(error)
        return None


def joined(errors: Sequence[InputError]) -> InputError:
    """One error with every mistake: of their kind where they are of one kind."""
    kinds = {type(e) for e in errors}
    kind = kinds.pop() if len(kinds) == 1 else InputError
    return kind(*(m for e in errors for m in e.mistakes))


def labels_of(unit: Unit, hookup: Hookup, reading: Reading) -> tuple[str, ...]:
    """What a reading is used as. raises ReadingError where it does not fit the unit"""
    return tuple(o.label for o in observe(unit, hookup, reading, "new"))


def new_reading(x: Incoming, hookup: Hookup) -> NewReading:
    """A reading as the job file takes it."""
    r = x.reading
    return NewReading(r.name, r.original, to_dict(hookup), x.how, r.understood, x.baseline)


def twins(before: Sequence[StoredReading], x: Incoming, hookup: Hookup) -> tuple[str, ...]:
    """Keys of readings that count already and have the same bytes and the same hook-up."""
    tied = to_dict(hookup)
    same = [r for r in before if r.original == x.reading.original and r.hookup == tied and r.how == dict(x.how)]
    return tuple(r.key for r in same if r.withdrawn is None)


def add_file(
    job: Path, path: Path, fields: Mapping[str, object], answers: Mapping[str, str] | None = None, *,
    baseline: bool = False,
) -> Added:  # fmt: skip
    """Add one reading from a file. raises as `add`"""
    return add(job, [lambda: from_file(path, answers or {}, baseline=baseline)], fields)[0]


def add_typed(
    job: Path, lines: Sequence[str], what: What | None, fields: Mapping[str, object],
    resolution_db: float | None = None, answers: Mapping[str, str] | None = None,
) -> Added:  # fmt: skip
    """Add figures typed by hand. raises as `add`"""
    return add(job, [lambda: from_typed(lines, what, resolution_db, answers or {})], fields)[0]


def tell(job: Path, told: Sequence[Told], clock: Clock = utc_now) -> tuple[StoredAnswer, ...]:
    """Keep answers about complaint and history, all of them or none.

    returns them as they were kept
    raises InputError with every answer that is none; JobFileError
    """
    with open_job(job, clock) as file:
        keys = file.tell(taken_in(told, named_of(unit_of(file)), history_in(file)))
        return tuple(a for a in file.answers() if a.key in keys)


def questions(job: Path) -> tuple[Unit, History]:
    """The unit, and what is known of its complaint and history, for a form to fill in. raises JobFileError"""
    with open_job(job) as file:
        return unit_of(file), history_in(file)


def add_found(job: Path, lines: Sequence[str], clock: Clock = utc_now) -> tuple[tuple[str, str], ...]:
    """Add what a meter, a bridge or a jumper found, one line each: all of them, or none.

    returns (key, as understood) of each
    raises ReadingError with every mistake; JobFileError
    """
    with open_job(job, clock) as file:
        unit = unit_of(file)
        errors: list[InputError] = []
        got = [gathered(partial(found, unit, line), errors) for line in lines]
        if errors:
            raise joined(errors)
        said = [words_of(unit, x) for x in got if x is not None]
        texts = [readable(line).encode("utf-8") for line in lines]
        rows = [NewReading("typed", t, {}, {"found": True}, s) for t, s in zip(texts, said, strict=True)]
        return tuple(zip(file.add(rows), said, strict=True))


def withdraw(job: Path, key: str, reason: str, clock: Clock = utc_now) -> None:
    """Withdraw a reading, an answer, work or a photo: it stays in the journal and no longer counts.

    raises JobFileError, InputError
    """
    if not reason.strip():
        raise InputError(Mistake("withdraw", "no reason", 'one, such as --because "the lead was off"'))
    with open_job(job, clock) as file:
        journal.withdraw(file, key.strip().upper(), readable(reason.strip()))


def note(job: Path, text: str, clock: Clock = utc_now) -> str:
    """Write a line into the journal: what was done to the unit, what was seen.

    returns the line as it was kept
    raises JobFileError, InputError
    """
    line = readable(" ".join(text.split()))
    if not line:
        raise InputError(Mistake("note", "nothing", "what was done or seen, in one line"))
    with open_job(job, clock) as file:
        file.note(line)
    return line


def notebook(job: Path) -> Notebook:
    """The journal of a job."""
    with open_job(job) as file:
        return notebook_of(file)


def notebook_of(file: JobFile) -> Notebook:
    """The journal of a job that is open."""
    head, readings, acts = file.head(), file.readings(), file.acts()
    digest = hashlib.sha256(head.unit_text.encode()).hexdigest()
    hookups = tuple((r.key, hookup_words(r)) for r in readings)
    return Notebook(
        head.name, head.complaint, head.unit_source, digest, head.made_by, readings, hookups, acts, file.answers(),
        journal.work_of(file), journal.photos_of(file),
    )  # fmt: skip
