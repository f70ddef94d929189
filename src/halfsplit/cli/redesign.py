"""The verbs `recognise` and `design`: what a filter of the drawing is, and one for a wish."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import JSON, main

if TYPE_CHECKING:
    from halfsplit.filters import Design, Figures, FilterFacts, Wish, Yield
    from halfsplit.jobs.redesign import Designed, Drawn

CAUTION = (
    "Caution: volts, amps and watts in the parts are not checked here; see `halfsplit stress`. Emission limits: local "
    "rules and your licence decide."
)


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.argument("name", required=False)
@JSON
@guarded
def recognise(source: Path, name: str | None, as_json: bool) -> int:
    """What each filter of a unit file or job is: family, order, ripple, edge, how far each part is from the ideal.

    NAME: one filter of it. A ladder of no family is called that.
    """
    from halfsplit.jobs import redesign

    found = redesign.recognise(source, name)
    put(facts_shape(found), "\n\n".join(facts_text(f) for f in found), as_json)
    return 0


def facts_shape(found: Sequence[FilterFacts]) -> dict[str, Any]:
    """The object of --json."""
    from halfsplit.cli.shape import plain

    return {"schema": 1, "filters": [plain(asdict(f)) for f in found]}


def facts_text(facts: FilterFacts) -> str:
    """A filter in lines."""
    from halfsplit.cli.show import filter_lines

    return "\n".join(filter_lines(facts))


@main.command()
@click.option("--band", required=True, help='The served band: "7.0-7.3 MHz".')
@click.option("--harmonic", "wants", multiple=True, required=True,
              help='Least attenuation at a multiple of all of the band: "2=45 dB". Repeat.')  # fmt: skip
@click.option("--return-loss", default="20 dB", show_default=True, help="Least in the band.")
@click.option("--loss", default=None, help='Most in the band: "0.4 dB".')
@click.option("--ohm", default="50 ohm", show_default=True, help="At both ends.")
@click.option("--order", default=None, type=click.IntRange(2, 11), help="Number of arms [3, 5, 7 or 9, as few as do].")
@click.option("--first", default="shunt", show_default=True, type=click.Choice(["shunt", "series"]),
              help="What the ladder begins with.")  # fmt: skip
@click.option("--series", "e_series", default="24", show_default=True, type=click.Choice(["6", "12", "24", "96"]),
              help="Series of the capacitors (IEC 60063).")  # fmt: skip
@click.option("--coil-q", default=130.0, show_default=True, type=click.FloatRange(10, 2000), help="Q of the coils.")
@click.option(
    "--capacitor-q", default=1000.0, show_default=True, type=click.FloatRange(50, 1e5), help="Of the capacitors."
)
@click.option("--tolerance", default="5 %", show_default=True, help="Of the capacitors.")
@click.option("--coil-tolerance", default="5 %", show_default=True, help="Of the coils as wound and measured.")
@click.option("--share", default="80 %", show_default=True, help="Of a lot that is to meet all of the wish.")
@click.option(
    "--draws", default=2000, show_default=True, type=click.IntRange(100, 100000), help="Size of the sampled lot."
)
@click.option(
    "--compare", default=None, type=click.Path(path_type=Path), help="A unit file or job: hold its filter beside it."
)
@click.option("--filter", "name", default=None, help="With --compare: the filter [the one of the band that it covers].")
@JSON
@guarded
def design(as_json: bool, **rest: Any) -> int:
    """A low-pass for a served band: family, stock values, loss, and how many of a lot will do; beside the drawing."""
    from halfsplit.jobs import redesign

    found = redesign.design(wish_of(rest), rest["draws"], rest["compare"], rest["name"])
    put(design_shape(found), design_text(found), as_json)
    return 0


def wish_of(rest: dict[str, Any]) -> Wish:
    """The wish as typed. raises InputError with every mistake"""
    from halfsplit.errors import InputError, Mistake
    from halfsplit.filters import Wish

    mistakes: list[Mistake] = []

    def read(option: str, text: str, dimension: str) -> float:
        try:
            return quantity(option, text, dimension)
        except InputError as error:
            mistakes.extend(error.mistakes)
            return 1.0

    low, high = band_of(rest["band"], mistakes)
    stops = tuple(stop_of(text, mistakes) for text in rest["wants"])
    found = Wish(
        low, high, tuple(sorted(stops)), read("--return-loss", rest["return_loss"], "DECIBEL"),
        None if rest["loss"] is None else read("--loss", rest["loss"], "DECIBEL"),
        read("--ohm", rest["ohm"], "RESISTANCE"),
        rest["coil_q"], rest["capacitor_q"], read("--coil-tolerance", rest["coil_tolerance"], "FRACTION"),
        read("--tolerance", rest["tolerance"], "FRACTION"), int(rest["e_series"]), rest["order"], rest["first"],
        read("--share", rest["share"], "FRACTION"),
    )  # fmt: skip
    if not 0 < found.return_loss < 60:
        mistakes.append(Mistake("--return-loss", f"{found.return_loss:g} dB", "above 0 and below 60 dB"))
    if mistakes:
        raise InputError(*mistakes)
    return found


def band_of(text: str, mistakes: list[Any]) -> tuple[float, float]:
    """The two ends of a band: "7.0-7.3 MHz", "7 MHz to 7.3 MHz"."""
    import re

    from halfsplit.errors import InputError, Mistake

    ends = re.split(r"\s+to\s+|\s*[-\u2013]\s*", text.strip())
    if len(ends) == 2:
        unit = re.search(r"[a-zA-Z]+$", ends[1])
        if unit and not re.search(r"[a-zA-Z]$", ends[0]):
            ends[0] += f" {unit.group()}"
        try:
            low, high = (quantity("--band", end, "FREQUENCY") for end in ends)
        except InputError as error:
            mistakes.extend(error.mistakes)
            return 1.0, 2.0
        if 0 < low <= high:
            return low, high
    mistakes.append(Mistake("--band", repr(text), 'both ends, the lower first: "7.0-7.3 MHz"'))
    return 1.0, 2.0


def stop_of(text: str, mistakes: list[Any]) -> tuple[float, float]:
    """One wish for a harmonic: "2=45 dB"."""
    from halfsplit.errors import InputError, Mistake

    times, mark, level = text.partition("=")
    try:
        found = float(times), quantity("--harmonic", level, "DECIBEL")
    except (ValueError, InputError):
        found = 0.0, 0.0
    if not mark or not 1.1 <= found[0] <= 20 or found[1] <= 0:
        mistakes.append(Mistake("--harmonic", repr(text), 'a multiple from 1.1 and an attenuation: "2=45 dB"'))
        return 2.0, 1.0
    return found


def design_shape(found: Designed) -> dict[str, Any]:
    """The object of --json."""
    from halfsplit.cli.shape import plain

    wish = asdict(found.wish)
    wish["stops"] = [{"times": t, "db": db} for t, db in found.wish.stops]
    return {
        "schema": 1,
        "wish": wish,
        "designs": [plain(one_shape(d)) for d in found.designs],
        "drawn": None if found.drawn is None else plain(drawn_shape(found.drawn)),
    }


def one_shape(d: Design) -> dict[str, Any]:
    """One design."""
    stock = dict(d.made_up)
    return {
        "family": d.family.value, "order": d.order, "edge": d.edge, "ripple_db": d.ripple_db, "count": d.count,
        "parts": [
            {"ref": p.ref, "kind": p.kind.value, "value": p.value, "ideal": i, "made_up": list(stock.get(p.ref, ()))}
            for p, i in zip(d.filter.parts, d.ideal, strict=True)
        ],
        "figures": asdict(d.figures), "lot": None if d.lot is None else asdict(d.lot),
    }  # fmt: skip


def drawn_shape(d: Drawn) -> dict[str, Any]:
    """The filter of the drawing against the same wish."""
    return {"name": d.name, "figures": asdict(d.figures), "lot": asdict(d.lot), "meets": d.meets}


def design_text(found: Designed) -> str:
    """Designs as lines, the best first."""
    from halfsplit.cli.show import wrapped

    w = found.wish
    stops = ", ".join(f"{db:g} dB at {t:g} times" for t, db in w.stops)
    lines = [wrapped(f"low-pass for {w.low / 1e6:g} to {w.high / 1e6:g} MHz, {w.ohm:g} ohm: {stops}, return loss "
                     f"{w.return_loss:g} dB")]  # fmt: skip
    for n, d in enumerate(found.designs, 1):
        lines += ["", *one_text(n, d, w)]
    if found.drawn is not None:
        own = found.drawn
        verdict = "meets the wish" if own.meets else "does not meet the wish"
        lines += ["", f"drawn, {own.name}: {verdict}", *figure_lines(own.figures, w, own.lot)]
    return "\n".join([*lines, "", wrapped(CAUTION)])


def one_text(n: int, d: Design, w: Wish) -> list[str]:
    """One design: what it is, its parts, its figures."""
    from halfsplit.cli.show import wrapped
    from halfsplit.quantity import Dimension, format_value

    ripple = "" if d.ripple_db is None else f", ripple {d.ripple_db:.3f} dB"
    lines = [f"{n}. {d.family.value}, order {d.order}, edge {d.edge / 1e6:.3f} MHz{ripple}, {d.count} parts"]
    stock = dict(d.made_up)
    each = []
    for p in d.filter.parts:
        coil = p.ref not in stock
        total = format_value(p.value or 0.0, Dimension.INDUCTANCE if coil else Dimension.CAPACITANCE, 3)
        several = stock.get(p.ref, ())
        how = " + ".join(format_value(v, Dimension.CAPACITANCE, 3) for v in several)
        each.append(f"{p.ref} {total}" if len(several) < 2 else f"{p.ref} {total} ({how})")
    lines.append(wrapped(", ".join(each), "   "))
    assert d.lot is not None
    return [*lines, *figure_lines(d.figures, w, d.lot)]


def figure_lines(have: Figures, w: Wish, lot: Yield) -> list[str]:
    """Figures of a filter, nominal and what 95 % of a lot reach."""
    low = lot.low
    stops = ", ".join(
        f"{t:g} x {a:.1f} dB ({b:.1f})" for (t, _), a, b in zip(w.stops, have.stops, low.stops, strict=True)
    )
    return [
        f"   loss {have.loss:.2f} dB ({low.loss:.2f}), return loss {have.return_loss:.1f} dB ({low.return_loss:.1f}), "
        + stops,
        f"   in brackets what 95 of 100 reach; {100 * lot.all:.1f} % of a lot of {lot.draws} meet the whole wish",
    ]
