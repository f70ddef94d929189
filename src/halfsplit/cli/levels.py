"""The verbs that plan and explain levels and power."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import guarded, put
from halfsplit.cli.door import JSON, main

SOURCE = click.argument("source", type=click.Path(path_type=Path))
BAND = click.option("--band", default=None, help="One band only.")


@main.command()
@SOURCE
@BAND
@JSON
@guarded
def levels(source: Path, band: str | None, as_json: bool) -> int:
    """The level plan: dBm and volts at every test point on every band. SOURCE is a job or a unit file."""
    from halfsplit.cli import level_shape, level_show
    from halfsplit.jobs import level_plans

    found = level_plans.levels(source, band)
    put(level_shape.plan(found), level_show.plan(found), as_json)
    return 0


@main.command()
@SOURCE
@BAND
@JSON
@guarded
def power(source: Path, band: str | None, as_json: bool) -> int:
    """Power, current, efficiency and heat on every band, and what sets the limit. SOURCE is a job or a unit file."""
    from halfsplit.cli import level_shape, level_show
    from halfsplit.jobs import level_plans

    found = level_plans.power(source, band)
    put(level_shape.power(found), level_show.power(found), as_json)
    return 0
