"""The verbs as commands."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import click

from halfsplit import __version__
from halfsplit.cli.benchpage import bench
from halfsplit.cli.common import (
    HISTORY_OPTIONS,
    HOOKUP_OPTIONS,
    PROGRESS,
    WORDS,
    answering,
    complain,
    fields_of,
    guarded,
    progress_bar,
    put,
    told_of,
    with_options,
)
from halfsplit.cli.level_options import LEVEL_OPTIONS, add_levels, level_tables
from halfsplit.cli.spectrum_options import taking_spectra
from halfsplit.errors import UnitError

JOB = click.argument("job", type=click.Path(path_type=Path))
JSON = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object with documented keys instead of text."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="halfsplit")
def main() -> None:
    """From the schematic and the readings of an HF transmitter to the part that failed.

    A first repair: check the unit file, start a job, add what the instruments showed, then judge, suspects, next.
    """


main.add_command(bench)


@main.command()
@click.argument("unit", type=click.Path(path_type=Path))
@JSON
@guarded
def check(unit: Path, as_json: bool) -> int:
    """Read a unit file: every mistake at once, and what each filter is."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    found = jobs.check(unit)
    put(shape.checked(found), show.checked(found), as_json)
    if found.mistakes:
        complain(UnitError(*found.mistakes))
        return 2
    return 0


@main.command()
@JOB
@click.option(
    "--unit", required=True, type=click.Path(path_type=Path), help="The unit file, written from the schematic."
)
@click.option("--name", default="", help="What to call the job; the file name if left out.")
@click.option("--complaint", default="", help="What the owner says, in one sentence.")
@with_options(HISTORY_OPTIONS)
@JSON
@guarded
def start(job: Path, unit: Path, name: str, complaint: str, as_json: bool, **rest: Any) -> int:
    """Start a job: a new file JOB that will hold everything. What is told of complaint and history weighs."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    told = told_of(rest, (), None)
    found, warnings = jobs.start(job, unit, name or job.stem, complaint, told=told)
    put(shape.started(job, found, warnings), show.started(job, found, warnings, len(told)), as_json)
    return 0


@main.command()
@JOB
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--typed", multiple=True, help='Figures off a display: "7.05 MHz -0.4 dB". Repeat, or use ";".')
@click.option("--what", default=None, type=click.Choice(list(WORDS)),
              help="Of typed figures: through, or return loss looking into the driven or the read point "
              "[by their words: SWR and return loss are looking into the driven point].")  # fmt: skip
@click.option(
    "--found",
    multiple=True,
    help='What a meter, bridge or jumper found: "ohms across E41 = 0.02 ohm", '
    '"C22 lifted = 310 pF", "K12 contact bridged = cured", "W1 swapped = no change".',
)
@click.option("--resolution", default=None, help='Step of the read-out of typed figures: "0.5 dB".')
@click.option(
    "--baseline", is_flag=True, help="A reading of this unit when it was sound: what strays for good is learnt from it."
)
@click.option("--twin", is_flag=True, help="With --baseline: it was taken on a sound unit built alike.")
@click.option(
    "--drawing",
    type=click.Path(dir_okay=False, path_type=Path),
    help="With --baseline: the unit file as it was then, where the drawing has changed since.",
)
@with_options(LEVEL_OPTIONS)
@with_options(HOOKUP_OPTIONS)
@answering
@JSON
@guarded
@taking_spectra
def add(
    job: Path, files: tuple[Path, ...], typed: tuple[str, ...], what: str | None, found: tuple[str, ...],
    resolution: str | None, baseline: bool, twin: bool, drawing: Path | None, level: tuple[str, ...], into: str | None,
    as_json: bool, **rest: Any,
) -> int:  # fmt: skip
    """Add readings: files as the instruments wrote them, or typed figures, with their hook-up. All of them, or none.

    A table of watts, amps and volts by band is a file as well: its first heading is "band".
    """
    from halfsplit import jobs
    from halfsplit.cli import shape, show
    from halfsplit.cli.common import answers_of, decibels, refuse_both, refuse_nothing, refuse_without
    from halfsplit.reading import What

    if level or level_tables(files):
        besides = {
            "--typed": typed,
            "--found": found,
            "--what": what,
            "--baseline": baseline,
            "--resolution": resolution,
        }
        return add_levels(job, files, level, into, fields_of(rest), besides, as_json)
    if found:
        refuse_both(files, typed)
        keys = jobs.add_found(job, found)
        put(shape.added((), keys), show.added((), keys), as_json)
        return 0
    refuse_nothing(files, typed, {"--what": what, "--resolution": resolution})
    refuse_without(False, {"--into": into}, "--level")
    fields, answers, step = fields_of(rest), answers_of(rest), decibels(resolution)
    kind = None if what is None else What(WORDS[what])
    refuse_without(baseline, {"--twin": twin or None, "--drawing": drawing}, "--baseline")
    sound = jobs.sound_of(drawing, twin=twin)
    makers = [partial(jobs.from_file, path, answers, baseline=baseline, sound=sound) for path in files]
    if typed:
        makers.append(partial(jobs.from_typed, typed, kind, step, answers, baseline=baseline, sound=sound))
    added = jobs.add(job, makers, fields)
    put(shape.added(added), show.added(added), as_json)
    return 0


@main.command()
@JOB
@click.argument("rows", nargs=-1)
@click.option("--from", "source", type=click.Path(path_type=Path, allow_dash=True), default=None,
              help='A file with rows "question = answer"; "-" for standard input.')  # fmt: skip
@with_options(HISTORY_OPTIONS)
@JSON
@guarded
def tell(job: Path, rows: tuple[str, ...], source: Path | None, as_json: bool, **rest: Any) -> int:
    """Tell of complaint and history: options, or ROWS such as "knock = yes". Without any: the questions, as a form."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    told = told_of(rest, rows, source)
    if not told and source is None and not rows:
        unit, known = jobs.questions(job)
        put(shape.told((), known), show.form(job, unit, known), as_json)
        return 0
    kept = jobs.tell(job, told)
    put(shape.told(kept, jobs.questions(job)[1]), show.told(job, kept), as_json)
    return 0


