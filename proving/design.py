"""Filters and whole units drawn at random, from the classic prototypes.

Butterworth: g_k = 2 sin((2k - 1) pi / 2n). Chebyshev (n odd): the recursion of any handbook.
source: Matthaei, Young, Jones 1964, sec. 4.05 (from memory)
"""

from __future__ import annotations

import numpy as np

from proving.drawing import CABLES, Drawing, Jumper, Ladder, Piece, Rng, Served, Step, piece
from proving.nodal import Network, Real

OHM = 50.0
NOMINAL_Q = 130.0


def butterworth(n: int) -> Real:
    """Element values, 3 dB at 1 rad/s."""
    k = np.arange(1, n + 1)
    return np.asarray(2.0 * np.sin((2 * k - 1) * np.pi / (2 * n)))


def chebyshev(n: int, ripple: float) -> Real:
    """Element values for equal terminations (n odd), ripple in dB up to 1 rad/s."""
    beta = np.log(1.0 / np.tanh(ripple * np.log(10.0) / 40.0))
    gamma = np.sinh(beta / (2 * n))
    a = np.sin((2 * np.arange(1, n + 1) - 1) * np.pi / (2 * n))
    b = gamma**2 + np.sin(np.arange(1, n + 1) * np.pi / n) ** 2
    g = [2.0 * a[0] / gamma]
    for k in range(1, n):
        g.append(4.0 * a[k - 1] * a[k] / (b[k - 1] * g[-1]))
    return np.array(g)


def names(number: int, kinds: list[str]) -> list[str]:
    """Designators in order: C11, L11, C12 ..."""
    count = {"C": 0, "L": 0}
    out = []
    for kind in kinds:
        count[kind] += 1
        out.append(f"{kind}{number}{count[kind]}")
    return out


def low_pass(rng: Rng, number: int, low: float, high: float) -> tuple[Step, ...]:
    """A ladder of order 3-9 whose edge lies just above the served band, with or without traps."""
    n = int(rng.choice([3, 4, 5, 5, 6, 7, 7, 7, 8, 9]))
    place = rng.uniform(0.80, 0.95)
    if n % 2 and rng.random() < 0.7:
        g, edge = chebyshev(n, float(rng.uniform(0.02, 0.25))), high / place
    else:
        g = butterworth(n)
        edge = high / place / (10**0.02 - 1.0) ** (1.0 / (2 * n))  # 0.2 dB at high / place
    w = 2.0 * np.pi * edge
    shunt_first = rng.random() < 0.85 or n == 3
    kinds = ["C" if (k % 2 == 0) == shunt_first else "L" for k in range(n)]
    values = [x / (w * OHM) if kind == "C" else x * OHM / w for x, kind in zip(g, kinds, strict=True)]
    coils = [k for k in range(n) if kinds[k] == "L"]
    n_traps = int(rng.choice([0, 0, 1, 2])) if n >= 5 else 0
    trapped = {int(k): float(rng.uniform(1.94, 2.5)) for k in rng.permutation(coils)[:n_traps]}
    return steps_of(number, kinds, values, trapped, np.sqrt(low * high), w)


def steps_of(
    number: int,
    kinds: list[str],
    values: list[float],
    trapped: dict[int, float],
    middle: float,
    edge_w: float,
) -> tuple[Step, ...]:
    """Rungs with preferred values. trapped : rung to its notch as a multiple of the band's middle."""
    flat = [x for k, kind in enumerate(kinds) for x in ([kind, "C"] if k in trapped else [kind])]
    refs = iter(names(number, flat))
    steps = []
    for k, kind in enumerate(kinds):
        if kind == "C":
            steps.append(Step("shunt", piece(next(refs), values[k])))
        elif k not in trapped:
            steps.append(Step("series", piece(next(refs), values[k])))
        else:
            notch = 2.0 * np.pi * middle * trapped[k]
            coil = values[k] * (1.0 - min(edge_w / notch, 0.75) ** 2)
            main = piece(next(refs), coil)
            steps.append(Step("series", main, piece(next(refs), 1.0 / (notch**2 * main.value))))
    return tuple(steps)


