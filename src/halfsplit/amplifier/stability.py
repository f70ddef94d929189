"""Stability of a linear two-port: K, mu, circles, and how far a given load is from trouble. Arrays only.

Shapes: s is (n_f, 2, 2) or (2, 2), scattering parameters in one real reference; results are (n_f,) or scalars.
source: J. M. Rollett, IRE Trans. Circuit Theory 9 (1962) 29-32 (K); M. L. Edwards & J. H. Sinsky, IEEE Trans. MTT
40(12) 1992, 2303-2311 (mu); D. M. Pozar, Microwave Engineering, chapter on amplifiers (circles)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Circle:
    """A circle on the chart of reflection coefficients. centre : (n,) complex; radius : (n,), both may be inf

    stable_inside : (n,) True where the terminations inside the circle are the stable ones
    """

    centre: Complex
    radius: Real
    stable_inside: npt.NDArray[np.bool_]


def _parts(s: Complex) -> tuple[Complex, Complex, Complex, Complex]:
    """S11, S12, S21, S22."""
    a = np.asarray(s, complex)
    return a[..., 0, 0], a[..., 0, 1], a[..., 1, 0], a[..., 1, 1]


def _turned(s: Complex) -> Complex:
    """The same two-port seen from the other side."""
    return np.asarray(s, complex)[..., ::-1, ::-1]


def delta(s: Complex) -> Complex:
    """Determinant S11 S22 - S12 S21."""
    s11, s12, s21, s22 = _parts(s)
    return np.asarray(s11 * s22 - s12 * s21)


def k_factor(s: Complex) -> Real:
    """Rollett's K; inf where nothing comes back (S12 S21 = 0). Above 1 with |delta| below 1: stable into any load."""
    s11, s12, s21, s22 = _parts(s)
    with np.errstate(divide="ignore", invalid="ignore"):
        k = (1.0 - abs(s11) ** 2 - abs(s22) ** 2 + abs(delta(s)) ** 2) / (2.0 * abs(s12 * s21))
    return np.asarray(k, float)


def load_margin(s: Complex, gamma: npt.ArrayLike) -> Real:
    """Distance on the chart from a load to the nearest load that makes the input's reflection reach 1.

    gamma : reflection coefficient of the load, shape that goes with (n_f,)
    returns the distance, positive where the input is passive with this load, negative where it is not; inf where no
    load at all makes a difference and the input is passive
    source: |1 - S22 G|^2 - |S11 - delta G|^2 is the circle's equation times its factor, so the distance to the circle
    is that over |D G - B| + |S12 S21|; at G = 0 it is mu of Edwards and Sinsky, and it needs no case for a straight
    "circle" (D = 0)
    """
    s11, s12, s21, s22 = _parts(s)
    g, d = np.asarray(gamma, complex), delta(s)
    b = np.conj(s22 - d * np.conj(s11))
    factor = abs(s22) ** 2 - abs(d) ** 2
    power = abs(1.0 - s22 * g) ** 2 - abs(s11 - d * g) ** 2
    with np.errstate(divide="ignore"):
        return np.asarray(power / (abs(factor * g - b) + abs(s12 * s21)), float)


def source_margin(s: Complex, gamma: npt.ArrayLike) -> Real:
    """As `load_margin`, of the impedance that drives the stage."""
    return load_margin(_turned(s), gamma)


def mu_load(s: Complex) -> Real:
    """Distance from the middle of the chart to the nearest load that brings trouble; above 1: no passive load does."""
    return load_margin(s, 0.0)


def mu_source(s: Complex) -> Real:
    """The same for the impedance that drives the stage."""
    return load_margin(_turned(s), 0.0)


def load_circle(s: Complex) -> Circle:
    """The loads with which the input's reflection is exactly 1."""
    s11, s12, s21, s22 = _parts(s)
    d = delta(s)
    factor = np.asarray(abs(s22) ** 2 - abs(d) ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        centre = np.asarray(np.conj(s22 - d * np.conj(s11)) / factor)
        radius = np.asarray(abs(s12 * s21) / abs(factor), float)
    holds_middle = abs(centre) < radius
    return Circle(centre, radius, np.asarray(holds_middle == (abs(s11) < 1.0)))


def source_circle(s: Complex) -> Circle:
    """The source impedances with which the output's reflection is exactly 1."""
    return load_circle(_turned(s))


def gamma_in(s: Complex, load: npt.ArrayLike) -> Complex:
    """Reflection coefficient looking into the input. load : reflection coefficient at the output."""
    s11, s12, s21, s22 = _parts(s)
    g = np.asarray(load, complex)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(s11 + s12 * s21 * g / (1.0 - s22 * g))


def gamma_out(s: Complex, source: npt.ArrayLike) -> Complex:
    """Reflection coefficient looking into the output. source : reflection coefficient at the input."""
    return gamma_in(_turned(s), source)


def turned_margin(s: Complex, magnitude: npt.ArrayLike, steps: int = 72) -> tuple[Real, Real]:
    """The worst margin of a load whose reflection may have any phase, as an unknown length of coax gives it.

    magnitude : (n_f,) of the reflection
    returns (n_f,) margin and (n_f,) the phase there in degrees, to 360 / steps
    """
    phase = np.linspace(-180.0, 180.0, steps, endpoint=False)
    g = np.asarray(magnitude, float)[None, :] * np.exp(1j * np.radians(phase))[:, None]
    margin = load_margin(np.asarray(s)[None], g)
    worst = margin.argmin(axis=0)
    return np.take_along_axis(margin, worst[None], axis=0)[0], phase[worst]


def maximum_gain_db(s: Complex) -> Real:
    """Maximum available gain in dB where the stage is stable into anything, else the maximum stable gain |S21/S12|.

    Inf for a stage without any way back.
    """
    _, s12, s21, _ = _parts(s)
    k = k_factor(s)
    ratio = np.divide(abs(s21), abs(s12), out=np.full(np.shape(s21), np.inf), where=np.asarray(abs(s12) > 0))
    sure = np.where(np.isfinite(k) & (k > 1.0), k, 1.0)
    with np.errstate(divide="ignore"):
        return np.asarray(10.0 * np.log10(ratio * (sure - np.sqrt(sure**2 - 1.0))), float)
