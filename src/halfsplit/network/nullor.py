"""Networks with ideal operational amplifiers (nullors), exact: no large gains, no small resistances.

A nullor is a nullator (no voltage across it, no current through it: the inputs) with a norator (any voltage, any
current: the output). The nullator makes the voltages of its two nodes one unknown: two columns of the node equations
are added. The norator carries what current is needed: the current sums of its two nodes are added into one equation,
or dropped where one of them is ground. What is left is a smaller system that is no longer symmetrical, and whose rows
need not belong to its columns: rows are first paired with columns so that every pivot is there (an assignment that
prefers entries made of many branches), then eliminated by the same plan as any network. Pivots can still cancel at
some frequency; multipliers that are too large are noticed and those points solved by LAPACK with pivoting, as always.
source: Carlin 1964, IEEE Trans. Circuit Theory 11(1), 67-72 (nullator, norator); Davies 1966, Proc. IEE 113(1), 115-117
(node equations by merging rows and columns); Duff & Koster 2001, SIAM J. Matrix Anal. Appl. 22(4), 973-996 (static
pairing of rows with columns). All from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network.plan import GROUND, Plan, plan
from halfsplit.network.solve import Factored, SingularNetwork, factor

Complex = npt.NDArray[Any]
Nullor = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class ActivePlan:
    """A network with nullors, laid out for elimination.

    n : nodes, ground not counted; branches : (a, b) pairs, GROUND allowed
    nullors : (output, output return, input, input), GROUND allowed
    rows, columns : (n,) where the current sum and the voltage of each node went; GROUND where they vanished
    stamps : for each entry of the smaller system, ((branch, +1 or -1 or +2 ...), ...)
    layout : the plan of the smaller system
    """

    n: int
    branches: tuple[tuple[int, int], ...]
    nullors: tuple[Nullor, ...]
    rows: tuple[int, ...]
    columns: tuple[int, ...]
    stamps: tuple[tuple[tuple[int, int], ...], ...]
    layout: Plan

    def row(self, node: int) -> int:
        """Where the current sum of a node went; GROUND for ground."""
        return GROUND if node == GROUND else self.rows[node]

    def column(self, node: int) -> int:
        """Where the voltage of a node went; GROUND for ground."""
        return GROUND if node == GROUND else self.columns[node]


@dataclass(frozen=True, slots=True)
class ActiveFactored:
    """A factored network with nullors. Not reciprocal: `columns` and `rows` differ."""

    plan: ActivePlan
    inner: Factored

    def columns(self, ports: Sequence[tuple[int, int]]) -> Complex:
        """Voltages of all nodes for 1 A into each port (in at a, out at b). returns (n_port, n, *batch) ohm."""
        x = self.inner.columns([(self.plan.row(a), self.plan.row(b)) for a, b in ports])
        return _spread(x, self.plan.columns)

    def rows(self, ports: Sequence[tuple[int, int]]) -> Complex:
        """Voltage of each port (a against b) for 1 A into every node. returns (n_port, n, *batch) ohm."""
        x = self.inner.rows([(self.plan.column(a), self.plan.column(b)) for a, b in ports])
        return _spread(x, self.plan.rows)


def _spread(x: Complex, where: Sequence[int]) -> Complex:
    """From the unknowns of the smaller system to all nodes. x : (n_port, m, *batch)."""
    with_ground = np.concatenate([x, np.zeros_like(x[:, :1])], axis=1)
    return with_ground[:, list(where)]  # GROUND is -1: the zeros at the end


def across(x: Complex, port: tuple[int, int]) -> Complex:
    """Difference between two nodes. x : (..., n, *batch) with nodes on axis 0, ohm. returns (*batch)."""
    a, b = port
    zero = np.zeros_like(x[0])
    return np.asarray((zero if a == GROUND else x[a]) - (zero if b == GROUND else x[b]))


def plan_active(n: int, branches: Iterable[Sequence[int]], nullors: Iterable[Sequence[int]]) -> ActivePlan:
    """Merge rows and columns, pair them, and choose the order of elimination.

    n : number of nodes; branches : (a, b) node numbers, GROUND (-1) is the reference
    nullors : (output, output return, input, input): an operational amplifier has GROUND for its output return; which
    input is which does not matter to the solution (it does to a real amplifier: see `poles`)
    returns an ActivePlan
    raises ValueError for a node outside -1..n-1; SingularNetwork where no values of the branches give one answer
    (an amplifier without feedback, two outputs on one node)
    """
    pairs = tuple((int(a), int(b)) for a, b in branches)
    given: list[Nullor] = []
    for o, r, p, m in nullors:
        given.append((int(o), int(r), int(p), int(m)))
    for node in (k for group in (*pairs, *given) for k in group):
        if not GROUND <= node < n:
            raise ValueError(f"node {node} lies outside -1..{n - 1}")
    rows, n_rows = _merged(n, [(o, r) for o, r, _, _ in given])
    columns, n_columns = _merged(n, [(p, m) for _, _, p, m in given])
    if n_rows != n_columns:
        raise SingularNetwork("an amplifier has both inputs, or output and return, on what is already one node")
    entries = _entries(pairs, rows, columns)
    paired = _paired(n_rows, entries)
    rows = [GROUND if r == GROUND else paired[r] for r in rows]
    named = {(paired[r], c): stamp for (r, c), stamp in entries.items()}
    layout = plan(n_rows, (), named, reciprocal=False)
    return ActivePlan(n, pairs, tuple(given), tuple(rows), tuple(columns), tuple(named.values()), layout)


def _merged(n: int, joined: Sequence[tuple[int, int]]) -> tuple[list[int], int]:
    """Number nodes so that joined ones share a number and those joined with ground have GROUND. returns (n,), count."""
    parent = list(range(n + 1))  # the last is ground

    def top(k: int) -> int:
        while parent[k] != k:
            k = parent[k]
        return k

    for a, b in joined:
        low, high = sorted((top(a % (n + 1)), top(b % (n + 1))))
        parent[low] = high
    tops = [top(k) for k in range(n)]
    number = {t: i for i, t in enumerate(sorted(set(tops) - {top(n)}))}
    return [number.get(t, GROUND) for t in tops], len(number)


def _entries(
    pairs: Sequence[tuple[int, int]], rows: Sequence[int], columns: Sequence[int]
) -> dict[tuple[int, int], tuple[tuple[int, int], ...]]:
    """Which branches make up each entry of the smaller system; those that cancel exactly are left out."""
    found: dict[tuple[int, int], dict[int, int]] = {}
    for k, (a, b) in enumerate(pairs):
        for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            r, c = (GROUND if i == GROUND else rows[i]), (GROUND if j == GROUND else columns[j])
            if r != GROUND and c != GROUND:
                entry = found.setdefault((r, c), {})
                entry[k] = entry.get(k, 0) + sign
    kept = {key: tuple((k, s) for k, s in sorted(e.items()) if s) for key, e in sorted(found.items())}
    return {key: stamp for key, stamp in kept.items() if stamp}


def _paired(m: int, entries: dict[tuple[int, int], tuple[tuple[int, int], ...]]) -> list[int]:
    """The column whose diagonal each row becomes. raises SingularNetwork where rows cannot all have one."""
    from scipy.optimize import linear_sum_assignment  # slow to load, and few need it

    cost = np.full((m, m), np.inf)
    for (r, c), stamp in entries.items():
        cost[r, c] = 1.0 / len(stamp)
    try:
        _, to = linear_sum_assignment(cost)
    except ValueError as error:
        raise SingularNetwork("no values give this network one answer: an amplifier has no feedback") from error
    return [int(c) for c in to]


def factor_active(layout: ActivePlan, y: Complex) -> ActiveFactored:
    """Factor a network with nullors at all frequencies and cases.

    layout : from `plan_active`; y : (n_branch, *batch) siemens
    returns ActiveFactored
    raises SingularNetwork where even full pivoting finds no answer
    """
    entries = np.zeros((len(layout.stamps), *y.shape[1:]), complex)
    for row, stamp in zip(entries, layout.stamps, strict=True):
        for k, sign in stamp:
            row += sign * y[k]
    return ActiveFactored(layout, factor(layout.layout, y[:0], entries))
