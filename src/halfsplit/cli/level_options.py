"""Watts, amps and volts on the command line of `add`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import click

from halfsplit.cli.common import put
from halfsplit.errors import InputError, Mistake

LOADS = ("dummy load", "antenna")
FORM = '"40 m: 98 W at J1 on 50 ohm, 17.4 A, 13.4 V, 6.2 Vpp at TP12"'

LEVEL_OPTIONS = (
    click.option("--level", multiple=True, help=f"Watts, amps and volts with the key down: {FORM}. Repeat."),
    click.option("--into", default=None, type=click.Choice(LOADS),
                 help="With --level or a table of levels: what hangs at the end of the path [dummy load]."),
)  # fmt: skip


def level_tables(files: Sequence[Path]) -> bool:
    """True where the files are tables of watts, amps and volts. raises InputError where only some are"""
    if not files:
        return False
    from halfsplit.jobs.level_intake import is_table

    found = [f for f in files if is_table(f)]
    if found and len(found) < len(files):
        odd = next(f for f in files if f not in found)
        raise InputError(Mistake(str(odd), f"a sweep together with the table {found[0].name}", "one kind in one add"))
    return bool(found)


def add_levels(
    job: Path, files: Sequence[Path], level: Sequence[str], into: str | None, fields: Mapping[str, object],
    besides: Mapping[str, object], as_json: bool,
) -> int:  # fmt: skip
    """Add watts, amps and volts. besides : options of other kinds of reading, which must not be given"""
    from halfsplit.cli import level_shape, level_show
    from halfsplit.jobs.level_intake import add_levels as add

    wrong = [Mistake(k, "given with watts, amps and volts", "one kind in one add") for k, v in besides.items() if v]
    wrong += [Mistake(str(f), "a file beside --level that is no table of levels", "one kind in one add")
              for f in files if level and not level_tables([f])]  # fmt: skip
    if wrong:
        raise InputError(*wrong)
    kept = add(job, files, level, fields, into or LOADS[0])
    put(level_shape.added(kept), level_show.added(kept), as_json)
    return 0
