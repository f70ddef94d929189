"""Do the tables of one unit file fit together? Names that are declared, used, and mean one thing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from halfsplit.unit.blocks import GROUND
from halfsplit.unit.keys import one_of
from halfsplit.unit.lines import KeyPath, line_of
from halfsplit.unit.records import Band, Filter, Unit
from halfsplit.unit.stages import check_drive
from halfsplit.unit.table import Findings, Table

FILTER = "filter"
_RESERVED = (FILTER, GROUND, "all")


def check_fit(unit: Unit, root: Table, bands: Mapping[str, Table]) -> None:
    """Note everything in the unit that does not fit together. root : the whole file; bands : name to its table."""
    findings = root.findings
    _check_names(unit, root.data, findings)
    _check_order(unit, root.data, findings)
    _check_filters(unit, findings)
    _check_switches(unit, findings)
    _check_relays(unit, findings)
    _check_bands(unit, bands)
    _check_gains(unit, root.data, findings)
    check_drive(unit, root.table("drive"))
    _warn_unused(unit, findings)


def _check_gains(unit: Unit, data: Mapping[str, object], findings: Findings) -> None:
    """Gains are given for bands that exist."""
    listed = data.get("band")
    tables = listed if isinstance(listed, list) else []
    names = tuple(str(t["name"]) for t in tables if isinstance(t, dict) and "name" in t)
    for stage in unit.stages:
        for band, _, _ in stage.gain:
            if band != "all" and band not in names:
                at = ("stage", stage.name, "gain", band)
                findings.mistake(at, f'"{band}" is no band', one_of(band, names, "bands"))


def _named(data: Mapping[str, object], key: str) -> tuple[str, ...]:
    """Names of the tables under a key, whether or not they could be read."""
    group = data.get(key)
    return tuple(str(n) for n in group) if isinstance(group, dict) else ()


def _declared(unit: Unit, data: Mapping[str, object]) -> Iterator[tuple[str, str, KeyPath]]:
    """(name, what it is, key path) of everything that has a name of its own."""
    for key in ("cable", "relay", "switch", "filter", "stage", "block"):
        for name in _named(data, key):
            yield name, f"a {key}", (key, name)
    for name in unit.path.points:
        yield name, "a point", ("path", "order", unit.path.order.index(name))
    for found in unit.filters:
        for ref, at in _designators(data, "filter", found.name, "ladder"):
            yield ref, f"a part of {found.name}", at
    for block in unit.blocks:
        for ref, at in _designators(data, "block", block.name, "branches"):
            yield ref, f"a part of {block.name}", at
    for stage in unit.stages:
        for ref, at in _designators(data, "stage", stage.name, "branches"):
            yield ref, f"a part of {stage.name}", at


def _designators(data: Mapping[str, object], *steps: str) -> Iterator[tuple[str, KeyPath]]:
    """(designator, key path) of the parts in one ladder or block, as the file has them."""
    level: object = data
    for step in steps:
        level = level.get(step) if isinstance(level, dict) else None
    for index, item in enumerate(level if isinstance(level, list) else ()):
        inner = item if isinstance(item, dict) else {}
        for holder, sub in ((inner, ()), (inner.get("across"), ("across",)), (inner.get("with"), ("with",))):
            for key in ("shunt", "series", "part"):
                if isinstance(holder, dict) and isinstance(holder.get(key), str):
                    yield holder[key].strip(), (*steps, index, *sub, key)


def _check_names(unit: Unit, data: Mapping[str, object], findings: Findings) -> None:
    """One name, one thing."""
    first: dict[str, tuple[str, KeyPath]] = {}
    for name, what, at in _declared(unit, data):
        if name in _RESERVED:
            findings.mistake(at, f'"{name}" as a name', f"another name: {', '.join(_RESERVED)} have a meaning here")
        elif name in first and first[name][1] != at:
            known, before = first[name]
            line = line_of(findings.lines, before)
            place = "" if line is None else f" on line {line}"
            findings.mistake(at, f'"{name}" is {what} and already {known}{place}', "one designator for one thing")
        first.setdefault(name, (what, at))
    for found in unit.filters:
        for index, rung in enumerate(found.rungs):
            if rung.ground is not None and rung.ground in first:
                at = ("filter", found.name, "ladder", index, "ground")
                what = first[rung.ground][0]
                findings.mistake(at, f'earth point "{rung.ground}" is also {what}', "another name for the earth point")


def _check_order(unit: Unit, data: Mapping[str, object], findings: Findings) -> None:
    """Every name in the order is declared once and stands once."""
    elements = tuple(n for key in ("cable", "relay", "stage", "block", "filter") for n in _named(data, key))
    elements = tuple(dict.fromkeys((*elements, *(r.name for r in unit.relays))))
    switches = tuple(s.name for s in unit.switches)
    path = data.get("path")
    listed = path.get("points") if isinstance(path, dict) else ()
    points = tuple(n for n in listed if isinstance(n, str)) if isinstance(listed, list) else ()
    known = tuple(dict.fromkeys((*elements, *unit.path.points, *points, FILTER)))
    for index, name in enumerate(unit.path.order):
        at = ("path", "order", index)
        if name in switches:
            expected = f'"{FILTER}" here, and input or output = "{name}" in the filters that it picks'
            findings.mistake(at, f'switch "{name}"', expected)
        elif name not in known:
            expected = one_of(name, known, "declared names") + "; or list it under points"
            findings.mistake(at, f'"{name}" is not declared', expected)
        elif name in unit.path.order[:index]:
            findings.mistake(at, f'"{name}" stands twice', "every name once")
    served = any(b.filter for b in unit.bands)
    if unit.path.order and served and FILTER not in unit.path.order and not set(switches) & set(unit.path.order):
        findings.mistake(("path", "order"), f'"{FILTER}" is missing', f'"{FILTER}" where the band\'s filter stands')
    if len(unit.path.points) < 2 and unit.path.order:
        found = f"{len(unit.path.points)} points in order"
        findings.mistake(("path", "order"), found, "two points or more, like TP1 and J2, to drive and to read")


def _check_filters(unit: Unit, findings: Findings) -> None:
    """Contacts of filters exist and serve one filter each (two poles of one relay may serve both ends of it)."""
    relays = tuple(r.name for r in unit.relays)
    switches = {s.name: s for s in unit.switches}
    taken: dict[str, str] = {}
    switched = [f for f in unit.filters if f.name not in unit.path.order]
    for found in unit.filters:
        fixed = found.name in unit.path.order
        if not fixed and len(switched) > 1 and found.input is None and found.output is None:
            what = f"{found.name} has neither input nor output, so it lies beside every other filter"
            findings.mistake(("filter", found.name), what, "the relays or switches at its ends, or its name in order")
        for end, contact in (("input", found.input), ("output", found.output)):
            at = ("filter", found.name, end)
            if contact is None:
                continue
            if fixed:
                findings.mistake(at, f"{found.name} stands in the path by its name", f"no {end}: it is wired straight")
            elif contact in switches:
                if found.name not in (to for _, to in switches[contact].throws):
                    throws = ", ".join(f"{p} = {to}" for p, to in switches[contact].throws)
                    findings.mistake(at, f"no throw of {contact} leads to {found.name}", f"one of its throws: {throws}")
            elif contact not in relays:
                known = (*relays, *switches)
                findings.mistake(at, f'"{contact}" is no relay or switch', one_of(contact, known, "declared names"))
            elif taken.get(contact, found.name) != found.name:
                what = f"{contact} already switches {taken[contact]}"
                findings.mistake(at, what, "a contact of its own; contacts of one relay share a coil")
            taken.setdefault(contact, found.name)


def _nodes(unit: Unit) -> tuple[str, ...]:
    """Every node that has a name."""
    names = [*unit.path.points, GROUND]
    for found in unit.filters:
        inner = sum(r.place == "series" for r in found.rungs)
        names += [f"{found.name} in", *(f"{found.name} {n}" for n in range(1, inner)), f"{found.name} out"]
    for block in unit.blocks:
        nodes = dict.fromkeys((block.input, block.output, *(n for b in block.branches for n in (b.a, b.b))))
        names += [f"{block.name} {n}" for n in nodes if n != GROUND]
    return tuple(names)


def _check_switches(unit: Unit, findings: Findings) -> None:
    """Throws lead to filters or nodes; the common is a node."""
    filters = tuple(f.name for f in unit.filters)
    nodes = _nodes(unit)
    for switch in unit.switches:
        for position, to in switch.throws:
            if to not in filters and to not in nodes:
                at: KeyPath = ("switch", switch.name, "throws", position)
                findings.mistake(at, f'"{to}" is no filter or node', one_of(to, (*filters, *nodes), "declared names"))
        if switch.common is not None and switch.common not in nodes:
            at = ("switch", switch.name, "common")
            findings.mistake(at, f'"{switch.common}" is no node', one_of(switch.common, nodes, "nodes"))


def _check_relays(unit: Unit, findings: Findings) -> None:
    """A relay stands in one place; its joins are nodes; its coil is a relay."""
    nodes, names = _nodes(unit), tuple(r.name for r in unit.relays)
    at_filter = {c: f for f in unit.filters for c in (f.input, f.output) if c is not None}
    for relay in unit.relays:
        for index, node in enumerate(relay.joins or ()):
            if node not in nodes:
                place = ("relay", relay.name, "joins", index)
                findings.mistake(place, f'"{node}" is no node', one_of(node, nodes, "nodes"))
        if relay.coil is not None and relay.coil not in names:
            findings.mistake(
                ("relay", relay.name, "coil"), f'"{relay.coil}" is no relay', one_of(relay.coil, names, "relays")
            )
        in_path, at_end = relay.name in unit.path.order, relay.name in at_filter
        if in_path and at_end:
            found = f"{relay.name} stands in the path and at {at_filter[relay.name].name}"
            findings.mistake(("relay", relay.name), found, "one place for one contact")
        if relay.joins and in_path:
            findings.mistake(
                ("relay", relay.name, "joins"), f"{relay.name} stands in the path", "no joins: order says it"
            )
        if relay.joins and at_end:
            _check_said_twice(relay.name, relay.joins, at_filter[relay.name], findings)


def _check_said_twice(name: str, joins: tuple[str, str], at_filter: Filter, findings: Findings) -> None:
    """joins of a filter's contact may repeat what the filter says, never contradict it."""
    ends = [f"{at_filter.name} {end}" for end, c in (("in", at_filter.input), ("out", at_filter.output)) if c == name]
    if not any(end in joins for end in ends):
        expected = f'"{ends[0]}" as one of the two, or no joins: {at_filter.name} says it'
        findings.mistake(("relay", name, "joins"), f"{joins[0]} and {joins[1]}", expected)


