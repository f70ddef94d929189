"""The command replace, its text and its JSON object."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import JSON, main

if TYPE_CHECKING:
    from halfsplit.filters import PathFigure, PathFigures
    from halfsplit.jobs.replace import Choice, Replaced
    from halfsplit.parts.combine import Member

DIMENSIONS = {"capacitor": "CAPACITANCE", "coil": "INDUCTANCE", "resistor": "RESISTANCE"}
MARKS = {"within": "ok", "doubtful": "?", "outside": "!!", "no limit": "-"}
ASKED = (("peak_volts", "V peak"), ("rms_volts", "V rms"), ("amps", "A"), ("watts", "W"), ("va", "VA"))


@main.command("replace")
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("part")
@click.option("--stock", default=None, type=click.Path(path_type=Path),
              help="Table of what is there, TOML or CSV [preferred values of IEC 60063].")  # fmt: skip
@click.option("--series", default=None, type=click.Choice(["6", "12", "24", "48", "96", "192"]),
              help="Preferred values to take without a stock [24; 12 for coils].")  # fmt: skip
@click.option("--value", default=None, help="Value wanted, where it is not that of the drawing.")
@click.option("--tolerance", default=None, help='How near the value must be: "2 %" [that of the drawing, else 5 %].')
@click.option("--most", default=3, show_default=True, type=click.IntRange(1, 20),
              help="Combinations to show of one, of two and of three parts.")  # fmt: skip
@click.option("--power", default=None, help="Peak envelope power into a matched load [rated_power of the unit file].")
@click.option("--swr", default=3.0, show_default=True, help="Largest SWR of the load.")
@click.option("--held", default="forward", show_default=True, type=click.Choice(["forward", "drive", "delivered"]),
              help="What stays while the load changes, as for stress.")  # fmt: skip
@click.option("--source-ohm", default=None, help="With --held drive, as for stress.")
@JSON
@guarded
def replace(source: Path, part: str, as_json: bool, **given: Any) -> int:
    """What may stand in for PART: up to three stock parts, what each must stand, and what the path does with them.

    SOURCE is a job or a unit file.
    """
    from halfsplit.jobs.replace import ReplaceWish, kind_in, replace_part
    from halfsplit.jobs.stress import Wish
    from halfsplit.stress import Held

    value = None
    if given["value"] is not None:
        value = quantity("--value", given["value"], DIMENSIONS[kind_in(source, part)])
    at_power = Wish(
        None if given["power"] is None else quantity("--power", given["power"], "POWER"), given["swr"],
        Held(given["held"]),
        source_ohm=None if given["source_ohm"] is None else quantity("--source-ohm", given["source_ohm"], "RESISTANCE"),
    )  # fmt: skip
    found = replace_part(
        source,
        ReplaceWish(
            part, given["stock"], None if given["series"] is None else int(given["series"]), value,
            None if given["tolerance"] is None else quantity("--tolerance", given["tolerance"], "FRACTION"),
            given["most"], at_power,
        ),
    )  # fmt: skip
    put(shape(found), text(found), as_json)
    return 0


def text(found: Replaced) -> str:
    """halfsplit replace."""
    from halfsplit.cli.show import wrapped
    from halfsplit.report.cautions import CAUTIONS, DEFER

    lines = [wrapped(x, "", "  ") for x in (wanted_line(found), need_line(found), q_line(found)) if x]
    several = f"{found.counted} combinations" if found.counted != 1 else "One combination"
    counted = f"{several} of {found.source} within tolerance"
    if found.case is not None:
        counted += f", {found.standing} of them stand what is printed" if found.standing < found.counted else ""
    lines += ["", f"{counted}:", choice_table(found), "", *figure_tables(found)]
    if found.drawn:
        lines[-1] = "In brackets: what 19 of 20 sound units keep to. ok, ? and !! against the stated limit."
    lines += [wrapped(x, "", "  ") for x in found.notes]
    return "\n".join([*lines, wrapped(f"Caution: {CAUTIONS[0]} {CAUTIONS[1]} {DEFER}", "", "  ")])


def value_text(found: Replaced, value: float) -> str:
    """A value of the part's kind with its unit."""
    from halfsplit.quantity import Dimension, format_value

    return format_value(value, Dimension[DIMENSIONS[found.part.kind.value]])


def wanted_line(found: Replaced) -> str:
    """What is wanted."""
    bands = ", ".join(f.band for f in found.drawn)
    kind = found.part.dielectric or ""
    rating = "" if found.part.rating is None else f", {found.part.rating} printed"
    return (
        f"{found.part.ref} of {found.unit}: {value_text(found, found.wanted)} +-{100 * found.tolerance:g} % {kind} "
        f"{found.part.kind.value}{rating}; on {bands or 'no band'}"
    )


def need_line(found: Replaced) -> str:
    """What it must stand."""
    if found.case is None:
        return ""
    figures = ", ".join(f"{getattr(found.needs, n):.3g} {w}" for n, w in ASKED)
    return (
        f"It must stand (19 of 20 sound units at {found.case.watts:g} W, SWR up to {found.case.swr:g}, "
        f"{found.case.held.value} held): {figures}"
    )


