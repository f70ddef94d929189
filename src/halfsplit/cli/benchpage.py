"""The verb `bench`: the bench page, served to the browsers of this machine."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import guarded
from halfsplit.errors import InputError, Mistake


@click.command()
@click.argument("job", type=click.Path(path_type=Path), required=False)
@click.option(
    "--port", default=8740, show_default=True, type=click.IntRange(0, 65535), help="Where; 0 for any free one."
)
@click.option("--lan", is_flag=True, help="Let other machines of the local network in, with a token. Read the warning.")
@click.option("--no-browser", is_flag=True, help="Print the address and open nothing.")
@guarded
def bench(job: Path | None, port: int, lan: bool, no_browser: bool) -> int:
    """Open the bench page of JOB in the browser; without JOB, of the jobs in this folder.

    It works on the same job file as the other verbs, also at the same time. Ctrl-C ends it; nothing is lost.
    """
    try:
        from halfsplit.page.serve import serve
    except ImportError as error:
        found = f"{error.name or error} is not installed"
        raise InputError(Mistake("bench", found, "the extra [page]: pip install 'halfsplit[page]'")) from error
    return serve(job, port, lan=lan, browser=not no_browser, say=click.echo)
