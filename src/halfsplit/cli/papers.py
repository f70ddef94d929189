"""The command that writes on paper: the bench sheet, and the reports for the owner and for the next technician."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import PROGRESS, guarded, progress_bar, put
from halfsplit.cli.door import JOB, JSON, main


@main.command()
@JOB
@click.option("--for", "reader", type=click.Choice(["bench", "owner", "technician"]), default="bench",
              show_default=True, help="Whom it is for: the bench, the owner in plain words, or the next technician "
                                      "with everything.")  # fmt: skip
@click.option("-o", "--output", type=click.Path(path_type=Path), default=None,
              help="File to write: PDF if its name ends in .pdf (extra [pdf]), else HTML. "
                   "JOB.html if left out, JOB-owner.html, JOB-technician.html.")  # fmt: skip
@PROGRESS
@JSON
@guarded
def report(job: Path, reader: str, output: Path | None, asked: bool, as_json: bool) -> int:
    """Write the bench sheet or a report: one file with everything in it, on screen and on paper."""
    from halfsplit import jobs
    from halfsplit.cli import show
    from halfsplit.report import reader_named, written

    with progress_bar("writing it down", asked) as progress:
        data = jobs.everything(job, progress)
    ending = "" if reader == "bench" else f"-{reader}"
    target = output or job.with_name(f"{job.stem}{ending}.html")
    written(data, target, reader_named(reader))
    put({"schema": 1, "written": str(target), "for": reader}, show.reported(target), as_json)
    return 0
