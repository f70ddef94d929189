"""Admittances of elements with more than two terminals, and conversions between descriptions."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

C0 = 299_792_458.0
DB_PER_NEPER = 20.0 / np.log(10.0)


def coax_y(
    f: npt.ArrayLike,
    z0: npt.ArrayLike,
    velocity_factor: npt.ArrayLike,
    length: npt.ArrayLike,
    k1: npt.ArrayLike,
    k2: npt.ArrayLike,
) -> Complex:
    """Admittance matrix of a piece of lossy coax against its shield.

    f : (n_f,) Hz; z0 : ohm, real; length : m; k1, k2 : dB per 100 m per sqrt(MHz) and per MHz
    returns (2, 2, *batch) siemens: y11 = y22 = coth(g l)/z0, y12 = y21 = -1/(z0 sinh(g l))
    source: any text on lines, e.g. Pozar, Microwave Engineering, sec. 2.1 and table 4.2 (from memory)
    """
    gl = coax_gamma(f, velocity_factor, k1, k2) * np.asarray(length)
    sinh = np.sinh(gl)
    y11 = np.cosh(gl) / sinh / z0
    y12 = -1.0 / (sinh * z0)
    return np.stack([np.stack([y11, y12]), np.stack([y12, y11])])


def coax_gamma(f: npt.ArrayLike, velocity_factor: npt.ArrayLike, k1: npt.ArrayLike, k2: npt.ArrayLike) -> Complex:
    """Propagation constant of coax, 1/m. f : (n_f,) Hz; k1, k2 : dB per 100 m per sqrt(MHz) and per MHz."""
    mhz = np.asarray(f, float) / 1e6
    loss = (np.asarray(k1) * np.sqrt(mhz) + np.asarray(k2) * mhz) / 100.0 / DB_PER_NEPER
    return np.asarray(loss + 2e6j * np.pi * mhz / (C0 * np.asarray(velocity_factor)))


def coax_along(gl: Complex, z0: float, share: float) -> tuple[Complex, Complex]:
    """Volts and amps inside a piece of coax, from the volts at its two ends.

    gl : (n_f,) propagation constant times length; z0 : ohm; share : 0 at the first end, 1 at the other
    returns (2, n_f) and (2, n_f) siemens: the volts (amps towards the other end) there are the sum over both ends
    source: the line's equations, e.g. Pozar, Microwave Engineering, sec. 2.1 (from memory)
    """
    near, far, sinh = gl * (1.0 - share), gl * share, np.sinh(gl)
    volts = np.stack([np.sinh(near), np.sinh(far)]) / sinh
    return volts, np.stack([np.cosh(near), -np.cosh(far)]) / (sinh * z0)


def pad_y(loss_db: float, ohm: float) -> Real:
    """Admittance matrix of a matched attenuator. returns (2, 2) siemens; raises ValueError for loss_db <= 0."""
    if not loss_db > 0:
        raise ValueError(f"a pad has a loss above 0 dB, not {loss_db}")
    k = 10.0 ** (loss_db / 20.0)
    y11 = (k * k + 1.0) / (k * k - 1.0) / ohm
    y12 = -2.0 * k / (k * k - 1.0) / ohm
    return np.array([[y11, y12], [y12, y11]])


def coupled_y(f: npt.ArrayLike, l1: float, l2: float, k: float, q: float) -> Complex:
    """Admittance matrix of two coils that share flux, each taken between its own two terminals.

    l1, l2 : H; k : coupling, -1 < k < 1; q : quality factor of the core that they share: all flux is equally lossy
    returns (2, 2, n_f) siemens
    """
    w = 2.0 * np.pi * np.asarray(f, float)
    m = k * np.sqrt(l1 * l2)
    z = (1j + 1.0 / q) * np.array([[w * l1, w * m], [w * m, w * l2]])
    det = z[0, 0] * z[1, 1] - z[0, 1] * z[1, 0]
    return np.asarray(np.array([[z[1, 1], -z[0, 1]], [-z[1, 0], z[0, 0]]]) / det)


def s_to_y(s: Complex, z0: float) -> Complex:
    """Admittance matrix from scattering parameters. s : (n_f, n, n); z0 : ohm, real. returns (n_f, n, n) siemens."""
    one = np.eye(s.shape[-1])
    return np.asarray(np.linalg.solve((one + s).swapaxes(-1, -2), (one - s).swapaxes(-1, -2)).swapaxes(-1, -2) / z0)


def y_to_s(y: Complex, z0: float) -> Complex:
    """Scattering parameters from an admittance matrix. y : (n_f, n, n) siemens. returns (n_f, n, n)."""
    one = np.eye(y.shape[-1])
    a = y * z0
    return np.asarray(np.linalg.solve((one + a).swapaxes(-1, -2), (one - a).swapaxes(-1, -2)).swapaxes(-1, -2))
