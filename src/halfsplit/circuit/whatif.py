"""The curves of many changes and sizes from one solved case, exactly, mostly without solving again."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.circuit.alter import LARGEST_SHARE, SHORTED_TURN_Q, Alteration, Beside, line_y
from halfsplit.circuit.elements import Core, Field
from halfsplit.circuit.model import Solution
from halfsplit.circuit.scene import How
from halfsplit.network import GROUND, across, changed, inserted

CANCELS = 1e-3
"""Below this, what is left of 1 + dy z has lost too many digits (a milliohm joint opened): solve again instead."""

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]


class WhatIf:
    """Transfer impedances of one solved case to every branch, ready for any change of one branch.

    solution : of one case (K = 1), as drawn or with the one change that stands beside
    cancels : where a change leaves less than this of 1 + dy z, the network is solved again; 0 where a few lost
    digits do not matter
    """

    def __init__(self, solution: Solution, cancels: float = CANCELS) -> None:
        self.solution = solution
        self.cancels = cancels
        self.model = solution.model
        self.z_aa = solution.factored.across()[:, 0]
        self.transmission = self.model.scene.detector is not None

    def curves(self, at: Alteration, sizes: Real) -> tuple[Complex | None, Complex, Complex | None]:
        """Responses after a change, for every size.

        at : the change; sizes : (n,) in SI units, ignored for shorts (one row)
        returns transmission, reflection at the source, reflection at the detector: (n, F) each, None without detector
        raises ModelError as Model.solve
        """
        if at.piece >= 0:
            return self._line(at, sizes)
        if at.row < 0 and len(at.arms) + len(at.elements) != 1:
            return self._solved(at, sizes)
        row, dy = self.moved(at, sizes)
        if np.abs(1.0 + dy * self.z_aa[row]).min() < self.cancels:
            return self._solved(at, np.resize(sizes, len(dy)))
        coupled = self._coupled(row, dy)
        if coupled is not None:
            return coupled
        a, b = self.model.plan.branches[row]
        into = [across(x[:, 0], (a, b)) for x in self.solution.into]
        out = [across(x[:, 0], (a, b)) for x in self.solution.out]
        z_aa, scene = self.z_aa[row], self.model.scene
        zss = changed(self.solution.out[0][scene.source, 0], out[0], into[0], z_aa, dy)
        if scene.detector is None:
            return self._responses(zss, None, None)
        zds = changed(self.solution.out[1][scene.source, 0], out[1], into[0], z_aa, dy)
        zdd = changed(self.solution.out[1][scene.detector, 0], out[1], into[1], z_aa, dy)
        return self._responses(zss, zds, zdd)

    def through(self, at: Alteration, sizes: Real) -> Complex:
        """The transmission alone, (n, F): as `curves`, a third of the work where something is put in series."""
        scene, table = self.model.scene, self.solution.table
        if (
            at.piece < 0
            and at.how in (How.VALUE, How.TURN, How.OHM, How.HENRY)
            and len(at.arms) + len(at.elements) == 1
        ):
            arm, dz = self.put_in(at, sizes)
            y, z_aa = table.y[arm, 0], self.z_aa[arm]
            tied = any(arm in (n.a, n.b) and table.mutual[i, 0, 0] != 0.0 for i, n in enumerate(scene.nears))
            if not tied and np.abs(1.0 - y * z_aa).min() >= self.cancels and scene.detector_arm is not None:
                a, b = self.model.plan.branches[arm]
                detector, source = (
                    across(self.solution.out[1][:, 0], (a, b)),
                    across(self.solution.into[0][:, 0], (a, b)),
                )
                own = (
                    1.0 / self.solution.loaded(scene.source_arm)[0] + 1.0 / self.solution.loaded(scene.detector_arm)[0]
                )
                h = self.solution.out[1][scene.source, 0]
                return np.asarray(inserted(h, detector, source, z_aa, 1.0 / y, dz) * own)
        through = self.curves(at, sizes)[0]
        assert through is not None
        return through

    def _responses(
        self, zss: Complex, zds: Complex | None, zdd: Complex | None
    ) -> tuple[Complex | None, Complex, Complex | None]:
        """Transmission and both reflections from the impedances between the instruments' terminals."""
        scene = self.model.scene
        source_y = 1.0 / self.solution.loaded(scene.source_arm)[0]
        gamma = self._gamma(zss, source_y)
        if zds is None or zdd is None or scene.detector_arm is None:
            return None, gamma, None
        detector_y = 1.0 / self.solution.loaded(scene.detector_arm)[0]
        return zds * (source_y + detector_y), gamma, self._gamma(zdd, detector_y)

    def _line(self, at: Alteration, sizes: Real) -> tuple[Complex | None, Complex, Complex | None]:
        """A coax changes all four of its admittances."""
        model, piece = self.model, self.model.scene.pieces[at.piece]
        dy = line_y(model, at, np.asarray(sizes, float)[:, None]) - model.block(piece.name)[:, :, None, :]
        return self._ported([(piece.a, GROUND), (piece.b, GROUND)], np.moveaxis(dy, (0, 1), (2, 3)))

    def _coupled(self, arm: int, dy: Complex) -> tuple[Complex | None, Complex, Complex | None] | None:
        """A change of an arm whose coil shares flux with others; None where it shares none."""
        scene, table = self.model.scene, self.solution.table
        mine = [
            (near.b if near.a == arm else near.a, table.mutual[i, 0])
            for i, near in enumerate(scene.nears)
            if arm in (near.a, near.b) and table.mutual[i, 0, 0] != 0.0
        ]
        if not mine:
            return None
        change = np.zeros((*dy.shape, len(mine) + 1, len(mine) + 1), complex)
        change[..., 0, 0] = dy
        for k, (other, henry) in enumerate(mine, 1):
            change[..., 0, k] = change[..., k, 0] = -1j * self.model.w * henry * table.y[other, 0] * dy
        ends = [(scene.arms[a].a, scene.arms[a].b) for a in (arm, *(other for other, _ in mine))]
        return self._ported(ends, change)

    def _ported(self, ends: list[tuple[int, int]], dy: Complex) -> tuple[Complex | None, Complex, Complex | None]:
        """A change of the admittances between several ports at once: the m x m form of the same identity.

        ends : m ports; dy : (n, F, m, m) siemens
        source: Woodbury 1950, Inverting modified matrices, Princeton SRG memo 42
        """
        columns = self.solution.factored.columns(ends)[:, :, 0]

        def at(x: Complex) -> Complex:
            return np.array([across(x, (a, b)) for a, b in ends])

        z = np.moveaxis(np.array([at(c) for c in columns]), 2, 0).swapaxes(1, 2)
        moved = dy @ np.linalg.inv(np.eye(len(ends)) + z @ dy)
        scene = self.model.scene

        def after(to: int, source: int, node: int) -> Complex:
            drop = np.einsum(
                "if,nfij,jf->nf", at(self.solution.out[to][:, 0]), moved, at(self.solution.into[source][:, 0])
            )
            return np.asarray(self.solution.out[to][node, 0] - drop)

        zss = after(0, 0, scene.source)
        if scene.detector is None:
            return self._responses(zss, None, None)
        return self._responses(zss, after(1, 0, scene.source), after(1, 1, scene.detector))

    def _gamma(self, z: Complex, own: Real) -> Complex:
        y = (1.0 / z - own) * self.model.scene.z0
        return np.asarray((1.0 - y) / (1.0 + y))

    def _solved(self, at: Alteration, sizes: Real) -> tuple[Complex | None, Complex, Complex | None]:
        theta = np.zeros((len(sizes), len(self.model.keys))) + self.solution.theta[0]
        beside = self.solution.beside
        if beside is not None:
            beside = Beside(beside.at, np.repeat(beside.sizes, len(sizes)))
        s = self.model.solve(theta, [(at, float(size)) for size in sizes], beside)
        if not self.transmission:
            return None, s.reflection(), None
        return s.transmission(), s.reflection(), s.reflection(at_detector=True)

    def moved(self, at: Alteration, sizes: Real) -> tuple[int, Complex]:
        """The branch that a change moves and by how much. returns (row, (n, F) siemens)."""
        model, table, w = self.model, self.solution.table, self.model.w
        size = np.asarray(sizes, float)[:, None]
        if at.row >= 0:
            if at.how is How.STRAY:
                return at.row, 1j * w * size
            return at.row, 1.0 / (size + 1j * w * (spread.BRIDGE_LEAD if at.how is How.PAST else 0.0))
        if at.how is How.OPEN:
            return at.arms[0], 1j * w * size - table.y[at.arms[0], 0]
        if at.how is How.SHORT:
            e = at.elements[0]
            a = model.arm_of[e]
            return a, (1.0 / (1.0 / table.y[a, 0] - self.own_z(e)) - table.y[a, 0])[None, :]
        a, dz = self.put_in(at, sizes)
        return a, 1.0 / (1.0 / table.y[a, 0] + dz) - table.y[a, 0]

    def own_z(self, e: int) -> Complex:
        """Impedance of an element as it is, (F,) ohm."""
        table = self.solution.table
        at_hand = self.model.place_of.get(e)
        return self.model.element_z(e, table.fields[0, e]) if at_hand is None else table.moving[at_hand, 0]

    def put_in(self, at: Alteration, sizes: Real) -> tuple[int, Complex]:
        """The arm into which a change puts impedance, and how much. returns (arm, (n, F) ohm)."""
        model, size = self.model, np.asarray(sizes, float)[:, None]
        if at.how is How.OHM:
            return at.arms[0], np.broadcast_to(size.astype(complex), (len(size), len(model.w)))
        if at.how is How.HENRY:
            return at.arms[0], 1j * model.w * size
        e = at.elements[0]
        old, fields = self.own_z(e), self.solution.table.fields[0, e]
        if at.how is How.VALUE and model.scene.elements[e].core is not Core.COIL:
            core_z = old - 1j * model.w * fields[Field.LEAD]
            factor = 1.0 / size if model.scene.elements[e].core is Core.CAPACITOR else size
            return model.arm_of[e], (factor - 1.0) * core_z
        if at.how is How.VALUE:
            across_y = 1j * model.w * fields[Field.ACROSS]
            return model.arm_of[e], 1.0 / ((1.0 / old - across_y) / size + across_y) - old
        fields = np.repeat(fields[None], len(size), axis=0)
        if at.how is How.TURN:
            share = np.minimum(size[:, 0], LARGEST_SHARE)
            fields[:, Field.VALUE] *= 1.0 - share
            fields[:, Field.Q] = 1.0 / (1.0 / fields[:, Field.Q] + share / SHORTED_TURN_Q)
        return model.arm_of[e], model.element_z(e, fields.T[:, :, None]) - old
