"""Watts, amps and volts taken in: tables, and typed rows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from halfsplit.errors import InputError
from halfsplit.expect import LevelSet
from halfsplit.expect.level_rows import tied
from halfsplit.hookup import to_dict
from halfsplit.jobs.bench import gathered, joined
from halfsplit.jobs.incoming import readable, taken
from halfsplit.jobs.levels import hookup_of, usual_of, words_of
from halfsplit.jobs.work import unit_of
from halfsplit.journal import Clock, NewReading, open_job, utc_now
from halfsplit.reading import LevelReading, Usual, is_level_table, table_levels, typed_levels


@dataclass(frozen=True, slots=True)
class LevelAdded:
    """A level reading as it was kept. figures : as understood, one line each"""

    key: str
    reading: LevelReading
    hookup_text: str


def is_table(path: Path) -> bool:
    """True for a file that is a table of watts, amps and volts by band."""
    try:
        with path.open("rb") as stream:
            return is_level_table(stream.read(4096))
    except OSError:
        return False


def add_levels(
    job: Path, files: Sequence[Path], typed: Sequence[str], fields: Mapping[str, object], load: str = "dummy load",
    clock: Clock = utc_now,
) -> tuple[LevelAdded, ...]:  # fmt: skip
    """Add watts, amps and volts: tables, and typed rows. All of them, or none.

    fields : of the hook-up, in words; load : what hangs at the end of the path
    raises ReadingError, HookupError with every mistake; UnitError where the unit file does not say enough; JobFileError
    """
    with open_job(job, clock) as file:
        unit = unit_of(file)
        usual = usual_of(unit, fields, load)
        rows = with_band(typed, fields.get("band"))
        makers: list[Callable[[], LevelReading]] = [partial(read_table, p, usual) for p in files]
        if typed:
            makers.append(partial(typed_levels, rows, usual))
        errors: list[InputError] = []
        readings = [r for r in (gathered(make, errors) for make in makers) if r is not None]
        sets = []
        for r in readings:
            hookup = gathered(partial(hookup_of, unit, fields, r.rows[0].band), errors)
            if hookup is not None:
                sets.append(LevelSet("new", r, hookup))
        for one in sets:
            gathered(partial(tied, unit, [one]), errors)
        if errors:
            raise joined(errors)
        how = {"levels": True, "ohm": usual.ohm, "load": usual.load}
        keys = file.add([new_reading(x, how) for x in sets])
    return tuple(LevelAdded(k, x.reading, words_of(x.hookup)) for k, x in zip(keys, sets, strict=True))


def new_reading(x: LevelSet, how: Mapping[str, object]) -> NewReading:
    """A level reading as the job file takes it."""
    r = x.reading
    return NewReading(r.name, r.original, to_dict(x.hookup), {**how, "table": r.name != "typed"}, r.understood)


def read_table(path: Path, usual: Usual) -> LevelReading:
    """A table from a file. raises ReadingError"""
    return table_levels(taken(path), readable(path.name), usual)


def with_band(typed: Sequence[str], band: object) -> list[str]:
    """Typed rows, those without a band with the one that was given."""
    if band is None:
        return list(typed)
    return [row if ":" in row.split(",")[0] else f"{band}: {row}" for row in typed]
