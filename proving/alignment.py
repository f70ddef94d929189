"""How many steps does an alignment take, against one who knows the truth?

A step is one adjustment of one part, followed by a sweep. 100 low-pass filters drawn from the closed formulas
(`proving.ladders`), orders 5, 7 and 9, built with strays, losses and values that the tool does not know, every coil set
wrong by 15 % (1 sigma, at most 35 %). The unit file states the limits: return loss 20 dB, or 3 dB (at most 30 %) less
than the drawing gives, loss 0.2 dB above it, attenuation at two and three times the band 4 dB below it.

The tool sees sweeps of an instrument with errors (`proving.instruments`), through and reflection of a calibrated
analyser or a scalar through sweep. The oracle sees every value as it is, and plans with the very response that decides
whether the limits are met; like the tool it moves the fewest parts, one at a time, and plans again after each step.
Neither hand is steady: a change comes out as 1 +- 15 % of the one that was meant, and 0.5 % besides (1 sigma each);
both have the same luck. Both stop when the limits are met, at most after 15 steps. Filters that the oracle cannot bring
back are drawn again.

The filter is simulated by multiplying chain matrices, apart from the tool's own network.

Tuning seed 20261001; reporting seed 20261125.

    python -m proving.alignment [--count 100] [--kind both|s21] [--seed 20261125] [--trace]
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.align import Sweep, adjustable, stand
from halfsplit.align.plan import Plan, plan
from halfsplit.align.target import AIM, BESIDE, INSIDE, UNIT_OF, Limit
from halfsplit.expect import observe
from halfsplit.filters import Family
from halfsplit.hookup import Hookup
from halfsplit.parts import nearest
from halfsplit.reading import read_bytes
from halfsplit.unit import Unit, read_unit
from proving.instruments import draw_gear, shown_reflection, shown_through, touchstone
from proving.ladders import Prototype, of_family

TUNING, REPORTING = 20261001, 20261125
MISSET, MOST_MISSET = 0.15, 0.35
HAND, LEAST = 0.15, 0.005
MOST = 15
FAMILIES = (Family.CHEBYSHEV, Family.CHEBYSHEV, Family.BUTTERWORTH, Family.ELLIPTIC, Family.TRAPS)


@dataclass(frozen=True)
class Arm:
    """One arm as built. series; coil, capacitor : H, F (0: none); q, lead, across : of coil and capacitor."""

    series: bool
    ref_coil: str
    coil: float
    capacitor: float
    q: float
    lead: float
    across: float


@dataclass(frozen=True)
class Filter:
    """A filter as built, with what stands at its ends (H in series, F across)."""

    arms: tuple[Arm, ...]
    ends: tuple[tuple[float, float], tuple[float, float]]

    @property
    def coils(self) -> tuple[str, ...]:
        return tuple(a.ref_coil for a in self.arms if a.coil)


def response(made: Filter, f, logs):
    """S11 and S21 between 50 ohm, (2, C, n). logs : (C, n_coil) ln changes of the coils."""
    w = 2.0 * np.pi * f
    c = len(logs)
    shape = (c, len(f))
    m = [np.ones(shape, complex), np.zeros(shape, complex), np.zeros(shape, complex), np.ones(shape, complex)]

    def series(z):
        m[1], m[3] = m[1] + m[0] * z, m[3] + m[2] * z

    def shunt(y):
        m[0], m[2] = m[0] + m[1] * y, m[2] + m[3] * y

    coil = 0
    (lead, stray), (lead2, stray2) = made.ends
    series(np.broadcast_to(1j * w * lead, shape))
    shunt(np.broadcast_to(1j * w * stray, shape))
    for arm in made.arms:
        if arm.coil:
            value = arm.coil * np.exp(logs[:, coil])[:, None]
            coil += 1
            y = 1.0 / (w * value * (1j + 1.0 / arm.q)) + 1j * w * arm.across
            if arm.capacitor:
                y = y + 1.0 / (1.0 / (1j * w * arm.capacitor) + 1.0 / (w * arm.capacitor * 1000.0) + 1j * w * arm.lead)
            series(1.0 / y)
        else:
            x = 1.0 / (w * arm.capacitor)
            shunt(np.broadcast_to(1.0 / (x / 1000.0 - 1j * x + 1j * w * arm.lead + 0.01), shape))
    shunt(np.broadcast_to(1j * w * stray2, shape))
    series(np.broadcast_to(1j * w * lead2, shape))
    a, b, cc, d = m[0], m[1] / 50.0, m[2] * 50.0, m[3]
    total = a + b + cc + d
    return np.stack([(a + b - cc - d) / total, 2.0 / total])


class Truth:
    """The true filter where the tool has `Plain`: the same limits and shortfall, of the response that decides."""

    def __init__(self, made: Filter, low: float, high: float) -> None:
        self.made = made
        self.times = (2.0, 3.0)
        grids = [np.linspace(low, high, INSIDE)] + [np.linspace(t * low, t * high, BESIDE) for t in self.times]
        self.f = np.concatenate(grids)

    def figures(self, theta):
        s = response(self.made, self.f, theta)
        loss = -20.0 * np.log10(np.abs(s[1]))
        gamma = np.abs(s[0])[:, :INSIDE]
        return loss[:, :INSIDE], gamma, loss[:, INSIDE:].reshape(len(theta), len(self.times), BESIDE)

    def shortfall(self, theta, limits: Sequence[Limit], aim: float = 1.0):
        loss, gamma, beside = self.figures(theta)
        least = np.array([x.db for x in limits])
        most = 10.0 ** (-least[1] / 20.0) * (1.0 - aim * (1.0 - AIM[1]))
        parts = [
            (loss - (least[0] - aim * AIM[0])) / UNIT_OF[0],
            (gamma - most) / UNIT_OF[1],
            ((least[2:, None] + aim * AIM[2]) - beside).reshape(len(theta), -1) / UNIT_OF[2],
        ]
        return np.maximum(np.concatenate(parts, axis=1), 0.0)

    def met(self, theta, limits):
        return np.asarray(self.shortfall(theta, limits, 0.0).max(axis=1) <= 0.0)


@dataclass(frozen=True)
class TrueAim:
    """What the oracle plans on; the same questions as `align.Aim`."""

    plain: Truth
    limits: tuple[Limit, ...]
    logs: np.ndarray

    @property
    def count(self):
        return len(self.logs)

    def missing(self, changes):
        short = self.plain.shortfall(self.logs + changes, self.limits)
        return np.concatenate([short, 0.05 * changes / 0.5], axis=1)

    def chance(self, change):
        return float(self.plain.met((self.logs + change)[None], self.limits).all())


@dataclass(frozen=True)
class World:
    """One mis-set filter: its drawing, itself, how far its coils are set wrong, its limits and its sweep."""

    unit: Unit
    made: Filter
    logs: np.ndarray
    limits: tuple[Limit, ...]
    truth: Truth
    sweep: np.ndarray
    text: str


def drawn_unit(
    made: Prototype, edge: float, low: float, high: float
) -> tuple[str, list[tuple[bool, str, float, float]]]:
    """The unit file, and its arms as drawn: (series, coil's name, H, F)."""
    w, arms, lines = 2.0 * math.pi * edge, [], []
    for k, (g, p) in enumerate(zip(made.main, made.partner, strict=True)):
        if k % 2 == 0:
            farad = nearest(g / (w * 50.0), 24)
            arms.append((False, "", 0.0, farad))
            lines.append(f'  {{ shunt = "C{k + 1}", value = "{farad * 1e12:.6g} pF", tolerance = "5 %" }},')
            continue
        henry = float(f"{g * 50.0 / w:.3g}")
        text = f'  {{ series = "L{k + 1}", value = "{henry * 1e9:.6g} nH", adjustable = true'
        farad = 0.0
        if p:
            farad = nearest(p / (w * 50.0), 24)
            text += f', across = {{ part = "C{k + 11}", value = "{farad * 1e12:.6g} pF", tolerance = "5 %" }}'
        arms.append((True, f"L{k + 1}", henry, farad))
        lines.append(text + " },")
    head = [
        "[unit]", 'name = "trial"', "", "[[band]]", 'name = "B"', f'range = ["{low:.0f} Hz", "{high:.0f} Hz"]',
        'filter = "F1"', "", "[path]", 'order = ["TP1", "filter", "J1"]', "", "[filter.F1]", "ladder = [",
    ]  # fmt: skip
    return "\n".join([*head, *lines, "]", ""]), arms


def built(arms, rng) -> Filter:
    """The filter as it was built: values, losses and strays of its own."""
    out = []
    for series, ref, henry, farad in arms:
        value = farad * float(np.exp(0.02 * np.clip(rng.standard_normal(), -2.5, 2.5)))
        q, across = float(np.exp(rng.uniform(math.log(80), math.log(220)))), float(rng.uniform(0.5e-12, 3e-12))
        out.append(Arm(series, ref, henry, value, q, float(rng.uniform(2e-9, 10e-9)), across))
    ends = tuple((float(rng.uniform(2e-9, 15e-9)), float(rng.uniform(2e-12, 12e-12))) for _ in range(2))
    return Filter(tuple(out), ends)


def make(rng: np.random.Generator) -> World:
    """One mis-set filter that can be brought back, and is not within its limits."""
    while True:
        family = FAMILIES[int(rng.integers(len(FAMILIES)))]
        made = of_family(family, int(rng.choice([5, 7, 9])), rng)
        if made is None:
            continue
        high = float(np.exp(rng.uniform(math.log(3e6), math.log(30e6))))
        low, edge = high / float(rng.uniform(1.02, 1.15)), high * float(rng.uniform(1.04, 1.2))
        if family is Family.BUTTERWORTH:
            edge *= 1.3
        text, arms = drawn_unit(made, edge, low, high)
        ideal = Filter(tuple(Arm(s, r, h, c, 130.0, 6e-9, 1.3e-12) for s, r, h, c in arms), ((8e-9, 5e-12),) * 2)
        limits = limits_of(Truth(ideal, low, high), len(ideal.coils))
        text += stated(limits)
        unit = read_unit(text, "trial.toml")
        real = built(arms, rng)
        logs = np.clip(MISSET * rng.standard_normal(len(real.coils)), -MOST_MISSET, MOST_MISSET)
        truth = Truth(real, low, high)
        aim = TrueAim(truth, limits, logs)
        if not aim.chance(np.zeros(len(logs))) and plan(aim).met:
            return World(unit, real, logs, limits, truth, np.linspace(0.3 * low, 3.3 * high, 201), text)


def limits_of(drawn: Truth, coils: int) -> tuple[Limit, ...]:
    """The limits, from what the drawing gives."""
    loss, gamma, beside = drawn.figures(np.zeros((1, coils)))
    back = -20.0 * math.log10(float(gamma.max()))
    figures = [("loss", 1.0, float(loss.max()) + 0.2), ("return loss", 1.0, min(20.0, max(back - 3.0, 0.7 * back)))]
    figures += [("attenuation", t, float(beside[0, k].min()) - 4.0) for k, t in enumerate(drawn.times)]
    return tuple(Limit(what, times, round(db, 2), True) for what, times, db in figures)


def stated(limits: Sequence[Limit]) -> str:
    """The limits in the unit file."""
    beside = ", ".join(f'"{x.times:g}" = "{x.db:.2f} dB"' for x in limits[2:])
    return "\n".join([
        "[limits]", f'loss = "{limits[0].db:.2f} dB"', f'return_loss = "{limits[1].db:.2f} dB"',
        f"attenuation = {{ {beside} }}", "",
    ])  # fmt: skip


def hand(change: float, luck: np.ndarray) -> float:
    """What comes out of a change that was meant. luck : (2,) standard normal."""
    return change * (1.0 + HAND * float(luck[0])) + LEAST * float(luck[1])


def read(world: World, logs, rng, kind: str):
    """The sweep of a state as observations."""
    s = response(world.made, world.sweep, logs[None])[:, 0]
    gear = draw_gear(rng, "analyser")
    s21, s11 = shown_through(rng, gear, world.sweep, s[1], 0.0), shown_reflection(rng, gear, world.sweep, s[0])
    hookup = Hookup("B", "TP1", "J1", instrument="analyser", reference="calibrated")
    if kind == "both":
        reading = read_bytes("sweep.s2p", touchstone(rng, world.sweep, s11, s21))
    else:
        rows = [f"{x:.0f},{20 * math.log10(abs(y)):.3f}" for x, y in zip(world.sweep, s21, strict=True)]
        reading = read_bytes("sweep.csv", "\n".join(["Frequency (Hz),S21 (dB)", *rows, ""]).encode())
    return tuple(observe(world.unit, hookup, reading, "R"))


def oracle(world: World, luck) -> int:
    """Steps of one who knows the truth."""
    logs = world.logs.copy()
    for step in range(MOST):
        if world.truth.met(logs[None], world.limits)[0]:
            return step
        made: Plan = plan(TrueAim(world.truth, world.limits, logs))
        k = made.order[0]
        logs[k] += hand(float(made.change[k]), luck[step])
    return MOST


def tool(world: World, luck, rng, kind: str, trace: bool) -> tuple[int, str]:
    """Steps of the tool, and how it ended."""
    logs = world.logs.copy()
    refs, _ = adjustable(world.unit.filter("F1"))
    sweeps = [Sweep(read(world, logs, rng, kind))]
    for step in range(MOST):
        if world.truth.met(logs[None], world.limits)[0]:
            return step, "met"
        state = stand(world.unit, sweeps, refs, rng)
        if not state.plan.order:
            return MOST, "said met"
        k = state.plan.order[0]
        if trace:
            print("   ", step, "true", np.round(logs, 3), "plan", np.round(state.plan.change, 3), state.plan.order)
        logs[k] += hand(float(state.plan.change[k]), luck[step])
        sweeps.append(Sweep(read(world, logs, rng, kind), (refs[k],)))
    return MOST, "gave up"


def main(argv: Sequence[str] | None = None) -> int:
    """Run the trial and print its table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--kind", default="both", choices=["both", "s21"])
    parser.add_argument("--seed", type=int, default=REPORTING)
    parser.add_argument("--trace", action="store_true")
    args = parser.parse_args(argv)
    mine, theirs, ends, begun = [], [], [], time.perf_counter()
    for n in range(args.count):
        rng = np.random.default_rng([args.seed, n])
        world = make(rng)
        luck = rng.standard_normal((MOST, 2))
        theirs.append(oracle(world, luck))
        steps, end = tool(world, luck, rng, args.kind, args.trace)
        mine.append(steps)
        ends.append(end)
        print(f"{n:3d} coils {len(world.logs)}: oracle {theirs[-1]}, tool {steps} {end}", flush=True)
    a, b = np.array(mine), np.array(theirs)
    met = sum(e == "met" for e in ends)
    print(f"{args.kind}, seed {args.seed}: {met} of {len(a)} brought back; steps {a.sum()}, oracle {b.sum()}: "
          f"ratio {a.sum() / b.sum():.2f}; worse by more than one step: {(a > b + 1).sum()}; "
          f"{time.perf_counter() - begun:.0f} s")  # fmt: skip
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
