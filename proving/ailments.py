"""Faults of every kind, put into a built unit or into the way it is measured."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from proving.drawing import Drawing, Ladder, Rng
from proving.strayed import Built, uniform_log
from proving.world import Bench


@dataclass(frozen=True, slots=True)
class Ailment:
    """What is really wrong.

    kind : of the list below; place : as the tool would call it; family : "fault", "mix-up" or "sound"
    size : SI units or factor, 0 without size; ladder : filter in which it sits, "" for what all bands share
    reading : number of the hook-up that it spoils, from 1; 0 for the unit; detail : a second name (band, filter)
    """

    kind: str
    place: str
    family: str
    size: float = 0.0
    ladder: str = ""
    reading: int = 0
    detail: str = ""

    def words(self) -> str:
        size = f" {self.size:.3g}" if self.size else ""
        return f"{self.place}: {self.kind}{size}{' ' + self.detail if self.detail else ''}"


SOUND = Ailment("sound", "sound", "sound")


def capacitors(x: Ladder) -> list[str]:
    return [p.ref for p in x.pieces() if not p.is_coil]


def coils(x: Ladder) -> list[str]:
    return [p.ref for p in x.pieces() if p.is_coil]


def joint_of(rng: Rng, x: Ladder, ref: str) -> str:
    """One joint of a part, as the tool calls it."""
    step = next(s for s in x.steps if ref in (s.piece.ref, s.across.ref if s.across else ""))
    if step.place == "series":
        return f"{ref} joint"
    if step.ground:
        return f"{ref} hot joint"
    return f"{ref} {rng.choice(['hot', 'ground'])} joint"


def in_part(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment]:
    """Faults of a part itself."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment:
        del drawing
        refs = coils(x) if kind == "shorted turn" else [p.ref for p in x.pieces()]
        ref = str(rng.choice(refs))
        size = {
            "value high": uniform_log(rng, 1.25, 3.0),
            "value low": uniform_log(rng, 0.3, 0.8),
            "lossy": uniform_log(rng, 1.0, 20.0),
            "shorted turn": float(rng.uniform(0.10, 0.50)),
        }.get(kind, 0.0)
        return Ailment(kind, ref, "fault", size, x.name)

    return pick


def in_joint(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment]:
    """Faults of a solder joint."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment:
        del drawing
        place = joint_of(rng, x, str(rng.choice([p.ref for p in x.pieces()])))
        size = {
            "joint resistive": uniform_log(rng, 1.0, 50.0),
            "joint inductive": uniform_log(rng, 20e-9, 200e-9),
        }.get(kind, 0.0)
        return Ailment(kind, place, "fault", size, x.name)

    return pick


def earth_point(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment | None:
    """The earth point that two parts share."""
    del drawing
    shared = sorted({s.ground for s in x.steps if s.ground})
    if not shared:
        return None
    return Ailment(
        "earth point inductive", f"{shared[0]} ground joint", "fault", uniform_log(rng, 20e-9, 200e-9), x.name
    )


def in_contact(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment | None]:
    """Contacts at a filter's ends, or the relay in the path."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment | None:
        places = [drawing.contact(x.name, end) for end in ("in", "out")] if x.enter else []
        places += [f"{r} contact" for r in drawing.relays] if rng.random() < 0.4 or not places else []
        if not places:
            return None
        place = str(rng.choice(places))
        shared = place.partition(" ")[0] in drawing.relays
        size = uniform_log(rng, 1.0, 50.0) if kind == "contact resistive" else 0.0
        if kind == "relay not operated":
            if drawing.wafers and not shared:
                return None
            place = place.partition(" ")[0]
        return Ailment(kind, place, "fault", size, "" if shared else x.name)

    return pick


def at_node(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment]:
    """From a node to ground."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment:
        nodes = x.nodes() + list(drawing.points)
        node = str(rng.choice(nodes))
        size = uniform_log(rng, 20.0, 1000.0) if kind == "leak" else uniform_log(rng, 60e-12, 500e-12)
        return Ailment(kind, node, "fault", size, x.name if node in x.nodes() else "")

    return pick


def bridged(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment:
    """A filter bridged past."""
    del drawing
    return Ailment("bridged past", x.name, "fault", float(rng.uniform(0.5, 200.0)), x.name)


def in_coax(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment | None]:
    """Jumpers."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment | None:
        del x
        if not drawing.jumpers:
            return None
        ref = str(rng.choice([j.ref for j in drawing.jumpers]))
        either = rng.random() < 0.5
        size = {
            "coax wrong impedance": uniform_log(rng, 1.4, 2.0) if either else uniform_log(rng, 0.5, 0.7),
            "coax wrong length": uniform_log(rng, 2.0, 6.0) if either else uniform_log(rng, 0.15, 0.5),
            "coax lossy": uniform_log(rng, 0.5, 6.0),
            "coax short": uniform_log(rng, 0.05, 5.0),
        }.get(kind, 0.0)
        place = f"{ref} {rng.choice(['near', 'far'])}-end joint" if kind == "coax open" else ref
        return Ailment(kind, place, "fault", size)

    return pick


