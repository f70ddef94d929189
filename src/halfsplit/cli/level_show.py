"""Levels and power as text for a person."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from halfsplit.cli.show import table, wrapped
from halfsplit.quantity import Dimension, format_value
from halfsplit.report.cautions import LIVE_POWER
from halfsplit.verdict import BandVerdict, LevelVerdict, Word
from halfsplit.verdict.records import SEVERITY

if TYPE_CHECKING:
    from halfsplit.jobs.level_intake import LevelAdded
    from halfsplit.jobs.level_plans import LevelPlan, PowerPlan, ReadPower

MARKS = {Word.OUTSIDE: "!!", Word.DOUBTFUL: " ?", Word.WITHIN: "ok", Word.CANNOT_TELL: " -"}


def added(items: Sequence[LevelAdded]) -> str:
    """halfsplit add, of watts, amps and volts."""
    lines = []
    for a in items:
        lines += [wrapped(f"{a.key}  {a.reading.understood}", "", "    "), wrapped(a.hookup_text, "    ")]
        lines += [wrapped(f"warning: {w}", "    ") for w in a.reading.warnings]
    return "\n".join([*lines, *cautions()])


def cautions() -> list[str]:
    """What to mind with the key down."""
    return ["", "Caution:", *(wrapped(c, "  ", "    ") for c in LIVE_POWER)]


def watts(x: float) -> str:
    """A power in three figures."""
    return format_value(x, Dimension.POWER, 3)


def figures(levels: Sequence[LevelVerdict]) -> list[str]:
    """Level figures in halfsplit judge, loudest first."""
    if not levels:
        return []
    order = sorted(levels, key=lambda v: (-SEVERITY[v.word], -abs(v.sigma)))
    lines = ["WATTS, AMPS AND VOLTS"]
    lines += [wrapped(f"{v.band}, {v.text} ({v.key})", f"  {MARKS[v.word]} ", "     ") for v in order]
    return [*lines, ""]


def loudest(levels: Sequence[LevelVerdict], band: BandVerdict) -> float:
    """Order of a band by its level figures, on the scale of `show.loudness`."""
    order = {Word.OUTSIDE: 3e6, Word.DOUBTFUL: 2e6, Word.CANNOT_TELL: 1e6, Word.WITHIN: 0.0}
    return max((order[v.word] + abs(v.sigma) for v in levels if v.band == band.band), default=0.0)


def assumptions(assumed: Sequence[str]) -> list[str]:
    """What the drawing does not say."""
    return ["", *(wrapped(x, "assumed: ", "         ") for x in assumed)] if assumed else []


def plan(p: LevelPlan) -> str:
    """halfsplit levels."""
    lines = [
        wrapped(f"{p.unit}: level plan with the key down into a rated dummy load; middle and 90 % of sound units"),
        "",
    ]
    rows = []
    for r in p.rows:
        read = ", ".join(f"{x:.1f} dBm ({k})" for k, x in r.read)
        volts = format_value(r.volts[1], Dimension.VOLTAGE, 3)
        span = f"{r.dbm[0]:.1f} to {r.dbm[2]:.1f}"
        peak = format_value(r.volts[1] * 2.0 * 2**0.5, Dimension.VOLTAGE, 3)
        rows.append(
            [r.band, r.point, f"{r.dbm[1]:.1f} dBm", span, f"{volts} rms", f"{peak} pp", f"on {r.ohm:g} ohm", read]
        )
    head = ["band", "point", "level", "from .. to", "volts", "peak to peak", "", "read"]
    return "\n".join([*lines, table(head, rows), *assumptions(p.assumed), *cautions()])


def power(p: PowerPlan) -> str:
    """halfsplit power."""
    lines = [wrapped(f"{p.unit}: key down into a rated dummy load; as drawn, 90 % of sound units in brackets"), ""]
    rows = []
    for b in p.bands:
        junction = "" if b.junction is None else format_value(b.junction, Dimension.TEMPERATURE, 3)
        out, amps = (f"{x[1]:.3g} {u} ({x[0]:.3g} to {x[2]:.3g})" for x, u in ((b.out, "W"), (b.amps, "A")))
        share, z = f"{100 * b.efficiency[1]:.0f} %", f"{b.z.real:.0f}{b.z.imag:+.0f}j ohm"
        rows.append([b.band, out, amps, share, watts(b.heat), junction, z, b.limited_by])
    head = ["band", "out", "amps", "efficiency", "heat", "junction", "presented", "limited by"]
    lines += [table(head, rows), ""]
    for b in p.bands:
        control = "" if b.by_control is None else f", level control {watts(b.by_control)}"
        text = (
            f"{b.band}: at the final stage, drive and gain would give {watts(b.by_drive)}, supply and load permit "
            f"{watts(b.by_supply)}{control}; the load costs {abs(b.load_db):.1f} dB against the best one, the path "
            f"{b.loss_db:.2f} dB"
        )
        lines.append(wrapped(text, "", "    "))
    best = f"Best load {p.best_ohm:.3g} ohm. Loads that cost no more than"
    said = [f"{c[0]:g} dB: {c[1]:.3g} to {c[2]:.3g} ohm, or up to {c[3]:.3g} ohm of reactance" for c in p.contour_ohm]
    lines += ["", wrapped(f"{best} {'; '.join(said)}.", "", "    ")]
    lines += ["", *(wrapped(look(r, p.most_junction), "", "    ") for r in p.read)] if p.read else []
    lines += ["", *(wrapped(x, "", "    ") for x in p.with_and_without)] if p.with_and_without else []
    return "\n".join([*lines, *assumptions(p.assumed), *cautions()])


def look(r: ReadPower, most: float | None) -> str:
    """What one look says about efficiency and heat."""
    text = (
        f"{r.key}, {r.band}: {watts(r.rf)} at {r.point} of {watts(r.dc)} in, {100 * r.efficiency:.0f} %; "
        f"{watts(r.heat)} of heat in the final stage"
    )
    if r.junction is not None:
        text += f", junction {format_value(r.junction, Dimension.TEMPERATURE, 3)} once it has settled"
        text += " - MORE THAN THE DATA SHEET ALLOWS: short looks only" if most is not None and r.junction > most else ""
    return text
