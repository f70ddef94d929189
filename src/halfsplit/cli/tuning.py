"""The verb `align`: which adjustable parts of a filter to move, in which order and by how much."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put
from halfsplit.cli.door import JOB, JSON, main

if TYPE_CHECKING:
    from halfsplit.align import Alignment, Move, Requirement

CAUTION = (
    "Caution: adjust with the transmitter off and its supply disconnected; an insulated tool. After the last step "
    "prove it at power into a rated dummy load."
)


@main.command()
@JOB
@click.option("--band", default=None, help="The band whose filter is aligned [that of the latest sweep].")
@click.option(
    "--part", "parts", multiple=True, help="A part that may be moved, in place of those the unit file marks. Repeat."
)
@JSON
@guarded
def align(job: Path, band: str | None, parts: tuple[str, ...], as_json: bool) -> int:
    """Which adjustable parts to move, in which order and by how much; each new sweep refines it.

    Add a sweep, make the first move, tell it with `did`, add the next sweep, and ask again.
    """
    from halfsplit.jobs import tuning

    found = tuning.align(job, band, parts)
    put(shape(found), text(found, job), as_json)
    return 0


def shape(a: Alignment) -> dict[str, Any]:
    """The object of --json."""
    from halfsplit.cli.shape import plain

    out = asdict(a)
    for move in out["plan"]:
        move["watch"] = dict(zip(("hz", "db_now", "db_then"), move["watch"], strict=True))
    out["rivals"] = [
        {"probability": p, "values": [{"ref": ref, "value": value} for ref, value in values]} for p, values in a.rivals
    ]
    return {"schema": 1, **plain(out)}


def text(a: Alignment, job: Path) -> str:
    """The alignment as lines: what to do first, then why."""
    from halfsplit.cli.show import table, wrapped

    words = {
        "met": "leave it alone",
        "adjust": "adjust",
        "cannot decide": "cannot decide",
        "out of reach": "out of reach",
    }
    lines = [f"{a.band}, {a.filter}, {len(a.sweeps)} sweep{'s' if len(a.sweeps) > 1 else ''}: {words[a.standing]}"]
    lines.append(wrapped(a.why, "  "))
    lines += [wrapped(f"note: {n}", "  ", "        ") for n in a.notes]
    for n, m in enumerate(a.plan, 1):
        lines += ["", *move_lines(n, m)]
    if a.plan:
        told = f'halfsplit did {job} "adjusted {a.plan[0].ref}"'
        lines += ["", wrapped(f"then sweep again: {told}, halfsplit add {job} --band '{a.band}' FILE, and align", "  ")]
        lines += [wrapped(f"chance that all limits are met: now {100 * a.met_now:.0f} %, after the plan "
                          f"{100 * a.met_then:.0f} %", "  ")]  # fmt: skip
    lines += [
        "",
        "limits",
        *("  " + row for row in table(LIMIT_HEAD, [limit_row(r) for r in a.requirements]).split("\n")),
    ]
    lines += ["", "parts as the sweeps have them", *part_lines(a)]
    for probability, values in a.rivals:
        each = ", ".join(
            f"{ref} {1e9 * v:.4g} nH" if ref.startswith("L") else f"{ref} {1e12 * v:.4g} pF" for ref, v in values
        )
        lines.append(wrapped(f"fits too ({100 * probability:.0f} %): {each}", "  ", "      "))
    lines += [f"  {p.label}: fitted within {p.rms_db:.2f} dB rms" for p in a.predictions]
    return "\n".join([*lines, "", wrapped(CAUTION)])


def move_lines(n: int, m: Move) -> list[str]:
    """One move: what with the hands, how far, and what to watch."""
    from halfsplit.align import way
    from halfsplit.cli.show import wrapped

    what = "through" if m.watched == "s21" else "return loss"
    sign = 1.0 if m.watched == "s21" else -1.0
    hz, now, then = m.watch
    head = (
        f"{n}. {m.ref}: {100 * m.change:+.1f} % ({100 * m.low:+.1f} to {100 * m.high:+.1f} %), from "
        f"{value(m.value_now, m.coil)} to {value(m.value_then, m.coil)}: {way(m)}"
    )
    tail = (
        f"watch {what} at {hz / 1e6:.3f} MHz go from {sign * now:.1f} to {sign * then:.1f} dB; "
        f"all limits met after this step: {100 * m.met:.0f} %"
    )
    return [wrapped(head, "  ", "     "), wrapped(tail, "     ")]


def value(si: float, coil: bool) -> str:
    """A part's value, three digits."""
    from halfsplit.quantity import Dimension, format_value

    return format_value(si, Dimension.INDUCTANCE if coil else Dimension.CAPACITANCE, 3)


LIMIT_HEAD = ("", "limit", "now", "90 % range", "after the plan")


def limit_row(r: Requirement) -> tuple[str, ...]:
    """One limit as a row."""
    name = r.what if r.times == 1.0 else f"{r.what} at {r.times:g} x"
    side = "at most" if r.what == "loss" else "at least"
    mark = "" if r.stated else " (from the drawing)"
    digits = 2 if r.what == "loss" else 1
    return (
        name, f"{side} {r.limit:.{digits}f} dB{mark}", f"{r.now:.{digits}f} dB",
        f"{r.low:.{digits}f} to {r.high:.{digits}f} dB", f"{r.then:.{digits}f} dB",
    )  # fmt: skip


def part_lines(a: Alignment) -> list[str]:
    """All parts of the filter, drawn and as fitted."""
    from halfsplit.cli.show import table

    rows = [
        (p.ref, value(p.drawn, p.coil), value(p.now, p.coil), f"+- {100 * p.sigma / p.now:.1f} %",
         f"{100 * (p.now / p.drawn - 1):+.1f} %", "" if p.wanted is None else value(p.wanted, p.coil))
        for p in a.parts
    ]  # fmt: skip
    rows += [
        (p.ref, value(p.drawn, p.coil), value(p.now, p.coil), f"+- {100 * p.sigma / p.now:.1f} %",
         f"{100 * (p.now / p.drawn - 1):+.1f} %", "not adjusted")
        for p in a.fixed
    ]  # fmt: skip
    head = ("part", "drawn", "fitted", "1 sigma", "off", "wanted")
    return ["  " + row for row in table(head, rows).split("\n")]
