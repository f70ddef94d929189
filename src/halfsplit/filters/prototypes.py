"""Low-pass prototypes: element values and response of the classic families.

All values are normalised: 1 ohm at the input, edge at 1 rad/s. An element is C in F where it stands in a shunt arm, L
in H where it stands in a series arm; both input forms (shunt first, series first) have the same values.

Sources: Matthaei, Young & Jones, Microwave Filters, Impedance-Matching Networks, and Coupling Structures (1964), ch. 4
("MYJ" below); Orfanidis, Lecture Notes on Elliptic Filter Design (2006). Formulas from memory, checked against printed
tables in tests/published.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import ellipj, ellipk

Array = npt.NDArray[np.float64]


class EllipticZeros(NamedTuple):
    """Where an elliptic low-pass of odd order is perfect and where it blocks, in units of its edge.

    reflection : (n-1)/2 frequencies below 1 without reflection (the one at zero is left out), falling
    notches : (n-1)/2 frequencies above 1 without transmission, rising; notches[i] belongs to reflection[i]
    """

    reflection: Array
    notches: Array


def butterworth_g(order: int) -> Array:
    """Element values g1..gn of a Butterworth low-pass, -3.01 dB at 1 rad/s, 1 ohm at both ends. returns (order,)

    g_k = 2 sin((2k-1) pi / 2n), MYJ sec. 4.05. raises ValueError below order 1.
    """
    _whole(order)
    k = np.arange(1, order + 1)
    return np.asarray(2.0 * np.sin((2 * k - 1) * np.pi / (2 * order)))


def chebyshev_g(order: int, ripple_db: float) -> Array:
    """Element values g1..gn of a Chebyshev low-pass, ripple edge at 1 rad/s. returns (order,)

    g1 = 2 a1/gamma, g_k = 4 a_(k-1) a_k / (b_(k-1) g_(k-1)), a_k = sin((2k-1) pi/2n), b_k = gamma^2 + sin^2(k pi/n),
    gamma = sinh(beta/2n), beta = ln coth(ripple ln(10)/40). MYJ eq. 4.05-2, where 40/ln(10) is rounded to 17.37.
    ripple_db : above 0. raises ValueError for an order below 1 or a ripple not above 0.
    """
    _whole(order)
    beta = _beta(ripple_db)
    gamma = math.sinh(beta / (2 * order))
    k = np.arange(1, order + 1)
    a = np.sin((2 * k - 1) * np.pi / (2 * order))
    b = gamma**2 + np.sin(k * np.pi / order) ** 2
    g = [2.0 * float(a[0]) / gamma]
    for i in range(1, order):
        g.append(float(4.0 * a[i - 1] * a[i] / (b[i - 1] * g[-1])))
    return np.array(g)


def chebyshev_load(order: int, ripple_db: float) -> float:
    """g(n+1) of a Chebyshev low-pass: 1 for odd order, coth^2(beta/4) for even order, MYJ eq. 4.05-2.

    It is a resistance (ohm) where the last element is in a shunt arm, a conductance (S) where it is in a series arm.
    raises ValueError for an order below 1 or a ripple not above 0.
    """
    _whole(order)
    return 1.0 if order % 2 else 1.0 / math.tanh(_beta(ripple_db) / 4) ** 2


def half_wave_g(sections: int) -> Array:
    """Element values of a half-wave filter: sections C, L, C, all reactances equal to R at its frequency (1 rad/s).

    1, 1, 2, 1, 1 for two sections. returns (2 sections + 1,). raises ValueError below one section.
    source: elementary; the form is that of handbook output filters of the 1950s
    """
    _whole(sections)
    g = np.ones(2 * sections + 1)
    g[2:-1:2] = 2.0
    return g


def constant_k_g(order: int) -> Array:
    """Element values of constant-k sections that begin and end with a half arm: 1, 2, ..., 2, 1. returns (order,)

    Cut-off of the image pass band at 1 rad/s. source: Zobel 1923, Bell Syst. Tech. J. 2 (from memory)
    """
    _whole(order)
    g = np.full(order, 2.0)
    g[[0, -1]] = 1.0
    return g


def elliptic_zeros(order: int, selectivity: float) -> EllipticZeros:
    """Reflection and transmission zeros of an elliptic low-pass of odd order; they do not depend on the ripple.

    selectivity : edge of the stop band over edge of the pass band, above 1 (1/sin(theta) in Cauer's notation)
    source: Orfanidis 2006, eqs. for the zeros cd(u_i K, k) and 1/(k cd(u_i K, k)), u_i = (2i-1)/n
    raises ValueError for an even order, an order below 3, or a selectivity not above 1
    """
    _elliptic(order, selectivity)
    k = 1.0 / selectivity
    u = (2.0 * np.arange(1, (order - 1) // 2 + 1) - 1.0) / order
    _, cn, dn, _ = ellipj(u * ellipk(k * k), k * k)
    zeta = np.asarray(cn / dn)
    return EllipticZeros(zeta, 1.0 / (k * zeta))


def elliptic_stop_db(order: int, ripple_db: float, selectivity: float) -> float:
    """Least attenuation in the stop band of an elliptic low-pass of odd order, dB.

    The degree equation k1 = k^n prod sn^4(u_i K, k) (Orfanidis 2006), A = 10 log10(1 + eps^2/k1^2).
    """
    _elliptic(order, selectivity)
    k = 1.0 / selectivity
    u = (2.0 * np.arange(1, (order - 1) // 2 + 1) - 1.0) / order
    sn, _, _, _ = ellipj(u * ellipk(k * k), k * k)
    k1 = k**order * float(np.prod(sn**4))
    return 10.0 * math.log10(1.0 + (10.0 ** (ripple_db / 10.0) - 1.0) / k1**2)


def butterworth_db(order: int, ratio: npt.ArrayLike) -> Array:
    """Attenuation of a Butterworth low-pass in dB: 10 log10(1 + ratio^2n), MYJ sec. 4.03. ratio : (n,) f/cut-off."""
    return np.asarray(10.0 * np.log10(1.0 + np.asarray(ratio, float) ** (2 * order)))


def chebyshev_db(order: int, ripple_db: float, ratio: npt.ArrayLike) -> Array:
    """Attenuation of a Chebyshev low-pass in dB: 10 log10(1 + (10^(r/10)-1) T_n^2(ratio)), MYJ sec. 4.03.

    ratio : (n,) f over ripple edge. Even orders between unequal resistances: measured from the best transmission.
    """
    x = np.abs(np.asarray(ratio, float))
    inside = np.cos(order * np.arccos(np.minimum(x, 1.0)))
    outside = np.cosh(order * np.arccosh(np.maximum(x, 1.0)))
    t = np.where(x <= 1.0, inside, outside)
    return np.asarray(10.0 * np.log10(1.0 + (10.0 ** (ripple_db / 10.0) - 1.0) * t**2))


def half_wave_image_db(sections: int, ratio: npt.ArrayLike) -> Array:
    """IMAGE attenuation of a half-wave filter in dB, 8.686 acosh(ratio^2 - 1) per section; not its insertion loss.

    Handbooks print these figures (30, 48, 60, 67 dB at 2..5 times for two sections) as if they were insertion loss,
    which is 25.1, 45.7, 59.1, 69.2 dB. ratio : (n,) f over the filter's frequency. returns (n,)
    source: image-parameter theory, cosh(theta) = |1 - x^2|
    """
    x = np.abs(np.asarray(ratio, float) ** 2 - 1.0)
    return np.asarray(sections * 20.0 / math.log(10.0) * np.arccosh(np.maximum(x, 1.0)))


def dissipation_db(g: npt.ArrayLike, q: float) -> float:
    """Loss far below the edge that uniform dissipation causes, dB: 4.343 sum(g)/Q with Q at the edge.

    source: Cohn 1959, Proc. IRE 47, 1342; MYJ sec. 4.13. Low by up to 40 % towards the edge: solve the ladder there.
    """
    return float(10.0 / math.log(10.0) * np.sum(np.asarray(g, float)) / q)


def coil_value(g: float, hertz: float, ohm: float) -> float:
    """Inductance in H of a series arm: g R / (2 pi f), MYJ ch. 4."""
    return g * ohm / (2.0 * math.pi * hertz)


def capacitor_value(g: float, hertz: float, ohm: float) -> float:
    """Capacitance in F of a shunt arm: g / (2 pi f R), MYJ ch. 4."""
    return g / (2.0 * math.pi * hertz * ohm)


def _beta(ripple_db: float) -> float:
    if not ripple_db > 0:
        raise ValueError(f"a Chebyshev ripple is above 0 dB, not {ripple_db}")
    return -math.log(math.tanh(ripple_db * math.log(10.0) / 40.0))


def _whole(order: int) -> None:
    if order < 1:
        raise ValueError(f"an order is 1 or more, not {order}")


def _elliptic(order: int, selectivity: float) -> None:
    if order < 3 or order % 2 == 0:
        raise ValueError(f"an elliptic ladder here has an odd order of 3 or more, not {order}")
    if not selectivity > 1:
        raise ValueError(f"the stop band begins above the pass band: selectivity above 1, not {selectivity}")
