"""From drawing, hook-up and band to a scene. Joints, contacts, strays and leads are inserted here."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.circuit.elements import Core, Element, Field
from halfsplit.circuit.idle import idle_piece
from halfsplit.circuit.instruments import tie_on
from halfsplit.circuit.scene import Arm, Near, Pair, Param, Piece, Scene
from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup import Hookup
from halfsplit.network import GROUND, s_to_y
from halfsplit.parts import Cable, Kind, Part
from halfsplit.unit import Band, Block, Filter, Relay, Rung, Switch, Unit

Complex = npt.NDArray[Any]

CORES = {Kind.CAPACITOR: Core.CAPACITOR, Kind.COIL: Core.COIL, Kind.RESISTOR: Core.RESISTOR}


class Builder:
    """Collects nodes, arms and nuisances while the path is walked from left to right."""

    def __init__(self, unit: Unit, hookup: Hookup) -> None:
        self.unit = unit
        self.hookup = hookup
        self.n = 0
        self.names: dict[str, int] = {}
        self.elements: list[Element] = []
        self.arms: list[Arm] = []
        self.pieces: list[Piece] = []
        self.pairs: list[Pair] = []
        self.params: dict[str, tuple[float, list[tuple[int, Field, float]]]] = {}
        self.nears: list[Near] = []
        self.around: tuple[tuple[float, ...], tuple[float, ...]] | None = None
        self.spots: list[tuple[str, int]] = []
        self.spans: list[tuple[str, int, int]] = []

    def node(self, name: str | None = None) -> int:
        """A new node, named where a hook-up may name it."""
        self.n += 1
        if name is not None:
            self.names[name] = self.n - 1
        return self.n - 1

    def element(self, element: Element) -> int:
        self.elements.append(element)
        return len(self.elements) - 1

    def vary(self, key: str, sigma: float, element: int, field: Field, coefficient: float = 1.0) -> None:
        """Let a nuisance move a field of an element."""
        if sigma > 0:
            self.params.setdefault(key, (sigma, []))[1].append((element, field, coefficient))

    def arm(self, name: str, a: int, b: int, elements: tuple[int, ...]) -> int:
        """Elements in series between two nodes; lifted where the hook-up says so."""
        lifted = {text.partition(" at ")[0].strip() for text in self.hookup.lifted if " at " not in text}
        places = {self.elements[e].place for e in elements} | {name}
        self.arms.append(Arm(name, a, b, elements, bool(places & lifted)))
        return len(self.arms) - 1

    def joint(self, place: str) -> int:
        """A soldered joint or plugged connection, sound."""
        return self.element(Element(place, Core.RESISTOR, spread.JOINT_OHM.typical))

    def scene(self, ends: tuple[int, int | None, int, int | None], filter_name: str | None) -> Scene:
        """Freeze."""
        params = tuple(Param(key, sigma, tuple(moves)) for key, (sigma, moves) in self.params.items())
        return Scene(
            self.n, dict(self.names), tuple(self.elements), tuple(self.arms), tuple(self.pieces),
            tuple(self.pairs), params, ends[0], ends[1], ends[2], ends[3], tuple(self.spots),
            tuple(self.spans), self.hookup.source_ohm, filter_name, tuple(self.nears), self.around,
        )  # fmt: skip


def build(unit: Unit, hookup: Hookup) -> Scene:
    """The scene of a unit in a hook-up.

    raises HookupError for a band, point or lifted element that the unit does not have
    """
    band = known_band(unit, hookup.band)
    builder = Builder(unit, hookup)
    walk_path(builder, band)
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
    ends = [text.partition(" at ")[2] for text in builder.hookup.lifted if text.startswith(f"{cable.ref} at ")]
    near = builder.joint(f"{cable.ref} near-end joint")
    far = builder.joint(f"{cable.ref} far-end joint")
    builder.arms.append(Arm(f"{cable.ref} near-end joint", here, a, (near,), cable.ref in builder.hookup.lifted))
    builder.arms.append(Arm(f"{cable.ref} far-end joint", b, there, (far,)))
    builder.pieces.append(Piece(cable.ref, a, b, cable))
    builder.spots.append((cable.ref, a))
    for end in ends:
        node = builder.names.get(end)
        for k in (-1, -2):
            arm = builder.arms[k]
            if node is not None and node in (arm.a, arm.b):
                builder.arms[k] = Arm(arm.name, arm.a, arm.b, arm.elements, True)


def contact(
    builder: Builder,
    contact_of: Relay | Switch,
    place: str,
    a: int,
    b: int,
    *,
    closed: bool,
    lead: str | None,
) -> None:
    """A contact: closed, a small resistance with the lead inductance of its place; open, a small capacitance."""
    if closed:
        ohm = contact_of.contact_ohm if contact_of.contact_ohm is not None else spread.JOINT_OHM.typical
        inductance = spread.PATH_LEAD.typical if lead else 0.0
        element = builder.element(Element(place, Core.RESISTOR, ohm, lead=inductance))
        if lead:
            builder.vary(lead, spread.PATH_LEAD.sigma, element, Field.LEAD)
    else:
        farad = contact_of.open_capacitance or spread.OPEN_CONTACT.typical
        element = builder.element(Element(place, Core.CAPACITOR, farad))
    builder.arm(place, a, b, (element,))


def lay_path_relay(builder: Builder, relay: Relay, here: int, there: int) -> None:
    """A relay that stands in the path itself is closed there unless it is worked by hand."""
    worked = relay.name in builder.hookup.released
    if relay.closed_when == "released":
        worked = relay.name in builder.hookup.operated
    contact(builder, relay, f"{relay.name} contact", here, there, closed=not worked, lead=None)


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
    element = builder.element(Element(place, Core.CAPACITOR, usual.typical if stated is None else stated))
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


def lay_part(builder: Builder, part: Part, of_filter: str | None) -> int:
    """An element for a part with the nuisances of its kind."""
    value = part.value if part.value is not None else 0.0
    if value <= 0:
        raise HookupError(
            Mistake(part.ref, "the value of this part is not known", 'a value, or about = "..." in the unit file')
        )
    core = CORES[part.kind]
    index = builder.element(part_element(part, core, value))
    default = {
        Core.CAPACITOR: spread.CAPACITOR_VALUE,
        Core.COIL: spread.COIL_VALUE,
        Core.RESISTOR: spread.RESISTOR_VALUE,
    }[core]
    sigma = spread.part_sigma(part.tolerance, default, adjustable=part.adjustable)
    builder.vary(f"{part.ref} value", sigma, index, Field.VALUE)
    if core is Core.CAPACITOR:
        known = part.lead_inductance is not None
        builder.vary(f"{part.ref} lead", 0.25 if known else spread.CAPACITOR_LEAD.sigma, index, Field.LEAD)
    elif core is Core.COIL:
        builder.vary(f"{part.ref} Q", 0.3 if part.q is not None else spread.COIL_Q.sigma, index, Field.Q)
        builder.vary(f"{part.ref} across", spread.COIL_ACROSS.sigma, index, Field.ACROSS)
    if of_filter is not None and core is not Core.RESISTOR:
        builder.vary(f"{of_filter} scale", spread.FILTER_SCALE.sigma, index, Field.VALUE)
    return index


def part_element(part: Part, core: Core, value: float) -> Element:
    """The element of a part, with typical losses and parasitics where the drawing is silent."""
    ohm = part.loss_ohm or 0.0
    if core is Core.CAPACITOR:
        lead = part.lead_inductance if part.lead_inductance is not None else spread.CAPACITOR_LEAD.typical
        return Element(part.ref, core, value, part.q or spread.CAPACITOR_Q.typical, lead, 0.0, ohm, True)
    if core is Core.COIL:
        across = part.self_capacitance if part.self_capacitance is not None else spread.COIL_ACROSS.typical
        q = part.q or (1e6 if part.loss_ohm is not None else spread.COIL_Q.typical)
        return Element(part.ref, core, value, q, 0.0, across, ohm, True)
    return Element(part.ref, core, value, lead=part.lead_inductance or 0.0, is_part=True)


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


def known_point(builder: Builder, name: str, field: str) -> int:
    """The node of a point, or a HookupError that lists the known ones."""
    if name not in builder.names:
        known = ", ".join(builder.names)
        raise HookupError(Mistake(field, f"no point {name!r} on this band", f"one of: {known}"))
    return builder.names[name]


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
