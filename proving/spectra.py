"""Spectra of transmitters that do not exist, with every line's true cause kept, and how many lines are named right.

Written without the namer: frequencies come from oscillators that are mixed here, levels from their own distributions,
and what an analyser does to both (axis off, read-out steps, noise, lines lost) is put on last. Seeds: tuning 1 to 80,
tests 900 to 939, reporting 6000 to 6199 (an earlier state: 5000 to 5199).
"""

from __future__ import annotations

import math
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np

from halfsplit.emission import Kind, Line, NamedSpectrum, Spectrum, name_lines
from halfsplit.unit import Plan

TUNING, TESTS, REPORTING = range(1, 81), range(900, 940), range(6000, 6200)
BANDS = ((1.81e6, 2.0e6), (3.5e6, 3.8e6), (5.25e6, 5.45e6), (7.0e6, 7.2e6), (10.1e6, 10.15e6), (14.0e6, 14.35e6),
         (18.068e6, 18.168e6), (21.0e6, 21.45e6), (24.89e6, 24.99e6), (28.0e6, 29.7e6))  # fmt: skip

# What a cause may be called. The second of a pair is allowed where the bench cannot tell: see `right`.
CALLED = {
    "carrier": {Kind.CARRIER}, "harmonic": {Kind.HARMONIC}, "half": {Kind.HALF}, "sideband": {Kind.SIDEBAND},
    "ripple": {Kind.HUM}, "hum": {Kind.HUM}, "fixed": {Kind.FIXED}, "clock": {Kind.OSCILLATOR}, "lo": {Kind.OSCILLATOR},
    "product": {Kind.PRODUCT}, "imd": {Kind.INTERMODULATION}, "zero": {Kind.OWN}, "hump": {Kind.HUMP},
}  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """One line as it was made. times : of the carrier, for a harmonic or a half-harmonic"""

    f: float
    dbc: float
    cause: str
    times: float = 0.0


@dataclass(frozen=True)
class Transmitter:
    """What goes on in a transmitter. plan : None where its manual is lost"""

    band: tuple[float, float]
    plan: Plan | None
    lo_above: bool
    intermediate: float
    clocks: tuple[float, ...]
    spurs: tuple[float, ...]
    steps: tuple[float, ...]
    ripple: float
    halves: bool
    products: tuple[tuple[int, int], ...]
    loud: float


def transmitter(rng: np.random.Generator) -> Transmitter:
    """One transmitter with its troubles."""
    intermediate = float(rng.choice([9e6, 10.7e6, 8.83e6, 45e6, 5.2e6])) * (1 + rng.normal() * 1e-4)
    clocks = tuple(float(x) for x in rng.choice([10e6, 12e6, 16e6, 20e6, 12.288e6, 4.0e6], rng.integers(0, 3), False))
    ripple = float(rng.uniform(40e3, 180e3)) if rng.random() < 0.3 else 0.0
    orders = [(1, 0), (1, 1), (2, 1), (2, 2), (1, 2), (3, 1), (2, 3), (3, 2)]
    picked = rng.choice(len(orders), rng.integers(0, 4), False)
    known = rng.random() < 0.75
    above = bool(rng.random() < 0.7)
    plan = Plan(
        (round(intermediate, -4),), (("b", "above" if above else "below"),) if rng.random() < 0.7 else (),
        tuple((f"clock {i}", c) for i, c in enumerate(clocks, 1)),
        (("supply", round(ripple, -3)),) if ripple else (), None,
    )  # fmt: skip
    return Transmitter(
        BANDS[int(rng.integers(len(BANDS)))], plan if known else None, above, intermediate,
        clocks if known else (), tuple(float(x) for x in rng.uniform(2e6, 180e6, rng.integers(0, 3))),
        tuple(float(x) for x in 10 ** rng.uniform(4.6, 6.3, rng.integers(0, 2))), ripple if known else 0.0,
        bool(rng.random() < 0.2), tuple(orders[i] for i in picked) if known else (), float(rng.normal(0, 5)),
    )  # fmt: skip


