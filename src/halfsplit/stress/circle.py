"""The worst load of all that have no more than a given SWR: closed forms over a circle of reflection.

Every squared voltage, squared current and power of a linear network is A + B|G|^2 + 2 Re(C G), over |1 - c G|^2 where
the source is held, for a load of reflection G. Volts and amps are analytic in G and powers are sums of their squares,
so by the maximum principle the worst of a whole disc |G| <= g lies on its edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Form:
    """A + B|G|^2 + 2 Re(C G): what a load of reflection G does to one squared amplitude or power.

    a, b : real, c : complex, of one shape
    """

    a: Real
    b: Real
    c: Complex

    def at(self, gamma: npt.ArrayLike) -> Real:
        """The value for a load of that reflection."""
        g = np.asarray(gamma)
        return np.asarray(self.a + self.b * np.abs(g) ** 2 + 2.0 * np.real(self.c * g))

    def times(self, factor: npt.ArrayLike) -> Form:
        """The same, multiplied by a real factor."""
        f = np.asarray(factor)
        return Form(self.a * f, self.b * f, self.c * f)

    def plus(self, other: Form) -> Form:
        """The sum of two."""
        return Form(self.a + other.a, self.b + other.b, self.c + other.c)


def squared(p: Complex, q: Complex) -> Form:
    """|p + q G|^2 as a form. p, q : complex, of one shape"""
    return Form(np.abs(p) ** 2, np.abs(q) ** 2, np.conj(p) * q)


def power(y: Complex, p: Complex, q: Complex) -> Form:
    """Power that goes into a piece with several terminals, for peak amplitudes.

    y : (n, n, *batch) siemens; p, q : (n, *batch), its node voltages are p + q G
    returns a form of shape (*batch) in watts: half the real part of v* Y v
    """
    ip, iq = np.einsum("ij...,j...->i...", y, p), np.einsum("ij...,j...->i...", y, q)
    a = 0.5 * np.real(np.sum(np.conj(p) * ip, axis=0))
    b = 0.5 * np.real(np.sum(np.conj(q) * iq, axis=0))
    c = 0.25 * (np.sum(np.conj(p) * iq, axis=0) + np.conj(np.sum(np.conj(q) * ip, axis=0)))
    return Form(a, b, c)


def worst(form: Form, g: float, source: npt.ArrayLike = 0.0) -> tuple[Real, Real]:
    """Largest value of form(G) / |1 - source G|^2 over all |G| <= g, and the angle of G where it lies.

    g : 0 or more, |source| g below 1; source : complex, of the form's shape
    returns (value, angle in rad)
    raises ValueError where the load and the source together would resonate without loss
    source: where N - t D just touches zero on the circle, t solves (t D0 - N0)^2 = (2 g |C + t c|)^2; worked out here
    """
    c = np.asarray(source, complex)
    reach = np.abs(c) ** 2 * g * g
    if np.any(reach >= 1.0):
        raise ValueError(f"|G| = {g:g} against a source that reflects {np.abs(c).max():.3g} has no bound")
    n0 = form.a + form.b * g * g
    middle = (1.0 + reach) * n0 + 4.0 * g * g * np.real(form.c * np.conj(c))
    room = (1.0 - reach) ** 2
    under = np.maximum(middle**2 - room * (n0**2 - 4.0 * g * g * np.abs(form.c) ** 2), 0.0)
    t = (middle + np.sqrt(under)) / room
    return np.asarray(t), np.asarray(-np.angle(form.c + t * c))


def reflection(swr: float) -> float:
    """|G| of an SWR of 1 or more. raises ValueError below 1"""
    if not (swr >= 1.0 and np.isfinite(swr)):
        raise ValueError(f"an SWR is 1 or more and finite, not {swr!r}")
    return float((swr - 1.0) / (swr + 1.0))
