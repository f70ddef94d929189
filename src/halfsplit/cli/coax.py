"""The verb `cable`: what a sweep says about a piece of coax, or what the coax of a unit does on its bands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from halfsplit.cli.common import answering, answers_of, guarded, put, quantity
from halfsplit.cli.door import JSON, main

if TYPE_CHECKING:
    from halfsplit.cables import BandEffect, CableFacts, StubEffect

C0 = 299_792_458.0


@main.command()
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--type", "kind", default=None, help="Its type in the table, as RG-58: velocity factor and loss to compare."
)
@click.option("--length", default=None, help='Its length, "12.3 m": then the velocity factor is worked out.')
@click.option("--velocity-factor", type=float, default=None, help="A bare number up to 1, in place of the type's.")
@click.option(
    "--permittivity", type=float, default=None, help="Of its dielectric, in place of a velocity factor: 2.26."
)
@click.option("--end", default=None, type=click.Choice(["open", "short", "resistor"]), help="What is at its far end.")
@click.option("--as", "way", default=None, type=click.Choice(["one-port", "through", "across"]),
              help="How it was swept: its reflection; through it; through a line that it hangs across.")  # fmt: skip
@answering
@JSON
@guarded
def cable(
    source: Path, kind: str | None, length: str | None, velocity_factor: float | None, permittivity: float | None,
    end: str | None, way: str | None, as_json: bool, **rest: Any,
) -> int:  # fmt: skip
    """A piece of coax from a sweep: length, loss, impedance, open, short or damage.

    SOURCE is a sweep; or a unit file or a job, for what its coax does on each band, in place and left hanging.
    """
    from halfsplit.jobs import coax

    if coax.holds_unit(source):
        found = coax.coax_of(source)
        put({"schema": 1, "cables": [stub_shape(e) for e in found]}, "\n\n".join(stub_text(e) for e in found), as_json)
        return 0
    if permittivity is not None:
        velocity_factor = coax.factor_of(permittivity, velocity_factor)
    metres = None if length is None else quantity("--length", length, "LENGTH")
    facts = coax.cable(source, coax.wish_of(kind, velocity_factor, metres, end, way), answers_of(rest))
    put(facts_shape(facts), facts_text(facts), as_json)
    return 0


def stub_shape(e: StubEffect) -> dict[str, Any]:
    """A coax of the unit as an object of --json."""
    out = asdict(e)
    for band in out["bands"]:
        keys = ("times", "open_db", "short_db")
        band["harmonics"] = [dict(zip(keys, row, strict=True)) for row in band["harmonics"]]
    return out


def facts_shape(facts: CableFacts) -> dict[str, Any]:
    """The object of --json."""
    from halfsplit.cli.shape import plain

    out = asdict(facts)
    out["loss"] = loss_rows(facts.loss)
    if facts.fit is not None:
        out["fit"]["loss"] = loss_rows(facts.fit.loss)
    out["stub"] = [{"end": e, "quarter_hz": hz, "misfit": miss} for e, hz, miss in facts.stub]
    if facts.table is not None:
        keys = ("hz", "measured", "sigma", "listed")
        out["table"]["rows"] = [dict(zip(keys, row, strict=True)) for row in facts.table.rows]
    return {"schema": 1, **plain(out)}


def loss_rows(rows: Sequence[tuple[float, float, float]]) -> list[dict[str, float]]:
    """Loss as objects."""
    return [{"hz": hz, "db": db, "sigma": sigma} for hz, db, sigma in rows]


def facts_text(facts: CableFacts) -> str:
    """A piece of coax in lines: what is wrong first, then the figures."""
    from halfsplit.cli.show import wrapped

    lines = [f"{facts.name}: {facts.points} points from {facts.low / 1e6:g} to {facts.high / 1e6:g} MHz"]
    lines += [wrapped(v, "  ", "     ") for v in facts.verdicts]
    lines += [wrapped(f"cannot tell {c}", "  ", "     ") for c in facts.cannot]
    lines += ["", *length_lines(facts)]
    if facts.fit is not None:
        fit = facts.fit
        lines.append(f"impedance          {fit.z0.value:.2f} ohm +- {fit.z0.sigma:.2f}")
    lines += loss_lines(facts)
    lines += echo_lines(facts)
    return "\n".join(line.rstrip() for line in lines)


def length_lines(facts: CableFacts) -> list[str]:
    """Delay and lengths."""
    lines = []
    if facts.electrical_metres is not None:
        x = facts.electrical_metres
        lines.append(f"delay, one way     {x.value / C0 * 1e9:.3f} ns +- {x.sigma / C0 * 1e9:.3f}")
        lines.append(f"electrical length  {x.value:.3f} m of air")
        lines.append(f"quarter wave at    {0.25 * C0 / x.value / 1e6:.4g} MHz")
    if facts.metres is not None and facts.velocity_factor is not None:
        lines.append(
            f"length             {facts.metres.value:.3f} m +- {facts.metres.sigma:.3f} at velocity factor "
            f"{facts.velocity_factor.value:.3f}"
        )
    for end, hz, _ in facts.stub:
        lines.append(f"as a hanging line  a quarter wave at {hz / 1e6:.4g} MHz, far end {end.value}")
    return lines


def loss_lines(facts: CableFacts) -> list[str]:
    """Loss one way, beside the table where there is one."""
    rows = facts.fit.loss if facts.fit is not None else facts.loss
    if not rows:
        return []
    lines = ["loss, one way"]
    per = {} if facts.table is None else {r[0]: r for r in facts.table.rows}
    for hz, db, sigma in rows:
        text = f"  {hz / 1e6:8g} MHz  {db:.3f} dB +- {sigma:.3f}"
        if hz in per:
            assert facts.table is not None
            text += f"   {per[hz][1]:.2f} dB per 100 m, table of {facts.table.type} {per[hz][3]:.2f}"
        lines.append(text)
    return lines


def echo_lines(facts: CableFacts) -> list[str]:
    """Echoes by distance, and what the sweep can resolve."""
    if not facts.window:
        return []
    unit = "m" if facts.velocity_factor is not None else "m of air"
    lines = [f"echoes ({facts.window})"]
    for e in facts.echoes:
        at = f"{e.metres:.2f} m" if e.metres is not None else f"{0.5 * e.round_trip * C0:.2f} m of air"
        lines.append(f"  {at:>16}  reflects {e.reflection:+.3f}{'  the far end' if e.end else ''}")
    if facts.resolution is not None and facts.limit is not None:
        lines.append(
            f"  two places closer than {facts.resolution:.2f} {unit} look like one; beyond {facts.limit:.1f} {unit} "
            "the picture folds back"
        )
    return lines


def stub_text(e: StubEffect) -> str:
    """A coax of the unit on its bands."""
    from halfsplit.cli.show import table, wrapped

    head = f"{e.ref}: {e.type or 'coax'} {e.metres * 1e3:.0f} mm, {e.z0:g} ohm, {e.delay * 1e9:.3f} ns; {e.text}"
    return "\n".join([wrapped(head, "", "    "), *("  " + line for line in table(HEAD, rows_of(e.bands)).split("\n"))])


HEAD = ("band", "turn", "loss", "hanging open", "hanging shorted", "open at 2x 3x 4x 5x")


def rows_of(bands: Sequence[BandEffect]) -> list[tuple[str, ...]]:
    """One row for each band."""
    return [
        (
            b.band, f"{b.degrees:.1f} deg", f"{b.loss_db:.3f} dB", f"{b.open_db:.2f} dB", f"{b.short_db:.1f} dB",
            " ".join(f"{o:.1f}" for _, o, _ in b.harmonics),
        )
        for b in bands
    ]  # fmt: skip
