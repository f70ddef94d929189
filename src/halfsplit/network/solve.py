"""Elimination of all frequencies (and all cases) at once, following a Plan.

Every array has the batch shape last: one elimination step is a handful of array operations over
all frequencies and cases. Near a lossless resonance a pivot can vanish; those frequencies are
solved again with full pivoting by LAPACK, so that the plan stays free of pivoting.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network.plan import GROUND, Plan

Complex = npt.NDArray[Any]

# A multiplier beyond this costs more digits than we promise (1e-9): such points are solved densely.
LARGEST_MULTIPLIER = 1e5


class SingularNetwork(ValueError):
    """The network has no unique answer at some frequency: a node has no path to anywhere."""


@dataclass(frozen=True, slots=True)
class Factored:
    """A factored network.

    values : (slots, *batch) the factors: reciprocal pivots on the diagonal slots, multipliers below, rows above
    awkward : (*batch) True where the multipliers are too large; None where no point is awkward
    matrix : (k, n, n) the matrices of the awkward points, for the dense route
    """

    plan: Plan
    values: Complex
    awkward: npt.NDArray[np.bool_] | None
    matrix: Complex | None

    @property
    def batch(self) -> tuple[int, ...]:
        """Shape of the batch (cases, frequencies)."""
        return self.values.shape[1:]

    def columns(self, ports: Sequence[tuple[int, int]]) -> Complex:
        """Voltages of all nodes for 1 A into each port.

        ports : (a, b) pairs; the current enters at a and leaves at b
        returns (n_port, n, *batch) ohm
        """
        x = np.zeros((self.plan.n, len(ports), *self.batch), complex)
        for p, (a, b) in enumerate(ports):
            if a != GROUND:
                x[a, p] += 1.0
            if b != GROUND:
                x[b, p] -= 1.0
        self._sweep(x, transposed=False)
        return self._mend(np.swapaxes(x, 0, 1), ports, transposed=False)

    def rows(self, ports: Sequence[tuple[int, int]]) -> Complex:
        """Voltage of each port for 1 A into every node: the rows of the impedance matrix.

        returns (n_port, n, *batch) ohm; equal to `columns` for a reciprocal network
        """
        x = np.zeros((self.plan.n, len(ports), *self.batch), complex)
        for p, (a, b) in enumerate(ports):
            if a != GROUND:
                x[a, p] += 1.0
            if b != GROUND:
                x[b, p] -= 1.0
        self._sweep(x, transposed=True)
        return self._mend(np.swapaxes(x, 0, 1), ports, transposed=True)

    def _sweep(self, x: Complex, *, transposed: bool) -> None:
        """Forward and backward substitution in place. x : (n, n_port, *batch)."""
        v, where = self.values, self.plan.where
        for node, near in self.plan.steps:
            if not x[node].any():
                continue
            xn = x[node]
            for i in near:
                if transposed:
                    x[i] -= v[where[node, i]] * v[node] * xn
                else:
                    x[i] -= v[where[i, node]] * xn
        for node, near in reversed(self.plan.steps):
            xn = x[node]
            if transposed:
                xn *= v[node]
                for j in near:
                    xn -= v[where[j, node]] * x[j]
            else:
                for j in near:
                    xn -= v[where[node, j]] * x[j]
                xn *= v[node]

    def _mend(self, x: Complex, ports: Sequence[tuple[int, int]], *, transposed: bool) -> Complex:
        """Replace the awkward points of x (n_port, n, *batch) by the dense solution."""
        if self.awkward is None or self.matrix is None:
            return x
        right = np.zeros((self.plan.n, len(ports)))
        for p, (a, b) in enumerate(ports):
            if a != GROUND:
                right[a, p] += 1.0
            if b != GROUND:
                right[b, p] -= 1.0
        matrix = np.swapaxes(self.matrix, 1, 2) if transposed else self.matrix
        x[:, :, self.awkward] = np.moveaxis(dense(matrix, right), 0, 2).swapaxes(0, 1)
        return x

    def across(self) -> Complex:
        """Impedance seen across every branch, itself included.

        returns (n_branch, *batch) ohm; selected inversion on the pattern of the factors, no column solved
        source: Takahashi, Fagan & Chen 1973, 8th PICA conf., 63-69
        """
        z = self._selected()
        where, out = self.plan.where, np.zeros((len(self.plan.branches), *self.batch), complex)
        for k, (a, b) in enumerate(self.plan.branches):
            if a != GROUND:
                out[k] += z[a]
            if b != GROUND:
                out[k] += z[b]
            if a not in (GROUND, b) and b != GROUND:
                out[k] -= z[where[a, b]] + z[where[b, a]]
            elif a == b:
                out[k] = 0.0
        if self.awkward is not None and self.matrix is not None:
            whole = dense(self.matrix, np.eye(self.plan.n))
            e = incidence(self.plan)
            out[:, self.awkward] = np.einsum("bi,kij,bj->bk", e, whole, e)
        return out

    def _selected(self) -> Complex:
        """Entries of the impedance matrix on the pattern of the factors. returns (slots, *batch)."""
        v, where = self.values, self.plan.where
        z = np.zeros_like(v)
        for node, near in reversed(self.plan.steps):
            z[node] = v[node]
            for j in near:
                for i in near:
                    zij, zji = (z[i], z[i]) if i == j else (z[where[i, j]], z[where[j, i]])
                    z[where[node, j]] -= v[node] * v[where[node, i]] * zij
                    z[where[j, node]] -= zji * v[where[i, node]]
            for i in near:
                z[node] -= v[node] * v[where[node, i]] * z[where[i, node]]
        return z


def factor(layout: Plan, y: Complex, entries: Complex | None = None, *, check: bool = True) -> Factored:
    """Factor the admittance matrix of a network at all frequencies and cases.

    layout : from `plan`
    y : (n_branch, *batch) siemens, one row for each branch of the plan
    entries : (n_entry, *batch) siemens, one row for each extra entry of the plan
    check : look for vanished pivots (and solve those points densely)
    returns Factored
    raises SingularNetwork where even full pivoting finds no answer
    """
    batch = np.broadcast_shapes(y.shape[1:], entries.shape[1:] if entries is not None else ())
    v = np.zeros((layout.slots, *batch), complex)
    _stamp(layout, v, y, entries)
    with np.errstate(all="ignore"):
        for node, near in layout.steps:
            pivot = v[node]
            np.reciprocal(pivot, out=pivot)
            for i in near:
                multiplier = v[layout.where[i, node]]
                multiplier *= pivot
                for j in near:
                    slot = i if i == j else layout.where[i, j]
                    v[slot] -= multiplier * v[layout.where[node, j]]
    if not check:
        return Factored(layout, v, None, None)
    return _checked(layout, v, y, entries)


def _stamp(layout: Plan, v: Complex, y: Complex, entries: Complex | None) -> None:
    where = layout.where
    for (a, b), yk in zip(layout.branches, y, strict=True):
        if a == b:
            continue
        if a != GROUND:
            v[a] += yk
        if b != GROUND:
            v[b] += yk
            if a != GROUND:
                v[where[a, b]] -= yk
                v[where[b, a]] -= yk
    if entries is not None:
        for (i, j), value in zip(layout.entries, entries, strict=True):
            v[i if i == j else where[i, j]] += value


def _checked(layout: Plan, v: Complex, y: Complex, entries: Complex | None) -> Factored:
    lower = [layout.where[i, node] for node, near in layout.steps for i in near]
    size = np.abs(v[lower].real) + np.abs(v[lower].imag) if lower else np.zeros((1, *v.shape[1:]))
    with np.errstate(all="ignore"):
        awkward = ~(size.max(axis=0) < LARGEST_MULTIPLIER)
        awkward |= ~np.isfinite(v[: layout.n]).all(axis=0)
    if not awkward.any():
        return Factored(layout, v, None, None)
    whole = assembled(layout, y, entries, awkward)
    return Factored(layout, v, awkward, whole)


def assembled(
    layout: Plan, y: Complex, entries: Complex | None = None, which: npt.NDArray[np.bool_] | None = None
) -> Complex:
    """The dense admittance matrix. which : (*batch) bool, all points if None. returns (k, n, n) siemens."""
    batch = np.broadcast_shapes(y.shape[1:], entries.shape[1:] if entries is not None else ())
    pick = np.ones(batch, bool) if which is None else which
    e = incidence(layout)
    rows = np.broadcast_to(y, (y.shape[0], *batch))[:, pick]
    matrix = np.einsum("bi,bk,bj->kij", e, rows, e)
    if entries is not None:
        for (i, j), value in zip(layout.entries, entries, strict=True):
            matrix[:, i, j] += np.broadcast_to(value, batch)[pick]
    return np.asarray(matrix, complex)


def incidence(layout: Plan) -> npt.NDArray[np.float64]:
    """Branch-node incidence, (n_branch, n)."""
    e = np.zeros((len(layout.branches), layout.n))
    for k, (a, b) in enumerate(layout.branches):
        if a != GROUND:
            e[k, a] += 1.0
        if b != GROUND:
            e[k, b] -= 1.0
    return e


def dense(matrix: Complex, right: npt.NDArray[np.float64]) -> Complex:
    """Solve with full pivoting. matrix : (k, n, n); right : (n, m). returns (k, n, m). raises SingularNetwork."""
    try:
        x = np.linalg.solve(matrix, np.broadcast_to(right.astype(complex), (matrix.shape[0], *right.shape)))
    except np.linalg.LinAlgError as error:
        raise SingularNetwork("a node of the network has no path to anywhere at some frequency") from error
    if not np.isfinite(x).all():
        raise SingularNetwork("the network has no finite answer at some frequency")
    return x
