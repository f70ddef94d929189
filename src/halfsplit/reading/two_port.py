"""Conversion of measured one- and two-ports to S-parameters. Arrays only.

Source: Pozar, Microwave Engineering, table 4.2, written here as wave equations so that all four kinds share one form;
the tests check it against scikit-rf.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[np.complex128]
Real = npt.NDArray[np.float64]


def normalised(kind: str, p: Complex, z0: Real) -> Complex:
    """Z, Y, H or G in ohm and siemens made free of dimension.

    kind : "Z", "Y", "H" or "G"; p : (n, q, q); z0 : (q,) ohm
    returns (n, q, q): voltages count in sqrt(z0), currents in 1/sqrt(z0)
    """
    r = np.sqrt(z0)
    if kind == "Z":
        return np.asarray(p / r[:, None] / r[None, :])
    if kind == "Y":
        return np.asarray(p * r[:, None] * r[None, :])
    weight = np.array([1 / r[0], r[1]]) if kind == "H" else np.array([r[0], 1 / r[1]])
    return np.asarray(p * weight[:, None] * weight[None, :])


def to_s(kind: str, p: Complex) -> Complex:
    """S from normalised Z, Y, H or G.

    kind : "S", "Z", "Y", "H" or "G"; p : (n, q, q) without dimension; returns (n, q, q)
    raises numpy.linalg.LinAlgError where some point has no S-parameters
    """
    if kind == "S":
        return p
    one = np.eye(p.shape[-1])
    if kind == "Z":  # a + b = z (a - b)
        return np.asarray(np.linalg.solve(one + p, p - one), dtype=complex)
    if kind == "Y":  # a - b = y (a + b)
        return np.asarray(np.linalg.solve(one + p, one - p), dtype=complex)
    first = np.diag([1.0, 0.0])
    second = np.diag([0.0, 1.0])
    if kind == "H":  # (v1, i2) = h (i1, v2)
        left_a, left_b, right_a, right_b = one, first - second, one, second - first
    else:  # (i1, v2) = g (v1, i2)
        left_a, left_b, right_a, right_b = one, second - first, one, first - second
    # left_a a + left_b b = p (right_a a + right_b b)
    return np.asarray(np.linalg.solve(left_b - p @ right_b, p @ right_a - left_a), dtype=complex)


def renormalised(s: Complex, old: Real, new: Real) -> Complex:
    """S referred to other real impedances.

    s : (n, q, q) referred to `old` (q,) ohm; returns (n, q, q) referred to `new` (q,) ohm
    raises numpy.linalg.LinAlgError where some point has no S-parameters
    """
    if np.array_equal(old, new):
        return s
    one = np.eye(s.shape[-1])
    v = np.sqrt(old)[:, None] * (one + s)
    i = (one - s) / np.sqrt(old)[:, None]
    forward = v / np.sqrt(new)[:, None] + i * np.sqrt(new)[:, None]
    back = v / np.sqrt(new)[:, None] - i * np.sqrt(new)[:, None]
    return np.asarray(np.swapaxes(np.linalg.solve(np.swapaxes(forward, 1, 2), np.swapaxes(back, 1, 2)), 1, 2))
