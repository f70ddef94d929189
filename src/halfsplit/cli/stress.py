"""The command stress, its text and its JSON object."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import guarded, put, quantity
from halfsplit.cli.door import JSON, main

if TYPE_CHECKING:
    from halfsplit.jobs.stress import Stressed
    from halfsplit.stress import Balance, BandStress, Case, PlaceStress, Worst

SHOWN = 12
QUANTITIES = ("peak_volts", "rms_volts", "amps", "watts", "va")
WORDS = {"peak_volts": "V peak", "rms_volts": "V rms", "amps": "A", "watts": "W", "va": "VA"}
MARKS = {"within": "ok", "doubtful": "?", "outside": "!!"}


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.option("--band", "bands", multiple=True, help="Band to look at; repeat. All bands if left out.")
@click.option("--power", default=None, help="Peak envelope power into a matched load [rated_power of the unit file].")
@click.option("--swr", default=3.0, show_default=True, help="Largest SWR of the load; its angle is the worst there is.")
@click.option("--held", default="forward", show_default=True, type=click.Choice(["forward", "drive", "delivered"]),
              help="What stays while the load changes: forward power (level control works), drive (it is blind), or "
              "the power that the load takes.")  # fmt: skip
@click.option("--source-ohm", default=None, help="With --held drive: what the last stage looks like from its load "
              "[output_impedance of the unit file].")  # fmt: skip
@click.option("--two-tone", is_flag=True, help="Two equal tones of that peak envelope power instead of a carrier.")
@click.option("--all", "everything", is_flag=True, help="Every place in the text, not the twelve that count most.")
@JSON
@guarded
def stress(
    source: Path, bands: tuple[str, ...], power: str | None, swr: float, held: str, source_ohm: str | None,
    two_tone: bool, everything: bool, as_json: bool,
) -> int:  # fmt: skip
    """Volts, amps, watts and VA of every part at power, worst over the band and over every load up to an SWR.

    SOURCE is a job or a unit file. Parts nearest to what is printed on them come first.
    """
    from halfsplit.jobs.stress import Wish
    from halfsplit.jobs.stress import stress as job
    from halfsplit.stress import Held, Signal

    wish = Wish(
        None if power is None else quantity("--power", power, "POWER"),
        swr,
        Held(held),
        Signal.TWO_TONE if two_tone else Signal.CARRIER,
        None if source_ohm is None else quantity("--source-ohm", source_ohm, "RESISTANCE"),
    )
    found = job(source, bands, wish)
    put(shape(found), text(found, everything), as_json)
    return 0


def text(found: Stressed, everything: bool) -> str:
    """halfsplit stress."""
    from halfsplit.cli.show import wrapped
    from halfsplit.report.cautions import CAUTIONS, DEFER

    c = found.case
    kind = "a carrier" if c.signal.value == "carrier" else "two tones, peak envelope"
    load = "into a matched load" if c.swr == 1.0 else f"into any load up to SWR {c.swr:g}, at the worst angle"
    lines = [wrapped(f"{found.unit} at {c.watts:g} W ({kind}) {load}; upper figures: 19 of 20 sound units stay below.")]
    for band in found.bands:
        lines += ["", *band_lines(band, everything)]
    lines.append("")
    lines += [wrapped(n, "", "  ") for n in found.notes]
    return "\n".join([*lines, wrapped(f"Caution: {CAUTIONS[1]} {DEFER}", "", "  ")])


def band_lines(band: BandStress, everything: bool) -> list[str]:
    """One band: its places as a table, and the power balance."""
    from halfsplit.cli.show import table, wrapped

    name = "" if band.filter is None else f", {band.filter}"
    head = ("", "place", "V peak", "(matched, upper)", "V rms", "A rms", "W", "VA", "worst at", "load, ohm", "rating")
    parts = [p for p in band.places if p.sort.value != "point"]
    shown = parts if everything else parts[:SHOWN]
    rows = [row(p) for p in shown]
    lines = [f"{band.band} ({band.low / 1e6:g}-{band.high / 1e6:g} MHz{name})", table(head, rows)]
    if len(shown) < len(parts):
        lines.append(f"  and {len(parts) - len(shown)} more places: --all")
    points = [p for p in band.places if p.sort.value == "point" and p.peak_volts is not None]
    volts = ", ".join(f"{p.place} {p.peak_volts.value:.0f} V" for p in points if p.peak_volts is not None)
    lines.append(wrapped(f"points, V peak: {volts}", "  ", "    "))
    return [*lines, wrapped(balance_line(band.balance), "  ", "    ")]


def balance_line(b: Balance) -> str:
    """The power balance in words."""
    return (
        f"balance into a matched load at {b.f / 1e6:.4g} MHz: {b.taken:.2f} W in = {b.load:.2f} W to the load + "
        f"{b.lost:.2f} W lost; it closes to {b.error:.0e} over the band and the angles"
    )


def row(p: PlaceStress) -> Sequence[str]:
    """One place as cells of the table."""
    where = p.va or p.watts or p.peak_volts or p.amps
    volts = p.peak_volts
    return (
        MARKS[p.uses[0].margin.value] if p.uses else "-",
        p.place,
        "" if volts is None else short(volts.value),
        "" if volts is None else f"({short(volts.matched)}, {short(volts.high)})",
        *("" if w is None else short(w.value) for w in (p.rms_volts, p.amps, p.watts, p.va)),
        "" if where is None else f"{where.f / 1e6:.4g} MHz",
        "" if where is None else ohms(where.load),
        rating(p),
    )


def rating(p: PlaceStress) -> str:
    """What is printed, and how much of it is used."""
    if p.rating is None:
        return "none printed"
    if not p.uses:
        return f"{p.rating}: not compared"
    worst = p.uses[0]
    more = f", {100 * worst.high / worst.limit:.0f} % upper" if worst.margin.value == "doubtful" else ""
    return f"{100 * worst.share:.0f} % of {p.rating} ({WORDS[worst.quantity]}{more})"


def short(value: float) -> str:
    """Three digits, no power of ten."""
    return f"{value:.0f}" if value >= 99.5 else f"{value:.1f}" if value >= 9.95 else f"{value:.2f}"


def ohms(z: complex) -> str:
    """A load in words."""
    if abs(z.imag) < 0.05 * abs(z.real):
        return f"{z.real:.0f}"
    return f"{z.real:.0f} {'+' if z.imag > 0 else '-'} j{abs(z.imag):.0f}"


def shape(found: Stressed) -> dict[str, Any]:
    """halfsplit stress --json."""
    from halfsplit.cli.shape import plain_object

    return plain_object(
        unit=found.unit, case=case_shape(found.case), bands=[band_shape(b) for b in found.bands],
        notes=list(found.notes),
    )  # fmt: skip


def case_shape(c: Case) -> dict[str, Any]:
    """What the unit was asked to do."""
    return {
        "watts": c.watts, "swr": c.swr, "held": c.held.value, "signal": c.signal.value, "source_ohm": c.source_ohm,
    }  # fmt: skip


def band_shape(b: BandStress) -> dict[str, Any]:
    """One band."""
    return {
        "band": b.band, "low_hz": b.low, "high_hz": b.high, "filter": b.filter,
        "places": [place_shape(p) for p in b.places],
        "balance": {
            "at_hz": b.balance.f, "taken_watts": b.balance.taken, "load_watts": b.balance.load,
            "lost_watts": b.balance.lost, "error": b.balance.error,
        },
    }  # fmt: skip


def place_shape(p: PlaceStress) -> dict[str, Any]:
    """One place."""
    return {
        "place": p.place, "kind": p.sort.value, "rating": p.rating,
        **{name: worst_shape(getattr(p, name)) for name in QUANTITIES},
        "uses": [
            {"quantity": u.quantity, "limit": u.limit, "value": u.value, "upper": u.high, "share": u.share,
             "word": u.margin.value}
            for u in p.uses
        ],
    }  # fmt: skip


def worst_shape(w: Worst | None) -> dict[str, Any] | None:
    """One figure with where it lies."""
    if w is None:
        return None
    return {
        "worst": w.value, "at_hz": w.f, "load_ohm": [w.load.real, w.load.imag], "matched": w.matched, "upper": w.high,
    }  # fmt: skip
