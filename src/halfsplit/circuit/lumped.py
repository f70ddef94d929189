"""A circuit of named parts and ideal amplifiers at its frequencies: responses, slopes, natural frequencies.

For circuits that are no signal path of a unit: active filters, published benchmarks, a board on its own. A case is one
set of part values. Array shapes: K cases, P parts, O observed responses, F frequencies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from halfsplit.circuit.elements import Core, impedance
from halfsplit.errors import ModelError
from halfsplit.network import (
    GROUND,
    SingularNetwork,
    UnstableNetwork,
    across,
    factor_active,
    natural_frequencies,
    plan_active,
    require_stable,
)

Complex = npt.NDArray[Any]
Real = npt.NDArray[np.float64]

EARTH = "ground"
"""Name of the reference node."""

SIGN = {Core.CAPACITOR: 1.0, Core.COIL: -1.0, Core.RESISTOR: -1.0}
"""d ln y / d ln value: constant, as loss goes with the part (fixed Q)."""


@dataclass(frozen=True, slots=True)
class LumpedPart:
    """One part. value : F, H or ohm; a, b : node names; q : of a capacitor or coil, the same at every frequency."""

    ref: str
    core: Core
    value: float
    a: str
    b: str
    q: float = np.inf


@dataclass(frozen=True, slots=True)
class OpAmp:
    """An ideal operational amplifier. output, plus, minus : node names"""

    output: str
    plus: str
    minus: str


@dataclass(frozen=True, slots=True)
class Observed:
    """One response: offset + scale times the voltage of `read` for one unit of drive at `drive`.

    The unit is 1 V where an ideal source holds the node, 1 A into any other. A scattering parameter between ports
    whose terminations R are parts of the circuit: scale 2/R, offset -1 for a reflection, 0 for a transmission.
    """

    name: str
    read: str
    drive: str
    scale: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Lumped:
    """Parts, amplifiers, and the nodes that ideal voltage sources hold."""

    parts: tuple[LumpedPart, ...]
    amplifiers: tuple[OpAmp, ...] = ()
    held: tuple[str, ...] = ()

    @property
    def nominal(self) -> Real:
        """Values as drawn, (P,) SI units."""
        return np.array([p.value for p in self.parts])

    def index(self, ref: str) -> int:
        """Place of a part among the parts. raises ModelError for an unknown name."""
        for i, part in enumerate(self.parts):
            if part.ref == ref:
                return i
        raise ModelError(f"the circuit has no part {ref!r}; it has {', '.join(p.ref for p in self.parts)}")


class LumpedModel:
    """A circuit with what is observed of it, ready for any part values.

    A source that holds a node is 1 A into 1 ohm behind a nullor: 1 V whatever hangs on the node, exactly.
    raises ModelError for an observed node that no part touches, and for amplifiers that have no answer
    """

    def __init__(self, circuit: Lumped, observed: tuple[Observed, ...], f: npt.ArrayLike) -> None:
        self.circuit, self.observed = circuit, observed
        self.f = np.asarray(f, float)
        self.w = 2.0 * np.pi * self.f
        touched = [n for p in circuit.parts for n in (p.a, p.b)]
        touched += [n for a in circuit.amplifiers for n in (a.output, a.plus, a.minus)]
        self.nodes = {name: i for i, name in enumerate(dict.fromkeys(n for n in touched if n != EARTH))}
        behind = {name: len(self.nodes) + k for k, name in enumerate(circuit.held)}
        branches = [(self.node(p.a), self.node(p.b)) for p in circuit.parts] + [(s, GROUND) for s in behind.values()]
        nullors = [(self.node(a.output), GROUND, self.node(a.plus), self.node(a.minus)) for a in circuit.amplifiers]
        nullors += [(self.node(name), GROUND, self.node(name), s) for name, s in behind.items()]
        drives = list(dict.fromkeys(o.drive for o in observed))
        reads = list(dict.fromkeys(o.read for o in observed))
        self._ports = [(behind.get(name, self.node(name)), GROUND) for name in drives]
        self._reads = [(self.node(name), GROUND) for name in reads]
        self._pick = [(drives.index(o.drive), reads.index(o.read)) for o in observed]
        try:
            self.plan = plan_active(len(self.nodes) + len(behind), branches, nullors)
        except SingularNetwork as error:
            raise ModelError(str(error)) from error

    def node(self, name: str) -> int:
        """Number of a node. raises ModelError for a name that no part or amplifier has."""
        if name != EARTH and name not in self.nodes:
            raise ModelError(f"the circuit has no node {name!r}; it has {', '.join(self.nodes)}")
        return GROUND if name == EARTH else self.nodes[name]

    def admittances(self, values: Real) -> Complex:
        """Admittances of all parts and sources. values : (K, P). returns (n_branch, K, F) siemens."""
        y = np.ones((len(self.plan.branches), len(values), len(self.f)), complex)
        none = np.zeros((1, 1))
        for i, part in enumerate(self.circuit.parts):
            y[i] = 1.0 / impedance(part.core, self.w, values[:, i, None], np.array(part.q), none, none)
        return y

    def responses(self, values: Real) -> Complex:
        """What is observed. values : (K, P) SI units. returns (K, O, F). raises ModelError where there is no answer."""
        return self._solved(values, slopes=False)[0]

    def slopes(self, values: Real) -> tuple[Complex, Complex]:
        """Responses (K, O, F) and their derivatives by the logarithm of each value (K, O, P, F), exact.

        dz_ds / d ln v = -z_da z_as y d ln y / d ln v, from the same factors
        """
        return self._solved(values, slopes=True)

    def _solved(self, values: Real, *, slopes: bool) -> tuple[Complex, Complex]:
        values = np.atleast_2d(values)
        y = self.admittances(values)
        try:
            factored = factor_active(self.plan, y)
            into = factored.columns(self._ports)
            out = factored.rows(self._reads) if slopes else into
        except SingularNetwork as error:
            raise ModelError(str(error)) from error
        h = np.empty((len(values), len(self.observed), len(self.f)), complex)
        moved = np.empty((*h.shape[:2], len(self.circuit.parts) if slopes else 0, h.shape[2]), complex)
        for o, (seen, (d, r)) in enumerate(zip(self.observed, self._pick, strict=True)):
            h[:, o] = seen.offset + seen.scale * across(into[d], self._reads[r])
            for i in range(moved.shape[2]):
                port = self.plan.branches[i]
                turn = -seen.scale * SIGN[self.circuit.parts[i].core]
                moved[:, o, i] = turn * y[i] * across(out[r], port) * across(into[d], port)
        return h, moved

    def natural_frequencies(self, values: Real) -> Complex:
        """Natural frequencies without the losses of coils and capacitors. values : (P,). returns (k,) rad/s."""
        table = {core: np.zeros(len(self.plan.branches)) for core in Core}
        table[Core.RESISTOR][len(values) :] = 1.0
        for i, part in enumerate(self.circuit.parts):
            table[part.core][i] = 1.0 / values[i] if part.core is Core.RESISTOR else values[i]
        try:
            return natural_frequencies(self.plan, table[Core.RESISTOR], table[Core.CAPACITOR], table[Core.COIL])
        except SingularNetwork as error:
            raise ModelError(str(error)) from error

    def require_stable(self, values: Real, what: str) -> None:
        """Refuse values (P,) with which the circuit does not settle. raises ModelError that names `what`."""
        try:
            require_stable(self.natural_frequencies(values))
        except UnstableNetwork as error:
            raise ModelError(f"{what}: {error}") from error
