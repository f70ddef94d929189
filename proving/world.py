"""What instruments would really see: the built unit, with its damage, tied to source and detector."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from proving.drawing import Ladder, Piece
from proving.nodal import GROUND, Complex, Network, Real, coax
from proving.strayed import Built

WIRE = 1e-4
GAP = 0.2e-12
SHORT_LEAD = 3e-9


@dataclass(frozen=True, slots=True)
class Bench:
    """Instruments as they really are in one hook-up.

    band : really switched on; drive, read : points, read None for a reflection reading
    source, detector : ohm; source_lead, detector_lead : H; detector_stray, source_stray : F
    ground_lead : H more than at the reference, at (source, detector); reference_detector : ohm when the reference
    was taken; terminated : (point, ohm) or None; calibrated : S-parameters at the sockets
    bridged : pairs of points joined by a short lead
    """

    band: str
    drive: str
    read: str | None
    source: float
    detector: float
    source_lead: float
    detector_lead: float
    source_stray: float
    detector_stray: float
    reference_detector: float
    calibrated: bool
    ground_lead: tuple[float, float] = (0.0, 0.0)
    terminated: tuple[str, float] | None = None
    bridged: tuple[tuple[str, str], ...] = ()


def arm(net: Network, built: Built, place: str, a: str, b: str, z: Complex) -> None:
    """A branch with what stands in series at its joints; broken where it is cut."""
    if place in built.cut:
        net.admittance(a, b, 1j * net.w * GAP)
        return
    extra = built.ohm.get(place, 0.005) + 1j * net.w * built.henry.get(place, 0.0)
    net.impedance(a, b, z + extra)


def contact(net: Network, built: Built, place: str, a: str, b: str, *, closed: bool) -> None:
    """A relay or wafer contact."""
    relay = place.partition(" contact")[0]
    if closed and relay not in built.dead and place not in built.cut:
        z = built.ohm[place] + 1j * net.w * (built.lead[place] + built.henry.get(place, 0.0))
        net.impedance(a, b, z)
    else:
        net.admittance(a, b, 1j * net.w * built.open_farad[place])


def capacitor(net: Network, built: Built, p: Piece) -> Complex:
    """Impedance of a capacitor."""
    part = built.parts[p.ref]
    if p.ref in built.short:
        return WIRE + 1j * net.w * part.lead
    x = 1.0 / (net.w * part.value)
    return x / part.q - 1j * x + 1j * net.w * part.lead


def ladder(net: Network, built: Built, one: Ladder) -> None:
    """The rungs of a filter; its coils as one coupled set."""
    nodes = iter(one.nodes())
    here = next(nodes)
    coils: list[tuple[Piece, str, str]] = []
    for step in one.steps:
        there = next(nodes) if step.place == "series" else GROUND
        if step.ground:
            there = step.ground
        for p in (step.piece, step.across):
            if p is None:
                continue
            if p.is_coil:
                coils.append((p, here, there))
            else:
                arm(net, built, p.ref, here, there, capacitor(net, built, p))
        here = there if step.place == "series" else here
    lay_coils(net, built, coils)
    for name in {s.ground for s in one.steps if s.ground}:
        arm(net, built, f"{name} ground joint", name, GROUND, np.zeros(len(net.f), complex))
    if one.name in built.past:
        net.impedance(f"{one.name} in", f"{one.name} out", built.past[one.name] + 1j * net.w * 20e-9)


def lay_coils(net: Network, built: Built, coils: list[tuple[Piece, str, str]]) -> None:
    """Coils with mutual inductance between neighbours; a broken or shorted one couples no more."""
    whole = []
    for p, a, b in coils:
        if p.ref in built.cut:
            net.admittance(a, b, 1j * net.w * GAP)
        elif p.ref in built.short:
            arm(net, built, p.ref, a, b, np.full(len(net.f), WIRE + 0j))
        else:
            whole.append((p, a, b))
            net.admittance(a, b, 1j * net.w * built.parts[p.ref].across)
    if not whole:
        return
    z = np.zeros((len(net.f), len(whole), len(whole)), complex)
    for i, (p, _, _) in enumerate(whole):
        part = built.parts[p.ref]
        series = built.ohm.get(p.ref, 0.005) + 1j * net.w * built.henry.get(p.ref, 0.0)
        z[:, i, i] = net.w * part.value * (1j + 1.0 / part.q) + series
        for j, (other, _, _) in enumerate(whole):
            k = built.coupling.get((p.ref, other.ref), built.coupling.get((other.ref, p.ref), 0.0))
            if k and i != j:
                z[:, i, j] = 1j * net.w * k * np.sqrt(part.value * built.parts[other.ref].value)
    net.coupled([(a, b) for _, a, b in whole], z)


def board(net: Network, built: Built, band: str, a: str, b: str) -> None:
    """All filters between the two buses, one of them selected."""
    drawing = built.drawing
    chosen = built.selected.get(band, drawing.band(band).ladder)
    for one in drawing.ladders:
        ladder(net, built, one)
        for end, bus in (("in", a), ("out", b)):
            place = drawing.contact(one.name, end)
            closed = one.name == chosen or not one.enter
            contact(net, built, place, bus, f"{one.name} {end}", closed=closed)
    for side, bus in (("left bus", a), ("right bus", b)):
        net.admittance(bus, GROUND, 1j * net.w * built.stray[side])


def path(net: Network, built: Built, band: str) -> None:
    """The whole path from left to right; the final stage is lifted."""
    entries = [x for x in built.drawing.order if x != "PA"]
    here, joined = entries[0], 0
    for i, entry in enumerate(entries[1:], 1):
        if entry in built.drawing.points:
            continue
        following = entries[i + 1] if i + 1 < len(entries) else "end"
        joined += 1
        there = following if following in built.drawing.points else f"implied {joined}"
        if entry == "filter":
            board(net, built, band, here, there)
        elif entry in built.lines:
            jumper(net, built, entry, here, there)
        else:
            contact(net, built, f"{entry} contact", here, there, closed=True)
        here = there
    for node, ohm in built.leak.items():
        net.admittance(node, GROUND, np.array(1.0 / ohm))
    for node, farad in built.stray.items():
        if node in net.index:
            net.admittance(node, GROUND, 1j * net.w * farad)


def jumper(net: Network, built: Built, ref: str, a: str, b: str) -> None:
    """A coax with the joint of its centre conductor at each end."""
    line = built.lines[ref]
    zero = np.zeros(len(net.f), complex)
    arm(net, built, f"{ref} near-end joint", a, f"{ref} near", zero)
    arm(net, built, f"{ref} far-end joint", f"{ref} far", b, zero)
    y = coax(net.f, line.z0, line.velocity, line.length, line.k1, line.k2)
    net.two_port(f"{ref} near", f"{ref} far", y)
    if ref in built.line_leak:
        net.admittance(f"{ref} near", GROUND, np.array(1.0 / built.line_leak[ref]))


def instruments(net: Network, bench: Bench, *, ground_leads: bool, detector: float) -> None:
    """Source and detector with their leads, tied to "drive" and "read" of the network."""
    more = bench.ground_lead if ground_leads else (0.0, 0.0)
    net.admittance("source", GROUND, np.array(1.0 / bench.source))
    net.admittance("source", GROUND, 1j * net.w * bench.source_stray)
    net.impedance("source", bench.drive, WIRE + 1j * net.w * (bench.source_lead + more[0]))
    if bench.read is not None:
        net.admittance("detector", GROUND, 1.0 / detector + 1j * net.w * bench.detector_stray)
        net.impedance("detector", bench.read, WIRE + 1j * net.w * (bench.detector_lead + more[1]))


def sees(built: Built, bench: Bench, f: Real) -> tuple[Complex | None, Complex]:
    """(S21 relative to the reference or None, Gamma at the source behind its lead) without noise. f : (n_f,) Hz."""
    net = Network(f)
    path(net, built, bench.band)
    instruments(net, bench, ground_leads=True, detector=bench.detector)
    for a, b in bench.bridged:
        net.impedance(a, b, WIRE + 1j * net.w * SHORT_LEAD)
    if bench.terminated is not None:
        net.admittance(bench.terminated[0], GROUND, np.array(1.0 / bench.terminated[1]))
    v = net.voltages("source")
    y_in = 1.0 / v["source"] - 1.0 / bench.source
    gamma = (1.0 - 50.0 * y_in) / (1.0 + 50.0 * y_in)
    if bench.read is None:
        return None, gamma
    sneak = built.sneak * f / 30e6
    if bench.calibrated:
        return 2.0 * v["detector"] / bench.source + sneak, gamma
    through = Network(f)
    instruments(
        through,
        Bench(**{**as_dict(bench), "read": bench.drive}),
        ground_leads=False,
        detector=bench.reference_detector,
    )
    return v["detector"] / through.voltages("source")["detector"] + sneak, gamma


def as_dict(bench: Bench) -> dict[str, object]:
    """Fields by name."""
    return {name: getattr(bench, name) for name in Bench.__dataclass_fields__}
