"""What may be wrong: every way in which this unit and these hook-ups can depart from the drawing."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from halfsplit.circuit import Change, How, Scene, spread
from halfsplit.circuit.elements import Core, Element
from halfsplit.expect.fit import Departure
from halfsplit.fault.weights import Weights
from halfsplit.hookup import Hookup
from halfsplit.parts import Part
from halfsplit.unit import Unit

JOINT = re.compile(r" (hot joint|ground joint|joint|near-end joint|far-end joint|contact.*)$")
CHANGED = 1.05
"""What a sound part does not stray from its own earlier value: age and temperature."""

Family = Literal["sound", "fault", "mix-up", "unlisted"]


@dataclass(frozen=True, slots=True)
class Place:
    """One of the places that a hypothesis stands for. share : of its prior weight; word : the way of failing."""

    name: str
    word: str
    weight: float


@dataclass(frozen=True, slots=True)
class Hypothesis(Departure):
    """One thing that may be wrong.

    places : where it may sit; variant : for a mix-up that is a scene of its own
    """

    family: Family = "fault"
    places: tuple[Place, ...] = ()
    variant: Variant | None = None

    @property
    def weight(self) -> float:
        """Prior weight, not normalised."""
        return sum(p.weight for p in self.places)


@dataclass(frozen=True, slots=True)
class Variant:
    """A mix-up: another unit or another hook-up than the one said; or a wider error of reading.

    unit, hookup : what is modelled instead; offset_db : 1 sigma of an unknown level; wide : unlisted discrepancy
    band : the band to which it is confined, None: all readings
    stuck : a contact that stays closed on every band
    """

    hookup: Hookup | None = None
    to_hookup: Hookup | None = None
    unit: Unit | None = None
    band: str | None = None
    offset_db: float = 0.0
    wide: bool = False
    stuck: str = ""


@dataclass
class Catalogue:
    """Collects hypotheses under unique keys; the same key in several scenes is one hypothesis.

    known : parts whose own stray an earlier reading of the sound unit has told: a change that is smaller than the
    tolerance is a fault too
    """

    weights: Weights
    known: frozenset[str] = frozenset()
    found: dict[str, Hypothesis] = field(default_factory=dict)

    def add(self, hypothesis: Hypothesis) -> None:
        if hypothesis.weight > 0:
            self.found.setdefault(hypothesis.key, hypothesis)

    def sized(
        self, change: Change, places: tuple[Place, ...], middle: float, width: float, low: float, high: float
    ) -> None:
        """A fault with a size: middle, low and high are in SI units (or factors)."""
        side = "up" if low > 0 else "down"
        key = f"{change.how}|{change.place}|{side}"
        self.add(
            Hypothesis(
                key, change, float(np.log(middle)), width, float(np.log(low)) if low > 0 else -np.inf,
                float(np.log(high)) if np.isfinite(high) else np.inf, places=places,
            )
        )  # fmt: skip

    def opened(self, name: str, places: tuple[Place, ...], *, contact: bool) -> None:
        """An arm that is open; what it still couples is not known well."""
        row = spread.OPEN_CONTACT if contact else spread.CRACK
        change = Change(How.OPEN, name)
        self.add(Hypothesis(f"{How.OPEN}|{name}", change, float(np.log(row.typical)), row.sigma, places=places))

    def plain(self, change: Change, places: tuple[Place, ...]) -> None:
        """A fault without a size."""
        self.add(Hypothesis(f"{change.how}|{change.place}", change, places=places))


def designator(place: str) -> str:
    """The part, contact or cable that a place belongs to: its joints are its own."""
    return JOINT.sub("", place)


def designators(h: Hypothesis) -> frozenset[str]:
    """Everything that a hypothesis is about, by designator: places that look alike, and relays that open together."""
    arms = [] if h.change is None else h.change.place.split("+")
    return frozenset(designator(name) for name in (*(p.name for p in h.places), *arms))


def parts_of(unit: Unit) -> dict[str, Part]:
    """Every part of the drawing by its designator."""
    found = [p for f in unit.filters for p in f.parts] + [b.part for x in unit.blocks for b in x.branches]
    return {p.ref: p for p in found}


def of_scene(book: Catalogue, unit: Unit, scene: Scene) -> None:
    """All faults of the unit that this scene holds."""
    parts = parts_of(unit)
    for arm in scene.arms:
        members = [scene.elements[e] for e in arm.elements]
        if not any(foreign(m.place) for m in members):
            for element in members:
                if element.is_part:
                    of_part(book, scene, element, parts[element.place])
            of_arm(book, arm.name, members, parts)
    of_coils(book, unit, scene)
    cables = {p.name for p in scene.pieces if p.cable is not None}
    for name, _ in scene.spots:
        if name not in cables:
            of_spot(book, name)
    for name, _, _ in scene.spans:
        w = book.weights("filter", "bridged past")
        book.sized(Change(How.PAST, name), (Place(name, "bridged past", w),), 30.0, 2.0, 0.0, 1500.0)
    for piece in scene.pieces:
        if piece.cable is not None:
            of_cable(book, piece.name)


def foreign(place: str) -> bool:
    """True for what belongs to the test or is a nuisance only, not to the drawing."""
    return place.endswith("stray") or place.startswith(("bridge ", "termination ", "source ", "detector "))


def of_part(book: Catalogue, scene: Scene, element: Element, part: Part) -> None:
    """Value off either way, a shorted turn, a short."""
    kind, place = book.weights.kind_of(part), element.place
    sigma = next((p.sigma for p in scene.params if p.key == f"{place} value"), 0.03)
    edge = float(np.exp(max((2.2 if element.core is Core.COIL else 3.0) * sigma, 0.05)))
    if place in book.known:
        edge = CHANGED
    for word, low, high in (("value high", edge, np.inf), ("value low", 0.0, 1.0 / edge)):
        w = book.weights.value(part, word)
        book.sized(Change(How.VALUE, place), (Place(place, word, w),), 1.0, 0.6, low, high)
    if element.core is Core.COIL:
        w = book.weights(kind, "shorted turn")
        book.sized(Change(How.TURN, place), (Place(place, "shorted turn", w),), 0.3, 0.6, 0.1, np.inf)
    book.plain(Change(How.SHORT, place), (Place(place, "short", book.weights(kind, "short")),))


def of_arm(book: Catalogue, name: str, members: list[Element], parts: dict[str, Part]) -> None:
    """Resistance, inductance or a crack in series: in one arm its places cannot be told apart."""
    ohm, henry, crack = [], [], []
    for m in members:
        kind = book.weights.kind_of(parts[m.place]) if m.is_part else joint_kind(m.place)
        if m.is_part:
            ohm.append(Place(m.place, "lossy", book.weights(kind, "lossy")))
        else:
            ohm.append(Place(m.place, "resistive", book.weights(kind, "resistive")))
            henry.append(Place(m.place, "inductive", book.weights(kind, "inductive")))
        crack.append(Place(m.place, "open", book.weights(kind, "open")))
    book.sized(Change(How.OHM, name), tuple(ohm), 5.0, 1.5, 0.3, np.inf)
    book.sized(Change(How.HENRY, name), tuple(henry), 50e-9, 1.0, 12e-9, np.inf)
    contact = any("contact" in m.place for m in members)
    book.opened(name, tuple(crack), contact=contact)


def joint_kind(place: str) -> str:
    """Row of the failure table for a joint or contact, by what the circuit calls it."""
    if "contact" in place:
        return "switch contact" if place.startswith("S") else "contact"
    return "ground joint" if "ground joint" in place else "connector" if "-end joint" in place else "joint"


def of_coils(book: Catalogue, unit: Unit, scene: Scene) -> None:
    """A relay that does not operate opens all its contacts at once."""
    coil_of = {r.name: r.coil or r.name for r in unit.relays}
    held: dict[str, list[str]] = {}
    for arm in scene.arms:
        relay = arm.name.partition(" contact")[0]
        if " contact" in arm.name and relay in coil_of:
            held.setdefault(coil_of[relay], []).append(arm.name)
    for coil, arms in held.items():
        place = Place(coil, "not operated", book.weights("relay", "not operated"))
        if len(arms) == 1:
            key = f"{How.OPEN}|{arms[0]}"
            old = book.found.get(key)
            if old is not None and all(p.name != coil for p in old.places):
                book.found[key] = replace(old, places=(*old.places, place))
        else:
            book.opened("+".join(arms), (place,), contact=True)


def of_spot(book: Catalogue, name: str) -> None:
    """A leak or stray capacitance from a node to ground."""
    leak = (Place(name, "leak to ground", book.weights("node", "leak")),)
    stray = (Place(name, "stray capacitance", book.weights("node", "stray")),)
    book.sized(Change(How.LEAK, name), leak, 200.0, 1.8, 0.0, 3000.0)
    book.sized(Change(How.STRAY, name), stray, 100e-12, 0.8, 40e-12, np.inf)


def of_cable(book: Catalogue, name: str) -> None:
    """A coax jumper of the wrong kind or length, lossy, or shorted (its joints are arms of their own)."""
    for how, word, width, edge in (
        (How.LINE_Z0, "wrong impedance", 0.4, 1.15),
        (How.LINE_LENGTH, "wrong length", 0.8, 1.3),
    ):
        half = 0.5 * book.weights("cable", word)
        book.sized(Change(how, name), (Place(name, f"{word} (high)", half),), 1.0, width, edge, np.inf)
        book.sized(Change(how, name), (Place(name, f"{word} (low)", half),), 1.0, width, 0.0, 1.0 / edge)
    book.sized(Change(How.LEAK, name), (Place(name, "shorted", book.weights("cable", "short")),), 1.0, 2.0, 0.0, 100.0)
    lossy = (Place(name, "lossy", book.weights("cable", "lossy")),)
    book.sized(Change(How.LINE_LOSS, name), lossy, 1.0, 1.0, 0.2, np.inf)


def mix_ups(book: Catalogue, unit: Unit, hookups: tuple[Hookup, ...]) -> None:
    """What may be wrong about the test, not the unit; and the wrong filter in the path."""
    weights = book.weights
    for band in unit.bands:
        if not any(h.band == band.name for h in hookups):
            continue
        others = [f.name for f in unit.filters if f.name != band.filter and (f.input or f.output)]
        for other in others:
            swapped = replace(unit, bands=tuple(replace(b, filter=other) if b is band else b for b in unit.bands))
            w = weights("selection", "wrong filter") / len(others)
            place = Place(f"selection of {band.filter}", f"{other} in the path instead", w)
            variant = Variant(unit=swapped, band=band.name)
            book.add(Hypothesis(f"wrong filter|{band.name}|{other}", family="fault", places=(place,), variant=variant))
        w = weights("unlisted", "any") / len(unit.bands)
        place = Place(f"something not listed, {band.name}", "not listed", w)
        book.add(
            Hypothesis(
                f"unlisted|{band.name}", family="unlisted", places=(place,), variant=Variant(band=band.name, wide=True)
            )
        )
    for chosen in unit.filters:
        for contact in dict.fromkeys(x for x in (chosen.input, chosen.output) if x):
            if any(r.name == contact for r in unit.relays):
                place = Place(f"{contact} contact", "stuck closed", weights("contact", "stuck closed"))
                book.add(Hypothesis(f"stuck|{contact}", places=(place,), variant=Variant(stuck=contact)))
    for i, hookup in enumerate(hookups):
        of_hookup(book, unit, hookup, i)


def of_hookup(book: Catalogue, unit: Unit, hookup: Hookup, number: int) -> None:
    """Mistakes of one hook-up."""
    weights, name = book.weights, f"hook-up {number + 1}"
    lead = Place(name, "long ground lead", weights("hook-up", "long ground lead"))
    for end in ("source", "detector"):
        if end == "detector" and hookup.read is None:
            continue
        change = Change(How.HENRY, f"{end} lead")
        book.add(
            Hypothesis(
                f"long lead|{number}|{end}", change, float(np.log(150e-9)), 0.8, float(np.log(40e-9)), np.inf, hookup,
                family="mix-up", places=(replace(lead, word=f"long ground lead at the {end}"),),
            )
        )  # fmt: skip
    if hookup.read is None:
        return
    place = Place(name, "wrong reference level", weights("hook-up", "wrong reference"))
    variant = Variant(hookup=hookup, offset_db=6.0)
    book.add(Hypothesis(f"reference|{number}", family="mix-up", places=(place,), variant=variant))
    if hookup.detector_ohm < 1e3:
        open_detector = replace(hookup, detector_ohm=1e5)
        place = Place(name, "detector not terminated", weights("hook-up", "detector not terminated"))
        variant = Variant(hookup=hookup, to_hookup=open_detector, offset_db=4.0)
        book.add(Hypothesis(f"unterminated|{number}", family="mix-up", places=(place,), variant=variant))
    wrong_places(book, unit, hookup, number)


def wrong_places(book: Catalogue, unit: Unit, hookup: Hookup, number: int) -> None:
    """Another band switched on, or an instrument tied to the neighbouring point."""
    weights, name = book.weights, f"hook-up {number + 1}"
    own = unit.band(hookup.band).filter
    others = {b.filter: b.name for b in unit.bands if b.filter not in (own, None)}
    for other in others.values():
        w = weights("hook-up", "wrong band") / len(others)
        variant = Variant(hookup=hookup, to_hookup=replace(hookup, band=other))
        place = Place(name, f"band {other} was switched on", w)
        book.add(Hypothesis(f"wrong band|{number}|{other}", family="mix-up", places=(place,), variant=variant))
    points = unit.path.points
    near: list[Hookup] = []
    for end in ("drive", "read"):
        at = getattr(hookup, end)
        if at in points:
            i = points.index(at)
            near += [
                replace(hookup, drive=points[j]) if end == "drive" else replace(hookup, read=points[j])
                for j in (i - 1, i + 1)
                if 0 <= j < len(points) and points[j] not in (hookup.drive, hookup.read)
            ]
    for other_hookup in near:
        w = weights("hook-up", "wrong point") / len(near)
        text = f"tied to {other_hookup.drive} and {other_hookup.read} instead"
        place, variant = Place(name, text, w), Variant(hookup=hookup, to_hookup=other_hookup)
        book.add(Hypothesis(f"wrong point|{number}|{text}", family="mix-up", places=(place,), variant=variant))


def catalogue(
    unit: Unit, scenes: tuple[Scene, ...], hookups: tuple[Hookup, ...], weights: Weights,
    known: frozenset[str] = frozenset(),
) -> tuple[Hypothesis, ...]:  # fmt: skip
    """Every hypothesis for this job, the sound unit first. Weights are not normalised. known : as in Catalogue."""
    book = Catalogue(weights, known)
    book.add(Hypothesis("sound", family="sound", places=(Place("sound", "sound", weights("sound", "any")),)))
    for scene in scenes:
        of_scene(book, unit, scene)
    mix_ups(book, unit, hookups)
    return tuple(book.found.values())