def band_pass(rng: Rng, number: int, low: float, high: float) -> tuple[Step, ...]:
    """Two or three resonators: shunt, series, shunt."""
    n = int(rng.choice([2, 3, 3]))
    middle = np.sqrt(low * high)
    width = max(float(rng.uniform(0.18, 0.35)) * middle, 2.2 * (high - low))
    g = butterworth(n) if n == 2 else chebyshev(3, float(rng.uniform(0.02, 0.1)))
    w0, dw = 2.0 * np.pi * middle, 2.0 * np.pi * width
    refs = iter(names(number, ["C", "L"] * n))
    steps = []
    for k in range(n):
        c, coil = next(refs), next(refs)
        big = g[k] / dw
        if k % 2 == 0:
            shown = piece(c, big / OHM)
            steps += [Step("shunt", shown), Step("shunt", piece(coil, 1.0 / (w0**2 * shown.value)))]
        else:
            shown = piece(c, dw / (w0**2 * g[k] * OHM))
            steps += [Step("series", piece(coil, 1.0 / (w0**2 * shown.value))), Step("series", shown)]
    return tuple(steps)


def nominal_loss(steps: tuple[Step, ...], low: float, high: float) -> float:
    """Worst loss in the band at drawn values, dB."""
    net = Network(np.linspace(low, high, 11))
    here = "0"
    for step in steps:
        there = "" if step.place == "shunt" else f"{int(here) + 1}"
        for p in (step.piece, step.across):
            if p is not None:
                net.admittance(here, there, drawn_y(net, p))
        here = there or here
    for end in ("0", here):
        net.admittance(end, "", np.array(1.0 / OHM))
    v = net.voltages("0")[here]
    return float(-20.0 * np.log10(np.abs(2.0 * v / OHM)).min())


def drawn_y(net: Network, p: Piece) -> Real:
    """Admittance at the drawn value with a usual Q."""
    if p.is_coil:
        return np.asarray(1.0 / (net.w * p.value * (1j + 1.0 / NOMINAL_Q)))
    return np.asarray(1j * net.w * p.value)


