"""What the commands share: hook-up options, answers, one shape of error, the progress bar."""

from __future__ import annotations

import functools
import json
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from halfsplit.errors import HalfsplitError, InputError, Mistake
from halfsplit.history import QUESTIONS, Question, Told, rows_of

Command = Callable[..., Any]

HOOKUP_OPTIONS = (
    click.option("--band", default=None, help="Name of the band that was switched on."),
    click.option("--drive", default=None, help="Point where the generator goes in [first point of the path]."),
    click.option("--read", default=None, help='Where the detector reads [last point of the path]; "nothing" for none.'),
    click.option("--source-ohm", default=None, help='Impedance of the generator ["50 ohm"].'),
    click.option("--detector-ohm", default=None, help='Impedance of the detector ["50 ohm"].'),
    click.option("--source-tolerance", default=None, help='How well it is known ["10 %" for a sweeper].'),
    click.option("--detector-tolerance", default=None, help='How well it is known ["10 %" for a sweeper].'),
    click.option("--source-lead", default=None, help='Length of clip leads at the generator: "60 mm".'),
    click.option("--detector-lead", default=None, help='Length of clip leads at the detector: "60 mm".'),
    click.option("--detector-capacitance", default=None, help='Of a probe: "12 pF".'),
    click.option("--source-pad", default=None, help='Pad between generator and unit: "10 dB".'),
    click.option("--detector-pad", default=None, help='Pad between unit and detector: "10 dB".'),
    click.option("--reference", default=None, type=click.Choice(["through", "calibrated", "none"]),
                 help="What the reading is relative to [through]."),
    click.option("--lifted", multiple=True, help='What is lifted: "C22", "W1 at BUS IN". Repeat.'),
    click.option("--bridged", multiple=True, help='Points joined by a short lead: "TP1 = TP2". Repeat.'),
    click.option("--terminated", multiple=True, help='A resistor tied on: "J2 = 50 ohm". Repeat.'),
    click.option("--operated", multiple=True, help="A relay operated by hand. Repeat."),
    click.option("--released", multiple=True, help="A relay held released by hand. Repeat."),
    click.option("--instrument", default=None, type=click.Choice(["analyser", "sweeper", "meter"]),
                 help="What it was read with [sweeper]."),
    click.option("--note", default=None, help="Anything about the hook-up worth remembering."),
)  # fmt: skip

ANSWERS = {
    "frequency_unit": "Unit of bare frequencies in a table: Hz, kHz, MHz, GHz.",
    "frequency_column": "Number of the frequency column, from 1.",
    "value_column": "Number of the value column, from 1.",
    "phase_column": "Number of the phase column, from 1.",
    "quantity": "What the value column is: s21, s11, s12, s22, level.",
    "scale": "How it counts: dB, linear, SWR, dBm.",
    "sign": 'Sign of dB: "as given", or "loss positive".',
    "decimal_mark": 'Decimal mark of the file: "." or ",".',
}


def words_for(q: Question) -> str:
    """What may be answered to a question."""
    return q.lists or ", ".join(q.answers)


HISTORY_OPTIONS = tuple(
    click.option(f"--{q.key}", default=None, multiple=bool(q.lists), help=f"{q.text} [{words_for(q)}]")
    for q in QUESTIONS
)


def told_of(rest: Mapping[str, Any], rows: Sequence[str], source: Path | None) -> list[Told]:
    """The answers that were given: rows, a file of rows ("-" for standard input), options. raises InputError"""
    found = rows_of(rows, "") if rows else []
    if source is not None:
        found += rows_of(lines_of(source), "standard input" if str(source) == "-" else source.name)
    for q in QUESTIONS:
        given = rest.get(q.key)
        found += [Told(f"--{q.key}", q.key, text) for text in ((given,) if isinstance(given, str) else given or ())]
    return found


def lines_of(source: Path) -> list[str]:
    """The rows of a small text file, or of standard input. raises InputError"""
    try:
        if str(source) == "-":
            data = sys.stdin.buffer.read(MOST_BYTES + 1)
        else:
            with source.open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError(Mistake(str(source), error.strerror or "cannot be read", "a file with answers")) from error
    if len(data) > MOST_BYTES:
        raise InputError(Mistake(str(source), f"more than {MOST_BYTES} bytes", "rows such as: knock = yes"))
    try:
        return data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise InputError(Mistake(str(source), "not UTF-8 text", "rows such as: knock = yes")) from error


MOST_BYTES = 65536


