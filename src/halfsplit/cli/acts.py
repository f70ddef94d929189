"""Commands for what was done to the unit: work, photos."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import guarded, put
from halfsplit.cli.door import JOB, JSON, main


@main.command()
@JOB
@click.argument("lines", nargs=-1, required=True)
@click.option("--value", default="", help='Of what is there now: "560 pF"; or in the line: "replaced C22 with 560 pF".')
@click.option("--note", default="", help="Anything worth remembering: the make of the part, how the old one looked.")
@click.option("--after", default=None, help="Told late: the last reading (R2) that was taken before it.")
@JSON
@guarded
def did(job: Path, lines: tuple[str, ...], value: str, note: str, after: str | None, as_json: bool) -> int:
    """Tell what was done to the unit: "replaced C22", "resoldered E41", "squeezed L4", "swapped W1", "cleaned K12".

    Readings that are added from now on show the unit as it is after it; earlier ones still speak of all other parts.
    """
    from halfsplit import jobs
    from halfsplit.cli import act_shape, act_show

    kept = jobs.did(job, lines, value, note, after)
    put(act_shape.did(kept), act_show.did(job, kept), as_json)
    return 0


@main.command()
@JOB
@click.argument("photo", type=click.Path(path_type=Path))
@click.option("--to", "belongs", default="", help="The reading (R1) or the work (D1) that it shows.")
@click.option("--caption", default="", help="What is to be seen on it.")
@JSON
@guarded
def attach(job: Path, photo: Path, belongs: str, caption: str, as_json: bool) -> int:
    """Keep a photo (PNG or JPEG) in the job, with a reading, with work on the unit, or with the unit as a whole."""
    from halfsplit import jobs
    from halfsplit.cli import act_shape, act_show

    kept = jobs.attach_file(job, photo, belongs, caption)
    put(act_shape.attached(kept), act_show.attached(kept), as_json)
    return 0


@main.command()
@JOB
@click.argument("key")
@click.option(
    "-o", "--output", type=click.Path(path_type=Path), default=None, help="File to write; KEY.jpg if left out."
)
@JSON
@guarded
def photo(job: Path, key: str, output: Path | None, as_json: bool) -> int:
    """Write a photo (P1, P2...) of the job to a file, as it came."""
    from halfsplit import jobs
    from halfsplit.cli import act_shape

    kept = jobs.attachment(job, key)[0]
    target = output or Path(f"{kept.key}{'.png' if kept.media.endswith('png') else '.jpg'}")
    jobs.write_photo(job, key, target)
    put(act_shape.written(kept, target), f"{kept.key} written: {target}", as_json)
    return 0