@main.command()
@JOB
@click.argument("key")
@click.option("--because", required=True, help="Why it no longer counts.")
@JSON
@guarded
def withdraw(job: Path, key: str, because: str, as_json: bool) -> int:
    """Withdraw a reading (R1), an answer (A1), work (D1) or a photo (P1): it stays in the journal."""
    from halfsplit import jobs

    jobs.withdraw(job, key, because)
    put({"schema": 1, "withdrawn": key, "because": because}, f"{key} withdrawn: {because}", as_json)
    return 0


@main.command()
@JOB
@click.argument("text")
@JSON
@guarded
def note(job: Path, text: str, as_json: bool) -> int:
    """Write a line into the journal: what was done to the unit, what was seen."""
    from halfsplit import jobs

    line = jobs.note(job, text)
    put({"schema": 1, "noted": line}, f"noted: {line}", as_json)
    return 0


@main.command()
@JOB
@JSON
@guarded
def journal(job: Path, as_json: bool) -> int:
    """Show the journal: readings with their hook-ups, and every act in order."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    book = jobs.notebook(job)
    put(shape.journal(book), show.journal(book), as_json)
    return 0


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--what", default="through", show_default=True, type=click.Choice(list(WORDS)),
              help="Through, or return loss looking into the driven or the read point.")  # fmt: skip
@click.option("--at", multiple=True, help='A frequency: "7.1 MHz". Repeat for more; left out: band, edges, harmonics.')
@with_options(HOOKUP_OPTIONS)
@JSON
@guarded
def expect(source: Path, what: str, at: tuple[str, ...], as_json: bool, **rest: Any) -> int:
    """What a sound unit would show in a hook-up. SOURCE is a job or a unit file."""
    import numpy as np

    from halfsplit import jobs
    from halfsplit.cli import shape, show
    from halfsplit.cli.common import hertz
    from halfsplit.reading import What

    f = np.unique([hertz(text) for text in at]) if at else None
    found = jobs.expect(source, fields_of(rest), What(WORDS[what]), f)
    put(shape.expectation(found), show.expectation(found), as_json)
    return 0


@main.command()
@JOB
@PROGRESS
@JSON
@guarded
def judge(job: Path, asked: bool, as_json: bool) -> int:
    """Judge every reading against what a sound unit would show, loudest first."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    with progress_bar("judging", asked) as progress:
        found = jobs.judge(job, progress)
    put(shape.judged(found), show.judged(found), as_json)
    return 0


OWN = click.option("--costs", type=click.Path(path_type=Path), default=None,
                   help="Own table of minutes and risks of tests, in place of the built-in rows.")  # fmt: skip


@main.command()
@JOB
@OWN
@PROGRESS
@JSON
@guarded
def suspects(job: Path, costs: Path | None, asked: bool, as_json: bool) -> int:
    """The causes that explain all readings together, with probabilities."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    with progress_bar("weighing causes", asked) as progress:
        ranking = jobs.suspects(job, progress, costs)
    put(shape.ranking(ranking), show.ranking(ranking), as_json)
    return 0


@main.command("next")
@JOB
@click.option("--most", default=3, show_default=True, type=click.IntRange(1, 20), help="How many tests to name.")
@OWN
@PROGRESS
@JSON
@guarded
def next_(job: Path, most: int, costs: Path | None, asked: bool, as_json: bool) -> int:
    """The next best tests: what to tie where, what each outcome would mean, what it costs and risks."""
    from halfsplit import jobs
    from halfsplit.cli import shape, show

    with progress_bar("weighing tests", asked) as progress:
        ranking, advice = jobs.advise(job, most, progress, costs)
    put(shape.advice(ranking, advice), show.advice(ranking, advice), as_json)
    return 0


@main.command()
@click.option("--folder", type=click.Path(path_type=Path), default=Path("demo-out"), show_default=True,
              help="Where the demo job is made; it must not exist yet, or be an earlier demo.")  # fmt: skip
@guarded
def demo(folder: Path) -> int:
    """Play the main job on the shipped demo readings, each command shown before its output."""
    from halfsplit.cli.play import play

    return play(folder, run)


def run(words: list[str]) -> int:
    """One command line, as typed. returns its exit status."""
    done = main.main(args=words, prog_name="halfsplit", standalone_mode=False)
    return int(done or 0)
