"""Published circuits with their values, and what they would show: dense equations with a row for each amplifier.

Shares no code with the package. Unknowns are all node voltages and the currents of sources and amplifier outputs
(modified nodal analysis: Ho, Ruehli & Brennan 1975, IEEE Trans. Circuits Syst. 22(6), 504-509, from memory); nothing
is merged and nothing eliminated beforehand.

Provenance of each value: R read in the source, M from memory, C computed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from proving.design import chebyshev
from proving.nodal import Complex, Real

GROUND = "ground"


@dataclass(frozen=True, slots=True)
class Part:
    """One part. kind : "R", "L" or "C"; value : ohm, henry, farad; a, b : nodes; q : of coil or capacitor"""

    ref: str
    kind: str
    value: float
    a: str
    b: str
    q: float = np.inf


@dataclass(frozen=True, slots=True)
class Circuit:
    """Parts, ideal amplifiers (output, plus, minus), and the node that an ideal source drives ("" for none)."""

    parts: tuple[Part, ...]
    amplifiers: tuple[tuple[str, str, str], ...] = ()
    driven: str = ""

    @property
    def nominal(self) -> Real:
        """Values as drawn, (n_part,)."""
        return np.array([p.value for p in self.parts])

    def at(self, ref: str) -> int:
        """Place of a part in the list. raises StopIteration for an unknown name."""
        return next(i for i, p in enumerate(self.parts) if p.ref == ref)


def admittances(circuit: Circuit, values: Real, f: Real) -> Complex:
    """Admittance of each part. values : (k, n_part); f : (n_f,) Hz. returns (k, n_part, n_f) siemens."""
    w = 2.0 * np.pi * f
    out = np.zeros((*values.shape, len(f)), complex)
    for i, part in enumerate(circuit.parts):
        v = values[:, i, None]
        if part.kind == "R":
            out[:, i] = 1.0 / v
        elif part.kind == "C":
            out[:, i] = w * v * (1j + 1.0 / part.q)
        else:
            out[:, i] = 1.0 / (w * v * (1j + 1.0 / part.q))
    return out


def voltages(circuit: Circuit, y: Complex, into: str = "") -> dict[str, Complex]:
    """Node voltages.

    y : (k, n_part, n_f) siemens; into : node that takes 1 A; without it the driven node stands at 1 V
    returns {node: (k, n_f) volt}
    """
    names = sorted({n for p in circuit.parts for n in (p.a, p.b)} | {n for a in circuit.amplifiers for n in a})
    at = {name: i for i, name in enumerate(n for n in names if n != GROUND)}
    n, extra = len(at), len(circuit.amplifiers) + bool(circuit.driven)
    matrix = np.zeros((y.shape[0], y.shape[2], n + extra, n + extra), complex)
    for k, part in enumerate(circuit.parts):
        for i, j, sign in ((part.a, part.a, 1), (part.b, part.b, 1), (part.a, part.b, -1), (part.b, part.a, -1)):
            if GROUND not in (i, j):
                matrix[:, :, at[i], at[j]] += sign * y[:, k]
    for row, (output, plus, minus) in enumerate(circuit.amplifiers, start=n):
        matrix[:, :, at[output], row] += 1.0
        for node, sign in ((plus, 1.0), (minus, -1.0)):
            if node != GROUND:
                matrix[:, :, row, at[node]] += sign
    right = np.zeros((n + extra, 1), complex)
    if circuit.driven:
        matrix[:, :, at[circuit.driven], -1] += 1.0
        matrix[:, :, -1, at[circuit.driven]] += 1.0
        right[-1] = 0.0 if into else 1.0
    if into:
        right[at[into]] = 1.0
    x = np.linalg.solve(matrix, np.broadcast_to(right, (*matrix.shape[:2], *right.shape)))[..., 0]
    return {name: x[:, :, i] for name, i in at.items()}


SALLEN_KEY = Circuit(
    (
        Part("R1", "R", 1e3, "in", "a"),
        Part("C1", "C", 5e-9, "a", GROUND),
        Part("C2", "C", 5e-9, "a", "p"),
        Part("R3", "R", 2e3, "p", GROUND),
        Part("R2", "R", 3e3, "a", "out"),
        Part("R4", "R", 4e3, "m", GROUND),
        Part("R5", "R", 4e3, "out", "m"),
    ),
    (("out", "p", "m"),),
    "in",
)
"""Sallen-Key band-pass of the fault-diagnosis literature.

source: Symmetry 2019, 11(2), 228, doi 10.3390/sym11020228 (R2, R3, C1, C2 and the fault table: R); Aminian 2000, IEEE
Trans. Circuits Syst. II 47(2), 151-156 and Spina & Upadhyaya 1997, 44(3), 188-196 (topology, R1, R4, R5: M)
"""

STATE_VARIABLE = Circuit(
    (
        Part("R1", "R", 10e3, "in", "m"),
        Part("R2", "R", 10e3, "lp", "m"),
        Part("R3", "R", 10e3, "hp", "m"),
        Part("R4", "R", 10e3, "hp", "x"),
        Part("C1", "C", 20e-9, "x", "bp"),
        Part("R5", "R", 10e3, "bp", "y"),
        Part("C2", "C", 20e-9, "y", "lp"),
        Part("R6", "R", 3e3, "p", GROUND),
        Part("R7", "R", 7e3, "bp", "p"),
    ),
    (("hp", "p", "m"), ("bp", GROUND, "x"), ("lp", GROUND, "y")),
    "in",
)
"""Continuous-time state-variable filter of the analog benchmark circuits.

source: Kaminska et al., Proc. Int. Test Conf. 1997, 183-190 (M); the values, tolerances and faults as on the
page of the benchmark circuits of Auburn University (R); which resistor sits where: M
"""

STATE_VARIABLE_SIGMA = {
    "R1": 300.0, "R2": 300.0, "R3": 300.0, "R4": 300.0, "R5": 300.0, "R6": 90.0, "R7": 210.0, "C1": 1e-9, "C2": 0.6e-9,
}  # fmt: skip

LOW_PASS_EDGE = 4.5e6


def low_pass(q_coil: float = 150.0, q_capacitor: float = 1000.0) -> Circuit:
    """A 0.1 dB Chebyshev ladder of seven elements, 4.5 MHz, 50 ohm, first capacitor to ground, with both ends.

    No published benchmark, but a handbook prototype with a fault table of the project's own.
    source: Matthaei, Young & Jones 1964, sec. 4.05 (closed form of the element values: C)
    """
    ohm, w = 50.0, 2.0 * np.pi * LOW_PASS_EDGE
    parts = [Part("Rs", "R", ohm, "1", GROUND)]
    for k, g in enumerate(chebyshev(7, 0.1), start=1):
        node = f"{(k + 1) // 2}"
        if k % 2:
            parts.append(Part(f"C{k}", "C", float(g) / (w * ohm), node, GROUND, q_capacitor))
        else:
            parts.append(Part(f"L{k}", "L", float(g) * ohm / w, node, f"{k // 2 + 1}", q_coil))
    return Circuit((*parts, Part("Rl", "R", ohm, "4", GROUND)))