def _check_bands(unit: Unit, tables: Mapping[str, Table]) -> None:
    """Filters of bands exist; ranges do not overlap where the filters differ."""
    filters = tuple(f.name for f in unit.filters)
    done: list[Band] = []
    for band in unit.bands:
        table = tables[band.name]
        if band.filter is None and FILTER in unit.path.order:
            table.missing("filter", f"the filter that {band.name} uses: {', '.join(filters) or 'none is declared'}")
        if band.filter is not None and band.filter not in filters:
            table.mistake("filter", f'"{band.filter}" is no filter', one_of(band.filter, filters, "filters"))
        elif band.filter is not None and band.filter in unit.path.order:
            table.mistake("filter", f"{band.filter} stands in the path on every band", "a filter picked by the band")
        for other in done:
            if band.low < other.high and other.low < band.high:
                if band.filter == other.filter:
                    table.warn("range", f"{band.name} overlaps {other.name}")
                else:
                    found = f"{band.name} overlaps {other.name}, which uses {other.filter}"
                    table.mistake("range", found, "ranges that do not overlap where the filters differ")
        done.append(band)


def _warn_unused(unit: Unit, findings: Findings) -> None:
    """Declared and never used: allowed, but often a slip."""
    order = unit.path.order
    ends = {c for f in unit.filters for c in (f.input, f.output)}
    operated = {n for b in unit.bands for n in b.operated}
    for found in unit.filters:
        if found.name not in order and found.name not in {b.filter for b in unit.bands}:
            findings.warn(("filter", found.name), f"no band uses {found.name} and it does not stand in the path")
    groups = (
        ("cable", tuple(c.ref for c in unit.cables)),
        ("stage", tuple(s.name for s in unit.stages)),
        ("block", tuple(b.name for b in unit.blocks)),
    )
    for key, names in groups:
        for name in names:
            if name not in order and name not in unit.drive.order:
                findings.warn((key, name), f"{name} does not stand in the path")
    coils = {r.coil for r in unit.relays}
    for relay in unit.relays:
        placed = relay.name in order or relay.name in ends or relay.joins is not None
        if not placed and relay.name not in coils | operated:
            findings.warn(("relay", relay.name), f"{relay.name} has no place: not in path or filter, no joins")
    for switch in unit.switches:
        if switch.name not in ends and switch.common is None:
            findings.warn(("switch", switch.name), f"{switch.name} has no place: no filter names it, no common")
