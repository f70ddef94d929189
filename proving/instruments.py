"""Instruments and what they write: errors, floor, read-out steps, and files in differing formats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from proving.drawing import Rng
from proving.nodal import Complex, Real


@dataclass(frozen=True, slots=True)
class Gear:
    """One instrument of one case.

    kind : "sweeper" or "analyser"; step : dB of the read-out; floor : dB; offset, drift, ripple : dB
    slope : of the log detector; directivity : of the reflection bridge
    """

    kind: str
    step: float
    floor: float
    offset: float
    drift: float
    ripple: float
    slope: float
    directivity: complex


def draw_gear(rng: Rng, kind: str) -> Gear:
    """An instrument with its own errors."""
    swept = kind == "sweeper"
    phase = np.exp(2j * np.pi * rng.random())
    return Gear(
        kind,
        float(rng.choice([0.01, 0.1, 0.1, 0.5]) if swept else 0.001),
        float(rng.uniform(-85.0, -70.0) if swept else rng.uniform(-95.0, -80.0)),
        float(rng.normal(0.0, 0.1 if swept else 0.03)),
        float(rng.uniform(-0.1, 0.1)) * (1.0 if swept else 0.3),
        0.05 if swept else 0.0,
        float(rng.uniform(-0.01, 0.01)) if swept else 0.0,
        10 ** (-float(rng.uniform(30, 40) if swept else rng.uniform(38, 50)) / 20.0) * phase,
    )


def shown_through(rng: Rng, gear: Gear, f: Real, h: Complex, offset: float) -> Complex:
    """What the instrument makes of S21: its size as shown, the phase as it is."""
    noise = 10 ** (gear.floor / 20.0)
    seen = h + noise * (rng.normal(size=len(f)) + 1j * rng.normal(size=len(f))) / np.sqrt(2.0)
    x = np.log(f / f[0]) / np.log(f[-1] / f[0])
    drift = gear.drift * (x - 0.5) * 2.0 + 0.3 * gear.drift * np.sin(4.0 * x)
    db = 20.0 * np.log10(np.abs(seen))
    db = db * (1.0 + gear.slope) + gear.offset + offset + drift
    db += gear.ripple * np.sin(db * 2.0 * np.pi / 6.0 + 1.0)
    db += rng.normal(0.0, 0.01 if gear.kind == "sweeper" else 0.003, len(f))
    db = np.round(db / gear.step) * gear.step
    return 10 ** (db / 20.0) * np.exp(1j * np.angle(seen))


def shown_reflection(rng: Rng, gear: Gear, f: Real, gamma: Complex) -> Complex:
    """What the instrument makes of a reflection: directivity, a little loss, noise."""
    turned = gear.directivity * np.exp(-2j * np.pi * f / 3e8)
    seen = gamma * (1.0 + 0.003 * rng.normal()) + turned * (1.0 - np.abs(gamma) ** 2)
    seen += 0.001 * (rng.normal(size=len(f)) + 1j * rng.normal(size=len(f)))
    db = np.round(20.0 * np.log10(np.abs(seen)) / gear.step) * gear.step
    return 10 ** (db / 20.0) * np.exp(1j * np.angle(seen))


def decibels(values: Complex) -> Real:
    return np.asarray(20.0 * np.log10(np.abs(values)))


def touchstone(rng: Rng, f: Real, s11: Complex, s21: Complex | None) -> bytes:
    """A one- or two-port file; the reverse columns are zero, as one-way instruments write them."""
    style = str(rng.choice(["RI", "MA", "DB"]))
    unit, scale = (("MHz", 1e6), ("Hz", 1.0))[int(rng.integers(2))]

    def pair(z: complex) -> str:
        if style == "RI":
            return f"{z.real:.8f} {z.imag:.8f}"
        size = abs(z) if style == "MA" else 20.0 * np.log10(max(abs(z), 1e-15))
        return f"{size:.8g} {np.degrees(np.angle(z)):.3f}"

    rows = ["! trial", f"# {unit} S {style} R 50"]
    zero = "-300 0" if style == "DB" else "0 0"
    for i in range(len(f)):
        row = f"{f[i] / scale:.6f} {pair(s11[i])}"
        rows.append(row if s21 is None else f"{row} {pair(s21[i])} {zero} {zero}")
    return ("\n".join(rows) + "\n").encode()


def table(rng: Rng, f: Real, db: Real, *, reflection: bool, step: float) -> tuple[str, bytes]:
    """(ending, bytes) of a table in one of four layouts. db : as S21 or S11, below zero."""
    digits = max(0, int(np.ceil(-np.log10(step) - 1e-9)))
    style = str(rng.choice(["comma", "semicolon", "tab", "loss"]))
    heading = "S11 (dB)" if reflection else "S21 (dB)"
    if style == "comma":
        rows = ["Frequency (Hz)," + heading] + [f"{x:.0f},{y:.{digits}f}" for x, y in zip(f, db, strict=True)]
    elif style == "semicolon":
        rows = ["Frequency (MHz);" + heading]
        rows += [f"{x / 1e6:.5f};{y:.{digits}f}".replace(".", ",") for x, y in zip(f, db, strict=True)]
    elif style == "tab":
        rows = ["# trial", "Frequency (kHz)\t" + heading]
        rows += [f"{x / 1e3:.3f}\t{y:.{digits}f}" for x, y in zip(f, db, strict=True)]
    else:
        word = "Return loss (dB)" if reflection else "Attenuation (dB)"
        rows = ["Frequency (MHz)," + word]
        rows += [f"{x / 1e6:.6f},{-y:.{digits}f}" for x, y in zip(f, db, strict=True)]
    return {"tab": "txt"}.get(style, "csv"), ("\n".join(rows) + "\n").encode()


def by_hand(f: Real, db: Real, *, reflection: bool, step: float) -> tuple[str, bytes]:
    """A short list as one writes it beside the bench."""
    digits = max(0, int(np.ceil(-np.log10(step) - 1e-9)))
    rows = ["Frequency   " + ("S11" if reflection else "S21")]
    rows += [f"{x / 1e6:.3f} MHz   {y:.{digits}f} dB" for x, y in zip(f, db, strict=True)]
    return "txt", ("\n".join(rows) + "\n").encode()
