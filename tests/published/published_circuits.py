"""Active and lumped circuits: how each row of 9_circuits.toml is computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from published_rows import Aside, Check, Row, rows_of
from scipy.optimize import brentq

from halfsplit.circuit import Core, Lumped, LumpedModel, LumpedPart, Observed, OpAmp
from halfsplit.network import GROUND, natural_frequencies, plan_active

AREA = "9_circuits"
ROWS = {row.id: row for row in rows_of(AREA)}
CORE = {"R": Core.RESISTOR, "L": Core.COIL, "C": Core.CAPACITOR}
Ends = Mapping[str, tuple[str, str]]


def circuit(values: Mapping[str, float], ends: Ends, amplifiers: Sequence[OpAmp], held: tuple[str, ...]) -> Lumped:
    """A circuit of parts whose kind is the first letter of their name."""
    return Lumped(
        tuple(LumpedPart(ref, CORE[ref[0]], values[ref], *ends[ref]) for ref in ends), tuple(amplifiers), held
    )


def band_pass(f: Sequence[float]) -> LumpedModel:
    ends = {
        "R1": ("in", "a"), "C1": ("a", "ground"), "C2": ("a", "p"), "R3": ("p", "ground"), "R2": ("a", "out"),
        "R4": ("m", "ground"), "R5": ("out", "m"),
    }  # fmt: skip
    made = circuit(ROWS["A01"].inputs, ends, [OpAmp("out", "p", "m")], ("in",))
    return LumpedModel(made, (Observed("gain", "out", "in"),), f)


def state_variable(outputs: Sequence[str], f: Sequence[float]) -> LumpedModel:
    ends = {
        "R1": ("in", "m"), "R2": ("lp", "m"), "R3": ("hp", "m"), "R4": ("hp", "x"), "C1": ("x", "bp"),
        "R5": ("bp", "y"), "C2": ("y", "lp"), "R6": ("p", "ground"), "R7": ("bp", "p"),
    }  # fmt: skip
    amplifiers = [OpAmp("hp", "p", "m"), OpAmp("bp", "ground", "x"), OpAmp("lp", "ground", "y")]
    made = circuit(ROWS["A03"].inputs, ends, amplifiers, ("in",))
    return LumpedModel(made, tuple(Observed(o, o, "in") for o in outputs), f)


def low_pass(gain: float) -> LumpedModel:
    """Sallen-Key low-pass, R and C equal, 1 rad/s."""
    ends = {
        "R1": ("in", "a"), "R2": ("a", "p"), "C1": ("a", "out"), "C2": ("p", "ground"), "R3": ("m", "ground"),
        "R4": ("out", "m"),
    }  # fmt: skip
    values = {"R1": 1.0, "R2": 1.0, "C1": 1.0, "C2": 1.0, "R3": 1.0, "R4": gain - 1.0}
    made = circuit(values, ends, [OpAmp("out", "p", "m")], ("in",))
    return LumpedModel(made, (Observed("gain", "out", "in"),), [1.0])


def pole_pair(model: LumpedModel) -> tuple[float, float]:
    """Frequency in Hz and Q of the two poles."""
    s = model.natural_frequencies(model.circuit.nominal)
    if len(s) != 2:
        raise AssertionError(f"{len(s)} poles, not 2")
    w0 = float(np.sqrt((s[0] * s[1]).real))
    return w0 / (2 * np.pi), w0 / -float((s[0] + s[1]).real)


def told(model: LumpedModel) -> int:
    """Rank of the relative slopes of all responses by all values."""
    _, slope = model.slopes(model.circuit.nominal)
    table = np.moveaxis(slope[0], 1, 0).reshape(slope.shape[2], -1)
    size = np.linalg.svd(np.concatenate([table.real, table.imag], axis=1), compute_uv=False)
    return int((size > 1e-9 * size[0]).sum())


def band_pass_figures(row: Row) -> Sequence[float]:
    f0, q = pole_pair(band_pass([row.value[0]]))
    model = band_pass([f0])
    return [f0, q, float(abs(model.responses(model.circuit.nominal)[0, 0, 0]))]


def state_variable_figures(_: Row) -> Sequence[float]:
    model = state_variable(["lp", "hp"], [1e-2, 1e7])
    h = np.abs(model.responses(model.circuit.nominal)[0])
    return [*pole_pair(model), float(h[0, 0]), float(h[1, 1])]


def equal_parts(_: Row) -> Sequence[float]:
    def growth(gain: float) -> float:
        model = low_pass(gain)
        return float(model.natural_frequencies(model.circuit.nominal).real.max())

    return [pole_pair(low_pass(1.586))[1], pole_pair(low_pass(2.5))[1], float(brentq(growth, 2.0, 4.0, xtol=1e-12))]


def ladder_poles(_: Row) -> Sequence[float]:
    layout = plan_active(2, [(0, GROUND), (0, GROUND), (0, 1), (1, GROUND), (1, GROUND)], [])
    ohms, farads, henries = ([1.0, 0, 0, 0, 1.0], [0, 1.0, 0, 1.0, 0], [0, 0, 2.0, 0, 0])
    s = natural_frequencies(layout, np.array(ohms), np.array(farads), np.array(henries))
    real = s[np.abs(s.imag) < 1e-6].real
    return [float(real[0]), float(s.real.max()), float(s.imag.max())]


def made_coil(row: Row) -> Sequence[float]:
    ends = {"R1": ("in", "1"), "R2": ("1", "2"), "R3": ("2", "3"), "C4": ("3", "4"), "R5": ("4", "ground")}
    made = circuit(row.inputs, ends, [OpAmp("1", "2", "4"), OpAmp("3", "in", "2")], ())
    model = LumpedModel(made, (Observed("impedance", "in", "in"),), [1e3])
    return [float((model.responses(made.nominal)[0, 0, 0] / (2j * np.pi * 1e3)).real)]


def ladder_figures(row: Row) -> Sequence[float]:
    nodes = {"C1": "1", "C3": "2", "C5": "3", "C7": "4"}
    ends = {ref: (node, "ground") for ref, node in nodes.items()}
    ends |= {"L2": ("1", "2"), "L4": ("2", "3"), "L6": ("3", "4"), "R1": ("1", "ground"), "R2": ("4", "ground")}
    made = circuit({**row.inputs, "R1": 50.0, "R2": 50.0}, ends, [], ())

    def loss(mhz: float) -> float:
        model = LumpedModel(made, (Observed("S21", "4", "1", 2.0 / 50.0),), [mhz * 1e6])
        return float(-20.0 * np.log10(np.abs(model.responses(made.nominal)[0, 0, 0])))

    half = brentq(lambda mhz: loss(mhz) - 10.0 * np.log10(2.0), 4.6, 5.5, xtol=1e-9)
    return [loss(4.5), loss(9.0), float(half)]


def share_told(_: Row) -> Sequence[float]:
    return [100.0 * told(band_pass(np.geomspace(5e3, 1e5, 21))) / 7.0]


def state_variable_told(_: Row) -> Sequence[float]:
    f = np.geomspace(80.0, 8e3, 21)
    return [float(told(state_variable(o, f))) for o in (["bp"], ["lp"], ["hp", "bp", "lp"])]


CHECKS: dict[str, Check] = {
    "A01": Check("circuit.LumpedModel.slopes", share_told),
    "A02": Check("circuit.LumpedModel.natural_frequencies, responses", band_pass_figures),
    "A03": Check("circuit.LumpedModel.natural_frequencies, responses", state_variable_figures),
    "A04": Check("circuit.LumpedModel.slopes", state_variable_told),
    "A05": Check("circuit.LumpedModel.natural_frequencies", equal_parts),
    "A06": Check("network.natural_frequencies", ladder_poles),
    "A07": Check("circuit.LumpedModel.responses", made_coil),
    "A08": Check("circuit.LumpedModel.responses", ladder_figures),
}

ASIDE: dict[str, Aside] = {}
