"""Ladders of known family, made by other routes than the recogniser's: closed formulas and scipy's analog prototypes.

Butterworth, half-wave, constant-k and m-derived values are closed formulas. Chebyshev values are a continued fraction
of scipy's poles (`cheb1ap`). Elliptic values are solved so that a chain of two-ports meets `ellipap` in magnitude
and phase. Equal ripple with few traps and Zolotarev-like ladders come from the package's synthesis, since no library
has them; each is held against its definition by the chain of two-ports before it is used.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.polynomial import chebyshev, polynomial
from scipy.optimize import least_squares
from scipy.signal import cheb1ap, ellipap

from halfsplit.filters import Family, equal_ripple_zeros, ladder_from_zeros
from halfsplit.parts import Kind, Part
from halfsplit.unit import Filter, Rung

HUMP_DB = 0.3


@dataclass(frozen=True)
class Prototype:
    """A low-pass of 1 ohm with its edge at 1 rad/s. main, partner : as `filters.Ladder`; family None: none of these."""

    family: Family | None
    order: int
    main: tuple[float, ...]
    partner: tuple[float, ...]
    text: str


def chain(main, partner, w):
    """S11 and S21 of a shunt-first ladder between 1 ohm by multiplying chain matrices. w : (n,)."""
    a, b, c, d = (
        np.ones(len(w), complex),
        np.zeros(len(w), complex),
        np.zeros(len(w), complex),
        np.ones(len(w), complex),
    )
    for k, value in enumerate(main):
        if k % 2 == 0:
            y = 1j * w * value
            a, c = a + b * y, c + d * y
        else:
            z = 1.0 / (1.0 / (1j * w * value) + 1j * w * partner[k])
            b, d = b + a * z, d + c * z
    total = a + b + c + d
    return (a + b - c - d) / total, 2.0 / total


def butterworth(order):
    return 2.0 * np.sin((2.0 * np.arange(1, order + 1) - 1.0) * np.pi / (2 * order))


def by_continued_fraction(order, ripple):
    """Chebyshev element values from scipy's poles: Z = (E + F)/(E - F), divided out from infinity."""
    _, poles, _ = cheb1ap(order, ripple)
    eps = math.sqrt(10.0 ** (ripple / 10.0) - 1.0)
    t = chebyshev.cheb2poly([0.0] * order + [1.0])
    f = eps * (t * (1j) ** (order - np.arange(order + 1))).real  # T_n(s/j), made real
    e = polynomial.polyfromroots(poles).real * abs(f[-1])
    num, den = e + f * np.sign(f[-1]), e - f * np.sign(f[-1])
    den = den[:order]
    out = []
    for _ in range(order):
        g = num[-1] / den[-1]
        out.append(g)
        rest = num - g * np.concatenate([[0.0], den])
        num, den = den, rest[: len(den) - 1]
    return np.array(out)


def by_response(order, ripple, stop):
    """Elliptic element values: the chain of two-ports meets scipy's prototype. returns (main, partner) or None."""
    zeros, poles, gain = ellipap(order, ripple, stop)
    notches = np.unique(np.round(np.abs(zeros), 9))
    w = np.concatenate([np.linspace(0.05, 1.2, 6 * order), np.linspace(1.25, 3.0, 2 * order)])
    s = 1j * w
    s21 = gain * np.prod(s[:, None] - zeros, axis=1) / np.prod(s[:, None] - poles, axis=1)
    cheb = by_continued_fraction(order, ripple)
    for arms in sorted(permutations(range(len(notches))), key=lambda p: -notches[list(p)][[0, -1]].sum()):
        at = notches[list(arms)]

        def made(x, at=at):
            main = np.exp(x)
            partner = np.zeros(order)
            partner[1::2] = 1.0 / (at**2 * main[1::2])
            return main, partner

        def error(x, made=made):
            gap = chain(*made(x), w)[1] - s21
            return np.concatenate([gap.real, gap.imag])

        found = least_squares(error, np.log(cheb * np.where(np.arange(order) % 2, 0.8, 0.9)), xtol=1e-14, ftol=1e-14)
        if np.abs(found.fun).max() < 1e-6:
            return made(found.x)
    return None


def ripples_equally(main, partner, ripple, start):
    """Whether the ladder's loss peaks at the ripple, and nowhere above it, between start and 1."""
    w = np.linspace(max(start, 1e-3), 1.0, 4001)
    loss = -20.0 * np.log10(np.abs(chain(main, partner, w)[1]))
    peaks = np.flatnonzero((loss[1:-1] > loss[:-2]) & (loss[1:-1] >= loss[2:])) + 1
    heights = [*loss[peaks], loss[-1]]
    return bool(np.ptp(heights) < 1e-3 * ripple + 1e-6 and abs(max(heights) - ripple) < 1e-3 * ripple + 1e-6)


