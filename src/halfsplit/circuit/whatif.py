"""The curves of many changes and sizes from one solved case, exactly, mostly without solving again."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import spread
from halfsplit.circuit.alter import CRACK, LARGEST_SHARE, SHORTED_TURN_Q, Alteration
from halfsplit.circuit.elements import Field
from halfsplit.circuit.model import Solution, across
from halfsplit.circuit.scene import How
from halfsplit.network import changed

CANCELS = 1e-3
"""Below this, what is left of 1 + dy z has lost too many digits (a milliohm joint opened): solve again instead."""

Real = npt.NDArray[np.float64]
Complex = npt.NDArray[Any]


class WhatIf:
    """Transfer impedances of one solved case to every branch, ready for any change of one branch.

    solution : of one case (K = 1), as drawn
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

        at : the change; sizes : (n,) in SI units, ignored for opens and shorts (one row)
        returns transmission, reflection at the source, reflection at the detector: (n, F) each, None without detector
        raises ModelError as Model.solve
        """
        if at.row < 0 and (len(at.arms) + len(at.elements) != 1 or at.piece >= 0):
            return self._solved(at, sizes)
        row, dy = self.moved(at, sizes)
        if np.abs(1.0 + dy * self.z_aa[row]).min() < self.cancels:
            return self._solved(at, np.resize(sizes, len(dy)))
        a, b = self.model.plan.branches[row]
        into = [across(x[:, 0], a, b) for x in self.solution.into]
        out = [across(x[:, 0], a, b) for x in self.solution.out]
        z_aa, scene = self.z_aa[row], self.model.scene
        zss = changed(self.solution.out[0][scene.source, 0], out[0], into[0], z_aa, dy)
        source_y = 1.0 / self.solution.loaded(scene.source_arm)[0]
        gamma = self._gamma(zss, source_y)
        if scene.detector is None or scene.detector_arm is None:
            return None, gamma, None
        detector_y = 1.0 / self.solution.loaded(scene.detector_arm)[0]
        zds = changed(self.solution.out[1][scene.source, 0], out[1], into[0], z_aa, dy)
        zdd = changed(self.solution.out[1][scene.detector, 0], out[1], into[1], z_aa, dy)
        return zds * (source_y + detector_y), gamma, self._gamma(zdd, detector_y)

    def _gamma(self, z: Complex, own: Real) -> Complex:
        y = (1.0 / z - own) * self.model.scene.z0
        return np.asarray((1.0 - y) / (1.0 + y))

    def _solved(self, at: Alteration, sizes: Real) -> tuple[Complex | None, Complex, Complex | None]:
        theta = np.zeros((len(sizes), len(self.model.keys))) + self.solution.theta[0]
        s = self.model.solve(theta, [(at, float(size)) for size in sizes])
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
        if at.how in (How.OHM, How.HENRY, How.OPEN):
            a = at.arms[0]
            y = table.y[a, 0]
            if at.how is How.OPEN:
                members = (model.scene.elements[e].place for e in model.scene.arms[a].elements)
                contact = any("contact" in place for place in members)
                return a, (1j * w * (spread.OPEN_CONTACT.typical if contact else CRACK) - y)[None, :]
            z = 1.0 / y + (size if at.how is How.OHM else 1j * w * size)
            return a, 1.0 / z - y
        e = at.elements[0]
        a = model.arm_of[e]
        y = table.y[a, 0]
        old = table.moving[e][0] if e in table.moving else model.element_z(e, table.fields[0, e])
        if at.how is How.SHORT:
            return a, (1.0 / (1.0 / y - old) - y)[None, :]
        fields = np.repeat(table.fields[:1, e], len(size), axis=0)
        if at.how is How.VALUE:
            fields[:, Field.VALUE] *= size[:, 0]
        else:
            share = np.minimum(size[:, 0], LARGEST_SHARE)
            fields[:, Field.VALUE] *= 1.0 - share
            fields[:, Field.Q] = 1.0 / (1.0 / fields[:, Field.Q] + share / SHORTED_TURN_Q)
        new = model.element_z(e, fields.T[:, :, None])
        return a, 1.0 / (1.0 / y - old + new) - y
