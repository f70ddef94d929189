"""What is laid down while the path is walked: nodes, arms, nuisances, parts and contacts."""

from __future__ import annotations

from halfsplit.circuit import spread
from halfsplit.circuit.elements import Core, Element, Field
from halfsplit.circuit.scene import Arm, Near, Pair, Param, Piece, Scene
from halfsplit.errors import HookupError, Mistake
from halfsplit.hookup import Hookup
from halfsplit.parts import Kind, Part
from halfsplit.unit import Relay, Switch, Unit

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
        places = {self.elements[e].place for e in elements} | {name, name.partition(" contact")[0]}
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


def known_point(builder: Builder, name: str, field: str) -> int:
    """The node of a point, or a HookupError that lists the known ones."""
    if name not in builder.names:
        known = ", ".join(builder.names)
        raise HookupError(Mistake(field, f"no point {name!r} on this band", f"one of: {known}"))
    return builder.names[name]
