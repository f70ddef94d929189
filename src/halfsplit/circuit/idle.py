"""The filters that are not selected, as one two-port hanging between the buses.

They sit behind open contacts, so their own spread hardly shows: they are reduced once, at their drawn
values, to an admittance between the two buses on a grid of frequencies.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.network import GROUND, plan
from halfsplit.network.solve import assembled
from halfsplit.parts import Kind, Part
from halfsplit.unit import Filter, Relay, Switch

Complex = npt.NDArray[Any]

SPREAD = 0.08
"""How far, in ln f, the resonances of an idle filter may stray."""

GRID = np.concatenate([[5e4], np.geomspace(3e5, 3e8, 900)])


def part_admittance(part: Part, w: npt.NDArray[np.float64]) -> Complex:
    """Admittance of a part at its drawn value with typical losses. returns (n_f,) siemens."""
    value = part.value or 1e-15
    if part.kind is Kind.CAPACITOR:
        return 1.0 / (1.0 / (1j * w * value) + 1j * w * spread.CAPACITOR_LEAD.typical + 0.02)
    if part.kind is Kind.COIL:
        q = part.q or spread.COIL_Q.typical
        return 1.0 / (w * value * (1j + 1.0 / q)) + 1j * w * spread.COIL_ACROSS.typical
    return np.full(w.shape, 1.0 / value, complex)


@lru_cache(maxsize=128)
def idle_piece(
    idle: tuple[Filter, ...], contacts: tuple[Relay | Switch, ...], operated: frozenset[str]
) -> tuple[tuple[float, ...], Complex, npt.NDArray[np.float64]]:
    """The idle filters between the two buses, and what may sneak around the chosen one through them.

    contacts : all relays and switches of the unit; operated : relays worked by hand: their contacts are closed
    returns grid (n,) Hz, (n, 2, 2) siemens and the amplitude that sneaks around, (n,) between 50 ohm. Behind two open
    contacts a filter rings at frequencies that its parts' spread moves far more than its bandwidth: its sneak path
    is given as a smooth outer bound, not as a curve (the loading stays in the admittances)
    """
    w = 2.0 * np.pi * GRID
    total, around = np.zeros((len(GRID), 2, 2), complex), np.zeros(len(GRID))
    for one in idle:
        y = hanging(one, contacts, operated, w)
        if not operated & {one.input, one.output}:
            g = 1.0 / 50.0
            through = 2.0 * g * y[:, 0, 1] / ((g + y[:, 0, 0]) * (g + y[:, 1, 1]) - y[:, 0, 1] ** 2)
            around = np.hypot(around, outer_bound(np.abs(through)))
            y[:, 0, 1] = y[:, 1, 0] = 0.0
        total += y
    return tuple(GRID.tolist()), total, around


def outer_bound(amplitude: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Largest amplitude within SPREAD of each frequency of the grid (which is even in ln f)."""
    reach = max(int(np.ceil(SPREAD / np.log(GRID[2] / GRID[1]))), 1)
    padded = np.pad(amplitude, reach, mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1))


def contact_admittance(
    contacts: tuple[Relay | Switch, ...], name: str | None, operated: frozenset[str], w: npt.NDArray[np.float64]
) -> Complex:
    """An idle contact: open unless worked by hand; a straight wire where the filter has none."""
    if name is None:
        return np.full(w.shape, 1.0 / spread.JOINT_OHM.typical, complex)
    for item in contacts:
        if item.name == name:
            if name in operated:
                return np.full(w.shape, 1.0 / (item.contact_ohm or spread.JOINT_OHM.typical), complex)
            return 1j * w * (item.open_capacitance or spread.OPEN_CONTACT.typical)
    return 1j * w * spread.OPEN_CONTACT.typical


@lru_cache(maxsize=512)
def ladder_block(one: Filter) -> tuple[tuple[tuple[int, int], ...], Complex]:
    """Branches and admittances of an idle ladder with its end strays; nodes 2 and up, buses 0 and 1 left free."""
    w = 2.0 * np.pi * GRID
    branches: list[tuple[int, int]] = []
    rows: list[Complex] = []
    here = 2
    for rung in one.rungs:
        ys = [part_admittance(p, w) for p in rung.parts]
        y = ys[0] if len(ys) == 1 else ys[0] + ys[1]
        if rung.combined == "with":
            y = ys[0] * ys[1] / (ys[0] + ys[1])
        branches.append((here, here + 1) if rung.place == "series" else (here, GROUND))
        here += rung.place == "series"
        rows.append(y)
    for end in (2, here):
        branches.append((end, GROUND))
        rows.append(1j * w * spread.FILTER_END_STRAY.typical)
    return tuple(branches), np.array(rows)


def hanging(
    one: Filter, contacts: tuple[Relay | Switch, ...], operated: frozenset[str], w: npt.NDArray[np.float64]
) -> Complex:
    """One idle filter seen from the two buses: nodes 0 and 1 are the buses. returns (n_f, 2, 2) siemens."""
    branches, rows = ladder_block(one)
    last = max(max(pair) for pair in branches)
    ends = [
        contact_admittance(contacts, one.input, operated, w),
        contact_admittance(contacts, one.output, operated, w),
    ]
    matrix = assembled(plan(last + 1, [*branches, (0, 2), (last, 1)]), np.concatenate([rows, ends]))
    kept, inner = matrix[:, :2, :2], matrix[:, 2:, 2:]
    return np.asarray(kept - matrix[:, :2, 2:] @ np.linalg.solve(inner, matrix[:, 2:, :2]))
