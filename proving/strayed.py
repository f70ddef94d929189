"""The unit as it was really built: every value strayed from the drawing, wider than the tool's own priors."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from proving.drawing import Drawing, Ladder, Piece, Rng


@dataclass
class Real:
    """One part as built. value : F or H; lead : H in series (capacitor); across : F (coil)."""

    value: float
    q: float
    lead: float = 0.0
    across: float = 0.0


@dataclass
class Line:
    """One jumper as built."""

    z0: float
    velocity: float
    k1: float
    k2: float
    length: float


@dataclass
class Built:
    """A unit as built, and then as damaged. It is changed in place by faults, on a copy.

    parts : by designator; coupling : (left, right) coil to k; stray : node to F; lead : contact place to H
    ohm, henry : place of an arm to what stands in series there; open_pf : contact place to F when open
    cut : arms that are broken; short : parts that are shorted; leak : node to ohm; past : filter to ohm
    selected : band to the filter really in the path; dead : relays that do not operate
    sneak : amplitude and phase of the leak past everything at 30 MHz
    """

    drawing: Drawing
    parts: dict[str, Real]
    lines: dict[str, Line]
    coupling: dict[tuple[str, str], float]
    stray: dict[str, float]
    lead: dict[str, float]
    open_farad: dict[str, float]
    ohm: dict[str, float]
    henry: dict[str, float]
    sneak: complex
    cut: set[str] = field(default_factory=set)
    short: set[str] = field(default_factory=set)
    leak: dict[str, float] = field(default_factory=dict)
    past: dict[str, float] = field(default_factory=dict)
    line_leak: dict[str, float] = field(default_factory=dict)
    selected: dict[str, str] = field(default_factory=dict)
    dead: set[str] = field(default_factory=set)


def factor(rng: Rng, sd: float) -> float:
    """A factor about one, within three sigma."""
    return float(np.exp(sd * np.clip(rng.normal(), -3.0, 3.0)))


def uniform_log(rng: Rng, low: float, high: float) -> float:
    """Even in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def build_unit(rng: Rng, drawing: Drawing) -> Built:
    """A sound unit built to a drawing."""
    printed = {
        "": rng.uniform(1.0, 4.0),
        "2 %": 1.0,
        "5 %": rng.uniform(1.2, 2.5),
        "10 %": rng.uniform(2.0, 4.0),
    }
    sd_c, sd_l = printed[drawing.tolerance] / 100.0, float(rng.uniform(4.0, 10.0)) / 100.0
    parts: dict[str, Real] = {}
    coupling: dict[tuple[str, str], float] = {}
    for ladder in drawing.ladders:
        build_ladder(rng, ladder, sd_c, sd_l, parts)
        coils = [p.ref for p in ladder.pieces() if p.is_coil]
        for pair in pairwise(coils):
            coupling[pair] = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.0, 0.03))
    for ref in drawing.adjusted:
        parts[ref].value = tuned(rng, drawing, parts, ref)
    lines = {
        j.ref: Line(j.z0 * factor(rng, 0.01), j.velocity * factor(rng, 0.01), j.k1 * factor(rng, 0.1), j.k2,
                    j.length * factor(rng, 0.02))
        for j in drawing.jumpers
    }  # fmt: skip
    size = 10 ** (rng.uniform(-95.0, -70.0) / 20.0)
    built = Built(drawing, parts, lines, coupling, {}, {}, {}, {}, {}, size * np.exp(2j * np.pi * rng.random()))
    build_board(rng, built)
    return built


def build_ladder(rng: Rng, ladder: Ladder, sd_c: float, sd_l: float, parts: dict[str, Real]) -> None:
    """Parts of one filter: each its own stray, all the same scale."""
    scale = factor(rng, 0.02)
    for p in ladder.pieces():
        if p.is_coil:
            parts[p.ref] = Real(
                p.value * scale * factor(rng, sd_l),
                uniform_log(rng, 70, 220),
                0.0,
                uniform_log(rng, 0.5e-12, 3e-12),
            )
        else:
            lead = uniform_log(rng, 2e-9, 12e-9)
            parts[p.ref] = Real(p.value * scale * factor(rng, sd_c), uniform_log(rng, 500, 2000), lead)


def tuned(rng: Rng, drawing: Drawing, parts: dict[str, Real], ref: str) -> float:
    """A coil that was set for resonance with its capacitor, to about a percent."""
    drawn: dict[str, Piece] = {p.ref: p for x in drawing.ladders for p in x.pieces()}
    mate = "C" + ref[1:]
    return drawn[ref].value * drawn[mate].value / parts[mate].value * factor(rng, 0.012)


def build_board(rng: Rng, built: Built) -> None:
    """Strays, leads, contacts and joints."""
    drawing = built.drawing
    joints = float(rng.uniform(0.003, 0.02))
    for ladder in drawing.ladders:
        for end in ("in", "out"):
            switched = bool(ladder.enter)
            built.stray[f"{ladder.name} {end}"] = (
                uniform_log(rng, 4e-12, 25e-12) if switched else uniform_log(rng, 2e-12, 10e-12)
            )
            place = drawing.contact(ladder.name, end)
            built.lead[place] = uniform_log(rng, 5e-9, 50e-9) if switched else uniform_log(rng, 3e-9, 20e-9)
            built.open_farad[place] = uniform_log(rng, 0.5e-12, 3e-12)
            built.ohm[place] = uniform_log(rng, 0.01, 0.05)
        for step in ladder.steps:
            if step.ground:
                built.henry[f"{step.ground} ground joint"] = uniform_log(rng, 0.8e-9, 5e-9)
                built.ohm[f"{step.ground} ground joint"] = 0.5 * joints
        for p in ladder.pieces():
            built.ohm[p.ref] = joints * factor(rng, 0.5)
    for side in ("left bus", "right bus"):
        switched = bool(drawing.ladders[0].enter)
        built.stray[side] = uniform_log(rng, 5e-12, 35e-12) if switched else uniform_log(rng, 2e-12, 8e-12)
    for relay in drawing.relays:
        place = f"{relay} contact"
        built.lead[place] = uniform_log(rng, 3e-9, 15e-9)
        built.ohm[place] = uniform_log(rng, 0.01, 0.05)
        built.open_farad[place] = uniform_log(rng, 0.5e-12, 3e-12)
    for j in drawing.jumpers:
        for end in ("near-end", "far-end"):
            built.ohm[f"{j.ref} {end} joint"] = joints
