"""A plain nodal solver for the proving world: dense, complex, one matrix for each frequency.

It shares no code with the package, so that an error in the package's solver cannot hide behind the same error here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

C0 = 299_792_458.0
GROUND = ""


class Network:
    """Branches between named nodes at given frequencies. f : (n_f,) Hz. The empty name is ground."""

    def __init__(self, f: Real) -> None:
        self.f = f
        self.w = 2.0 * np.pi * f
        self.index: dict[str, int] = {}
        self._stamps: list[tuple[int, int, Complex]] = []

    def node(self, name: str) -> int:
        """Row of a node, -1 for ground."""
        if name == GROUND:
            return -1
        return self.index.setdefault(name, len(self.index))

    def stamp(self, row: str, column: str, y: Complex) -> None:
        """Add to one entry of the matrix."""
        r, c = self.node(row), self.node(column)
        if r >= 0 and c >= 0:
            self._stamps.append((r, c, np.broadcast_to(y, self.f.shape)))

    def admittance(self, a: str, b: str, y: Complex) -> None:
        """A branch of admittance y (n_f,) siemens."""
        for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            self.stamp(row, column, sign * y)

    def impedance(self, a: str, b: str, z: Complex) -> None:
        """A branch of impedance z (n_f,) ohm."""
        self.admittance(a, b, 1.0 / z)

    def coupled(self, ends: list[tuple[str, str]], z: Complex) -> None:
        """Branches whose voltages are z (n_f, m, m) ohm times their currents. ends : m pairs of nodes."""
        y = np.linalg.inv(z)
        for i, (a, b) in enumerate(ends):
            for j, (c, d) in enumerate(ends):
                for row, column, sign in ((a, c, 1.0), (b, d, 1.0), (a, d, -1.0), (b, c, -1.0)):
                    self.stamp(row, column, sign * y[:, i, j])

    def two_port(self, a: str, b: str, y: Complex) -> None:
        """A two-port against ground. y : (n_f, 2, 2) siemens."""
        for i, row in enumerate((a, b)):
            for j, column in enumerate((a, b)):
                self.stamp(row, column, y[:, i, j])

    def matrix(self) -> Complex:
        """The node admittances, (n_f, n, n) siemens."""
        n = len(self.index)
        out = np.zeros((len(self.f), n, n), complex)
        for row, column, y in self._stamps:
            out[:, row, column] += y
        return out

    def voltages(self, node: str, ampere: Complex | float = 1.0) -> dict[str, Complex]:
        """All node voltages (n_f,) for a current into one node."""
        current = np.zeros((len(self.f), len(self.index), 1), complex)
        current[:, self.index[node], 0] = ampere
        v = np.linalg.solve(self.matrix(), current)[:, :, 0]
        return {name: v[:, i] for name, i in self.index.items()}


def coax(f: Real, z0: float, velocity: float, length: float, k1: float, k2: float) -> Complex:
    """Admittances of a lossy line, (n_f, 2, 2) siemens; loss in dB per 100 m = k1 sqrt(f/MHz) + k2 f/MHz.

    source: the chain matrix [[cosh gl, z0 sinh gl], [sinh gl / z0, cosh gl]] of any text on lines
    """
    mhz = f / 1e6
    neper = (k1 * np.sqrt(mhz) + k2 * mhz) / 100.0 * np.log(10.0) / 20.0
    gl = (neper + 2j * np.pi * f / (C0 * velocity)) * length
    a, b = np.cosh(gl), z0 * np.sinh(gl)
    y = np.empty((len(f), 2, 2), complex)
    y[:, 0, 0] = y[:, 1, 1] = a / b
    y[:, 0, 1] = y[:, 1, 0] = -1.0 / b
    return y