def with_options(options: Sequence[Callable[[Command], Command]]) -> Callable[[Command], Command]:
    """Put a list of options on a command, in the order given."""

    def wrap(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return wrap


def answering(command: Command) -> Command:
    """Options that answer the reader's questions."""
    for key, text in reversed(ANSWERS.items()):
        command = click.option(f"--{key.replace('_', '-')}", default=None, help=text)(command)
    return command


def fields_of(rest: dict[str, Any]) -> dict[str, object]:
    """The fields of the hook-up that were given."""
    return {k: v for k, v in rest.items() if k not in ANSWERS and v not in (None, ())}


def answers_of(rest: dict[str, Any]) -> dict[str, str]:
    """The answers that were given."""
    return {k: v for k, v in rest.items() if k in ANSWERS and v is not None}


def refuse_without(given: bool, options: Mapping[str, object], needed: str) -> None:
    """Options that only mean something beside another one."""
    mistakes = [
        Mistake(option, f"given without {needed}", f"{needed} as well")
        for option, value in options.items()
        if value is not None and not given
    ]
    if mistakes:
        raise InputError(*mistakes)


def refuse_nothing(files: Sequence[object], typed: Sequence[str], only_typed: Mapping[str, object]) -> None:
    """There must be something to add, and no option without what it is for."""
    mistakes = []
    if not files and not typed:
        mistakes.append(Mistake("add", "no file and no typed figure", 'a FILE, or --typed "7.05 MHz -0.4 dB"'))
    if files and not typed:
        mistakes += [
            Mistake(option, "given without --typed", "typed figures; for a file there is --quantity")
            for option, value in only_typed.items()
            if value is not None
        ]
    if mistakes:
        raise InputError(*mistakes)


def refuse_both(files: Sequence[object], typed: Sequence[str]) -> None:
    """A result at a single place has no hook-up, so it cannot come together with a reading that has one."""
    if files or typed:
        found = "given together with a reading"
        raise InputError(Mistake("--found", found, "one after the other: add the reading, then add --found"))


def hertz(text: str) -> float:
    """A frequency of an option."""
    return quantity("--at", text, "FREQUENCY")


def decibels(text: str | None) -> float | None:
    """A step in dB of an option."""
    return None if text is None else quantity("--resolution", text, "DECIBEL")


def quantity(option: str, text: str, dimension: str) -> float:
    """The value of an option in SI units. raises InputError."""
    from halfsplit.quantity import Dimension, QuantityError, parse

    try:
        return float(parse(text, Dimension[dimension]).value)
    except QuantityError as error:
        raise InputError(Mistake(option, repr(text), str(error))) from error


PROGRESS = click.option(
    "--progress", "asked", is_flag=True, help="Show progress on standard error even where nobody is looking."
)

SOON = 1.0  # s; work that is done sooner shows no progress

WORDS = {
    "through": "s21",
    "return-loss": "s11",
    "return-loss-at-read": "s22",
    "s21": "s21",
    "s11": "s11",
    "s22": "s22",
}


def guarded(command: Command) -> Command:
    """One shape of error, exit status 2; with --json an error object on standard output as well."""

    @functools.wraps(command)
    def safe(*args: Any, **kwargs: Any) -> int:
        try:
            status = int(command(*args, **kwargs))
        except HalfsplitError as error:
            if kwargs.get("as_json"):
                put({"schema": 1, "error": error_object(error)}, "", True)
            complain(error)
            status = 2
        if status:
            click.get_current_context().exit(status)
        return status

    return safe


def complain(error: HalfsplitError) -> None:
    """The one shape of an error: what is wrong and what to do; several mistakes one to a line."""
    mistakes = error.mistakes if isinstance(error, InputError) else ()
    several = [f"{len(mistakes)} mistakes", *(str(m) for m in mistakes)] if len(mistakes) > 1 else [str(error)]
    text = "\n  ".join(several)
    click.echo(visible(f"halfsplit: {text}"), err=True)


def error_object(error: HalfsplitError) -> dict[str, Any]:
    """An error as JSON: kind, text, and every mistake with its place."""
    mistakes = error.mistakes if isinstance(error, InputError) else ()
    return {
        "kind": type(error).__name__,
        "text": str(error),
        "mistakes": [{"where": m.where, "line": m.line, "found": m.found, "expected": m.expected} for m in mistakes],
    }


def put(shape: dict[str, Any], text: str, as_json: bool) -> None:
    """Print the one or the other."""
    printed = json.dumps(shape, indent=1, ensure_ascii=False, allow_nan=False) if as_json else text
    click.echo(visible(printed))


def visible(text: str) -> str:
    """Text that cannot steer a terminal: control characters, as in hostile file names, become a mark."""
    plain = text.encode("utf-8", "backslashreplace").decode("utf-8")
    return "".join(
        c if c == "\n" or c.isprintable() or (c.isspace() and c not in CONTROLS) else "\ufffd" for c in plain
    )


CONTROLS = "\r\x0b\x0c\x1c\x1d\x1e\x1f\x85\u2028\u2029"


@contextmanager
def progress_bar(label: str, asked: bool = False) -> Iterator[Callable[[float, str], None]]:
    """Progress of work of over a second on standard error: a bar where a person is looking, lines where asked for."""
    begun, shown = time.monotonic(), [-1]
    looking = sys.stderr.isatty()

    def progress(done: float, what: str) -> None:
        share = int(20 * min(max(done, 0.0), 1.0))
        if not (looking or asked) or time.monotonic() - begun < SOON or (share == shown[0] and not looking):
            return
        shown[0] = share
        if looking:
            click.echo(f"\r{label}: [{'#' * share}{'.' * (20 - share)}] {what[:44]:44}", nl=False, err=True)
        else:
            click.echo(f"{label}: {5 * share} % {what}", err=True)

    try:
        yield progress
    finally:
        if looking and shown[0] >= 0:
            click.echo("\r" + " " * 100 + "\r", nl=False, err=True)
