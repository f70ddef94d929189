"""From a solved path to what each place sees, as forms of the load's reflection."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit import REFERENCE_ARMS, Core, Model, Solution, path_s
from halfsplit.circuit.scene import Pair
from halfsplit.errors import ModelError
from halfsplit.network import GROUND, coax_along, coax_gamma, coupled_y
from halfsplit.stress.circle import Form, power, squared

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

NO_WAY = 1e-6
"""A path that passes less than this of the amplitude carries no transmitter power anywhere."""
LINE_STEP = 2.0 * np.pi / 40.0
"""Radians between the places looked at inside a cable: the peak of a standing wave is missed by 0.3 % at most."""


class Sort(StrEnum):
    """What sort of place it is."""

    PART = "part"
    CONTACT = "contact"
    CABLE = "cable"
    WINDING = "winding"
    BLOCK = "block"
    POINT = "point"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Spot:
    """What one place sees, for 1 sqrt(W) of forward wave at the load (peak amplitudes), for K units and F frequencies.

    volts, amps : forms of the squared peak amplitude, or several where the place is long (a cable); watts : form
    A place without a figure has an empty tuple or None: volts across a closed contact mean nothing
    """

    place: str
    sort: Sort
    volts: tuple[Form, ...]
    amps: tuple[Form, ...]
    watts: Form | None


@dataclass(frozen=True, slots=True)
class Waves:
    """The path as a two-port between its reference resistances, (K, F) each."""

    s11: Complex
    s21: Complex
    s22: Complex
    s12: Complex

    def seen_back(self, source: float) -> Complex:
        """Reflection into the socket with a source of reflection `source` at the first point. returns (K, F)"""
        return np.asarray(self.s22 + self.s12 * self.s21 * source / (1.0 - self.s11 * source))

    def taken(self) -> Form:
        """Power that goes into the first point, for 1 sqrt(W) peak of forward wave at the load."""
        p, q = 1.0 / self.s21, -self.s22 / self.s21
        back_p, back_q = self.s11 * p, self.s11 * q + self.s12
        return squared(p, q).plus(squared(back_p, back_q).times(-1.0)).times(0.5)


class Path:
    """A solved path: node voltages are p + q G, for a forward wave of 1 sqrt(W) at a load of reflection G."""

    def __init__(self, solution: Solution) -> None:
        self.solution, self.model = solution, solution.model
        scene = self.model.scene
        s = path_s(solution)
        self.waves = Waves(s[0, 0], s[1, 0], s[1, 1], s[0, 1])
        if np.any(np.abs(self.waves.s21) < NO_WAY):
            raise ModelError("the path passes nothing on this band: no power reaches its last point")
        root = 2.0 / np.sqrt(scene.z0)
        into = np.concatenate([solution.into, np.zeros((2, 1, *solution.into.shape[2:]))], axis=1)
        self.p = root * into[0] / self.waves.s21
        self.q = root * (into[1] - into[0] * self.waves.s22 / self.waves.s21)

    def across(self, a: int, b: int) -> tuple[Complex, Complex]:
        """Volts from node a to node b, (K, F) each. GROUND is -1: the row of zeros at the end."""
        return self.p[a] - self.p[b], self.q[a] - self.q[b]

    def spots(self) -> tuple[Spot, ...]:
        """Every place of the path, in the order of the path."""
        scene = self.model.scene
        out: list[Spot] = []
        for k, arm in enumerate(scene.arms):
            if arm.name not in REFERENCE_ARMS:
                out += self._arm(k)
        for piece in scene.pieces:
            p, q = self.p[[piece.a, piece.b]], self.q[[piece.a, piece.b]]
            watts = power(self.model.block(piece.name)[:, :, None, :], p, q)
            if piece.cable is None:
                sort = Sort.OTHER if piece.name == "idle filters" else Sort.BLOCK
                out.append(Spot(piece.name, sort, (), (), watts))
            else:
                volts, amps = self._along(piece.name, p, q)
                out.append(Spot(piece.name, Sort.CABLE, volts, amps, watts))
        for pair in scene.pairs:
            out += self._windings(pair)
        out += [
            Spot(name, Sort.POINT, (squared(*self.across(n, GROUND)),), (), None) for name, n in scene.names.items()
        ]
        return tuple(out)

    def _arm(self, k: int) -> list[Spot]:
        """The elements of one arm: one current through all of them."""
        scene, table = self.model.scene, self.solution.table
        arm = scene.arms[k]
        p, q = (x * table.y[k] for x in self.across(arm.a, arm.b))
        through = squared(p, q)
        out = []
        for e in arm.elements:
            z = self._element_z(e)
            element = scene.elements[e]
            sort = Sort.PART if element.is_part else Sort.CONTACT if "contact" in element.place else Sort.OTHER
            closed = sort is Sort.CONTACT and element.core is Core.RESISTOR
            volts = () if closed else (through.times(np.abs(z) ** 2),)
            out.append(Spot(element.place, sort, volts, (through,), through.times(0.5 * np.real(z))))
        return out

    def _element_z(self, e: int) -> Complex:
        """Impedance of one element in all cases, its fixed resistance with it. returns (K, F)"""
        model, table = self.model, self.solution.table
        ohm = model.scene.elements[e].ohm
        if e in model.place_of:
            return np.asarray(table.moving[model.place_of[e]] + ohm)
        return np.broadcast_to(model.element_z(e, model.fields[e]) + ohm, table.y.shape[1:])

    def _along(self, name: str, p: Complex, q: Complex) -> tuple[tuple[Form, ...], tuple[Form, ...]]:
        """Volts and amps at places along a cable, close enough to find the peak of a standing wave."""
        cable = next(x.cable for x in self.model.scene.pieces if x.name == name)
        assert cable is not None
        gl = coax_gamma(self.model.f, cable.velocity_factor, cable.k1, cable.k2) * cable.length
        places = max(2, int(np.ceil(gl.imag.max() / LINE_STEP)) + 1)
        volts, amps = [], []
        for share in np.linspace(0.0, 1.0, places):
            v, i = coax_along(gl, cable.z0, float(share))
            volts.append(squared(v[0] * p[0] + v[1] * p[1], v[0] * q[0] + v[1] * q[1]))
            amps.append(squared(i[0] * p[0] + i[1] * p[1], i[0] * q[0] + i[1] * q[1]))
        return tuple(volts), tuple(amps)

    def _windings(self, pair: Pair) -> list[Spot]:
        """Two windings on one core: volts and amps of each, the loss of both together beside the first."""
        y = coupled_y(self.model.f, pair.l1, pair.l2, pair.k, pair.q)[:, :, None, :]
        ends = [self.across(*pair.nodes[:2]), self.across(*pair.nodes[2:])]
        p, q = np.stack([e[0] for e in ends]), np.stack([e[1] for e in ends])
        ip, iq = np.einsum("ij...,j...->i...", y, p), np.einsum("ij...,j...->i...", y, q)
        watts = power(y, p, q)
        names = pair.name.split("-") if pair.name.count("-") == 1 else [f"{pair.name} first", f"{pair.name} second"]
        return [
            Spot(
                name, Sort.WINDING, (squared(p[i], q[i]),), (squared(ip[i], iq[i]),), watts if i == 0 else None
            )
            for i, name in enumerate(names)
        ]  # fmt: skip


def path_of(model: Model, theta: Real) -> Path:
    """The path of K units. theta : (K, P), in standard deviations; the flux that neighbouring coils share is left out.

    raises ModelError where nothing passes
    """
    alone = np.array(np.atleast_2d(theta), float)
    alone[:, model.first_near :] = 0.0
    return Path(model.solve(alone))