def made(t: Transmitter, fc: float, tone: float, rng: np.random.Generator) -> list[Truth]:
    """Every line of a transmitter on one carrier (or two tones `tone` Hz apart, 0 for one)."""
    out = (
        [Truth(fc, 0.0, "carrier")]
        if not tone
        else [Truth(f, float(rng.normal(0, 0.2)), "carrier") for f in (fc, fc + tone)]
    )
    for n in range(2, 10):
        level = -38.0 - 5.0 * (n - 2) + t.loud + float(rng.normal(0, 8))
        out.append(Truth(n * (fc + tone / 2), level, "harmonic", n))
    if tone:
        out = [x for x in out if x.cause == "carrier"]
        for k in range(1, 4):
            level = -28.0 - 9.0 * (k - 1) + float(rng.normal(0, 4))
            for f in (fc - k * tone, fc + (k + 1) * tone):
                out.append(Truth(f, level + float(rng.normal(0, 1.5)), "imd"))
        return out
    if t.halves:
        for k in range(int(rng.integers(2, 5))):
            out.append(Truth((k + 0.5) * fc, -48.0 - 4 * k + float(rng.normal(0, 6)), "half", k + 0.5))
    for d in t.steps:
        level = float(rng.uniform(-70, -35))
        for k in range(1, int(rng.integers(1, 4)) + 1):
            for sign in (1, -1):
                out.append(Truth(fc + sign * k * d, level - 9 * (k - 1) + float(rng.normal(0, 2)), "sideband"))
    if t.ripple:
        level = float(rng.uniform(-70, -45))
        out += [Truth(fc + s * t.ripple, level + float(rng.normal(0, 1.5)), "ripple") for s in (1, -1)]
    out += [Truth(g, float(rng.uniform(-75, -40)), "fixed") for g in t.spurs]
    for c in t.clocks:
        for k in range(1, int(rng.integers(1, 5)) + 1):
            out.append(Truth(k * c, float(rng.uniform(-75, -50)) - 2 * k, "clock"))
    lo = fc + t.intermediate if t.lo_above else abs(fc - t.intermediate)
    for m, n in t.products:
        cause = "lo" if n == 0 else "product"
        sign = 1 if rng.random() < 0.5 else -1
        f = abs(m * lo + sign * n * t.intermediate)
        if abs(f / fc - round(f / fc)) * fc > 5e3 and f > 1e5:
            out.append(Truth(f, float(rng.uniform(-72, -45)), cause))
    return out


def displayed(
    key: str, true: list[Truth], fc: float, tone: float, rng: np.random.Generator
) -> tuple[Spectrum, list[Truth]]:
    """What an analyser shows of the lines, and the truth behind each line that it shows."""
    rbw = float(rng.choice([1e3, 3e3, 10e3, 30e3])) if not tone else 100.0
    axis = float(10 ** rng.uniform(-5.5, -3.5))
    scale, floor = float(rng.normal(0, axis)), float(rng.uniform(-90, -70))
    span = (0.0, float(rng.choice([60e6, 100e6, 200e6]))) if not tone else (fc - 6 * tone, fc + 7 * tone)
    span = (span[0], max(span[1], 4.2 * fc)) if not tone else (span[0] * (1 + scale), span[1] * (1 + scale))
    keep: list[tuple[float, Truth]] = []
    step = rbw / 10.0
    for x in true:
        lost = x.cause != "carrier" and rng.random() < 0.1
        f = x.f * (1 + scale) + float(rng.normal(0, step))
        if x.dbc > floor + 3 and not lost and span[0] <= f <= span[1]:
            keep.append((round(f / step) * step, x))
    if span[0] == 0.0 and rng.random() < 0.7:
        keep.append((abs(float(rng.normal(0, step))), Truth(0.0, -25.0, "zero")))
    keep = parted(keep, rbw)
    keep.sort(key=lambda pair: pair[0])
    lines = tuple(Line(f, 1.05 * step, math.nan, x.dbc + float(rng.normal(0, 1.0))) for f, x in keep)
    carriers = tuple(i for i, (_, x) in enumerate(keep) if x.cause == "carrier")
    dial = fc if rng.random() < 0.6 and not tone else None
    s = Spectrum(
        key, "b", "J", lines, carriers, span, "two tones" if tone else "carrier", floor, rbw, max(axis, 1e-5), dial,
        math.nan, 1.5, (math.nan, math.nan),
    )  # fmt: skip
    return s, [x for _, x in keep]