def of_family(family, order, rng):
    """One prototype of a family, or None where this draw cannot be built."""
    ripple = float(np.exp(rng.uniform(math.log(0.01), math.log(0.5))))
    none = np.zeros(order)
    if family is Family.BUTTERWORTH:
        return proto(family, order, butterworth(order), none, "")
    if family is Family.CHEBYSHEV:
        return proto(family, order, by_continued_fraction(order, ripple), none, f"{ripple:.3g} dB")
    if family is Family.HALF_WAVE:
        g = np.where(np.arange(order) % 2, 1.0, 2.0)
        g[[0, -1]] = 1.0
        return proto(family, order, g, none, "")
    if family is Family.CONSTANT_K:
        g = np.full(order, 2.0)
        g[[0, -1]] = 1.0
        return proto(family, order, g, none, "")
    if family is Family.ELLIPTIC:
        stop = float(rng.uniform(*{3: (15, 30), 5: (35, 55), 7: (50, 75), 9: (65, 90)}[order]))
        made = by_response(order, ripple, stop)
        return None if made is None else proto(family, order, *made, f"{ripple:.3g} dB, stop {stop:.0f} dB")
    return synthesised(family, order, ripple, rng)


def synthesised(family, order, ripple, rng):
    """Zolotarev-like ladders, and equal ripple with fewer traps than coils."""
    arms = (order - 1) // 2
    start, notch = 0.0, [None] * arms
    if family is Family.ZOLOTAREV:
        start = float(rng.uniform(0.45, 0.85))
        count = int(rng.integers(0, 2))
    else:
        count = int(rng.integers(1, max(arms, 2)))
    for k in rng.permutation(arms)[:count]:
        notch[k] = float(rng.uniform(1.4, 2.8))
    t = [n for n in notch if n is not None]
    try:
        made = ladder_from_zeros(equal_ripple_zeros(order, t, start), ripple, notch)
    except ArithmeticError:
        return None
    if (made.main <= 0).any() or (made.partner < 0).any():
        return None
    if not ripples_equally(made.main, made.partner, ripple, start):
        return None
    if family is Family.ZOLOTAREV:
        below = np.linspace(1e-3, start, 2001)
        if -20.0 * np.log10(np.abs(chain(made.main, made.partner, below)[1])).max() < HUMP_DB:
            return None  # a hump that nobody would see
    return proto(family, order, made.main, made.partner, f"{ripple:.3g} dB, from {start:.2f}, notches {notch}")


def proto(family, order, main, partner, text):
    return Prototype(family, order, tuple(map(float, main)), tuple(map(float, partner)), text)


def of_none(order, rng):
    """A ladder of no family: every arm its own way, 1 sigma a factor of 1.8."""
    main = 1.2 * np.exp(0.6 * rng.standard_normal(order))
    return proto(None, order, main, np.zeros(order), "at random")


def drawn(made: Prototype, hertz: float, ohm: float, first: str, high: bool = False) -> Filter:
    """The ladder at a frequency and resistance, as a drawing would have it."""
    w, rungs = 2.0 * math.pi * hertz, []
    for k, (g, p) in enumerate(zip(made.main, made.partner, strict=True)):
        shunt = (k % 2 == 0) == (first == "shunt")
        coil, cap = Part(f"L{k + 1}", Kind.COIL, None), Part(f"C{k + 1}", Kind.CAPACITOR, None)
        henry, farad = ohm / w, 1.0 / (w * ohm)
        main_is_cap = shunt != high
        value = g if not high else 1.0 / g
        other = 0.0 if p == 0 else (p if not high else 1.0 / p)
        main = replace(cap, value=value * farad) if main_is_cap else replace(coil, value=value * henry)
        parts = (main,)
        if p:
            parts += (replace(coil, value=other * henry) if main_is_cap else replace(cap, value=other * farad),)
        combined = None if len(parts) == 1 else ("with" if shunt else "across")
        rungs.append(Rung("shunt" if shunt else "series", parts, combined))
    return Filter("F", tuple(rungs))


def strayed(chosen: Filter, tolerance: float, rng: np.random.Generator) -> Filter:
    """Every value anywhere within its tolerance, all as likely."""

    def one(p: Part) -> Part:
        return replace(p, value=(p.value or 0.0) * float(1.0 + tolerance * rng.uniform(-1.0, 1.0)))

    return replace(chosen, rungs=tuple(replace(r, parts=tuple(map(one, r.parts))) for r in chosen.rungs))


def orders_of(family: Family | None) -> Sequence[int]:
    """Orders from 3 to 9 that a family is drawn in."""
    if family in (Family.HALF_WAVE, Family.ELLIPTIC):
        return (3, 5, 7, 9)
    if family is Family.TRAPS:
        return (5, 7, 9)
    if family is Family.ZOLOTAREV:
        return (5, 7, 9)
    if family is None:
        return (5, 6, 7, 8, 9)
    return (3, 4, 5, 6, 7, 8, 9)
