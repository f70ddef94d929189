"""What the coax of a unit does on each band: its loss and turn in place, and what it takes away when left hanging."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfsplit.cables.line import REFERENCE, Line, end_admittance
from halfsplit.cables.records import BandEffect, End, StubEffect
from halfsplit.network.lines import C0
from halfsplit.parts import Cable
from halfsplit.unit import Band, Unit

TIMES = (2, 3, 4, 5)
NOTICED_DB = 0.3
"""What a hanging piece takes from a band before it is worth a sentence; 0.3 dB is 7 % of the power."""
NEAR_NOTCH = 10.0
POINTS = 41


def stub_effects(unit: Unit) -> tuple[StubEffect, ...]:
    """Every coax jumper of a unit on every band, and lying across the path with a far end open or shorted."""
    return tuple(stub_effect(cable, unit.bands) for cable in unit.cables)


def stub_effect(cable: Cable, bands: Sequence[Band]) -> StubEffect:
    """One coax on all bands. returns figures for 50 ohm at both sides of the place where it hangs"""
    delay = cable.length / (C0 * cable.velocity_factor)
    share = cable.length / 100.0
    line = Line(cable.z0, delay, cable.k1 * share, cable.k2 * share)
    effects = tuple(_on_band(line, band) for band in bands)
    quarter = 0.25 / delay
    made = StubEffect(cable.ref, cable.type, cable.length, delay, cable.z0, quarter, effects, "")
    return StubEffect(made.ref, made.type, made.metres, made.delay, made.z0, made.quarter, made.bands, _words(made))


def hanging_db(line: Line, low: float, high: float, end: End) -> float:
    """Most that a hanging piece takes from a 50 ohm path between two frequencies, dB."""
    f = np.linspace(low, high, POINTS)
    gl, zc = line.at(f)
    t = np.tanh(gl)
    y_end = end_admittance(f, end, 0.0)
    y = 1.0 / (zc * t) if end is End.SHORT else t / zc + y_end
    return float((20.0 * np.log10(np.abs(1.0 + 0.5 * REFERENCE * y))).max())


def _on_band(line: Line, band: Band) -> BandEffect:
    middle = 0.5 * (band.low + band.high)
    gl, _ = line.at(np.array([middle]))
    harmonics = tuple(
        (
            n,
            hanging_db(line, n * band.low, n * band.high, End.OPEN),
            hanging_db(line, n * band.low, n * band.high, End.SHORT),
        )
        for n in TIMES
    )
    return BandEffect(
        band.name, float(np.degrees(gl.imag[0])), float(gl.real[0] * 20.0 / np.log(10.0)),
        hanging_db(line, band.low, band.high, End.OPEN), hanging_db(line, band.low, band.high, End.SHORT), harmonics,
    )  # fmt: skip


def _words(e: StubEffect) -> str:
    """What to look out for, in a sentence or two."""
    open_bands = [b.band for b in e.bands if b.open_db > NOTICED_DB]
    notched = [f"{n} x {b.band}" for b in e.bands for n, o, _ in b.harmonics if o > NEAR_NOTCH]
    out = f"a quarter wave at {e.quarter / 1e6:.1f} MHz"
    if not open_bands and not notched:
        return f"{out}: left hanging with its far end open it does not show on any band or its harmonics up to 5 times"
    if open_bands:
        worst = max(e.bands, key=lambda b: b.open_db)
        out += f"; left hanging open it takes {worst.open_db:.1f} dB from {worst.band}"
        out += f" (noticed on {', '.join(open_bands)})" if len(open_bands) > 1 else ""
    if notched:
        out += f"; it would flatter the attenuation at {', '.join(notched[:4])}"
    return out
