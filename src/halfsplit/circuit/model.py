"""A scene at its frequencies: responses and their exact derivatives, for many cases at once.

A case is one vector of nuisances and, at will, one change of the unit. Array shapes: K cases, P nuisances,
F frequencies. theta is in units of the priors' standard deviations.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit.alter import Alteration, Altered, Beside, Moves, alter, resolve
from halfsplit.circuit.elements import Core, Field, impedance, sensitivity
from halfsplit.circuit.scene import Change, Piece, Scene
from halfsplit.errors import ModelError
from halfsplit.network import GROUND, Factored, SingularNetwork, across, coax_y, coupled_y, factor, plan

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]


class Model:
    """A scene tabulated at frequencies f (F,) Hz, ready to be solved for any nuisances and changes."""

    def __init__(self, scene: Scene, f: npt.ArrayLike) -> None:
        self.scene = scene
        self.f = np.asarray(f, float)
        self.w = 2.0 * np.pi * self.f
        self.fields = np.array([[e.value, e.q, e.lead, e.across] for e in scene.elements])
        self.keys = (*(p.key for p in scene.params), *(n.key for n in scene.nears))
        self.first_near = len(scene.params)
        self.active = sorted({(e, fld) for p in scene.params for e, fld, _ in p.moves})
        self.active_at = (np.array([e for e, _ in self.active], int), np.array([x for _, x in self.active], int))
        place = {key: i for i, key in enumerate(self.active)}
        self.mix = np.zeros((len(self.keys), len(self.active) + len(scene.nears)))
        for i, p in enumerate(scene.params):
            for e, fld, coefficient in p.moves:
                self.mix[i, place[e, fld]] += p.sigma * coefficient
        for i, near in enumerate(scene.nears):
            self.mix[self.first_near + i, len(self.active) + i] = near.sigma
        self.moving = sorted({e for e, _ in self.active})
        self.stacks = {c: [i for i, e in enumerate(self.moving) if scene.elements[e].core is c] for c in Core}
        self.arm_of = {e: a for a, arm in enumerate(scene.arms) for e in arm.elements}
        self.place_of = {e: i for i, e in enumerate(self.moving)}
        self.layers = layered([self.arm_of[e] for e in self.moving])
        self.slope_groups = group_slopes(scene, self.active, self.place_of)
        used = sorted({self.arm_of[e] for e in self.moving})
        self.pulled = np.array(used, int)
        self.pull_of = np.array([used.index(self.arm_of[e]) for e, _ in self.active], int)
        self.pull_ends = np.array([(scene.arms[a].a, scene.arms[a].b) for a in used], int).reshape(-1, 2)
        self._lay_nears(used)
        self._fixed_z = self._tabulate_fixed()
        self.virtual = {f"spot {name}": (node, GROUND) for name, node in scene.spots}
        self.virtual |= {f"span {name}": (a, b) for name, a, b in scene.spans}
        self.rows = {name: len(scene.arms) + i for i, name in enumerate(self.virtual)}
        self._blocks = {p.name: piece_y(p, self.f) for p in scene.pieces}
        pairs, self.block_rows = self._entry_pairs()
        branches = [(arm.a, arm.b) for arm in scene.arms] + list(self.virtual.values())
        self.reciprocal = all(p.y is None or np.allclose(p.y, p.y.swapaxes(1, 2)) for p in scene.pieces)
        self.plan = plan(scene.n, branches, pairs, reciprocal=self.reciprocal)
        self._entries = self._tabulate_entries()

    def _lay_nears(self, pulled: Sequence[int]) -> None:
        """Where neighbouring coils stand: their arms, the ends of these, their place among the pulled ones (or -1)."""
        arms, nears = self.scene.arms, self.scene.nears
        pairs = [(near.a, near.b) for near in nears]
        self.near_arms = tuple(np.array([p[side] for p in pairs], int) for side in (0, 1))
        ends = [[(arms[p[side]].a, arms[p[side]].b) for p in pairs] for side in (0, 1)]
        self.near_ends = tuple(tuple(np.array(e, int).reshape(-1, 2).T) for e in ends)
        self.near_pulls = tuple([pulled.index(p[side]) if p[side] in pulled else -1 for p in pairs] for side in (0, 1))
        self.near_henry = np.array([near.henry for near in nears])[:, None, None]

    def _tabulate_fixed(self) -> Complex:
        """Impedance of the elements of each arm that no nuisance moves. returns (n_arm, F)."""
        out = np.zeros((len(self.scene.arms), len(self.f)), complex)
        for e, element in enumerate(self.scene.elements):
            if e in self.arm_of:
                out[self.arm_of[e]] += element.ohm
                if e not in self.moving:
                    out[self.arm_of[e]] += self.element_z(e, self.fields[e])
        return out

    def element_z(self, e: int, fields: Real) -> Complex:
        """Impedance of one element without its fixed resistance. fields : (4,)."""
        return impedance(self.scene.elements[e].core, self.w, fields[0], fields[1], fields[2], fields[3])

    def _entry_pairs(self) -> tuple[list[tuple[int, int]], dict[str, int]]:
        pairs: list[tuple[int, int]] = []
        rows: dict[str, int] = {}
        for piece in self.scene.pieces:
            rows[piece.name] = len(pairs)
            pairs += [(i, j) for i in (piece.a, piece.b) for j in (piece.a, piece.b)]
        for pair in self.scene.pairs:
            rows[pair.name] = len(pairs)
            pairs += [(i, j) for i in pair.nodes for j in pair.nodes if i != GROUND and j != GROUND]
        signs: list[float] = []
        near_of: list[int] = []
        self.first_shared = len(pairs)
        for n, near in enumerate(self.scene.nears):
            ends = [self.scene.arms[k] for k in (near.a, near.b)]
            for i, si in ((ends[0].a, 1.0), (ends[0].b, -1.0)):
                for j, sj in ((ends[1].a, 1.0), (ends[1].b, -1.0)):
                    if i != GROUND and j != GROUND:
                        pairs += [(i, j), (j, i)]
                        signs += [si * sj, si * sj]
                        near_of += [n, n]
        self.near_signs, self.near_of = np.array(signs)[:, None, None], np.array(near_of, int)
        return pairs, rows

    def _tabulate_entries(self) -> Complex:
        rows: list[Complex] = []
        for piece in self.scene.pieces:
            y = self._blocks[piece.name]
            rows += [y[0, 0], y[0, 1], y[1, 0], y[1, 1]]
        for pair in self.scene.pairs:
            y = coupled_y(self.f, pair.l1, pair.l2, pair.k, pair.q)
            turn = np.array([[1.0, -1.0, 0.0, 0.0], [0.0, 0.0, 1.0, -1.0]])
            full = np.einsum("pi,pqf,qj->ijf", turn, y, turn)
            rows += [
                full[i, j]
                for i, a in enumerate(pair.nodes)
                for j, b in enumerate(pair.nodes)
                if a != GROUND and b != GROUND
            ]
        rows += [np.zeros(len(self.f), complex)] * len(self.near_signs)
        return np.array(rows, complex).reshape(len(rows), len(self.f))

    def resolve(self, change: Change) -> Alteration | None:
        """Where a change acts in this scene; None where the scene does not hold the place."""
        return resolve(self.scene, self.rows, change)

    def solve(
        self, theta: Real, changes: Sequence[tuple[Alteration, float] | None] | None = None,
        beside: Beside | None = None,
    ) -> Solution:  # fmt: skip
        """Solve K cases.

        theta : (K, P); changes : K pairs of alteration and size in SI units, None for the unit as drawn
        beside : a change that all cases have besides their own
        raises ModelError where a case has no answer
        """
        theta = np.atleast_2d(theta)
        fields = np.broadcast_to(self.fields, (len(theta), *self.fields.shape)).copy()
        fields[:, self.active_at[0], self.active_at[1]] *= np.exp(theta @ self.mix[:, : len(self.active)])
        table = Altered(self, fields)
        if self.scene.nears:
            share = np.array([near.sigma * near.henry for near in self.scene.nears])
            table.mutual = (theta[:, self.first_near :] * share).T[:, :, None]
        alter(table, changes or (), beside)
        try:
            factored = factor(self.plan, table.y, table.entries)
            return Solution(self, table, factored, theta, beside)
        except SingularNetwork as error:
            raise ModelError(str(error)) from error

    def moving_z(self, fields: Real) -> Complex:
        """Impedances of all elements that nuisances move. fields : (K, n_el, 4). returns (n_moving, K, F)."""
        out = np.empty((len(self.moving), len(fields), len(self.f)), complex)
        by_element = np.ascontiguousarray(fields[:, self.moving].transpose(2, 1, 0))[..., None]
        for core, places in self.stacks.items():
            if places:
                out[places] = impedance(core, self.w, *by_element[:, places])
        return out

    def arms_z(self, moving: Complex, cases: int) -> Complex:
        """Impedances of all arms. moving : (n_moving, K, F). returns (n_arm, K, F)."""
        z = np.repeat(self._fixed_z[:, None, :], cases, axis=1)
        for places, arms in self.layers:
            z[arms] += moving[places]
        return z

    def block(self, name: str) -> Complex:
        """Admittances of a piece as drawn, (2, 2, F) siemens."""
        return self._blocks[name]

    def entries(self) -> Complex:
        """The extra entries as drawn, (n_entry, F)."""
        return self._entries


@dataclass
class Solution:
    """K solved cases of a model. beside : the change that all cases have besides their own."""

    model: Model
    table: Altered
    factored: Factored
    theta: Real
    beside: Beside | None = None

    def __post_init__(self) -> None:
        scene = self.model.scene
        ports = [(scene.source, GROUND)]
        if scene.detector is not None:
            ports.append((scene.detector, GROUND))
        self.into = self.factored.columns(ports)
        self.out = self.into if self.model.reciprocal else self.factored.rows(ports)

    def loaded(self, arm: int) -> Real:
        """Resistance of an instrument, (K, 1)."""
        e = self.model.scene.arms[arm].elements[0]
        return self.table.fields[:, e, Field.VALUE, None]

    def transmission(self) -> Complex:
        """Voltage at the detector against the through connection of the same instruments. returns (K, F)."""
        scene = self.model.scene
        assert scene.detector is not None and scene.detector_arm is not None
        c = 1.0 / self.loaded(scene.source_arm) + 1.0 / self.loaded(scene.detector_arm)
        return np.asarray(self.out[1][scene.source] * c)

    def reflection(self, *, at_detector: bool = False) -> Complex:
        """Reflection coefficient at the source's (or detector's) terminals. returns (K, F)."""
        y = self._input_y(at_detector) * self.model.scene.z0
        return np.asarray((1.0 - y) / (1.0 + y))

    def _input_y(self, at_detector: bool) -> Complex:
        scene = self.model.scene
        port, node, arm = 0, scene.source, scene.source_arm
        if at_detector:
            assert scene.detector is not None and scene.detector_arm is not None
            port, node, arm = 1, scene.detector, scene.detector_arm
        return np.asarray(1.0 / self.out[port][node] - 1.0 / self.loaded(arm))

    def transmission_slopes(self) -> tuple[Complex, Complex]:
        """Derivatives of the transmission: by theta (K, P, F), and by ln size of the change (K, F)."""
        by_field, by_size = self.transmission_by_field()
        return mixed(self.model.mix, by_field), by_size

    def transmission_by_field(self) -> tuple[Complex, Complex]:
        """Derivatives of the transmission: by every active log field, and last by ln size of the change beside where
        there is one, (n_active + 0 or 1, K, F); by ln size (K, F)."""
        scene = self.model.scene
        assert scene.detector_arm is not None
        rs, rd = self.loaded(scene.source_arm), self.loaded(scene.detector_arm)
        c = 1.0 / rs + 1.0 / rd
        by_field, by_size = self._slopes(1, 0)
        by_field *= c
        h = self.transmission()
        for arm, r in ((scene.source_arm, rs), (scene.detector_arm, rd)):
            key = (scene.arms[arm].elements[0], Field.VALUE)
            if key in self.model.active:
                by_field[self.model.active.index(key)] -= h / (r * c)
        return by_field, by_size * c

    def reflection_slopes(self, *, at_detector: bool = False) -> tuple[Complex, Complex]:
        """Derivatives of the reflection: by theta (K, P, F), and by ln size of the change (K, F)."""
        by_field, by_size = self.reflection_by_field(at_detector=at_detector)
        return mixed(self.model.mix, by_field), by_size

    def reflection_by_field(self, *, at_detector: bool = False) -> tuple[Complex, Complex]:
        """Derivatives of the reflection: as `transmission_by_field`."""
        scene = self.model.scene
        port = 1 if at_detector else 0
        arm = scene.detector_arm if at_detector else scene.source_arm
        node = scene.detector if at_detector else scene.source
        assert arm is not None
        assert node is not None
        by_field, by_size = self._slopes(port, port)
        z0, z = scene.z0, self.out[port][node]
        chain = 2.0 * z0 / ((1.0 + z0 * self._input_y(at_detector)) ** 2 * z**2)
        key = (scene.arms[arm].elements[0], Field.VALUE)
        if key in self.model.active:
            by_field[self.model.active.index(key)] = 0.0
        by_field *= chain
        return by_field, by_size * chain

    def _slopes(self, to: int, source: int) -> tuple[Complex, Complex]:
        """Derivatives of z[to, source]: as `transmission_by_field`."""
        model, table = self.model, self.table
        zero = np.zeros((1, *table.y.shape[1:]), complex)
        into, outof = (np.concatenate([x, zero]) for x in (self.into[source], self.out[to]))
        a, b = model.pull_ends[:, 0], model.pull_ends[:, 1]  # GROUND is -1: the row of zeros at the end
        pull = (outof[a] - outof[b]) * (into[a] - into[b])
        crossed = self._crossed(to, source) if model.scene.nears else np.zeros((0, *pull.shape[1:]), complex)
        near = self._near_slopes(pull, crossed) if model.scene.nears else crossed
        pull *= table.y[model.pulled] ** 2
        out = np.concatenate([pull[model.pull_of], near])
        fields = table.fields.transpose(2, 1, 0)[..., None]
        for (core, fld), (places, elements, rows) in model.slope_groups.items():
            out[places] *= sensitivity(core, fld, model.w, table.moving[rows], *fields[:, elements])
        for e, gone in table.gone.items():
            for i, (other, _) in enumerate(model.active):
                if other == e:
                    out[i][gone] = 0.0
        by_size = self._size_slope(to, source, crossed, table.moves)
        if table.beside is None:
            return out, by_size
        return np.concatenate([out, self._size_slope(to, source, crossed, table.beside)[None]]), by_size

    def _crossed(self, to: int, source: int) -> Complex:
        """z_da z_bs + z_db z_as of every two neighbouring coils, (n_near, K, F)."""
        zero = np.zeros((1, *self.table.y.shape[1:]), complex)
        into, outof = (np.concatenate([x, zero]) for x in (self.into[source], self.out[to]))
        (a, b), (c, d) = self.model.near_ends
        return np.asarray((outof[a] - outof[b]) * (into[c] - into[d]) + (outof[c] - outof[d]) * (into[a] - into[b]))

    def _near_slopes(self, pull: Complex, crossed: Complex) -> Complex:
        """Slopes by coupling, (n_near, K, F); what coupling adds to the pull of each arm is written into `pull`."""
        table, model = self.table, self.model
        one, other = table.y[model.near_arms[0]], table.y[model.near_arms[1]]
        shared = 1j * model.w * table.mutual * crossed
        for i, (mine, theirs) in enumerate(zip(*model.near_pulls, strict=True)):
            if mine >= 0:
                pull[mine] -= shared[i] * other[i]
            if theirs >= 0:
                pull[theirs] -= shared[i] * one[i]
        return np.asarray(crossed * 1j * model.w * model.near_henry * one * other)

    def _size_slope(self, to: int, source: int, crossed: Complex, moves: Moves) -> Complex:
        """-z_da dY z_as summed over whatever the change moved, (K, F). crossed : from `_crossed`."""
        out = np.zeros(self.table.y.shape[1:], complex)
        ends = self.model.plan.branches
        for k, row, dy in moves.rows:
            a, b = ends[row]
            out[k] -= across(self.out[to][:, k], (a, b)) * across(self.into[source][:, k], (a, b)) * dy
            for i, near in enumerate(self.model.scene.nears):
                if row in (near.a, near.b):
                    other = near.b if row == near.a else near.a
                    out[k] += crossed[i, k] * 1j * self.model.w * self.table.mutual[i, k] * self.table.y[other, k] * dy
        for k, row, dy in moves.entries:
            i, j = self.model.plan.entries[row]
            out[k] -= self.out[to][i, k] * self.into[source][j, k] * dy
        return out


def mixed(mix: Real, by_field: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """From slopes by field (n_active or more, K, F) to slopes by nuisance (K, P, F). mix : (P, n_active)."""
    by_field = by_field[: mix.shape[1]]
    flat = mix @ by_field.reshape(len(by_field), -1)
    return np.moveaxis(flat.reshape(len(mix), *by_field.shape[1:]), 0, 1)


def group_slopes(
    scene: Scene, active: Sequence[tuple[int, Field]], place_of: dict[int, int]
) -> dict[tuple[Core, Field], tuple[list[int], list[int], list[int]]]:
    """Active fields that share a formula: (core, field) to (places among the active, elements, places among the
    moving elements)."""
    out: dict[tuple[Core, Field], tuple[list[int], list[int], list[int]]] = {}
    for i, (e, fld) in enumerate(active):
        places, elements, rows = out.setdefault((scene.elements[e].core, fld), ([], [], []))
        places.append(i)
        elements.append(e)
        rows.append(place_of[e])
    return out


def layered(arms: Sequence[int]) -> list[tuple[list[int], list[int]]]:
    """Members of arms in layers that hold each arm once: (places among the members, arms) of each layer."""
    out: list[tuple[list[int], list[int]]] = []
    for place, arm in enumerate(arms):
        for places, taken in out:
            if arm not in taken:
                places.append(place)
                taken.append(arm)
                break
        else:
            out.append(([place], [arm]))
    return out


def piece_y(piece: Piece, f: Real) -> Complex:
    """Admittances of a piece at f. returns (2, 2, F) siemens; raises ModelError outside a table."""
    if piece.cable is not None:
        c = piece.cable
        return coax_y(f, c.z0, c.velocity_factor, c.length, c.k1, c.k2)
    grid, y = np.asarray(piece.f), np.asarray(piece.y)
    if f[0] < grid[0] * 0.999 or f[-1] > grid[-1] * 1.001:
        raise ModelError(
            f"{piece.name} is only known from {grid[0] / 1e6:g} to {grid[-1] / 1e6:g} MHz; "
            f"asked for {f[0] / 1e6:g} to {f[-1] / 1e6:g} MHz"
        )
    flat = y.reshape(len(grid), 4)
    return np.array([np.interp(f, grid, flat[:, i]) for i in range(4)]).reshape(2, 2, len(f))