def parted(keep: list[tuple[float, Truth]], rbw: float) -> list[tuple[float, Truth]]:
    """Of lines closer than the resolution only the strongest shows."""
    out: list[tuple[float, Truth]] = []
    for f, x in sorted(keep, key=lambda pair: (pair[1].cause != "carrier", -pair[1].dbc)):
        if all(abs(f - g) > 2.5 * rbw for g, _ in out):
            out.append((f, x))
    return out


def right(found: NamedSpectrum, i: int, x: Truth) -> bool:
    """Whether a line got the name of its cause, with the right order where it has one."""
    name = found.lines[i].name
    if name.kind not in CALLED[x.cause]:
        return False
    if x.cause == "harmonic":
        return name.order == round(x.times)
    return x.cause != "half" or name.order == round(2 * x.times)


def case(seed: int) -> tuple[Transmitter, list[tuple[Spectrum, list[Truth]]]]:
    """One transmitter with one to three spectra on its band, now and then a two-tone test."""
    rng = np.random.default_rng(seed)
    t = transmitter(rng)
    low, high = t.band
    out = []
    tone = float(rng.choice([600.0, 1000.0, 2000.0])) if rng.random() < 0.12 else 0.0
    count = 1 if tone else int(rng.choice([1, 2, 3], p=[0.5, 0.3, 0.2]))
    carriers = np.sort(rng.uniform(low, high, count))
    for i, raw in enumerate(carriers):
        fc = round(float(raw), -2)
        out.append(displayed(f"R{i + 1}", made(t, fc, tone, rng), fc, tone, rng))
    return t, out


def scored(seeds: range, loud: bool = False) -> dict[str, float]:
    """Lines named right over many cases; carriers called anything else; how sure the namer was when wrong."""
    right_of: Counter[str] = Counter()
    all_of: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    mistaken, sure, lines, spectra = 0, 0, 0, 0
    for seed in seeds:
        t, shown = case(seed)
        for found, (_, truth) in zip(name_lines([s for s, _ in shown], t.plan), shown, strict=True):
            spectra += 1
            for i, x in enumerate(truth):
                lines += 1
                all_of[x.cause] += 1
                ok = right(found, i, x)
                right_of[x.cause] += ok
                mistaken += x.cause == "carrier" and not ok
                if not ok:
                    n = found.lines[i]
                    sure += n.probability > 0.9
                    wrong[f"{x.cause} called {n.name.kind.value}"] += 1
                    if loud:
                        also = [(m.text, round(p, 2)) for m, p in n.also]
                        print(f"{seed} {x.cause} {x.f / 1e6:.5f} MHz: {n.name.text} {n.probability:.2f} {also}")
    share = 100 * sum(right_of.values()) / lines
    print(f"{spectra} spectra, {lines} lines: {share:.2f} % named right")
    print(f"{mistaken} carriers mistaken, {sure} wrong names surer than 90 %")
    for cause, n in all_of.most_common():
        print(f"  {cause:10} {right_of[cause]:5} of {n:5}  {100 * right_of[cause] / n:.1f} %")
    print("  wrong:", dict(wrong.most_common(12)))
    return {"right": sum(right_of.values()) / lines, "mistaken": mistaken, "lines": lines, "spectra": spectra}


if __name__ == "__main__":
    named = {"tuning": TUNING, "tests": TESTS, "reporting": REPORTING}
    scored(named[sys.argv[1] if len(sys.argv) > 1 else "reporting"], "--loud" in sys.argv)
