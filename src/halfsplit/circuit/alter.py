"""Changes of the unit, put into the tables of a model: exact, at any size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.circuit.elements import Field, sensitivity
from halfsplit.circuit.scene import Change, How, Scene
from halfsplit.network import coax_y

if TYPE_CHECKING:
    from halfsplit.circuit.model import Model

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

CRACK = 0.3e-12
SHORTED_TURN_Q = 15.0
LARGEST_SHARE = 0.9
IN_ARM = (How.OHM, How.HENRY, How.OPEN)
IN_ELEMENT = (How.VALUE, How.TURN, How.SHORT)
LINE = (How.LINE_Z0, How.LINE_LENGTH, How.LINE_LOSS)


@dataclass(frozen=True, slots=True)
class Alteration:
    """A change located in one scene. arms, elements, row, piece : whichever the way of failing needs."""

    how: How
    arms: tuple[int, ...] = ()
    elements: tuple[int, ...] = ()
    row: int = -1
    piece: int = -1


def resolve(scene: Scene, rows: dict[str, int], change: Change) -> Alteration | None:
    """Locate a change; None where this scene does not hold its place."""
    how, place = change.how, change.place
    if how in IN_ARM:
        wanted = set(place.split("+"))
        arms = tuple(
            a
            for a, arm in enumerate(scene.arms)
            if arm.name in wanted or any(scene.elements[e].place in wanted for e in arm.elements)
        )
        return Alteration(how, arms=arms) if arms else None
    if how in IN_ELEMENT:
        elements = tuple(e for e, el in enumerate(scene.elements) if el.place == place)
        return Alteration(how, elements=elements) if elements else None
    if how in LINE:
        found = [i for i, p in enumerate(scene.pieces) if p.name == place and p.cable is not None]
        return Alteration(how, piece=found[0]) if found else None
    key = f"span {place}" if how is How.PAST else f"spot {place}"
    return Alteration(how, row=rows[key]) if key in rows else None


@dataclass(frozen=True, slots=True)
class Moves:
    """What a change moves, by its ln size. rows : (case, row, (F,) siemens) of branches; entries : of extra entries."""

    rows: list[tuple[int, int, Complex]] = field(default_factory=list)
    entries: list[tuple[int, int, Complex]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """A change that all cases have besides their own. sizes : (K,) in SI units."""

    at: Alteration
    sizes: Real


class Altered:
    """The tables of K cases: fields, impedances, admittances; and the slopes by ln size.

    moves : of the change of each case; beside : of the change that all have, None where there is none
    """

    def __init__(self, model: Model, fields: Real) -> None:
        self.model = model
        self.fields = fields
        self.gone: dict[int, npt.NDArray[np.bool_]] = {}
        self.moves = Moves()
        self.beside: Moves | None = None
        self.moving = np.zeros((0,), complex)
        self.y = np.zeros((0,), complex)
        self.entries = np.zeros((0,), complex)
        self.mutual: Real = np.zeros((0, len(fields), 1))

    def lose(self, e: int, k: int) -> None:
        """From here on nothing about element e matters in case k."""
        self.gone.setdefault(e, np.zeros(len(self.fields), bool))[k] = True


def alter(table: Altered, changes: Sequence[tuple[Alteration, float] | None], beside: Beside | None = None) -> None:
    """Fill the tables of all cases, each with its change, and with the one that all have."""
    model, cases = table.model, len(table.fields)
    work = [(k, c[0], c[1], table.moves) for k, c in enumerate(changes) if c is not None]
    if beside is not None:
        table.beside = Moves()
        work = [(k, beside.at, float(x), table.beside) for k, x in enumerate(beside.sizes)] + work
    for k, at, size, _ in work:
        if at.how in (How.VALUE, How.TURN):
            reshape_fields(table, k, at, size)
    table.moving = model.moving_z(table.fields)
    z = model.arms_z(table.moving, cases)
    for k, at, size, _ in work:
        if at.how in IN_ARM or at.how is How.SHORT:
            change_arm(table, z, k, at, size)
    n_virtual = len(model.virtual)
    table.y = np.zeros((len(z) + n_virtual, cases, len(model.f)), complex)
    with np.errstate(divide="ignore"):
        np.reciprocal(z, out=table.y[: len(z)])
    for a, arm in enumerate(model.scene.arms):
        if arm.opened:
            table.y[a] = 1j * model.w * CRACK
            for e in arm.elements:
                table.gone[e] = np.ones(cases, bool)
    table.entries = model.entries()[:, None, :]
    if model.scene.nears or any(at.how in LINE for _, at, _, _ in work):
        table.entries = np.repeat(table.entries, cases, axis=1)
    couple(table)
    for k, at, size, moves in work:
        finish(table, moves, k, at, size)


def couple(table: Altered) -> None:
    """Write what neighbouring coils share: -jwM y_a y_b between their arms, to first order in the coupling."""
    model = table.model
    if not model.scene.nears:
        return
    shared = -1j * model.w * table.mutual * table.y[model.near_arms[0]] * table.y[model.near_arms[1]]
    table.entries[model.first_shared :] = model.near_signs * shared[model.near_of]


def reshape_fields(table: Altered, k: int, at: Alteration, size: float) -> None:
    """Value off by a factor; or a shorted turn that takes a share of the flux and adds loss."""
    size = size if at.how is How.VALUE else min(size, LARGEST_SHARE)
    for e in at.elements:
        if at.how is How.VALUE:
            table.fields[k, e, Field.VALUE] *= size
        else:
            table.fields[k, e, Field.VALUE] *= 1.0 - size
            table.fields[k, e, Field.Q] = 1.0 / (1.0 / table.fields[k, e, Field.Q] + size / SHORTED_TURN_Q)


def change_arm(table: Altered, z: Complex, k: int, at: Alteration, size: float) -> None:
    """Put series resistance, inductance, a crack or a short into the arms. z : (n_arm, K, F) is written."""
    w = table.model.w
    for a in at.arms:
        if at.how is How.OHM:
            z[a, k] += size
        elif at.how is How.HENRY:
            z[a, k] += 1j * w * size
        else:
            z[a, k] = 1.0 / (1j * w * size)
            for e in table.model.scene.arms[a].elements:
                table.lose(e, k)
    if at.how is How.SHORT:
        for e in at.elements:
            if e in table.model.place_of:
                z[table.model.arm_of[e], k] -= table.moving[table.model.place_of[e], k]
                table.lose(e, k)


def finish(table: Altered, moves: Moves, k: int, at: Alteration, size: float) -> None:
    """Virtual arms, cables, and the slopes by ln size."""
    w = table.model.w
    if at.how is How.LEAK or at.how is How.PAST:
        y = 1.0 / (size + 1j * w * (spread.BRIDGE_LEAD if at.how is How.PAST else 0.0))
        table.y[at.row, k] += y
        moves.rows.append((k, at.row, -(y**2) * size))
    elif at.how is How.STRAY:
        table.y[at.row, k] += 1j * w * size
        moves.rows.append((k, at.row, 1j * w * size))
    elif at.how in LINE:
        change_line(table, moves, k, at, size)
    elif at.how is How.OPEN:
        moves.rows.extend((k, a, table.y[a, k]) for a in at.arms)
    elif at.how in (How.OHM, How.HENRY):
        for a in at.arms:
            dz = size if at.how is How.OHM else 1j * w * size
            moves.rows.append((k, a, -(table.y[a, k] ** 2) * dz))
    elif at.how in (How.VALUE, How.TURN):
        for e in at.elements:
            a = table.model.arm_of[e]
            moves.rows.append((k, a, -(table.y[a, k] ** 2) * element_slope(table, k, e, at, size)))


def element_slope(table: Altered, k: int, e: int, at: Alteration, size: float) -> Complex:
    """dz/d ln size of an element whose value is off or which has a shorted turn. returns (F,) ohm."""
    core, w, f = table.model.scene.elements[e].core, table.model.w, table.fields[k, e]
    at_hand = table.model.place_of.get(e)
    z = table.model.element_z(e, f) if at_hand is None else table.moving[at_hand, k]
    by_value = sensitivity(core, Field.VALUE, w, z, f[0], f[1], f[2], f[3])
    if at.how is How.VALUE:
        return by_value
    by_q = sensitivity(core, Field.Q, w, z, f[0], f[1], f[2], f[3])
    if size >= LARGEST_SHARE:
        return np.zeros_like(by_q)
    return np.asarray(by_value * (-size / (1.0 - size)) - by_q * f[1] * size / SHORTED_TURN_Q)


def line_y(model: Model, at: Alteration, size: Real) -> Complex:
    """Admittances of a coax of the wrong impedance, length or loss. size : (n, 1). returns (2, 2, n, F) siemens."""
    c = model.scene.pieces[at.piece].cable
    assert c is not None
    z0, length, k1 = c.z0, c.length, c.k1
    if at.how is How.LINE_Z0:
        return coax_y(model.f, z0 * size, c.velocity_factor, length, k1, c.k2)
    if at.how is How.LINE_LENGTH:
        return coax_y(model.f, z0, c.velocity_factor, length * size, k1, c.k2)
    return coax_y(model.f, z0, c.velocity_factor, length, k1 + size / length * 100.0 / np.sqrt(10.0), c.k2)


def change_line(table: Altered, moves: Moves, k: int, at: Alteration, size: float) -> None:
    """A wrong coax in one case; the slope by a central difference of its closed form."""
    model, step = table.model, 1e-4
    sizes = size * np.exp(np.array([[0.0], [step], [-step]]))
    y = np.moveaxis(line_y(model, at, sizes), 2, 0).reshape(3, 4, -1)
    slope = (y[1] - y[2]) / (2.0 * step)
    first = model.block_rows[model.scene.pieces[at.piece].name]
    table.entries[first : first + 4, k] = y[0]
    moves.entries.extend((k, first + i, slope[i]) for i in range(4))
