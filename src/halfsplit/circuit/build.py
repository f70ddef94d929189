"""From drawing, hook-up and band to a scene. Joints, contacts, strays and leads are inserted here."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.circuit.bank import lay_bank, lay_filter
from halfsplit.circuit.builder import Builder, contact, known_point, lay_part
from halfsplit.circuit.elements import Core, Element
from halfsplit.circuit.instruments import tie_on
from halfsplit.circuit.scene import Arm, Pair, Piece, Scene
from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup import Hookup
from halfsplit.network import GROUND, s_to_y
from halfsplit.parts import Cable
from halfsplit.unit import Band, Block, Relay, Unit

Complex = npt.NDArray[Any]


def build(unit: Unit, hookup: Hookup) -> Scene:
    """The scene of a unit in a hook-up.

    raises HookupError for a band, point or lifted element that the unit does not have
    """
    band = known_band(unit, hookup.band)
    builder = Builder(unit, hookup)
    walk_path(builder, band)
    lift_ends(builder)
    apply_points(builder)
    ends = tie_on(builder)
    check_lifted(builder)
    return builder.scene(ends, band.filter)


def known_band(unit: Unit, name: str) -> Band:
    """The band, or a HookupError that lists the known ones."""
    try:
        return unit.band(name)
    except KeyError:
        known = ", ".join(b.name for b in unit.bands)
        raise HookupError(Mistake("band", f"no band {name!r} in {unit.name}", f"one of: {known}")) from None


def walk_path(builder: Builder, band: Band) -> None:
    """Lay the path from left to right."""
    unit = builder.unit
    cables = {c.ref: c for c in unit.cables}
    relays = {r.name: r for r in unit.relays}
    blocks = {b.name: b for b in unit.blocks}
    filters = {f.name: f for f in unit.filters}
    stages = {s.name for s in unit.stages}
    here = builder.node()
    started = False
    for entry in unit.path.order:
        if entry in unit.path.points:
            builder.names[entry] = here
            started = True
            continue
        if entry in stages:
            if started:
                where = f"path.order: {entry}"
                raise HookupError(Mistake(where, "a stage in the middle of the path", "sweeps of a passive path"))
            continue
        started = True
        there = builder.node()
        if entry in cables:
            lay_cable(builder, cables[entry], here, there)
        elif entry in relays:
            lay_path_relay(builder, relays[entry], here, there)
        elif entry in blocks:
            lay_block(builder, blocks[entry], here, there)
        elif entry in filters:
            lay_filter(builder, filters[entry], here, there, None, None)
        elif entry == "filter":
            lay_bank(builder, band, here, there)
        here = there


def lay_cable(builder: Builder, cable: Cable, here: int, there: int) -> None:
    """A coax jumper with the joint of its centre conductor at each end."""
    a, b = builder.node(), builder.node()
    near = builder.joint(f"{cable.ref} near-end joint")
    far = builder.joint(f"{cable.ref} far-end joint")
    builder.arms.append(Arm(f"{cable.ref} near-end joint", here, a, (near,), cable.ref in builder.hookup.lifted))
    builder.arms.append(Arm(f"{cable.ref} far-end joint", b, there, (far,)))
    builder.pieces.append(Piece(cable.ref, a, b, cable))
    builder.spots.append((cable.ref, a))


def lift_ends(builder: Builder) -> None:
    """Open what is lifted at one end, once all points have their nodes: "W1 at BUS IN"; of a part either end opens it.

    raises HookupError where the point is not known on this band, or is no end of the piece
    """
    for text in builder.hookup.lifted:
        name, mark, point = (x.strip() for x in text.partition(" at "))
        if not mark:
            continue
        node = known_point(builder, point, "lifted")
        own = [k for k, arm in enumerate(builder.arms) if name in piece_of(builder, arm)]
        there = [k for k in own if node in (builder.arms[k].a, builder.arms[k].b)]
        if own and not there:
            raise HookupError(Mistake("lifted", f"{name} has no end at {point}", f'"{name}", or the point at its end'))
        for k in there:
            builder.arms[k] = replace(builder.arms[k], opened=True)


def piece_of(builder: Builder, arm: Arm) -> set[str]:
    """What an arm may be called where one of its ends is lifted."""
    places = {builder.elements[e].place for e in arm.elements} | {arm.name}
    return places | {p.partition(word)[0] for p in places for word in (" near-end", " far-end", " contact")}


def lay_path_relay(builder: Builder, relay: Relay, here: int, there: int) -> None:
    """A relay that stands in the path itself is closed there unless it is worked by hand."""
    worked = relay.name in builder.hookup.released
    if relay.closed_when == "released":
        worked = relay.name in builder.hookup.operated
    contact(builder, relay, f"{relay.name} contact", here, there, closed=not worked, lead=None)


def lay_block(builder: Builder, block: Block, here: int, there: int) -> None:
    """A general block by branches between named nodes, or a measured one."""
    if block.measured is not None:
        f, y = measured_y(block)
        builder.pieces.append(Piece(block.name, here, there, None, f, y))
        return
    local = {block.input: here, block.output: there, "ground": GROUND}
    coupled = {name for c in block.couplings for name in (c.first, c.second)}

    def at(name: str) -> int:
        if name not in local:
            local[name] = builder.node(f"{block.name} {name}")
        return local[name]

    places = {}
    for branch in block.branches:
        a, b = at(branch.a), at(branch.b)
        places[branch.part.ref] = (branch.part, a, b)
        if branch.part.ref not in coupled:
            chain = (builder.joint(f"{branch.part.ref} joint"), lay_part(builder, branch.part, None))
            builder.arm(branch.part.ref, a, b, chain)
    for c in block.couplings:
        (p1, a1, b1), (p2, a2, b2) = places[c.first], places[c.second]
        q = min(p1.q or spread.COIL_Q.typical, p2.q or spread.COIL_Q.typical)
        builder.pairs.append(Pair(f"{c.first}-{c.second}", (a1, b1, a2, b2), p1.value or 0.0, p2.value or 0.0, c.k, q))


def measured_y(block: Block) -> tuple[tuple[float, ...], Complex]:
    """The tabulated admittances of a measured block."""
    assert block.measured is not None
    f, s, z0 = block.measured
    return f, s_to_y(np.asarray(s, complex).reshape(len(f), 2, 2), z0)


def apply_points(builder: Builder) -> None:
    """Bridges and terminations that the hook-up adds; points become places where a leak can sit."""
    hookup = builder.hookup
    for name in builder.unit.path.points:
        builder.spots.append((name, known_point(builder, name, "path")))
    for k, (p, q) in enumerate(hookup.bridged):
        element = builder.element(
            Element(f"bridge {p} to {q}", Core.RESISTOR, spread.JOINT_OHM.typical, lead=spread.BRIDGE_LEAD)
        )
        builder.arm(f"bridge {k}", known_point(builder, p, "bridged"), known_point(builder, q, "bridged"), (element,))
    for t in hookup.terminated:
        element = builder.element(Element(f"termination at {t.point}", Core.RESISTOR, t.ohm))
        builder.arm(f"termination at {t.point}", known_point(builder, t.point, "terminated"), GROUND, (element,))


def check_lifted(builder: Builder) -> None:
    """Everything that the hook-up lifts must exist."""
    stages = {s.name for s in builder.unit.stages}
    places = {e.place for e in builder.elements} | {a.name for a in builder.arms} | stages
    places |= {p.name for p in builder.pieces} | {r.name for r in builder.unit.relays}
    for text in builder.hookup.lifted:
        name = text.partition(" at ")[0].strip()
        if name not in places:
            known = ", ".join(sorted(p for p in places if " " not in p))
            raise HookupError(Mistake("lifted", f"no part {name!r} on this band", f"one of: {known}"))
