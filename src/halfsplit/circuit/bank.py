"""The filter of a band between its contacts, and the idle ones that hang on both buses."""

from __future__ import annotations

from itertools import pairwise

from halfsplit.circuit import spread
from halfsplit.circuit.builder import Builder, contact, lay_part
from halfsplit.circuit.elements import Core, Element, Field
from halfsplit.circuit.idle import idle_piece
from halfsplit.circuit.scene import Near, Piece
from halfsplit.network import GROUND
from halfsplit.parts import Kind
from halfsplit.unit import Band, Filter, Relay, Rung, Switch

NO_STRAY = 1e-18
"""F, in place of a stray that a drawing states as none: an element needs a value."""


def lay_bank(builder: Builder, band: Band, here: int, there: int) -> None:
    """The band's filter between its contacts, and the idle filters hanging on both buses."""
    unit = builder.unit
    chosen = None if band.filter is None else unit.filter(band.filter)
    if chosen is not None:
        lay_filter(builder, chosen, here, there, chosen.input, chosen.output)
    idle = tuple(f for f in unit.filters if f is not chosen and (f.input or f.output))
    if idle:
        operated = frozenset(builder.hookup.operated)
        contacts = (*unit.relays, *unit.switches)
        f, y, around = idle_piece(idle, contacts, operated)
        builder.pieces.append(Piece("idle filters", here, there, None, f, y))
        builder.around = (f, tuple(around.tolist()))


def lay_filter(builder: Builder, chosen: Filter, here: int, there: int, enter: str | None, leave: str | None) -> None:
    """A ladder with its contacts, joints, end strays and common scale."""
    first = builder.node(f"{chosen.name} in")
    lay_end(builder, chosen, enter, here, first, "in")
    last = lay_ladder(builder, chosen, first)
    lay_end(builder, chosen, leave, there, last, "out")
    builder.spans.append((chosen.name, first, last))


def lay_end(builder: Builder, chosen: Filter, name: str | None, bus: int, inner: int, end: str) -> None:
    """One end of a filter: its contact, and the strays inside and outside of it."""
    switched = name is not None
    if switched:
        lay_stray(builder, f"{chosen.name} {end} bus stray", bus, spread.BUS_STRAY)
    usual = spread.FILTER_END_STRAY if switched else spread.BARE_STRAY
    lay_stray(builder, f"{chosen.name} {end} stray", inner, usual, chosen.stray)
    end_contact(builder, chosen, name, bus, inner, end)


def end_contact(builder: Builder, chosen: Filter, name: str | None, a: int, b: int, end: str) -> None:
    """The contact (or, wired straight, the joint) at one end of a filter."""
    lead = f"{chosen.name} {end} lead"
    contacts: tuple[Relay | Switch, ...] = (*builder.unit.relays, *builder.unit.switches)
    found = next((item for item in contacts if item.name == name), None)
    if name is None or found is None:
        place = f"{chosen.name} {end} joint"
        element = builder.element(
            Element(place, Core.RESISTOR, spread.JOINT_OHM.typical, lead=spread.BARE_LEAD.typical)
        )
        builder.vary(lead, spread.BARE_LEAD.sigma, element, Field.LEAD)
        builder.arm(place, a, b, (element,))
        return
    worked = name in builder.hookup.released
    if isinstance(found, Relay) and found.closed_when == "released":
        worked = name in builder.hookup.operated
    contact(builder, found, contact_place(found, chosen, end), a, b, closed=not worked, lead=lead)


def contact_place(found: Relay | Switch, chosen: Filter, end: str) -> str:
    """What the technician calls a contact; the two poles of one relay are told apart by the filter's end."""
    if isinstance(found, Switch):
        position = next((p for p, joined in found.throws if joined == chosen.name), "?")
        return f"{found.name} contact {position}"
    if chosen.input == chosen.output:
        return f"{found.name} contact ({end})"
    return f"{found.name} contact"


def lay_stray(builder: Builder, place: str, node: int, usual: spread.Spread, stated: float | None = None) -> None:
    """Stray capacitance at a node: tracks, sockets, idle relay parts. stated : F, where the drawing gives it."""
    farad = usual.typical if stated is None else max(stated, NO_STRAY)
    element = builder.element(Element(place, Core.CAPACITOR, farad))
    builder.vary(place, usual.sigma, element, Field.VALUE)
    builder.arm(place, node, GROUND, (element,))


def lay_ladder(builder: Builder, chosen: Filter, first: int) -> int:
    """The rungs in order. returns the node at the right end."""
    here, inner = first, 0
    series = sum(r.place == "series" for r in chosen.rungs)
    builder.spots.append((f"{chosen.name} in", first))
    for rung in chosen.rungs:
        if rung.place == "series":
            inner += 1
            name = f"{chosen.name} out" if inner == series else f"{chosen.name} {inner}"
            there = builder.node(name)
            lay_series(builder, chosen, rung, here, there)
            here = there
            builder.spots.append((name, here))
        else:
            lay_shunt(builder, chosen, rung, here)
    if series == 0:
        builder.names[f"{chosen.name} out"] = here
    lay_couplings(builder, chosen)
    return here


def lay_couplings(builder: Builder, chosen: Filter) -> None:
    """Stray flux between neighbouring coils of a filter."""
    coils = [p for p in chosen.parts if p.kind is Kind.COIL]
    arm_of = {e: k for k, arm in enumerate(builder.arms) for e in arm.elements}
    place = {builder.elements[e].place: k for e, k in arm_of.items()}
    for one, other in pairwise(coils):
        henry = float(((one.value or 0.0) * (other.value or 0.0)) ** 0.5)
        key = f"{one.ref}-{other.ref} coupling"
        builder.nears.append(Near(key, place[one.ref], place[other.ref], henry, spread.COIL_COUPLING.sigma))


def lay_series(builder: Builder, chosen: Filter, rung: Rung, here: int, there: int) -> None:
    """A part in the series arm, with another across it where the rung is a trap."""
    for part in rung.parts:
        chain = (builder.joint(f"{part.ref} joint"), lay_part(builder, part, chosen.name))
        builder.arm(part.ref, here, there, chain)


def lay_shunt(builder: Builder, chosen: Filter, rung: Rung, here: int) -> None:
    """One part, or two in series, from the node to ground; the ground joint is its own or a shared earth point."""
    parts = [lay_part(builder, part, chosen.name) for part in rung.parts]
    ref = rung.parts[0].ref
    chain = [builder.joint(f"{ref} hot joint"), *parts]
    if rung.ground is None:
        chain.append(builder.joint(f"{rung.parts[-1].ref} ground joint"))
        builder.arm(ref, here, GROUND, tuple(chain))
        return
    builder.arm(ref, here, shared_ground(builder, rung.ground), tuple(chain))


def shared_ground(builder: Builder, name: str) -> int:
    """The node of an earth point that several parts share, with its joint to the chassis."""
    if name not in builder.names:
        node = builder.node(name)
        typical = spread.SHARED_GROUND_LEAD
        element = builder.element(
            Element(f"{name} ground joint", Core.RESISTOR, spread.JOINT_OHM.typical, lead=typical.typical)
        )
        builder.vary(f"{name} lead", typical.sigma, element, Field.LEAD)
        builder.arm(f"{name} ground joint", node, GROUND, (element,))
    return builder.names[name]