def q_line(found: Replaced) -> str:
    """How good it must be."""
    q = found.q
    if q is None:
        return ""
    if q.q is None:
        return f"Q: even a lossless part does not keep {q.because} on {q.band}; the other parts take it all."
    heat = "" if q.watts is None else f"; at that Q it gets {q.watts:.2g} W"
    said = f"Q of {q.q:.0f} or more: {q.because}, on {q.band}{heat}."
    if found.suited:
        said += f" Dielectrics: {', '.join(d.name for d in found.suited)} (usual Q; of ceramics C0G only)"
        said += f"; not {', '.join(d.name for d in found.unsuited)}." if found.unsuited else "."
    return said


def choice_table(found: Replaced) -> str:
    """The combinations, fewest parts first."""
    from halfsplit.cli.show import table
    from halfsplit.jobs.replace import words

    head = ("", "combination", "value", "off", "its parts", "Q", "rating used", "each gets")
    rows = []
    for n, c in enumerate(found.choices, 1):
        x = c.combination
        used = "not printed" if x.use is None else f"{100 * x.use:.0f} %"
        each = "; ".join(member_text(found, m) for m in x.members) if found.case is not None else ""
        rows.append((
            str(n), words(x), value_text(found, x.value), signed(100 * x.off),
            "" if x.tolerance is None else f"+-{100 * x.tolerance:.1f} %", "" if x.q is None else f"{x.q:.0f}", used,
            each,
        ))  # fmt: skip
    return table(head, rows)


def signed(percent: float) -> str:
    """A deviation; one that rounds to nothing has no sign."""
    return "0.00 %" if abs(percent) < 0.005 else f"{percent:+.2f} %"


def member_text(found: Replaced, m: Member) -> str:
    """What one part of a combination gets."""
    return f"{found.needs.peak_volts * m.volts:.3g} V pk {found.needs.amps * m.amps:.2g} A"


def figure_tables(found: Replaced) -> list[str]:
    """What the path does, a table for each band: as drawn, and with each combination."""
    from halfsplit.cli.show import table

    lines = []
    for k, drawn in enumerate(found.drawn):
        head = (f"path on {drawn.band}", *(figure_name(f) for f in drawn.figures))
        rows = [("as drawn", *(figure_text(f) for f in drawn.figures))]
        rows += [(f"with {n}", *(figure_text(f) for f in c.figures[k].figures)) for n, c in enumerate(found.choices, 1)]
        lines += [table(head, rows), ""]
    return lines


def figure_name(f: PathFigure) -> str:
    """What a column of the table shows, with its limit."""
    name = f.what if f.times is None else f"attenuation x{f.times:g}"
    limit = "" if f.limit is None else f", {'at most' if f.what == 'loss' else 'at least'} {f.limit:g}"
    return f"{name}, dB{limit}"


def figure_text(f: PathFigure) -> str:
    """One figure, that of 19 of 20 sound units behind it, and how it stands."""
    digits = 2 if f.what == "loss" else 1
    mark = "" if f.limit is None else f" {MARKS[f.standing.value]}"
    return f"{f.worst:.{digits}f} ({f.far:.{digits}f}){mark}"


def shape(found: Replaced) -> dict[str, Any]:
    """halfsplit replace --json."""
    from halfsplit.cli.shape import plain_object
    from halfsplit.cli.stress import case_shape

    q = found.q
    return plain_object(
        unit=found.unit, part=found.part.ref, kind=found.part.kind.value, wanted=found.wanted,
        tolerance=found.tolerance, stock=found.source, case=None if found.case is None else case_shape(found.case),
        needs=None if found.case is None else {n: getattr(found.needs, n) for n, _ in ASKED},
        q=None if q is None else {"band": q.band, "least": q.q, "keeps": q.because, "watts": q.watts},
        dielectrics={"suited": [d.name for d in found.suited], "unsuited": [d.name for d in found.unsuited]},
        counted=found.counted, standing=found.standing, drawn=[figures_shape(x) for x in found.drawn],
        choices=[choice_shape(c) for c in found.choices], notes=list(found.notes),
    )  # fmt: skip


def choice_shape(c: Choice) -> dict[str, Any]:
    """One combination."""
    from halfsplit.jobs.replace import words

    x = c.combination
    return {
        "combination": words(x), "value": x.value, "off": x.off, "tolerance": x.tolerance, "q": x.q, "use": x.use,
        "parts": [
            {"value": m.part.value, "rating": m.part.rating, "dielectric": m.part.dielectric, "volts_share": m.volts,
             "amps_share": m.amps, "use": m.use, "use_of": m.use_of or None, "note": m.part.note}
            for m in x.members
        ],
        "figures": [figures_shape(f) for f in c.figures],
    }  # fmt: skip


def figures_shape(p: PathFigures) -> dict[str, Any]:
    """Figures of one band."""
    return {
        "band": p.band,
        "figures": [
            {"what": f.what, "times": f.times, "worst_db": f.worst, "at_hz": f.f, "far_db": f.far, "limit_db": f.limit,
             "word": f.standing.value}
            for f in p.figures
        ],
    }  # fmt: skip