def share_earth(rng: Rng, number: int, steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """Two neighbouring shunt capacitors on one earth point."""
    shunts = [i for i, s in enumerate(steps) if s.place == "shunt"]
    if len(shunts) < 2 or rng.random() < 0.7:
        return steps
    k = int(rng.integers(len(shunts) - 1))
    pair = shunts[k : k + 2]
    return tuple(
        Step(s.place, s.piece, s.across, f"E{number}1") if i in pair else s for i, s in enumerate(steps)
    )  # fmt: skip


def filter_steps(rng: Rng, number: int, low: float, high: float, kind: str) -> tuple[Step, ...]:
    """A filter whose drawn loss is acceptable; designs that are not are thrown away."""
    most = 0.6 if kind == "low-pass" else 2.5
    for _ in range(200):
        steps = low_pass(rng, number, low, high) if kind == "low-pass" else band_pass(rng, number, low, high)
        if nominal_loss(steps, low, high) < most:
            return share_earth(rng, number, steps)
    raise RuntimeError(f"no {kind} for {low / 1e6:.3f}-{high / 1e6:.3f} MHz in 200 designs")


def bands_of(rng: Rng) -> list[tuple[float, float, bool]]:
    """(low, high, shares the filter of the one before) of 1-8 bands between 1.8 and 30 MHz."""
    n = int(rng.choice([1, 2, 3, 4, 5, 6, 7, 8], p=[0.15, 0.15, 0.15, 0.15, 0.15, 0.1, 0.1, 0.05]))
    middles = np.sort(np.exp(rng.uniform(np.log(1.9), np.log(28.5), 400)))
    chosen: list[float] = []
    for m in rng.permutation(middles):
        if len(chosen) < n and all(abs(np.log(m / c)) > 0.16 for c in chosen):
            chosen.append(float(m))
    out = []
    for m in sorted(chosen):
        half = m * float(rng.uniform(0.004, 0.03))
        if rng.random() < 0.12 and len(out) + 1 < n:
            out.append((0.90e6 * m, 0.905e6 * m, False))
            out.append(((m - half) * 1e6, (m + half) * 1e6, True))
        else:
            out.append(((m - half) * 1e6, (m + half) * 1e6, False))
    return out


def draw_unit(rng: Rng, title: str) -> Drawing:
    """A unit at random."""
    spans = bands_of(rng)
    kind = "band-pass" if rng.random() < 0.15 else "low-pass"
    adjusted: list[str] = []
    groups: list[list[tuple[float, float]]] = []
    for low, high, shared in spans:
        if shared and kind == "low-pass":
            groups[-1].append((low, high))
        else:
            groups.append([(low, high)])
    wafers = len(groups) > 1 and rng.random() < 0.2
    style = "straight" if len(groups) == 1 and rng.random() < 0.6 else str(rng.choice(["pair", "pair", "pair", "one"]))
    bands, ladders, taken = [], [], set()
    for i, members in enumerate(groups, 1):
        steps = filter_steps(rng, i, members[0][0], members[-1][1], kind)
        enter, leave = ends_of(i, style, wafers)
        ladders.append(Ladder(f"F{i}", steps, enter, leave, kind))
        if kind == "band-pass":
            adjusted += [s.piece.ref for s in steps if s.piece.is_coil]
        for low, high in members:
            name = f"{299.792e6 / np.sqrt(low * high):.0f} m"
            name = name if name not in taken else f"{np.sqrt(low * high) / 1e6:.2f} MHz"
            taken.add(name)
            bands.append(Served(name, low, high, f"F{i}"))
    order, points, jumpers, relays = path_of(rng)
    return Drawing(
        title, tuple(bands), tuple(ladders), order, points, jumpers, relays, wafers,
        str(rng.choice(["", "", "2 %", "5 %", "10 %"])), int(rng.choice([0, 0, 120, 160])), tuple(adjusted),
    )  # fmt: skip


def ends_of(number: int, style: str, wafers: bool) -> tuple[str, str]:
    """What selects a filter at its two ends."""
    if wafers:
        return "S1A", "S1B"
    if style == "straight":
        return "", ""
    return (f"K1{number}", f"K2{number}") if style == "pair" else (f"K1{number}", f"K1{number}")


def path_of(rng: Rng) -> tuple[tuple[str, ...], tuple[str, ...], tuple[Jumper, ...], tuple[str, ...]]:
    """(order, points, jumpers, relays): jumpers and a transmit/receive relay on either side of the filter board."""
    order: list[str] = ["PA"] if rng.random() < 0.6 else []
    order.append("TP1")
    jumpers: list[Jumper] = []
    relays: list[str] = []

    def jumper() -> str:
        z0, velocity, k1, k2 = CABLES[str(rng.choice(list(CABLES)))]
        jumpers.append(Jumper(f"W{len(jumpers) + 1}", z0, velocity, k1, k2, round(float(rng.uniform(0.06, 0.6)), 3)))
        return jumpers[-1].ref

    if rng.random() < 0.6:
        order += [jumper(), "BUS IN"]
    order.append("filter")
    right = str(rng.choice(["", "W", "KW", "K", "WK"]))
    if right:
        order.append(str(rng.choice(["TP2", "BUS OUT"])))
    for i, letter in enumerate(right):
        if letter == "K":
            relays.append("K3")
            order.append("K3")
        else:
            order.append(jumper())
        if i + 1 < len(right) and rng.random() < 0.5:
            order.append("TP3")
    order.append("J1")
    points = tuple(x for x in order if x.startswith(("TP", "BUS", "J")))
    return tuple(order), points, tuple(jumpers), tuple(relays)
