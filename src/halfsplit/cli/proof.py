"""Commands that prove a repair: before and after, and what is missing for a clean bill."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import guarded, put
from halfsplit.cli.door import JOB, JSON, main

MISSING, FAILED = 3, 4


@main.command()
@JOB
@click.argument("first", default="start")
@click.argument("second", default="now")
@JSON
@guarded
def compare(job: Path, first: str, second: str, as_json: bool) -> int:
    """Compare two readings (R1 R4) or two states of the unit ("before D1" "after D1", start, now), figure by figure.

    Says of every change whether it is more than the readings' error. Left out: start against now.
    """
    from halfsplit import jobs
    from halfsplit.cli import proof_text

    found = jobs.compare(job, first, second)
    put(proof_text.comparison_shape(found), proof_text.comparison(found), as_json)
    return 0


@main.command()
@JOB
@JSON
@guarded
def signoff(job: Path, as_json: bool) -> int:
    """What was measured after the last work against the manual and the usual proof, and what a clean bill lacks.

    Exit status: 0 clean, 3 where something is missing or in doubt, 4 where something fails.
    """
    from halfsplit import jobs
    from halfsplit.cli import proof_text

    found = jobs.signoff(job)
    put(proof_text.signoff_shape(found), proof_text.signoff(found), as_json)
    if found.clean:
        return 0
    return FAILED if found.count["failed"] else MISSING
