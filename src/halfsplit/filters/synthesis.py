"""From zeros to a ladder: equal-ripple characteristic functions of odd order and the extraction of their elements.

|S21|^2 = 1 / (1 + eps^2 K^2), K(w) = w prod(w^2 - x_i^2) / prod(1 - w^2/t_j^2), |K(1)| = 1: x_i are the reflection
zeros, t_j the notches. Everything is normalised to 1 ohm at both ends and an edge at 1 rad/s.

Sources: Darlington 1939, J. Math. Phys. 18, 257 (insertion loss design, zero shifting); Levy 1970, IEEE Trans. MTT-18,
1052 (Zolotarev functions: equal ripple above a hump); from memory, checked against closed formulas in the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numpy.polynomial import polynomial as poly

from halfsplit.filters.prototypes import elliptic_zeros

Array = npt.NDArray[np.float64]

NEWTON_STEPS = 60
SHAKES = 16


class Ladder(NamedTuple):
    """Element values of a ladder whose first arm is a shunt (or, by duality, a series) arm.

    main : (order,) C of shunt arms and L of series arms, alternating
    partner : (order,) what resonates with a series arm's coil (C across it), 0 where the arm has no notch
    """

    main: Array
    partner: Array


def equal_ripple_zeros(order: int, notches: npt.ArrayLike = (), start: float = 0.0) -> Array:
    """Reflection zeros x of odd order that make |K| ripple equally between `start` and 1. returns ((order-1)/2,) rising

    notches : frequencies above 1 with no transmission, at most (order-1)/2
    start : 0 gives the Chebyshev behaviour, above 0 a hump is left between 0 and `start` (Zolotarev behaviour)
    raises ValueError for an even order or values outside those ranges, ArithmeticError where no such function is found
    """
    t = np.asarray(notches, float)
    m = (order - 1) // 2
    if order < 3 or order % 2 == 0 or t.size > m or (t <= 1).any() or not 0 <= start < 1:
        raise ValueError(f"no equal-ripple function of order {order}, notches {t.tolist()}, from {start} to 1")
    n_from = np.cos(np.pi * (2 * np.arange(m, 0, -1) - 1) / (2 * order))
    x = np.sqrt(start**2 + (1.0 - start**2) * n_from**2)
    for _ in range(NEWTON_STEPS):
        at = _extremes(x, t, start)
        height = _log_k(at, x, t)
        error = np.diff(height)
        if np.abs(error).max() < 1e-10:
            return np.asarray(x)
        slope = -2.0 * x / (at[:, None] ** 2 - x**2)
        step = np.linalg.solve(np.diff(slope, axis=0), -error)
        x = x + _damping(x, step, start) * step
    raise ArithmeticError("no equal-ripple function found")


def _damping(x: Array, step: Array, start: float) -> float:
    """The largest fraction of a step (at most 1) that keeps the zeros in order with room to spare."""
    fence = np.concatenate([[start], x, [1.0]])
    gap = np.diff(fence)
    shrink = -np.diff(np.concatenate([[0.0], step, [0.0]]))
    return float(min(1.0, *(0.6 * gap / np.where(shrink > 0, shrink, 1e-300))))


def _log_k(w: Array, x: Array, t: Array) -> Array:
    """ln |K| without its scale. w : (n,)"""
    out = np.log(np.abs(w)) + np.log(np.abs(w[:, None] ** 2 - x**2)).sum(axis=1)
    return np.asarray(out - np.log(np.abs(1.0 - w[:, None] ** 2 / t**2)).sum(axis=1))


def _extremes(x: Array, t: Array, start: float) -> Array:
    """Where |K| peaks below the first zero (not below `start`), between the zeros, and at 1. returns (len(x)+1,)"""
    low = np.concatenate([[start], x[:-1]])
    high = x.copy()
    if start > 1e-6 and _slope(np.array([start]), x, t)[0][0] <= 0:
        high[0] = start
    w = 0.5 * (low + high)
    for _ in range(SHAKES):
        slope, bend = _slope(w, x, t)
        low, high = np.where(slope > 0, w, low), np.where(slope > 0, high, w)
        newton = w - slope / bend
        moved = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
        if np.abs(moved - w).max() < 1e-13:
            break
        w = moved
    return np.concatenate([w, [1.0]])


def hump_of(reflection: npt.ArrayLike, notches: npt.ArrayLike = ()) -> tuple[float, float]:
    """Where |K| peaks below its first reflection zero, and that peak over |K(1)|. returns (rad/s, 1)"""
    x, t = np.asarray(reflection, float), np.asarray(notches, float)
    w = _extremes(x, t, 0.0)[[0, -1]]
    height = _log_k(w, x, t)
    return float(w[0]), float(np.exp(height[0] - height[1]))


def _slope(w: Array, x: Array, t: Array) -> tuple[Array, Array]:
    """First and second derivative of ln |K| at w."""
    slope, bend = 1.0 / w, -1.0 / w**2
    for sign, places in ((1.0, x), (-1.0, t)):
        for near in (w[:, None] - places, w[:, None] + places):
            slope = slope + sign * (1.0 / near).sum(axis=1)
            bend = bend - sign * (1.0 / near**2).sum(axis=1)
    return slope, bend


def ladder_from_zeros(reflection: npt.ArrayLike, ripple_db: float, notch_of_arm: Sequence[float | None]) -> Ladder:
    """Extract the elements of the symmetrical-in-resistance ladder that has these zeros.

    reflection : (m,) reflection zeros between 0 and 1 (the one at zero is understood); ripple_db : loss at 1 rad/s
    notch_of_arm : (m,) for each series arm from the input its notch in rad/s, or None for a plain coil
    returns Ladder of order 2m+1; elements may come out negative where that order of the notches cannot be built
    raises ValueError where the counts disagree or the ripple is not above 0
    """
    x = np.asarray(reflection, float)
    if len(notch_of_arm) != x.size or not ripple_db > 0:
        raise ValueError("one entry (notch or None) per series arm, and a ripple above 0 dB")
    t = np.array([n for n in notch_of_arm if n is not None])
    e, f = _hurwitz(x, t, float(np.sqrt(10.0 ** (ripple_db / 10.0) - 1.0)))
    num, den = e + f, (e - f)[:-1]
    main, partner = [], []
    for notch in notch_of_arm:
        c, num, den = _shunt(num, den, notch)
        coil, across, num, den = _series(num, den, notch)
        main += [c, coil]
        partner += [0.0, across]
    main.append(float((num[1] / den[0]).real))
    return Ladder(np.array(main), np.array([*partner, 0.0]))


def _hurwitz(x: Array, t: Array, eps: float) -> tuple[Array, Array]:
    """E and F of S11 = F/E, coefficients rising, with the same leading coefficient."""
    f = np.array([0.0, 1.0])
    p = np.array([1.0])
    for zero in x:
        f = poly.polymul(f, [zero**2, 0.0, 1.0])
    for notch in t:
        p = poly.polymul(p, [1.0, 0.0, 1.0 / notch**2])
    scale = eps * float(np.prod(1.0 - 1.0 / t**2) / np.prod(1.0 - x**2))
    f = f * scale
    both = poly.polyadd(poly.polymul(f, _mirror(f)), poly.polymul(p, _mirror(p)))
    roots = np.sqrt(np.asarray(poly.polyroots(both[::2]), complex))
    e = poly.polyfromroots(np.where(roots.real > 0, -roots, roots)).real * f[-1]
    return np.asarray(e), np.asarray(f)


def _mirror(p: Array) -> Array:
    """Coefficients of p(-s)."""
    return np.asarray(p * (-1.0) ** np.arange(p.size))


def _up(p: Array) -> Array:
    """Coefficients of s p(s)."""
    return np.concatenate([[0.0], p])


def _shunt(num: Array, den: Array, notch: float | None) -> tuple[float, Array, Array]:
    """Take a capacitor from the admittance num/den: all of it at infinity, or as much as moves a zero to the notch."""
    if notch is None:
        c = float(num[-1] / den[-1])
        return c, (num - c * _up(den))[: num.size - 2], den
    at = 1j * notch
    c = float((poly.polyval(at, num) / poly.polyval(at, den) / at).real)
    return c, num - c * _up(den), den


def _series(num: Array, den: Array, notch: float | None) -> tuple[float, float, Array, Array]:
    """Take a coil (or a coil with its capacitor across) from the impedance den/num."""
    if notch is None:
        coil = float(den[-1] / num[-1])
        return coil, 0.0, num, (den - coil * _up(num))[: den.size - 2]
    tank = np.array([notch**2, 0.0, 1.0])
    rest = poly.polydiv(num, tank)[0]
    at = 1j * notch
    elastance = float((poly.polyval(at, den) / poly.polyval(at, rest) / at).real)
    left = poly.polydiv(den - elastance * _up(rest), tank)[0]
    return elastance / notch**2, 1.0 / elastance, rest, left


def elliptic_ladder(order: int, ripple_db: float, selectivity: float, arms: Sequence[int] | None = None) -> Ladder:
    """An elliptic low-pass ladder of odd order: capacitors in the shunt arms, a trap in every series arm.

    selectivity : edge of the stop band over that of the pass band, above 1
    arms : which notch (0: the lowest) each series arm makes, from the input; None: the order with all elements positive
           whose capacitors across the coils spread least
    raises ValueError for values outside their range, ArithmeticError where no order of notches can be built
    """
    zeros = elliptic_zeros(order, selectivity)
    count = (order - 1) // 2
    if arms is not None and sorted(arms) != list(range(count)):
        raise ValueError(f"each of the {count} notches is made once, not {list(arms)}")
    best: Ladder | None = None
    for chosen in [tuple(arms)] if arms is not None else permutations(range(count)):
        made = ladder_from_zeros(zeros.reflection, ripple_db, [float(zeros.notches[i]) for i in chosen])
        if arms is not None:
            return made
        if (made.main > 0).all() and (made.partner >= 0).all() and (best is None or _spread(made) < _spread(best)):
            best = made
    if best is None:
        raise ArithmeticError(f"no elliptic ladder of order {order} with positive elements at {selectivity}")
    return best


def _spread(made: Ladder) -> float:
    """Largest over smallest element of a ladder."""
    every = np.concatenate([made.main, made.partner[made.partner > 0]])
    return float(every.max() / every.min())
