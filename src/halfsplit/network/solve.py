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

    def between(self, nodes: Sequence[int]) -> Complex:
        """Impedances between nodes that the plan eliminates last (its `last`), to ground: no full substitution.

        nodes : all of them, in any order
        returns (m, m, *batch) ohm
        raises ValueError where these are not the last nodes of the plan
        """
        tail = self.plan.steps[-len(nodes) :]
        if {node for node, _ in tail} != set(nodes):
            raise ValueError("the plan does not eliminate exactly these nodes last")
        if self.awkward is not None or not self.plan.reciprocal:
            return np.asarray(np.swapaxes(self.columns([(i, GROUND) for i in nodes])[:, list(nodes)], 0, 1))
        v, where = self.values, self.plan.where
        place = {node: k for k, node in enumerate(nodes)}
        x = np.zeros((len(nodes), len(nodes), *self.batch), complex)
        for k in range(len(nodes)):
            x[k, k] = 1.0
        for node, near in tail:
            for i in near:
                x[place[i]] -= v[where[i, node]] * x[place[node]]
            x[place[node]] *= v[node]
        for node, near in reversed(tail):
            for j in near:
                x[place[node]] -= v[where[node, j]] * x[place[j]]
        return x

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
        if self.plan.reciprocal:
            self._sweep_reciprocal(x)
            return
        v, where = self.values, self.plan.where
        for node, near in self.plan.steps:
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

    def _sweep_reciprocal(self, x: Complex) -> None:
        """The same for a reciprocal network: multipliers serve both ways. Rows still empty are passed over."""
        v, where = self.values, self.plan.where
        filled = {i for i in range(self.plan.n) if x[i].any()}
        for node, near in self.plan.steps:
            if node in filled:
                xn = x[node]
                for i in near:
                    x[i] -= v[where[i, node]] * xn
                filled.update(near)
                xn *= v[node]
        for node, near in reversed(self.plan.steps):
            xn = x[node]
            for j in near:
                xn -= v[where[node, j]] * x[j]

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
        v, where, both = self.values, self.plan.where, not self.plan.reciprocal
        z = np.zeros_like(v)
        for node, near in reversed(self.plan.steps):
            z[node] = v[node]
            for j in near:
                for i in near:
                    zij, zji = (z[i], z[i]) if i == j else (z[where[i, j]], z[where[j, i]])
                    upper = v[node] * v[where[node, i]] if both else v[where[node, i]]
                    z[where[node, j]] -= upper * zij
                    if both:
                        z[where[j, node]] -= zji * v[where[i, node]]
            for i in near:
                upper = v[node] * v[where[node, i]] if both else v[where[node, i]]
                z[node] -= upper * z[where[i, node]]
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
        (_eliminate_reciprocal if layout.reciprocal else _eliminate)(layout, v)
    if not check:
        return Factored(layout, v, None, None)
    return _checked(layout, v, y, entries)


def _eliminate(layout: Plan, v: Complex) -> None:
    """All steps of the elimination, in place."""
    for node, near in layout.steps:
        pivot = v[node]
        np.reciprocal(pivot, out=pivot)
        for i in near:
            multiplier = v[layout.where[i, node]]
            multiplier *= pivot
            for j in near:
                slot = i if i == j else layout.where[i, j]
                v[slot] -= multiplier * v[layout.where[node, j]]


def _eliminate_reciprocal(layout: Plan, v: Complex) -> None:
    """The same for a symmetrical matrix: half the work; the multipliers take the place of the rows."""
    where = layout.where
    for node, near in layout.steps:
        pivot = v[node]
        np.reciprocal(pivot, out=pivot)
        multipliers = [v[where[node, i]] * pivot for i in near]
        for a, i in enumerate(near):
            v[i] -= multipliers[a] * v[where[node, i]]
            for j in near[a + 1 :]:
                v[where[i, j]] -= multipliers[a] * v[where[node, j]]
        for a, i in enumerate(near):
            v[where[node, i]] = multipliers[a]


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
                if not layout.reciprocal:
                    v[where[b, a]] -= yk
    if entries is not None:
        for (i, j), value in zip(layout.entries, entries, strict=True):
            if i <= j or not layout.reciprocal:
                v[i if i == j else where[i, j]] += value


def _checked(layout: Plan, v: Complex, y: Complex, entries: Complex | None) -> Factored:
    """Look for multipliers that are too large; where there are any, keep the matrices of those points."""
    off = v[layout.n :]
    size = off.real**2 + off.imag**2 if layout.reciprocal else _lower_size(layout, v)
    limit = LARGEST_MULTIPLIER**2
    if (not size.size or size.max() < limit) and np.isfinite(v[: layout.n]).all():
        return Factored(layout, v, None, None)
    with np.errstate(all="ignore"):
        awkward = np.asarray(~np.isfinite(v[: layout.n]).all(axis=0))
        if size.size:
            awkward |= ~(size.max(axis=0) < limit)
    return Factored(layout, v, awkward, assembled(layout, y, entries, awkward))


def _lower_size(layout: Plan, v: Complex) -> npt.NDArray[np.float64]:
    """Squared size of the multipliers of a network that is not reciprocal."""
    lower = v[[layout.where[i, node] for node, near in layout.steps for i in near]]
    return np.asarray(lower.real**2 + lower.imag**2)


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
