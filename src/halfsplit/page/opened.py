"""A station of the strip, opened: its parts as a ladder, what was read there, what is believed of it."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from halfsplit.jobs import JobData
from halfsplit.page.ladder import both_ways
from halfsplit.parts import Part
from halfsplit.report.ladder import value_of
from halfsplit.report.standing import Stand, names_of, sits_at, stand
from halfsplit.report.strip import Station
from halfsplit.unit import Band, Unit
from halfsplit.verdict import Verdict


@dataclass(frozen=True, slots=True)
class Opened:
    """One station. drawing : its ladder, empty where it has none; parts : (designator, value, standing)

    ties : verdicts of readings that were driven or read here, with which of the two; suspects : (cause, probability)
    """

    station: Station
    drawing: Markup
    parts: tuple[tuple[str, str, Stand], ...]
    ties: tuple[tuple[str, Verdict], ...]
    suspects: tuple[tuple[str, float], ...]
    facts: tuple[tuple[str, str], ...]


def opened(unit: Unit, band: Band, one: Station | None, data: JobData | None) -> Opened | None:
    """What opens when a station is pressed; None where none is."""
    if one is None:
        return None
    ranking = None if data is None else data.ranking
    parts = parts_of(unit, one.name)
    chosen = next((f for f in unit.filters if f.name == one.name), None)
    earths = () if chosen is None else tuple(r.ground for r in chosen.rungs if r.ground)
    stands = {name: stand((name,), ranking) for name in (*(p.ref for p in parts), *earths)}
    drawing = Markup("") if chosen is None else both_ways(chosen, stands if ranking is not None else {})
    rows = tuple((p.ref, value_of(p), stands[p.ref]) for p in parts)
    return Opened(one, drawing, rows, tied(one, band, data), causes(unit, one.name, data), facts(unit, band, one))


def parts_of(unit: Unit, name: str) -> tuple[Part, ...]:
    """The parts of a filter or block; none of anything else."""
    for chosen in unit.filters:
        if chosen.name == name:
            return chosen.parts
    for block in unit.blocks:
        if block.name == name:
            return tuple(b.part for b in block.branches)
    return ()


def tied(one: Station, band: Band, data: JobData | None) -> tuple[tuple[str, Verdict], ...]:
    """The readings of this band that were driven or read at a point."""
    if data is None or not one.point:
        return ()
    out = []
    for v in data.verdicts:
        hookup = next((o.hookup for o in data.job.observations if o.key == v.key and o.what is v.what), None)
        if v.band != band.name or hookup is None or one.name not in (hookup.drive, hookup.read):
            continue
        out.append(("driven here" if one.name == hookup.drive else "read here", v))
    return tuple(out)


def causes(unit: Unit, name: str, data: JobData | None) -> tuple[tuple[str, float], ...]:
    """The causes that sit here, by falling probability."""
    if data is None or data.ranking is None:
        return ()
    names = names_of(unit, name)
    found = [c for g in data.ranking.groups for c in g.causes if any(sits_at(c.place, n) for n in names)]
    found.sort(key=lambda c: -c.probability)
    return tuple((c.text, c.probability) for c in found if c.probability >= 0.005)[:6]


def facts(unit: Unit, band: Band, one: Station) -> tuple[tuple[str, str], ...]:
    """What the drawing says of a stage, cable or relay, as (word, value)."""
    out: list[tuple[str, str]] = []
    for stage in unit.stages:
        if stage.name == one.name:
            gains = [(g, t) for b, g, t in stage.gain if b in (band.name, "all")]
            out += [("output", f"{stage.output_watts:g} W")] if stage.output_watts is not None else []
            out += [(f"gain on {band.name}", f"{g:g} dB" + (f" \u00b1 {t:g} dB" if t else "")) for g, t in gains]
    for cable in unit.cables:
        if cable.ref == one.name:
            out.append(("coax", f"{cable.type or 'coax'}, {cable.z0:g} ohm, {1e3 * cable.length:.0f} mm"))
            out.append(("velocity factor", f"{cable.velocity_factor:g}"))
    for relay in unit.relays:
        if relay.name == one.name:
            out.append(("contact closed when", relay.closed_when))
            out += [("contact", f"{1e3 * relay.contact_ohm:g} mohm")] if relay.contact_ohm is not None else []
            out += [("open", f"{1e12 * relay.open_capacitance:g} pF")] if relay.open_capacitance is not None else []
    return tuple(out)
