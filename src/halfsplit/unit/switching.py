"""Relays operated and switch positions set on a band: said by the file, or deduced from the filter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from halfsplit.unit.keys import one_of
from halfsplit.unit.records import Band, Filter, Relay, Switch, Unit
from halfsplit.unit.table import Table


def with_switching(unit: Unit, bands: Mapping[str, Table]) -> Unit:
    """The unit with `operated` and `positions` of every band completed. bands : name to its table, for mistakes."""
    return replace(unit, bands=tuple(_completed(unit, band, bands[band.name]) for band in unit.bands))


def _completed(unit: Unit, band: Band, table: Table) -> Band:
    """One band with what its filter and the path ask of relays and switches."""
    relays = {r.name: r for r in unit.relays}
    switches = {s.name: s for s in unit.switches}
    said = _known_relays(band, relays, table)
    positions = _known_positions(band, switches, table)
    through = [n for n in unit.path.order if n in relays]
    filters = {f.name: f for f in unit.filters}
    used = filters.get(band.filter) if band.filter is not None else None
    contacts = () if used is None else tuple(c for c in (used.input, used.output) if c is not None)
    asked = dict.fromkeys(said)
    for name in (*(c for c in contacts if c in relays), *through):
        if relays[name].closed_when == "operated":
            asked.setdefault(name)
    operated = _same_coils(tuple(asked), relays)
    for name in (*contacts, *through):
        if name in operated and relays[name].closed_when == "released":
            found = f"{name} is operated on {band.name} and is closed only when released"
            table.mistake("relays", found, f"{name} left out of relays, or another contact for {band.filter}")
    for name in dict.fromkeys(c for c in contacts if c in switches):
        position = _position(switches[name], used, positions.get(name), table)
        if position is not None:
            positions[name] = position
    done = replace(band, operated=operated, positions=tuple(positions.items()))
    if used is not None:
        _only_one_filter(unit, done, table)
    return done


def _known_relays(band: Band, relays: Mapping[str, Relay], table: Table) -> tuple[str, ...]:
    """The relays that the band names and that exist."""
    for index, name in enumerate(band.operated):
        if name not in relays:
            table.findings.mistake(
                (*table.at, "relays", index), f'"{name}" is no relay', one_of(name, tuple(relays), "relays")
            )
    return tuple(n for n in band.operated if n in relays)


def _known_positions(band: Band, switches: Mapping[str, Switch], table: Table) -> dict[str, str]:
    """The switch positions that the band names and that exist."""
    known: dict[str, str] = {}
    for name, position in band.positions:
        at = (*table.at, "positions", name)
        if name not in switches:
            table.findings.mistake(at, f'"{name}" is no switch', one_of(name, tuple(switches), "switches"))
            continue
        throws = tuple(p for p, _ in switches[name].throws)
        if position not in throws:
            table.findings.mistake(at, f'"{position}" is no position of {name}', one_of(position, throws, "positions"))
        else:
            known[name] = position
    return known


def _position(switch: Switch, used: Filter | None, said: str | None, table: Table) -> str | None:
    """The position of a wafer that leads to the filter in use."""
    if used is None:
        return None
    fitting = tuple(p for p, to in switch.throws if to == used.name)
    if said is not None:
        if said not in fitting:
            found = f"{switch.name} in position {said} does not lead to {used.name}"
            table.mistake("positions", found, one_of(said, fitting, f"positions of {switch.name} that do"))
        return None
    if len(fitting) > 1:
        found = f"positions {' and '.join(fitting)} of {switch.name} both lead to {used.name}"
        table.mistake(None, found, f'positions = {{ {switch.name} = "{fitting[0]}" }} or the other')
        return None
    return fitting[0] if fitting else None


def _same_coils(operated: tuple[str, ...], relays: Mapping[str, Relay]) -> tuple[str, ...]:
    """All contacts that move when these are operated, those named first."""
    coils = {relays[n].coil or n for n in operated}
    moved = (n for n, r in relays.items() if (r.coil or n) in coils)
    return tuple(dict.fromkeys((*operated, *moved)))


def _closed(contact: str | None, name: str, unit: Unit, band: Band) -> bool:
    """True where the contact at one end of a filter is closed on this band."""
    if contact is None:
        return True
    for relay in unit.relays:
        if relay.name == contact:
            return (contact in band.operated) == (relay.closed_when == "operated")
    at = dict(band.positions).get(contact)
    return any(s.name == contact and (at, name) in s.throws for s in unit.switches)


def _only_one_filter(unit: Unit, band: Band, table: Table) -> None:
    """No second filter lies in parallel; one that hangs on by one end is said."""
    for other in unit.filters:
        wired = other.input is None and other.output is None
        if other.name == band.filter or other.name in unit.path.order or wired:
            continue
        ends = [_closed(c, other.name, unit, band) for c in (other.input, other.output)]
        if all(ends):
            found = f"{other.name} is switched in beside {band.filter} on {band.name}"
            table.mistake("relays" if "relays" in table.data else "filter", found, "one filter for a band")
        elif any(e and c is not None for e, c in zip(ends, (other.input, other.output), strict=True)):
            table.warn("filter", f"on {band.name} one end of {other.name} is switched to the path as well")
