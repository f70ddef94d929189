"""A measured device with the damping and feedback parts that the manual draws around it. Arrays only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.network import s_to_y, y_to_s

Complex = npt.NDArray[Any]
Branches = Sequence[tuple[str, str, Complex]]

TERMINALS = {"gate": 0, "base": 0, "drain": 1, "collector": 1, "source": 2, "emitter": 2}
"""Names of the device's own terminals: what is tied to them is inside the stage's terminals `in`, `out`, `ground`."""

ENDS = ("in", "out", "ground")


def with_branches(s: Complex, branches: Branches, z0: float = 50.0) -> Complex:
    """Scattering parameters of a stage: a device with parts around it.

    s : (n_f, 2, 2) of the device, its third terminal earthed; z0 : ohm
    branches : (node, node, (n_f,) siemens). Nodes: `in`, `out`, `ground`, the device's terminals, names of one's own.
               A device terminal that no branch names is wired straight to its end of the stage
    returns (n_f, 2, 2) of the stage
    raises ValueError where a branch touches a terminal of the device but nothing ties it to the rest, so that a
    node is left without a path
    """
    if not branches:
        return np.asarray(s, complex)
    named = {n for a, b, _ in branches for n in (a, b)}
    device = [next((n for n in named if TERMINALS.get(n) == i), ENDS[i]) for i in range(3)]
    nodes = ["in", "out", *sorted((named | set(device)) - set(ENDS))]
    place = {n: i for i, n in enumerate(nodes)} | {"ground": len(nodes)}
    y2 = s_to_y(np.asarray(s, complex), z0)
    y = np.zeros((len(y2), len(nodes) + 1, len(nodes) + 1), complex)
    at = [place[n] for n in device]
    y[np.ix_(range(len(y2)), at, at)] += floating(y2)
    for a, b, admittance in branches:
        i, j = place[a], place[b]
        y[:, i, i] += admittance
        y[:, j, j] += admittance
        y[:, i, j] -= admittance
        y[:, j, i] -= admittance
    return y_to_s(reduced(y[:, :-1, :-1]), z0)


def floating(y: Complex) -> Complex:
    """Admittance matrix of three terminals, none of them earthed. y : (n_f, 2, 2) siemens; returns (n_f, 3, 3)

    Rows and columns sum to zero. source: J. Shekel, Proc. IRE 40 (1952) 1493 (indefinite admittance matrix)
    """
    rows = np.concatenate([y, -y.sum(axis=1, keepdims=True)], axis=1)
    return np.asarray(np.concatenate([rows, -rows.sum(axis=2, keepdims=True)], axis=2))


def reduced(y: Complex) -> Complex:
    """Two-port admittance of the first two nodes, the others eliminated. raises ValueError where a node hangs free"""
    if y.shape[-1] == 2:
        return y
    try:
        inner = np.linalg.solve(y[:, 2:, 2:], y[:, 2:, :2])
    except np.linalg.LinAlgError:
        raise ValueError("a node of the stage hangs free") from None
    return np.asarray(y[:, :2, :2] - y[:, :2, 2:] @ inner)