def wrong_filter(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment | None:
    """Another filter is switched into the path than the band asks for."""
    others = [y.name for y in drawing.ladders if y.name != x.name]
    if not others:
        return None
    return Ailment("wrong filter", f"selection of {x.name}", "fault", 0.0, x.name, 0, str(rng.choice(others)))


def in_test(kind: str) -> Callable[[Rng, Drawing, Ladder], Ailment | None]:
    """Mistakes of the hook-up; which reading they spoil is settled when the readings are known."""

    def pick(rng: Rng, drawing: Drawing, x: Ladder) -> Ailment | None:
        detail = ""
        if kind == "wrong band":
            others = [b.name for b in drawing.bands if b.ladder != x.name]
            if not others:
                return None
            detail = str(rng.choice(others))
        if kind == "long ground lead":
            detail = str(rng.choice(["source", "detector"]))
        size = {
            "detector not terminated": uniform_log(rng, 1e3, 1e4),
            "long ground lead": uniform_log(rng, 60e-9, 400e-9),
            "wrong reference": float(rng.choice([-1, 1]) * rng.uniform(1.0, 6.0)),
        }.get(kind, 0.0)
        return Ailment(kind, "hook-up", "mix-up", size, x.name, 0, detail)

    return pick


PICK: dict[str, Callable[[Rng, Drawing, Ladder], Ailment | None]] = {
    **{k: in_part(k) for k in ("value high", "value low", "lossy", "open", "short", "shorted turn")},
    **{k: in_joint(k) for k in ("joint resistive", "joint inductive", "joint open")},
    "earth point inductive": earth_point,
    **{k: in_contact(k) for k in ("contact resistive", "contact open", "relay not operated")},
    **{k: at_node(k) for k in ("leak", "stray")},
    "bridged past": bridged,
    **{k: in_coax(k) for k in ("coax open", "coax short", "coax wrong impedance", "coax wrong length", "coax lossy")},
    "wrong filter": wrong_filter,
    **{k: in_test(k) for k in ("detector not terminated", "long ground lead", "wrong reference", "wrong band")},
}


def damaged(built: Built, one: Ailment) -> Built:
    """The unit with a fault in it; mistakes of the hook-up leave it as it was."""
    out = copy.deepcopy(built)
    arm = one.place if "contact" in one.place or one.place.startswith(("E", "W")) else one.place.split(" ")[0]
    part = out.parts.get(one.place)
    match one.kind:
        case "value high" | "value low":
            assert part is not None
            drawn = next(p.value for x in built.drawing.ladders for p in x.pieces() if p.ref == one.place)
            part.value = drawn * one.size
        case "shorted turn":
            assert part is not None
            part.value *= 1.0 - one.size
            part.q = 1.0 / (1.0 / part.q + one.size / 12.0)
        case "lossy" | "joint resistive" | "contact resistive":
            out.ohm[arm] = out.ohm.get(arm, 0.0) + one.size
        case "joint inductive" | "earth point inductive":
            out.henry[arm] = out.henry.get(arm, 0.0) + one.size
        case "open" | "joint open" | "contact open" | "coax open":
            out.cut.add(arm)
        case "short":
            out.short.add(one.place)
        case "relay not operated":
            out.dead.add(one.place)
        case "leak":
            out.leak[one.place] = one.size
        case "stray":
            out.stray[one.place] = out.stray.get(one.place, 0.0) + one.size
        case "bridged past":
            out.past[one.place] = one.size
        case "wrong filter":
            out.selected |= {b.name: one.detail for b in built.drawing.bands if b.ladder == one.ladder}
        case "sound" | "detector not terminated" | "long ground lead" | "wrong reference" | "wrong band":
            pass
        case _:
            damage_line(out, one)
    return out


def damage_line(out: Built, one: Ailment) -> None:
    """A jumper of the wrong kind."""
    line = out.lines[one.place]
    match one.kind:
        case "coax short":
            out.line_leak[one.place] = one.size
        case "coax wrong impedance":
            line.z0 *= one.size
        case "coax wrong length":
            line.length *= one.size
        case "coax lossy":
            line.k1 += one.size / line.length * 100.0 / np.sqrt(10.0)  # dB at 10 MHz
        case _:
            raise ValueError(f"no such fault: {one.kind}")


def mistaken(rng: Rng, bench: Bench, one: Ailment) -> Bench:
    """How a reading was really taken, where the mistake is in the test."""
    match one.kind:
        case "wrong band":
            return replace(bench, band=one.detail)
        case "long ground lead":
            return replace(bench, ground_lead=(one.size, 0.0) if one.detail == "source" else (0.0, one.size))
        case "detector not terminated":
            also = rng.random() < 0.5
            return replace(bench, detector=one.size, reference_detector=one.size if also else bench.reference_detector)
        case _:
            return bench
