"""The order in which nodes are eliminated, chosen once for a topology (minimum degree)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

GROUND = -1


@dataclass(frozen=True, slots=True)
class Plan:
    """Where every entry of the factored matrix lives, and in which order nodes go.

    n : number of nodes, ground not counted
    branches : (a, b) node pairs, GROUND allowed; the k-th row of the admittances belongs to the k-th pair
    entries : (row, column) pairs of extra admittance entries (multi-terminal elements), GROUND not allowed
    steps : for each eliminated node: (node, neighbours still there)
    slots : number of stored entries; slot i < n is the diagonal of node i
    where : (i, j) -> slot of the off-diagonal entry; one slot serves both directions where the network is reciprocal
    reciprocal : the admittance matrix is symmetrical: every entry (i, j) comes with an equal (j, i)
    """

    n: int
    branches: tuple[tuple[int, int], ...]
    entries: tuple[tuple[int, int], ...]
    steps: tuple[tuple[int, tuple[int, ...]], ...]
    slots: int
    where: dict[tuple[int, int], int]
    reciprocal: bool = True


def plan(
    n: int,
    branches: Iterable[Sequence[int]],
    entries: Iterable[Sequence[int]] = (),
    *,
    reciprocal: bool = True,
    last: Iterable[int] = (),
) -> Plan:
    """Choose the elimination order of a network by minimum degree and lay out its storage.

    n : number of nodes
    branches : (a, b) pairs of node numbers; GROUND (-1) is the reference
    entries : (row, column) of further admittance entries
    reciprocal : False where an entry (i, j) may differ from its (j, i) (an active or one-way element)
    last : nodes to be eliminated last: what is wanted between them alone then needs no substitution
    returns a Plan; ties are broken by node number, so that the result depends on the topology alone
    raises ValueError for a node number outside -1..n-1
    source: Tinney & Walker 1967, Proc. IEEE 55(11), 1801-1809 (scheme 2)
    """
    pairs = tuple((int(a), int(b)) for a, b in branches)
    extra = tuple((int(i), int(j)) for i, j in entries)
    around: list[set[int]] = [set() for _ in range(n)]
    for a, b in (*pairs, *extra):
        if not (GROUND <= a < n and GROUND <= b < n):
            raise ValueError(f"branch ({a}, {b}) names a node outside -1..{n - 1}")
        if a != b and a != GROUND and b != GROUND:
            around[a].add(b)
            around[b].add(a)
    where: dict[tuple[int, int], int] = {}
    steps: list[tuple[int, tuple[int, ...]]] = []
    slots, left, kept = n, set(range(n)), set(last)
    while left:
        node = min(left, key=lambda i: (i in kept, len(around[i]), i))
        near = tuple(sorted(around[node]))
        for i in near:
            if (node, i) not in where:
                slots += 1
                where[node, i] = slots - 1
                slots += not reciprocal
                where[i, node] = slots - 1
            around[i].discard(node)
            around[i].update(j for j in near if j != i)
        steps.append((node, near))
        left.discard(node)
    return Plan(n, pairs, extra, tuple(steps), slots, where, reciprocal)
